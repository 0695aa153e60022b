"""From the verdict to what to do, by when, and what to measure next."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, timedelta
from enum import StrEnum

from cagewise.decision.limits import DecisionLimits, Limits
from cagewise.decision.plan import sampling_rate_hz
from cagewise.decision.verdict import State, StateGround, Verdict
from cagewise.evidence.findings import BlindSpot, Evidence, Ground, Support
from cagewise.indicators.reading import IndependenceClass
from cagewise.machine.motor import Criticality, Motor
from cagewise.machine.nameplate import Starting
from cagewise.quantities import Estimate, NotKnown


class Action(StrEnum):
    """What to do with the motor."""

    CONTINUE = "continue"
    """Keep it in service and measure again at the usual interval."""
    MEASURE_AGAIN = "measure_again"
    """This visit could not decide; measure again so that it can."""
    CONFIRM = "confirm"
    """Measure more before anybody decides about the motor."""
    PLAN_REMOVAL = "plan_removal"
    """Take the motor out and have the rotor inspected."""


class NextMeasurement(StrEnum):
    """What to measure next; each has its words and its reason in ``report.wording``."""

    RUNNING_RECORD = "running_record"
    VOLTAGES = "voltages"
    CURRENTS = "currents"
    HIGHER_LOAD = "higher_load"
    LONGER_RECORD = "longer_record"
    HIGHER_RATE = "higher_rate"
    SPEED = "speed"
    SECOND_LOAD = "second_load"
    START_UP = "start_up"
    POSITION_TEST = "position_test"
    PART_TESTS = "part_tests"
    ROTOR_BARS = "rotor_bars"
    ROUTINE = "routine"


@dataclass(frozen=True, slots=True, kw_only=True)
class NextStep:
    """One thing to measure or to ask, in the order of worth."""

    kind: NextMeasurement
    numbers: dict[str, float] = field(default_factory=dict)
    """Numbers for the sentence (``seconds_s``, ``rate_hz``, ``load_fraction``)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ActBy:
    """When to act: a window from a stated rule, not a forecast of the remaining life."""

    earliest_days: float
    """Days after the recording."""
    latest_days: float
    """Days after the recording."""
    earliest: date | None = None
    """The same as a date; None when the day of the recording is not known."""
    latest: date | None = None
    """The same as a date; None when the day of the recording is not known."""
    outage: date | None = None
    """Planned outage of the motor file, if it states one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Recommendation:
    """What to do."""

    action: Action
    act_by: ActBy
    next_steps: tuple[NextStep, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Circumstances:
    """What of the leading record matters for the next one."""

    recorded_on: date | None
    """Day of the recording; None when the file does not tell."""
    duration_s: float
    """Length of the steady stretch that was read, or of the recording where there is none."""
    sampling_rate_hz: float
    currents_measured: int
    """0 when no current could be used."""
    voltages_measured: int
    load_fraction: Estimate | NotKnown
    pole_pass_frequency_hz: Estimate | NotKnown
    rotor_bars: int | None
    """Number of bars, given or identified."""
    slip_sought: bool = True
    """Whether the examination came as far as looking for the slip."""
    recorded_running: bool = True
    """Whether there is a record of the running motor at all."""
    started_direct: bool = True
    """False when a start of this visit was one by a converter or a soft starter."""
    part_doubted: bool = False
    """Whether winding or insulation is suspect or defective."""
    part_unanswered: bool = False
    """Whether tests that could have judged winding or insulation did not."""

    @classmethod
    def without_record(cls, measured_on: date | None, rotor_bars: int | None) -> Circumstances:
        """Return the circumstances of a visit on which the running motor was not recorded."""
        none = NotKnown("the motor was not recorded running")
        return cls(
            recorded_on=measured_on,
            duration_s=0.0,
            sampling_rate_hz=0.0,
            currents_measured=0,
            voltages_measured=0,
            load_fraction=none,
            pole_pass_frequency_hz=none,
            rotor_bars=rotor_bars,
            slip_sought=False,
            recorded_running=False,
        )


def recommend(
    verdict: Verdict,
    evidence: Evidence,
    motor: Motor,
    circumstances: Circumstances,
    limits: Limits,
) -> Recommendation:
    """Return what to do, by when, and what to measure next."""
    return Recommendation(
        action=_action(verdict, circumstances),
        act_by=_act_by(
            State.SUSPECT if _parts_lead(verdict, circumstances) else verdict.state,
            motor.criticality,
            circumstances.recorded_on,
            limits.decision,
        ),
        next_steps=tuple(_next_steps(verdict, evidence, motor, circumstances, limits)),
    )


def _parts_lead(verdict: Verdict, circumstances: Circumstances) -> bool:
    """Return whether winding or insulation, not the cage, says what to do with the motor."""
    return circumstances.part_doubted and verdict.state in (State.SOUND, State.NOT_DECIDABLE)


def _action(verdict: Verdict, circumstances: Circumstances) -> Action:
    """Return the action; removal only behind the guard of methods and classes.

    A cage that is sound, or could not be judged, keeps no motor in service whose winding or
    insulation is in doubt.
    """
    if verdict.removal_supported:
        return Action.PLAN_REMOVAL
    if verdict.state in (State.DEFECTIVE, State.SUSPECT) or _parts_lead(verdict, circumstances):
        return Action.CONFIRM
    return Action.CONTINUE if verdict.state is State.SOUND else Action.MEASURE_AGAIN


def _act_by(
    state: State, criticality: Criticality, recorded_on: date | None, limits: DecisionLimits
) -> ActBy:
    """Return the window of the rule for this state and criticality."""
    key = f"{state.name.lower()}_{criticality.level}_days"
    earliest_days, latest_days = getattr(limits, key)
    outage = criticality.next_outage
    return ActBy(
        earliest_days=earliest_days,
        latest_days=latest_days,
        earliest=None if recorded_on is None else recorded_on + timedelta(days=earliest_days),
        latest=None if recorded_on is None else recorded_on + timedelta(days=latest_days),
        outage=None if outage is None else date.fromisoformat(outage),
    )


def _next_steps(
    verdict: Verdict,
    evidence: Evidence,
    motor: Motor,
    circumstances: Circumstances,
    limits: Limits,
) -> Iterator[NextStep]:
    """Yield what to measure next, most telling first."""
    yield from _usual(verdict, circumstances)
    if verdict.state in (State.SUSPECT, State.DEFECTIVE):
        yield from _confirming(circumstances, evidence, motor)
    if not circumstances.recorded_running:
        yield NextStep(kind=NextMeasurement.RUNNING_RECORD)
    elif verdict.state is not State.DEFECTIVE:
        yield from _better_record(verdict, evidence, motor, circumstances, limits)
    if verdict.state is State.NOT_DECIDABLE:
        yield from _deciding(evidence, motor, circumstances)
    if circumstances.rotor_bars is None:
        yield NextStep(kind=NextMeasurement.ROTOR_BARS)


def _usual(verdict: Verdict, circumstances: Circumstances) -> Iterator[NextStep]:
    """Yield what the state of the parts alone asks for."""
    if circumstances.part_doubted or circumstances.part_unanswered:
        yield NextStep(kind=NextMeasurement.PART_TESTS)
    if verdict.state is State.SOUND:
        yield NextStep(kind=NextMeasurement.ROUTINE)


def _confirming(
    circumstances: Circumstances, evidence: Evidence, motor: Motor
) -> Iterator[NextStep]:
    """Yield what would confirm or refute a finding: first what needs no stop."""
    if circumstances.recorded_running and BlindSpot.ANISOTROPIC_ROTOR in evidence.blind_spots:
        yield NextStep(kind=NextMeasurement.SECOND_LOAD)
    if _start_would_tell(evidence, motor, circumstances):
        yield NextStep(kind=NextMeasurement.START_UP)
    if not _has_told(evidence, IndependenceClass.STANDSTILL_PATTERN):
        yield NextStep(kind=NextMeasurement.POSITION_TEST)


def _deciding(evidence: Evidence, motor: Motor, circumstances: Circumstances) -> Iterator[NextStep]:
    """Yield what beside a better running record would decide where nothing could."""
    if BlindSpot.ANISOTROPIC_ROTOR in evidence.blind_spots:
        yield NextStep(kind=NextMeasurement.SECOND_LOAD)
    hinted = any(f.ground is Ground.MORE_THAN_SIDE_LINES for f in evidence.findings)
    if hinted or _was_spoilt(evidence, IndependenceClass.STANDSTILL_PATTERN):
        yield NextStep(kind=NextMeasurement.POSITION_TEST)
    if _start_would_tell(evidence, motor, circumstances):
        yield NextStep(kind=NextMeasurement.START_UP)


def _start_would_tell(evidence: Evidence, motor: Motor, circumstances: Circumstances) -> bool:
    """Return whether a start of this motor could be read and has not told yet."""
    direct = motor.nameplate.starting is Starting.DIRECT and circumstances.started_direct
    return direct and not _has_told(evidence, IndependenceClass.START)


def _has_told(evidence: Evidence, independence_class: IndependenceClass) -> bool:
    """Return whether a class speaks for or against."""
    vote = evidence.verdict_of(independence_class)
    return vote is not None and vote.support is not Support.CANNOT_TELL


def _was_spoilt(evidence: Evidence, independence_class: IndependenceClass) -> bool:
    """Return whether a class was measured and could not be read."""
    vote = evidence.verdict_of(independence_class)
    return vote is not None and vote.ground is Ground.NOT_READ


def _better_record(
    verdict: Verdict,
    evidence: Evidence,
    motor: Motor,
    circumstances: Circumstances,
    limits: Limits,
) -> Iterator[NextStep]:
    """Yield what a better record of the running motor would need."""
    if circumstances.voltages_measured == 0:
        yield NextStep(kind=NextMeasurement.VOLTAGES)
    if 0 < circumstances.currents_measured < 2:
        yield NextStep(kind=NextMeasurement.CURRENTS)
    # what the shape of the rotor explains, a better record of the same kind would not part
    shaped = verdict.ground is StateGround.SHAPE_EXPLAINS
    undecided = verdict.state is State.NOT_DECIDABLE and not shaped
    light = _is_light(circumstances.load_fraction, limits.decision, undecided=undecided)
    if light:
        numbers = {"load_fraction": limits.plan.load_fraction_good}
        yield NextStep(kind=NextMeasurement.HIGHER_LOAD, numbers=numbers)
    # at the load that was just asked for, the lines will stand farther apart than in this record
    pole_pass = NotKnown("at another load") if light else circumstances.pole_pass_frequency_hz
    load = limits.plan.load_fraction_good
    if isinstance(circumstances.load_fraction, Estimate) and not light:
        load = circumstances.load_fraction.value
    seconds = record_seconds(motor, pole_pass, limits, load)
    slip_known = isinstance(circumstances.pole_pass_frequency_hz, Estimate)
    if undecided and circumstances.slip_sought and not slip_known:
        yield NextStep(kind=NextMeasurement.SPEED)
    if undecided and circumstances.duration_s < seconds:
        yield NextStep(kind=NextMeasurement.LONGER_RECORD, numbers={"seconds_s": seconds})
    harmonic = evidence.verdict_of(IndependenceClass.RUNNING_HARMONIC)
    rate = sampling_rate_hz(motor, limits.plan)
    deaf = harmonic is None or harmonic.support.value == "cannot tell"
    if deaf and circumstances.sampling_rate_hz < rate:
        yield NextStep(kind=NextMeasurement.HIGHER_RATE, numbers={"rate_hz": rate})


def _is_light(load: Estimate | NotKnown, limits: DecisionLimits, *, undecided: bool) -> bool:
    """Return whether the next record is asked for at a higher load."""
    if isinstance(load, NotKnown):
        return undecided
    return load.value < limits.next_load_fraction_min


def record_seconds(
    motor: Motor,
    pole_pass_frequency_hz: Estimate | NotKnown,
    limits: Limits,
    load_fraction: float | None = None,
) -> float:
    """Return how long the next record should be.

    From the pole-pass frequency if it is known; otherwise from the slip that the nameplate implies
    at ``load_fraction`` (slip is nearly proportional to load), the load to aim for if left out.
    """
    if isinstance(pole_pass_frequency_hz, Estimate) and pole_pass_frequency_hz.low > 0.0:
        frequency_hz = pole_pass_frequency_hz.low
    else:
        load = limits.plan.load_fraction_good if load_fraction is None else load_fraction
        slip = motor.nameplate.rated_slip * load
        frequency_hz = 2.0 * slip * motor.nameplate.rated_frequency_hz
    return max(
        limits.plan.record_s_min, limits.decision.next_record_pole_pass_periods / frequency_hz
    )
