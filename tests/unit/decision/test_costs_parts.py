"""Rate of failures, courses of visits, and lowest lines, each by a second route."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cagewise.decision.costs_hazard import DAYS_PER_MONTH, Hazard, ageing_pace
from cagewise.decision.costs_limits import CostLimits
from cagewise.decision.costs_policies import (
    Calendar,
    CostAction,
    Measurement,
    Policy,
    Setting,
    calendar_of,
    policies,
)
from cagewise.decision.costs_value import (
    lower_envelope,
    value_of_perfect_information,
    value_of_sample_information,
)
from cagewise.decision.limits import load_limits
from cagewise.machine.motor import Criticality

LIMITS = CostLimits()
CALENDAR = Calendar(
    routine_days=240.0,
    watch_days=80.0,
    repeat_days=45.0,
    notice_days=7.0,
    repair_days=60.0,
    outage_days=None,
)
SETTING = Setting(
    calendar=CALENDAR,
    hazard=Hazard(rate_per_month=0.03, doubling_months=9.0),
    visit=Measurement(detection=0.6, false_calls=0.02, part=0.01),
    better=Measurement(detection=0.9, false_calls=0.01, part=0.1),
    watch_visits=3,
    outage_part=0.5,
    stop_factor=3.0,
)
VISITS = 40
"""Visits of the simulated courses: by then 0.4^40 of the defects are left."""


def plan(action: CostAction, setting: Setting = SETTING, *, wait: bool = False) -> Policy:
    made = [p for p in policies(setting, stop_allowed=True) if p.action is action]
    return made[-1 if wait else 0]


def test_survival_is_the_integral_of_a_rate_that_doubles() -> None:
    hazard = Hazard(rate_per_month=0.02, doubling_months=12.0, pace=1.7)
    months = np.linspace(0.0, 18.0, 20001)
    rate = 1.7 * 0.02 * 2.0 ** (1.7 * months / 12.0)
    integral = float(np.sum((rate[1:] + rate[:-1]) / 2.0) * (months[1] - months[0]))

    # the trapezoid's error is of second order in a step of a thousandth of a month
    assert hazard.survival(18.0 * DAYS_PER_MONTH) == pytest.approx(math.exp(-integral), rel=1e-6)
    assert hazard.survival(0.0) == 1.0
    assert hazard.survival(1e9) == 0.0


def test_a_rate_that_hardly_doubles_is_the_exponential_law() -> None:
    steady = Hazard(rate_per_month=0.02, doubling_months=1e6)

    assert steady.survival(10.0 * DAYS_PER_MONTH) == pytest.approx(math.exp(-0.2), rel=1e-5)


def test_half_of_the_ageing_goes_with_the_starts() -> None:
    assert ageing_pace(20.0, 20.0, 0.5) == 1.0
    assert ageing_pace(60.0, 20.0, 0.5) == 2.0
    assert ageing_pace(0.0, 20.0, 0.5) == 0.5


@pytest.mark.parametrize(
    ("action", "days", "detections"),
    [
        (CostAction.KEEP, [240.0 * k for k in range(1, VISITS)], [0.6] * (VISITS - 1)),
        (
            CostAction.WATCH,
            [80.0, 160.0, 240.0, *(240.0 + 240.0 * k for k in range(1, VISITS))],
            [0.6] * (VISITS + 2),
        ),
        (
            CostAction.REPEAT,
            [45.0, *(45.0 + 240.0 * k for k in range(1, VISITS))],
            [0.9, *([0.6] * (VISITS - 1))],
        ),
    ],
)
def test_chance_of_a_failure_is_that_of_simulated_motors(
    action: CostAction, days: list[float], detections: list[float]
) -> None:
    """Draw the life of each motor and the result of each visit; count those that failed first."""
    rng = np.random.default_rng(20261103)
    motors = 200_000
    rate, doubling = SETTING.hazard.rate_per_month, SETTING.hazard.doubling_months
    exponential = rng.exponential(size=motors)  # life in units of the integrated rate
    life_months = doubling / math.log(2) * np.log1p(exponential * math.log(2) / rate / doubling)
    found = rng.random((motors, len(days))) < np.array(detections)
    repaired = np.where(found.any(axis=1), np.array(days)[found.argmax(axis=1)], np.inf) + 60.0
    failed = float(np.mean(life_months * DAYS_PER_MONTH < repaired))

    # four standard deviations of a count of 200 000
    tolerance = 4.0 * math.sqrt(failed * (1.0 - failed) / motors)
    assert plan(action).failure_chance == pytest.approx(failed, abs=tolerance)


def test_a_sound_motor_pays_for_records_and_false_calls() -> None:
    watched = 3 * 0.01 + (1.0 - 0.98**3)

    assert plan(CostAction.KEEP).if_sound == 0.0
    assert plan(CostAction.WATCH).if_sound == pytest.approx(watched, rel=1e-12)
    assert plan(CostAction.REPEAT).if_sound == pytest.approx(0.1 + 0.01, rel=1e-12)
    assert plan(CostAction.PLAN_REPAIR).if_sound == 1.0
    assert plan(CostAction.STOP).if_sound == 3.0


def test_in_an_outage_a_pull_is_cheaper_and_other_repairs_cost_what_it_saves() -> None:
    outage = replace(SETTING, calendar=replace(CALENDAR, outage_days=30.0))
    survives = SETTING.hazard.survival(30.0)

    here = plan(CostAction.PLAN_REPAIR, outage)
    assert (here.if_sound, here.if_defective, here.at_outage) == (0.5, 0.0, True)
    assert here.failure_chance == pytest.approx(1.0 - survives, rel=1e-12)
    # routine finds the defect after the outage: half a pull more, unless the cage fails first
    kept = plan(CostAction.KEEP, outage)
    assert kept.if_defective == pytest.approx(0.5 * (1.0 - kept.failure_chance), rel=1e-12)
    assert plan(CostAction.STOP, outage).if_defective == 2.5


def test_waiting_for_a_late_outage_is_weighed_beside_a_stop_made_for_the_repair() -> None:
    late = replace(SETTING, calendar=replace(CALENDAR, outage_days=100.0))

    now, waits = plan(CostAction.PLAN_REPAIR, late), plan(CostAction.PLAN_REPAIR, late, wait=True)
    assert (now.days, now.at_outage, now.if_sound) == (60.0, False, 1.0)
    assert (waits.days, waits.at_outage, waits.if_sound) == (100.0, True, 0.5)
    assert waits.failure_chance > now.failure_chance


def test_days_are_those_of_the_rule_of_windows() -> None:
    windows = load_limits().decision
    made = calendar_of(Criticality(level="high"), date(2026, 11, 3), LIMITS, windows)

    assert made.routine_days == windows.sound_high_days[1]
    assert made.repeat_days == windows.suspect_high_days[1]
    assert (made.notice_days, made.repair_days) == windows.defective_high_days
    assert made.watch_days == pytest.approx(0.33 * made.routine_days)


LINES = st.lists(
    st.tuples(st.floats(0.0, 10.0), st.floats(-10.0, 10.0)), min_size=1, max_size=6, unique=True
)


@given(LINES, st.floats(0.0, 1.0))
def test_the_lowest_line_is_found(lines: list[tuple[float, float]], at: float) -> None:
    stretches = lower_envelope(lines, 0.0, 1.0)
    _, index = [stretch for stretch in stretches if stretch[0] <= at][-1]
    lowest = min(a + b * at for a, b in lines)

    assert lines[index][0] + lines[index][1] * at == pytest.approx(lowest, abs=1e-9)
    begins = [begin for begin, _ in stretches]
    assert begins == sorted(begins)
    assert begins[0] == 0.0


PRIORS = st.lists(st.floats(0.01, 1.0), min_size=3, max_size=3)
TABLES = st.lists(st.lists(st.floats(0.0, 100.0), min_size=3, max_size=3), min_size=1, max_size=4)


@given(PRIORS, TABLES, st.floats(0.0, 1.0), st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_knowing_never_costs_and_certainty_is_the_most(
    weights: list[float], costs: list[list[float]], first: float, second: float, third: float
) -> None:
    prior = [w / sum(weights) for w in weights]
    likelihood = ((first, second, third), (1.0 - first, 1.0 - second, 1.0 - third))
    perfect = value_of_perfect_information(prior, costs)

    assert 0.0 <= value_of_sample_information(prior, costs, likelihood) <= perfect + 1e-9
    sure = ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
    assert value_of_sample_information(prior, costs, sure) == pytest.approx(perfect, abs=1e-9)
