"""What must hold of the cheapest action for any costs, dates and damage."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cagewise.decision.costs_policies import CostAction, Measurement
from cagewise.quantities import Estimate, NotKnown
from support.cost_questions import LIMITS, decide, question, worked

ORDER = {action: rank for rank, action in enumerate(CostAction)}
ROUNDING = 1e-9
"""Of sums of a dozen terms of order one; a cost of order r is compared to r times it."""

LEVELS = st.sampled_from(["low", "normal", "high"])
PROBABILITIES = st.floats(0.0, 1.0)
RATIOS = st.floats(0.0, 1e4)
OUTAGES = st.none() | st.integers(-30, 900)
BARS = st.none() | st.floats(0.0, 8.0).map(lambda n: Estimate(n, n, n))


@given(PROBABILITIES, RATIOS, LEVELS, OUTAGES, BARS)
def test_the_action_is_the_cheapest(
    probability: float, ratio: float, level: str, outage: int | None, bars: Estimate | None
) -> None:
    decision = decide(
        question(probability, ratio=ratio, level=level, outage_days=outage, bars=bars)
    )
    expected = [cost.expected for cost in decision.costs]

    assert worked(decision).expected_cost == decision.chosen.expected
    for cost in expected:
        assert cost is not None
        assert cost >= -ROUNDING
        assert worked(decision).expected_cost <= cost + ROUNDING


@given(PROBABILITIES, RATIOS, RATIOS, LEVELS, OUTAGES, BARS)
def test_a_dearer_miss_never_leaves_the_cage_more_likely_to_fail(
    probability: float,
    ratio: float,
    other: float,
    level: str,
    outage: int | None,
    bars: Estimate | None,
) -> None:
    less, more = sorted((ratio, other))
    lenient, strict = (
        decide(question(probability, ratio=r, level=level, outage_days=outage, bars=bars))
        for r in (less, more)
    )
    fails = strict.chosen.failure_chance <= lenient.chosen.failure_chance + ROUNDING

    assert fails or probability * (more - less) < ROUNDING


@given(PROBABILITIES, RATIOS, RATIOS, LEVELS, BARS)
def test_a_dearer_miss_never_makes_the_action_more_lenient(
    probability: float, ratio: float, other: float, level: str, bars: Estimate | None
) -> None:
    less, more = sorted((ratio, other))
    lenient, strict = (
        decide(question(probability, ratio=r, level=level, bars=bars)) for r in (less, more)
    )

    assert ORDER[strict.action] >= ORDER[lenient.action] or probability * (more - less) < ROUNDING


@given(PROBABILITIES, PROBABILITIES, RATIOS, LEVELS, BARS)
def test_a_likelier_defect_never_makes_the_action_more_lenient(
    probability: float, other: float, ratio: float, level: str, bars: Estimate | None
) -> None:
    less, more = sorted((probability, other))
    lenient, strict = (
        decide(question(p, ratio=ratio, level=level, bars=bars)) for p in (less, more)
    )

    assert ORDER[strict.action] >= ORDER[lenient.action] or more - less < ROUNDING


@given(PROBABILITIES, PROBABILITIES, RATIOS, LEVELS, OUTAGES)
def test_a_likelier_defect_costs_the_defective_motor_less(
    probability: float, other: float, ratio: float, level: str, outage: int | None
) -> None:
    """With an outage in view the names of the actions do not order themselves, the costs do."""
    less, more = sorted((probability, other))
    lenient, strict = (
        decide(question(p, ratio=ratio, level=level, outage_days=outage)) for p in (less, more)
    )
    size = 1.0 + lenient.chosen.if_defective

    assert (
        strict.chosen.if_defective <= lenient.chosen.if_defective + ROUNDING * size
        or more - less < ROUNDING * size
    )


@given(PROBABILITIES, RATIOS, LEVELS, st.integers(-30, 900), BARS)
def test_a_planned_outage_never_costs_and_never_stops_the_motor_at_once(
    probability: float, ratio: float, level: str, outage: int, bars: Estimate | None
) -> None:
    """Costs are counted over the cheapest repair to be had, which the outage makes cheaper."""
    without = decide(question(probability, ratio=ratio, level=level, bars=bars))
    planned = decide(question(probability, ratio=ratio, level=level, bars=bars, outage_days=outage))
    saved = probability * (1.0 - planned.assumed.setting.cheapest_pull)
    slack = ROUNDING * (1.0 + ratio)

    assert worked(planned).expected_cost - saved <= worked(without).expected_cost + slack
    if without.action in (CostAction.PLAN_REPAIR, CostAction.STOP):
        assert ORDER[planned.action] <= ORDER[without.action]
    if planned.action is CostAction.STOP:
        assert without.action is CostAction.STOP


@given(PROBABILITIES, st.floats(0.1, 1e3), st.floats(0.01, 1e6), LEVELS, OUTAGES)
def test_the_currency_does_not_matter(
    probability: float, ratio: float, unit: float, level: str, outage: int | None
) -> None:
    in_units = decide(question(probability, ratio=ratio, level=level, outage_days=outage))
    in_money = decide(
        question(probability, ratio=ratio, false_pull=unit, level=level, outage_days=outage)
    )
    here, there = worked(in_units), worked(in_money)

    assert there.expected_cost == pytest.approx(unit * here.expected_cost, rel=1e-9)
    assert there.measuring.perfect == pytest.approx(
        unit * here.measuring.perfect, rel=1e-9, abs=1e-9 * unit
    )
    for one, other in zip(in_units.probability_spans, in_money.probability_spans, strict=True):
        assert other.action is one.action
        assert other.high == pytest.approx(one.high, rel=1e-6)


@given(PROBABILITIES, RATIOS, LEVELS, OUTAGES)
def test_an_imperfect_look_is_worth_something_and_less_than_certainty(
    probability: float, ratio: float, level: str, outage: int | None
) -> None:
    asked = question(probability, ratio=ratio, level=level, outage_days=outage)
    good = worked(decide(asked)).measuring
    poor = worked(
        decide(replace(asked, better=Measurement(detection=0.5, false_calls=0.5, part=0.1)))
    ).measuring
    sure = worked(
        decide(replace(asked, better=Measurement(detection=1.0, false_calls=0.0, part=0.1)))
    ).measuring

    assert 0.0 <= good.better <= good.perfect + ROUNDING * (1.0 + ratio)
    assert poor.better == pytest.approx(0.0, abs=ROUNDING * (1.0 + ratio))  # a coin tells nothing
    assert sure.better == pytest.approx(sure.perfect, abs=ROUNDING * (1.0 + ratio))


@given(RATIOS, LEVELS, OUTAGES, BARS, PROBABILITIES)
def test_the_spans_say_what_the_decision_says(
    ratio: float, level: str, outage: int | None, bars: Estimate | None, probability: float
) -> None:
    decision = decide(
        question(probability, ratio=ratio, level=level, outage_days=outage, bars=bars)
    )
    ratio_spans = worked(decision).ratio_spans

    assert not isinstance(ratio_spans, NotKnown)
    assert (decision.probability_spans[0].low, decision.probability_spans[-1].high) == (0.0, 1.0)
    assert (ratio_spans[0].low, ratio_spans[-1].high) == (0.0, math.inf)
    for spans, at in ((decision.probability_spans, probability), (ratio_spans, ratio)):
        slack = ROUNDING * (1.0 + at)
        holding = {s.action for s in spans if s.low - slack <= at <= s.high + slack}
        each = {cost.action: cost.expected or 0.0 for cost in decision.costs}
        tied = {a for a in holding if abs(each[a] - each[decision.action]) <= ROUNDING}
        assert decision.action in holding or tied


@given(PROBABILITIES, RATIOS, LEVELS, BARS)
def test_stopping_at_once_takes_many_bars_and_high_criticality(
    probability: float, ratio: float, level: str, bars: Estimate | None
) -> None:
    decision = decide(question(probability, ratio=ratio, level=level, bars=bars))
    many = bars is not None and bars.value >= LIMITS.stop_bars_min

    weighed = CostAction.STOP in {cost.action for cost in decision.costs}
    assert weighed is (many and level == "high")
