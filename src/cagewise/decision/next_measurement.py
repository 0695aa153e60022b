"""Which measurement to take next: expected information per hour (docs/theory/fusion.md, section 8).

Preposterior analysis (Raiffa and Schlaifer, *Applied Statistical Decision Theory*, 1961; from
memory) with the fusion itself: no other model says what a reading would be worth.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from cagewise.decision.plan import Plan
from cagewise.evidence.findings import Evidence
from cagewise.evidence.fusion.fuse import CommonCause
from cagewise.evidence.fusion.heard import Heard, heard_of
from cagewise.evidence.fusion.patterns import Family
from cagewise.evidence.fusion.worth import Prospect, worth_of
from cagewise.evidence.probability import TruthStudy
from cagewise.indicators.reading import IndependenceClass
from cagewise.machine.nameplate import Starting


class Measurement(StrEnum):
    """What could be measured next."""

    BETTER_RECORD = "better_record"
    """Record of the length and at the load of the plan, with the channels there are."""
    VOLTAGES = "voltages"
    """The same with two line voltages beside the currents."""
    SECOND_LOAD = "second_load"
    """Record at a second load: bars follow the rotor current, the rotor's shape the flux."""
    START_RECORD = "start_record"
    """The next start that happens anyway."""
    POSITION_TEST = "position_test"
    """Inductance against rotor position at the next stop."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasurementEffort:
    """Hours that a measurement takes two people of the plant, getting ready included."""

    better_record_hours: float = 1.0
    """Clamps on a running motor and wait for the load. 0.2 to 8 (our judgement, no source)."""
    voltages_hours: float = 2.0
    """The same with access to voltage transformers or terminals and its permit. 0.5 to 16 (our
    judgement, no source)."""
    second_load_hours: float = 2.0
    """Agree another load with production and record there. 0.5 to 24 (our judgement, no source)."""
    start_record_hours: float = 1.0
    """Recorder set to trigger on a start that happens anyway. 0.2 to 8 (our judgement, no
    source)."""
    position_test_hours: float = 6.0
    """Isolate, disconnect, turn the rotor through a pole pair by hand, connect again; the stop
    itself is not counted. 2 to 24 (our judgement, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasurementWorth:
    """What one measurement is worth."""

    measurement: Measurement
    bits: float
    """Expected information on whether the cage is defective; 1 bit would settle an even chance."""
    hours: float
    """From :class:`MeasurementEffort`."""
    change_probability: float
    """Probability that it moves the probability of a defect across one half."""
    limit_bars: float
    """Smallest damage that it will show, open bars."""

    @property
    def bits_per_hour(self) -> float:
        """Expected information per hour."""
        return self.bits / self.hours


def rank_measurements(
    evidence: Evidence,
    plan: Plan,
    *,
    voltages_measured: bool,
    study: TruthStudy | None = None,
    effort: MeasurementEffort | None = None,
) -> tuple[MeasurementWorth, ...]:
    """Return what could be measured next, most information per hour first.

    Parameters
    ----------
    evidence
        What was heard so far, of all sources of the visit; empty evidence ranks a first visit.
    plan
        Smallest damage that a good record, start or position test of this motor will show.
    voltages_measured
        Whether the running record has voltages; without them those are among what can be measured.
    study
        Prior and parameters of the fusion; those in force when left out.
    effort
        Hours; the defaults are our judgement.
    """
    study, effort = study or TruthStudy(), effort or MeasurementEffort()
    readings = heard_of(evidence.findings)
    ranked = []
    parameters = study.calibrated.parameters
    start_bars = parameters.families[Family.START_LINE].typical_limit_bars
    options = _options(plan, readings, start_bars, voltages_measured=voltages_measured)
    for measurement, prospects in options:
        worth = worth_of(prospects, readings, study.prior, parameters)
        ranked.append(
            MeasurementWorth(
                measurement=measurement,
                bits=worth.bits,
                hours=getattr(effort, f"{measurement.value}_hours"),
                change_probability=worth.change_probability,
                limit_bars=prospects[0].limit_bars,
            )
        )
    return tuple(sorted(ranked, key=lambda w: -w.bits_per_hour))


def _options(
    plan: Plan, readings: tuple[Heard, ...], start_bars: float, *, voltages_measured: bool
) -> Iterator[tuple[Measurement, tuple[Prospect, ...]]]:
    """Yield what can be measured on this motor and what it would read."""
    classes = {reading.independence_class for reading in readings}
    aimed = plan.aimed
    harmonic = _again(Family.HARMONIC, aimed.harmonic_bars.value)
    with_voltages = aimed.direct_bars.value
    alone = with_voltages if voltages_measured else aimed.side_line_bars.value
    yield Measurement.BETTER_RECORD, (_again(Family.DIRECT, alone), harmonic)
    if not voltages_measured:
        yield Measurement.VOLTAGES, (_anew(Family.DIRECT, with_voltages), harmonic)
    if IndependenceClass.RUNNING_FUNDAMENTAL in classes:
        second = Prospect(
            family=Family.DIRECT,
            independence_class=IndependenceClass.RUNNING_FUNDAMENTAL,
            limit_bars=alone,
            same_faults=True,
            immune=frozenset({CommonCause.SHAPE}),
        )
        yield Measurement.SECOND_LOAD, (second,)
    if plan.motor.nameplate.starting is Starting.DIRECT:
        yield Measurement.START_RECORD, (_again(Family.START_LINE, start_bars),)
    yield Measurement.POSITION_TEST, (_again(Family.POSITION, plan.standstill.bars.value),)


def _again(family: Family, limit_bars: float) -> Prospect:
    """Return a reading that repeats the faults of an earlier one of its class, if there is one."""
    return Prospect(
        family=family,
        independence_class=_CLASSES[family],
        limit_bars=limit_bars,
        same_faults=True,
    )


def _anew(family: Family, limit_bars: float) -> Prospect:
    """Return a reading free of what the earlier one of its class may be wrong about."""
    return Prospect(
        family=family,
        independence_class=_CLASSES[family],
        limit_bars=limit_bars,
        same_faults=False,
    )


_CLASSES = {
    Family.DIRECT: IndependenceClass.RUNNING_FUNDAMENTAL,
    Family.HARMONIC: IndependenceClass.RUNNING_HARMONIC,
    Family.START_LINE: IndependenceClass.START,
    Family.POSITION: IndependenceClass.STANDSTILL_PATTERN,
}
