"""What to record of the next start that happens anyway, and whether it is long enough to read."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from cagewise.decision.limits import Limits
from cagewise.decision.starting_duty import StartingDuty, starting_duty
from cagewise.machine.motor import Motor
from cagewise.machine.nameplate import Starting
from cagewise.quantities import Estimate, NotKnown


class Readable(StrEnum):
    """Whether a start is long enough for its side line to be followed."""

    YES = "yes"
    NO = "no"
    PERHAPS = "perhaps"
    """The interval of the expected time holds both."""
    NOT_KNOWN = "not known"


@dataclass(frozen=True, slots=True, kw_only=True)
class StartRecordPlan:
    """What to record."""

    sampling_rate_hz: float
    bits: int
    pre_trigger_s: float
    record_s: float
    """Pre-trigger, the longest start expected, and the running level after it."""
    after_s: float
    """Part of it after the start."""
    current_range_peak_a: float
    readable: Readable
    least_start_s: float
    """Shortest start that can be read."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StartPlan:
    """The next start: what to record of it, and how often the motor may be started."""

    record: StartRecordPlan | NotKnown
    """Not known where the motor is not started directly: such a start is not read."""
    duty: StartingDuty


def start_plan(motor: Motor, limits: Limits) -> StartPlan:
    """Return what to record of the next start of this motor."""
    duty = starting_duty(motor)
    starting = motor.nameplate.starting
    if starting is not Starting.DIRECT:
        refused = NotKnown(
            f"the motor is started by a {starting.value}, and only direct starts are read"
        )
        return StartPlan(record=refused, duty=duty)
    return StartPlan(record=_record(motor, duty.start_s, limits), duty=duty)


def _record(motor: Motor, start_s: Estimate | NotKnown, limits: Limits) -> StartRecordPlan:
    """Return the settings of the recorder."""
    plate, own = motor.nameplate, limits.start_plan
    range_factor = limits.plan.start_current_factor
    least_s = limits.start.least_cycles / plate.rated_frequency_hz
    longest = own.unknown_start_s if isinstance(start_s, NotKnown) else start_s.high
    return StartRecordPlan(
        sampling_rate_hz=own.sampling_rate_hz_min * max(1.0, plate.rated_frequency_hz / 50.0),
        bits=own.bits_min,
        pre_trigger_s=own.pre_trigger_s,
        after_s=own.after_s,
        record_s=math.ceil(own.pre_trigger_s + longest + own.after_s),
        current_range_peak_a=range_factor * math.sqrt(2.0) * plate.rated_current_a,
        readable=_readable(start_s, least_s),
        least_start_s=least_s,
    )


def _readable(start_s: Estimate | NotKnown, least_s: float) -> Readable:
    """Return whether the start is long enough."""
    if isinstance(start_s, NotKnown):
        return Readable.NOT_KNOWN
    if start_s.low >= least_s:
        return Readable.YES
    return Readable.NO if start_s.high < least_s else Readable.PERHAPS
