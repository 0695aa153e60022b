"""What to record of the next start that happens anyway, and whether it is long enough to read."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from cagewise.conditioning.start_limits import StartLimits
from cagewise.decision.limits import PlanLimits
from cagewise.decision.starting_duty import StartingDuty, starting_duty
from cagewise.machine.motor import Motor
from cagewise.machine.nameplate import Starting
from cagewise.quantities import Estimate, NotKnown


@dataclass(frozen=True, slots=True, kw_only=True)
class StartPlanLimits:
    """What a good recording of a start is; opinions, in the units that the names end with."""

    sampling_rate_hz_min: float = 2000.0
    """On a supply of 50 Hz, 1000 to 10 000: the side line of a start stays below the supply
    frequency, the rest is room for the anti-alias filter (common practice, no source)."""
    bits_min: int = 16
    """12 to 24: fourteen effective bits show a hundredth of a bar's line in a current of six times
    the running one (our judgement)."""
    pre_trigger_s: float = 0.5
    """0.1 to 5: switching on must lie inside the record (our judgement)."""
    after_s: float = 2.0
    """1 to 30: running level after the start, with which the starting current is compared (our
    judgement)."""
    unknown_start_s: float = 30.0
    """10 to 120: record length before the margins where nobody knows how long the start takes; few
    motors take longer (common practice, no source)."""


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


def start_plan(motor: Motor, limits: PlanLimits, own: StartPlanLimits | None = None) -> StartPlan:
    """Return what to record of the next start of this motor."""
    own = own or StartPlanLimits()
    duty = starting_duty(motor)
    starting = motor.nameplate.starting
    if starting is not Starting.DIRECT:
        refused = NotKnown(
            f"the motor is started by a {starting.value}, and only direct starts are read"
        )
        return StartPlan(record=refused, duty=duty)
    return StartPlan(record=_record(motor, duty.start_s, limits, own), duty=duty)


def _record(
    motor: Motor, start_s: Estimate | NotKnown, limits: PlanLimits, own: StartPlanLimits
) -> StartRecordPlan:
    """Return the settings of the recorder."""
    plate = motor.nameplate
    least_s = StartLimits().least_cycles / plate.rated_frequency_hz
    longest = own.unknown_start_s if isinstance(start_s, NotKnown) else start_s.high
    return StartRecordPlan(
        sampling_rate_hz=own.sampling_rate_hz_min * max(1.0, plate.rated_frequency_hz / 50.0),
        bits=own.bits_min,
        pre_trigger_s=own.pre_trigger_s,
        after_s=own.after_s,
        record_s=math.ceil(own.pre_trigger_s + longest + own.after_s),
        current_range_peak_a=limits.start_current_factor * math.sqrt(2.0) * plate.rated_current_a,
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
