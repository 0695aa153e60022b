"""The common form of a finding about a recording: what, how bad, what it stops, what to do."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from enum import StrEnum


class Severity(StrEnum):
    """How much a finding matters."""

    NOTE = "note"
    """Worth knowing; changes no reading."""
    CAUTION = "caution"
    """Readings stand, with a wider interval or a caveat."""
    BLOCKING = "blocking"
    """The abilities named by the finding are lost."""


class Ability(StrEnum):
    """What a recording may be used for."""

    SLIP = "slip and speed"
    FUNDAMENTAL_LINES = "side lines at the supply frequency"
    HARMONIC_LINES = "cage lines at the 5th and 7th harmonic"
    VOLTAGE_FRAME = "frame of the measured voltage"
    POWER = "active and reactive power"
    DIRECT_COMPONENT = "separation of cage and load"
    LOAD = "load and current in absolute units"


EVERYTHING = frozenset(Ability)
"""Nothing can be read."""
NEEDS_VOLTAGE = frozenset({Ability.VOLTAGE_FRAME, Ability.POWER})
"""Lost without voltage. The direct component remains, from currents alone and less sharp."""


class FindingCode(StrEnum):
    """Stable identifiers, as in the JSON output."""

    # structure of the recording
    EMPTY = "empty"
    NO_CURRENT = "no_current"
    DEAD_CHANNEL = "dead_channel"
    NOT_A_NUMBER = "not_a_number"
    NO_LINE_FREQUENCY = "no_line_frequency"
    NOT_RUNNING = "not_running"
    NO_VOLTAGE = "no_voltage"
    TWO_WIRE_VOLTAGE = "one_line_voltage"
    # samples
    CLIPPING = "clipping"
    DROPOUT = "dropout"
    HELD_SAMPLES = "held_samples"
    REPEATED_BLOCK = "repeated_block"
    QUANTISATION = "quantisation"
    DIRECT_OFFSET = "direct_offset"
    # time base
    TIME_GAP = "time_gap"
    TIME_JITTER = "time_jitter"
    CLOCK_RATE = "clock_rate"
    LOW_RATE = "low_rate"
    ALIASING = "aliasing"
    # steadiness
    LOAD_STEP = "load_step"
    LOAD_DRIFT = "load_drift"
    FREQUENCY_DRIFT = "frequency_drift"
    TOO_SHORT = "too_short"
    MISSING_PHASE = "missing_phase"
    UNBALANCE = "unbalance"
    # roles and magnitudes
    ROLE_AMBIGUOUS = "role_ambiguous"
    ROLE_UNUSUAL = "role_unusual"
    ROLE_UNCHECKED = "role_unchecked"
    CHANNEL_UNUSED = "channel_unused"
    NEGATIVE_SEQUENCE = "negative_sequence"
    CURRENT_MAGNITUDE = "current_magnitude"
    VOLTAGE_MAGNITUDE = "voltage_magnitude"
    FREQUENCY_MAGNITUDE = "frequency_magnitude"
    RESIDUAL_CURRENT = "residual_current"


@dataclass(frozen=True, slots=True, kw_only=True)
class QualityFinding:
    """One thing that is odd about a recording."""

    code: FindingCode
    severity: Severity
    message: str
    """What was found, as one sentence with its number."""
    channels: tuple[str, ...] = ()
    """Names of the channels concerned; empty when it is the recording as a whole."""
    value: float | None = None
    """The number behind the finding, in :attr:`unit`."""
    unit: str = ""
    remedy: str = ""
    """What to do about it, now or at the next recording."""
    blocks: frozenset[Ability] = frozenset()
    """What the recording may not be used for because of this."""


def blocked_abilities(findings: Iterable[QualityFinding]) -> frozenset[Ability]:
    """Return every ability that at least one finding blocks."""
    return frozenset().union(*(finding.blocks for finding in findings))


def merged(findings: Iterable[QualityFinding]) -> tuple[QualityFinding, ...]:
    """Return findings of one code, severity and effect as one, that of the worst channel.

    The other channels are named at the end of its message.
    """
    groups: dict[tuple[object, ...], list[QualityFinding]] = {}
    for finding in findings:
        key = (finding.code, finding.severity, finding.blocks)
        groups.setdefault(key, []).append(finding)
    return tuple(_worst(group) for group in groups.values())


def _worst(group: list[QualityFinding]) -> QualityFinding:
    """Return the finding with the largest value, with the channels of all."""

    def size(finding: QualityFinding) -> float:
        value = finding.value or 0.0
        return value if finding.unit.startswith("dB") else abs(value)

    worst = max(group, key=size)
    others = [c for f in group for c in f.channels if c not in worst.channels]
    if not others:
        return worst
    message = f"{worst.message} No worse: {', '.join(others)}."
    return replace(worst, message=message, channels=(*worst.channels, *others))
