"""Where in a recording the motor was started, and of what kind the start was."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from cagewise.measurement import Recording


class StartKind(StrEnum):
    """How the voltage came to the motor, as far as the record shows it."""

    DIRECT = "direct"
    """Full voltage at once."""
    SOFT_STARTER = "soft starter"
    """Rising voltage, parts of each cycle cut out."""
    CONVERTER = "converter"
    """Rising frequency."""
    NOT_KNOWN = "not known"


@dataclass(frozen=True, slots=True, kw_only=True)
class MotorStart:
    """One start in a recording; indices are samples of the recording."""

    switched_on: int
    """First sample with stator current."""
    settled: int | None
    """First sample after the current fell from its starting to its running level; None when the
    record ends before, or the motor never got there."""
    stop: int
    """One past the last sample of the running part that follows: the record's end, or where the
    load changed or the motor was switched off."""
    kind: StartKind
    refused: str = ""
    """Why indicators cannot be read on this start, in one clause; empty when they can."""
    begins_before_record: bool = False
    """Current flowed at the first sample: the beginning of the start is missing."""

    def cut(self, recording: Recording) -> Recording:
        """Return the start with the running part after it, as views."""
        step = f"cut to the start at sample {self.switched_on}"
        return recording.section(self.switched_on, self.stop).with_step(step)
