"""Which measurement to take next: expected information per hour (docs/theory/fusion.md, section 8).

Preposterior analysis (Raiffa and Schlaifer, *Applied Statistical Decision Theory*, 1961; from
memory) with the fusion itself: no other model says what a reading would be worth.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from itertools import chain

from cagewise.decision.measurement_effort import MeasurementEffort
from cagewise.decision.plan import LoadPlan
from cagewise.evidence.findings import Evidence
from cagewise.evidence.fusion.fuse import CommonCause
from cagewise.evidence.fusion.heard import Heard, heard_of
from cagewise.evidence.fusion.parameters import FusionParameters
from cagewise.evidence.fusion.patterns import Family
from cagewise.evidence.fusion.worth import Prospect, worth_of
from cagewise.evidence.probability import TruthStudy
from cagewise.indicators.reading import IndependenceClass
from cagewise.machine.motor import Motor
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
    doubt_bits: float
    """What is not known now: entropy of "is the cage defective?"."""

    @property
    def bits_per_hour(self) -> float:
        """Expected information per hour."""
        return self.bits / self.hours

    @property
    def settled_share(self) -> float:
        """Part of the doubt that it is expected to remove, 0 to 1.

        A test that settles the question in this share of cases and tells nothing in the others
        gives the same information.
        """
        return min(self.bits / self.doubt_bits, 1.0) if self.doubt_bits > 0.0 else 0.0


def rank_measurements(
    evidence: Evidence,
    motor: Motor,
    aimed: LoadPlan,
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
    motor
        Says how it is started.
    aimed
        Smallest damage that a good record of this motor will show; that of a start or a position
        test is the usual one of the study.
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
    options = _of_record(aimed, readings, voltages_measured=voltages_measured)
    for measurement, prospects in chain(options, _of_others(motor, parameters)):
        worth = worth_of(prospects, readings, study.prior, parameters)
        ranked.append(
            MeasurementWorth(
                measurement=measurement,
                bits=worth.bits,
                hours=hours_of(effort)[measurement],
                change_probability=worth.change_probability,
                limit_bars=prospects[0].limit_bars,
                doubt_bits=worth.entropy_bits,
            )
        )
    return tuple(sorted(ranked, key=lambda w: -w.bits_per_hour))


def hours_of(effort: MeasurementEffort) -> dict[Measurement, float]:
    """Return the hours of every measurement."""
    return {
        Measurement.BETTER_RECORD: effort.better_record_hours,
        Measurement.VOLTAGES: effort.voltages_hours,
        Measurement.SECOND_LOAD: effort.second_load_hours,
        Measurement.START_RECORD: effort.start_record_hours,
        Measurement.POSITION_TEST: effort.position_test_hours,
    }


def _of_record(
    aimed: LoadPlan, readings: tuple[Heard, ...], *, voltages_measured: bool
) -> Iterator[tuple[Measurement, tuple[Prospect, ...]]]:
    """Yield what can be recorded of the running motor and what it would read."""
    classes = {reading.independence_class for reading in readings}
    harmonic = _again(Family.HARMONIC, aimed.harmonic_bars.value)
    with_voltages = aimed.direct_bars.value
    alone = with_voltages if voltages_measured else aimed.side_line_bars.value
    family = Family.DIRECT if voltages_measured else Family.DIRECT_CURRENTS
    yield Measurement.BETTER_RECORD, (_again(family, alone), harmonic)
    if not voltages_measured:
        yield Measurement.VOLTAGES, (_anew(Family.DIRECT, with_voltages), harmonic)
    if IndependenceClass.RUNNING_FUNDAMENTAL in classes:
        second = Prospect(
            family=family,
            independence_class=IndependenceClass.RUNNING_FUNDAMENTAL,
            limit_bars=alone,
            same_faults=True,
            immune=frozenset({CommonCause.SHAPE}),
        )
        yield Measurement.SECOND_LOAD, (second,)


def _of_others(
    motor: Motor, parameters: FusionParameters
) -> Iterator[tuple[Measurement, tuple[Prospect, ...]]]:
    """Yield what can be measured beside the running motor and what it would read."""
    families = parameters.families
    if motor.nameplate.starting is Starting.DIRECT:
        start_bars = families[Family.START_LINE].typical_limit_bars
        yield Measurement.START_RECORD, (_again(Family.START_LINE, start_bars),)
    position_bars = families[Family.POSITION].typical_limit_bars
    yield Measurement.POSITION_TEST, (_again(Family.POSITION, position_bars),)


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
    Family.DIRECT_CURRENTS: IndependenceClass.RUNNING_FUNDAMENTAL,
    Family.HARMONIC: IndependenceClass.RUNNING_HARMONIC,
    Family.START_LINE: IndependenceClass.START,
    Family.POSITION: IndependenceClass.STANDSTILL_PATTERN,
}
