"""Which measurement is worth most: information is never negative, and repeats tell little."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from cagewise.decision.measurement_effort import MeasurementEffort
from cagewise.decision.next_measurement import (
    Measurement,
    MeasurementWorth,
    rank_measurements,
)
from cagewise.decision.plan import Plan, plan_for
from cagewise.evidence.fusion.fuse import fuse
from cagewise.evidence.fusion.heard import Heard, heard
from cagewise.evidence.fusion.likelihood import TAIL_SD
from cagewise.evidence.fusion.parameters import Calibrated, FusionParameters
from cagewise.evidence.fusion.patterns import Family, Prior
from cagewise.evidence.fusion.worth import Prospect, Worth, worth_of
from cagewise.evidence.probability import TruthStudy
from cagewise.evidence.weigh import weigh
from cagewise.indicators.reading import IndependenceClass, Reading
from cagewise.machine.nameplate import Starting
from cagewise.quantities import Estimate
from support.examinations import LIMITS, damaged, motor, reading, sound, start_line, unreadable

EVEN = Prior(prevalence=0.5)
STUDY = TruthStudy(calibrated=Calibrated(parameters=FusionParameters()))
"""Our judgement, so that no new fit changes what is expected here."""
JUDGED = FusionParameters()
START = Prospect(
    family=Family.START_LINE,
    independence_class=IndependenceClass.START,
    limit_bars=0.3,
    same_faults=True,
)
DIRECT = Prospect(
    family=Family.DIRECT,
    independence_class=IndependenceClass.RUNNING_FUNDAMENTAL,
    limit_bars=0.1,
    same_faults=True,
)


def direct(bars: float) -> Heard:
    half = 1.96 * math.hypot(0.05, 0.1 * bars)
    low = max(0.0, bars - half)
    found = heard(
        "direct_component",
        IndependenceClass.RUNNING_FUNDAMENTAL,
        Estimate(bars, low, bars + half),
        0.1,
    )
    assert found is not None
    return found


def worth(prospect: Prospect, *readings: Heard, prior: Prior = EVEN) -> Worth:
    return worth_of([prospect], readings, prior, JUDGED)


@cache
def plan(starting: Starting = Starting.DIRECT) -> Plan:
    return plan_for(motor(nameplate=replace(motor().nameplate, starting=starting)))


def ranked(
    readings: tuple[Reading, ...], *, voltages: bool = True, of: Plan | None = None
) -> dict[Measurement, MeasurementWorth]:
    evidence = weigh(readings, LIMITS.evidence, voltages_measured=voltages)
    of = of or plan()
    found = rank_measurements(evidence, of.motor, of.aimed, voltages_measured=voltages, study=STUDY)
    each = [w.bits_per_hour for w in found]
    assert each == sorted(each, reverse=True)
    return {w.measurement: w for w in found}


@pytest.mark.parametrize("bars", [0.02, 0.3, 0.6, 1.0, 3.0])
def test_information_is_never_negative_nor_more_than_what_is_not_known(bars: float) -> None:
    for prospect in (START, DIRECT):
        found = worth(prospect, direct(bars))
        assert 0.0 <= found.bits <= found.entropy_bits
        assert 0.0 <= found.change_probability <= 1.0


def test_what_is_not_known_is_the_entropy_of_the_posterior() -> None:
    chance = fuse([direct(0.4)], EVEN, JUDGED).defect
    entropy = -(chance * math.log2(chance) + (1.0 - chance) * math.log2(1.0 - chance))

    assert worth(START, direct(0.4)).entropy_bits == pytest.approx(entropy, rel=1e-9)
    assert worth(DIRECT, direct(0.4)).entropy_bits == pytest.approx(entropy, rel=1e-9)


def test_a_reading_that_could_see_nothing_is_worth_nothing() -> None:
    blind = replace(START, limit_bars=1e4)

    assert worth(blind, direct(0.5)).bits == pytest.approx(0.0, abs=1e-3)


def test_a_sharper_reading_is_worth_more() -> None:
    bits = [worth(replace(START, limit_bars=limit)).bits for limit in (3.0, 1.0, 0.3, 0.1)]

    assert bits == sorted(bits)
    assert bits[-1] > 2.0 * bits[0]


def test_a_repeat_is_worth_less_than_another_class_of_the_same_limit() -> None:
    """A repeat would be wrong about the same things."""
    repeat = worth(DIRECT, direct(1.0))
    other = worth(replace(START, limit_bars=DIRECT.limit_bars), direct(1.0))

    assert repeat.bits < 0.6 * other.bits


def test_expected_information_agrees_with_drawn_outcomes() -> None:
    """Outcomes drawn from the model and heard by the fusion leave the entropy that was expected.

    The hypothetical reading states the interval that its noise gives it; the standard error of
    400 outcomes and the width of the cells are what the tolerance allows.
    """
    rng = np.random.default_rng(5)
    limit, sd = 0.2, 0.15
    states = fuse([], EVEN, JUDGED).states
    chances = states.prior(EVEN)
    sharp = replace(START, limit_bars=limit)
    expected = worth(sharp)
    left = []
    for state in rng.choice(chances.size, size=400, p=chances):
        model = JUDGED.families[Family.START_LINE]
        truth = states.expected[Family.START_LINE][state]
        if rng.random() < model.outlier:
            truth = (1.0 - rng.random()) ** (-1.0 / 3.0) - 1.0
        spread = math.hypot(TAIL_SD * model.inflation * sd, JUDGED.shared_sd) * truth
        noise = math.hypot(spread, limit / 3.3)
        bars = max(0.0, truth + noise * rng.standard_normal())
        half = 1.96 / model.inflation * math.hypot(model.inflation * sd * bars, limit / 3.3)
        estimate = Estimate(bars, max(0.0, bars - half), bars + half)
        told = heard("start_side_line_track", IndependenceClass.START, estimate, limit)
        assert told is not None
        p = min(max(fuse([told], EVEN, JUDGED).defect, 1e-9), 1.0 - 1e-9)
        left.append(-p * math.log2(p) - (1.0 - p) * math.log2(1.0 - p))

    assert expected.entropy_bits - float(np.mean(left)) == pytest.approx(expected.bits, abs=0.1)


def test_voltages_can_be_added_only_where_there_are_none() -> None:
    readings = (reading("lower_side_line", (0.4, 1.0, 2.4)),)

    assert Measurement.VOLTAGES in ranked(readings, voltages=False)
    assert Measurement.VOLTAGES not in ranked(damaged())


def test_a_motor_that_is_not_started_directly_has_no_start_to_record() -> None:
    assert Measurement.START_RECORD not in ranked(damaged(), of=plan(Starting.SOFT_STARTER))


def test_after_a_record_that_contradicts_itself_another_class_comes_before_a_repeat() -> None:
    found = ranked((damaged()[0], sound()[3]))

    assert found[Measurement.START_RECORD].bits > found[Measurement.BETTER_RECORD].bits


def test_a_start_that_was_recorded_is_worth_less_than_one_that_was_not() -> None:
    after = ranked((*damaged()[:1], start_line((0.8, 1.0, 1.3))))[Measurement.START_RECORD]
    before = ranked(damaged()[:1])[Measurement.START_RECORD]

    assert after.bits < 0.5 * before.bits


def test_a_second_load_needs_a_first_one() -> None:
    assert Measurement.SECOND_LOAD not in ranked(unreadable())
    assert Measurement.SECOND_LOAD in ranked(sound())


def test_after_a_clean_record_little_is_left_to_learn() -> None:
    for worth_now in ranked(sound()).values():
        assert worth_now.bits < 0.05


def test_hours_are_the_callers_and_set_the_order() -> None:
    evidence = weigh(damaged()[:1], LIMITS.evidence, voltages_measured=True)
    quick = MeasurementEffort(position_test_hours=0.01)
    aimed = plan().aimed
    first, *_ = rank_measurements(
        evidence, plan().motor, aimed, voltages_measured=True, effort=quick
    )

    assert first.measurement is Measurement.POSITION_TEST
    assert first.hours == pytest.approx(0.01)
