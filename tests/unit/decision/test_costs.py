"""The action with the smallest expected cost: what must hold for any costs, dates and limits."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cagewise.decision.costs import decide_costs, stakes_of
from cagewise.decision.costs_limits import CostLimits
from cagewise.decision.costs_policies import CostAction, Measurement
from cagewise.decision.costs_result import (
    CostDecision,
    CostQuestion,
    Guard,
    SensitivityKind,
    StakesGround,
    Worked,
)
from cagewise.decision.limits import load_limits
from cagewise.decision.verdict import State, StateGround, Verdict
from cagewise.machine.motor import Criticality
from cagewise.quantities import Estimate, NotKnown

LIMITS = CostLimits()
WINDOWS = load_limits().decision
MEASURED = date(2026, 11, 3)
ORDER = {action: rank for rank, action in enumerate(CostAction)}
ROUNDING = 1e-9
"""Of sums of a dozen terms of order one; costs in the tests are at most 1e6 of them."""

LEVELS = st.sampled_from(["low", "normal", "high"])
PROBABILITIES = st.floats(0.0, 1.0)
RATIOS = st.floats(0.0, 1e4)
OUTAGES = st.none() | st.integers(-30, 900)
BARS = st.none() | st.floats(0.0, 8.0).map(lambda n: Estimate(n, n, n))


def verdict(state: State = State.SUSPECT, *, removal: bool = False) -> Verdict:
    return Verdict(
        state=state,
        ground=StateGround.ENOUGH_AGREE if removal else StateGround.TOO_FEW_AGREE,
        methods_agreeing=3 if removal else 1,
        classes_agreeing=2 if removal else 1,
        removal_supported=removal,
    )


def question(
    probability: float | NotKnown = 0.3,
    *,
    ratio: float | None = None,
    false_pull: float = 1.0,
    level: str = "normal",
    outage_days: int | None = None,
    bars: Estimate | None = None,
    judged: Verdict | None = None,
) -> CostQuestion:
    outage = None if outage_days is None else MEASURED + timedelta(days=outage_days)
    criticality = Criticality(
        level=level,
        false_pull_cost=None if ratio is None else false_pull,
        miss_cost=None if ratio is None else ratio * false_pull,
        next_outage=None if outage is None else outage.isoformat(),
    )
    return CostQuestion(
        probability=probability,
        verdict=judged or verdict(),
        criticality=criticality,
        damage_bars=bars,
        measured_on=MEASURED,
    )


def decide(asked: CostQuestion, limits: CostLimits = LIMITS) -> CostDecision:
    return decide_costs(asked, limits, WINDOWS)


def worked(decision: CostDecision) -> Worked:
    assert isinstance(decision.worked, Worked)
    return decision.worked


# --- Properties


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
        assert decision.action in holding


# --- Cases


def test_the_order_of_strictness_is_the_order_of_failures() -> None:
    for level in ("low", "normal", "high"):
        bars = Estimate(5.0, 4.0, 6.0)
        costs = decide(question(level=level, bars=bars)).costs
        chances = [cost.failure_chance for cost in costs]
        paid = [cost.if_sound for cost in costs]

        assert chances == sorted(chances, reverse=True)
        assert paid == sorted(paid)
        assert min(chances) >= 0.0
        assert max(chances) < 1.0


def test_every_action_has_its_probability() -> None:
    """Each action that is not STOP is the right one somewhere: none stands there for show."""
    spans = decide(question(level="normal")).probability_spans

    assert [span.action for span in spans] == list(CostAction)[:-1]


def test_without_costs_the_ratio_of_the_level_stands_in() -> None:
    for level, ratio in (("low", 3.0), ("normal", 10.0), ("high", 50.0)):
        stakes = stakes_of(Criticality(level=level), LIMITS)
        assert (stakes.false_pull, stakes.miss) == (1.0, ratio)
        assert stakes.ground is StakesGround.BY_LEVEL
        assert not stakes.in_currency


def test_a_spare_halves_what_a_failure_costs_but_not_what_the_user_has_given() -> None:
    assert stakes_of(Criticality(spare=True), LIMITS).miss == 5.0
    assert stakes_of(Criticality(spare=None), LIMITS).miss == 10.0
    given_costs = Criticality(spare=True, false_pull_cost=4e3, miss_cost=9e4)
    assert stakes_of(given_costs, LIMITS).miss == 9e4
    assert not stakes_of(given_costs, LIMITS).spare_counted


@pytest.mark.parametrize(
    ("false_pull", "miss", "ground"),
    [
        (1e4, None, StakesGround.ONE_GIVEN),
        (None, 1e5, StakesGround.ONE_GIVEN),
        (0.0, 0.0, StakesGround.BOTH_ZERO),
        (0.0, 1e5, StakesGround.GIVEN),
    ],
)
def test_half_a_pair_of_costs_weighs_nothing(
    false_pull: float | None, miss: float | None, ground: StakesGround
) -> None:
    stakes = stakes_of(Criticality(false_pull_cost=false_pull, miss_cost=miss), LIMITS)

    assert stakes.ground is ground
    assert stakes.in_currency is (ground is StakesGround.GIVEN)


def test_what_costs_nothing_is_done() -> None:
    free = CostQuestion(
        probability=0.01,
        verdict=verdict(),
        criticality=Criticality(false_pull_cost=0.0, miss_cost=1e5),
    )
    decision = decide(free)

    assert decision.action is CostAction.PLAN_REPAIR
    assert isinstance(worked(decision).ratio_spans, NotKnown)
    assert decide(replace(free, probability=0.0)).action is CostAction.KEEP


@pytest.mark.parametrize(
    ("judged", "action"),
    [
        (verdict(State.DEFECTIVE, removal=True), CostAction.PLAN_REPAIR),
        (verdict(State.DEFECTIVE), CostAction.REPEAT),
        (verdict(State.SUSPECT), CostAction.REPEAT),
        (verdict(State.NOT_DECIDABLE), CostAction.REPEAT),
        (verdict(State.SOUND), CostAction.KEEP),
    ],
)
def test_without_a_probability_the_rule_of_states_acts_and_says_why(
    judged: Verdict, action: CostAction
) -> None:
    decision = decide(question(NotKnown("not calibrated"), judged=judged))

    assert decision.action is action
    assert decision.worked == NotKnown("not calibrated")
    assert all(cost.expected is None for cost in decision.costs)
    assert decision.probability_spans == decide(question(0.3)).probability_spans


def test_costs_may_ask_for_more_than_the_methods_support_and_say_so() -> None:
    likely = 0.95
    assert decide(question(likely)).guard is Guard.FEWER_AGREE
    agreed = verdict(State.DEFECTIVE, removal=True)
    assert decide(question(likely, judged=agreed)).guard is Guard.ENOUGH_AGREE
    assert decide(question(0.05, judged=agreed)).guard is Guard.NOT_ASKED
    assert decide(question(0.05)).guard is Guard.NOT_TOUCHED


@given(PROBABILITIES, RATIOS, LEVELS, BARS)
def test_stopping_at_once_takes_many_bars_and_high_criticality(
    probability: float, ratio: float, level: str, bars: Estimate | None
) -> None:
    decision = decide(question(probability, ratio=ratio, level=level, bars=bars))
    many = bars is not None and bars.value >= LIMITS.stop_bars_min

    weighed = CostAction.STOP in {cost.action for cost in decision.costs}
    assert weighed is (many and level == "high")


def test_four_bars_of_a_motor_on_which_much_depends_are_stopped() -> None:
    four = Estimate(4.0, 3.4, 4.6)

    assert decide(question(0.99, ratio=100.0, level="high", bars=four)).action is CostAction.STOP
    plan = decide(question(0.99, ratio=100.0, level="normal", bars=four))
    assert plan.action is CostAction.PLAN_REPAIR


def test_a_repair_is_planned_by_a_date_and_in_an_outage_that_is_in_time() -> None:
    own = decide(question(0.9)).chosen
    assert (own.days, own.by, own.at_outage) == (60.0, MEASURED + timedelta(days=60), False)
    outage = decide(question(0.9, outage_days=30)).chosen
    assert (outage.days, outage.by, outage.at_outage) == (30.0, date(2026, 12, 3), True)


def test_an_outage_that_is_past_or_comes_without_notice_is_not_used() -> None:
    plain = decide(question(0.9))
    for days in (-5, 3):
        assert decide(question(0.9, outage_days=days)).costs == plain.costs
    undated = decide(replace(question(0.9, outage_days=30), measured_on=None))
    assert undated.assumed.setting.calendar.outage_days is None
    assert undated.chosen.by is None


def test_a_late_outage_is_waited_for_while_a_failure_is_cheap() -> None:
    """The outage saves half a pull; waiting costs failures. Which is more depends on the ratio."""
    for ratio, waits in ((3.0, True), (1000.0, False)):
        plan = decide(question(0.95, ratio=ratio, outage_days=100)).chosen
        assert plan.action is CostAction.PLAN_REPAIR
        assert plan.at_outage is waits


def test_an_outage_can_make_a_repair_worth_planning() -> None:
    """Half the price of a pull: what was to be watched is taken out when it costs little."""
    assert decide(question(0.35)).action is CostAction.REPEAT
    assert decide(question(0.35, outage_days=30)).action is CostAction.PLAN_REPAIR


def test_more_bars_and_more_starts_fail_sooner() -> None:
    usual = question(0.3)
    chance = decide(usual).costs[0].failure_chance

    for harder in (
        replace(usual, damage_bars=Estimate(3.0, 2.5, 3.5)),
        replace(usual, starts_per_month=200.0),
    ):
        assert decide(harder).costs[0].failure_chance > chance
    rested = replace(usual, starts_per_month=0.0)
    assert 0.0 < decide(rested).costs[0].failure_chance < chance


def test_sensitivity_names_what_would_change() -> None:
    asked = replace(question(0.3), probability_interval=(0.02, 0.9))
    decision = decide(asked)
    cases = {(case.kind, case.value): case for case in worked(decision).sensitivity}

    for factor in (0.2, 0.5, 2.0, 5.0):
        other = decide(question(0.3, ratio=10.0 * factor))
        assert cases[SensitivityKind.COST_RATIO, factor].action is other.action
    for end in (0.02, 0.9):
        assert cases[SensitivityKind.PROBABILITY, end].action is decide(question(end)).action
    for rate in (LIMITS.hazard_low_per_month, LIMITS.hazard_high_per_month):
        other = decide(question(0.3), replace(LIMITS, hazard_per_month=rate))
        assert cases[SensitivityKind.HAZARD, rate].action is other.action
    assert all(c.changes is (c.action is not decision.action) for c in cases.values())
    assert worked(decision).robust is False
    assert worked(decide(question(0.0))).robust is True


def test_measuring_is_worth_most_where_the_decision_is_open() -> None:
    worths = [worked(decide(question(p))).measuring.better for p in (0.0, 0.3, 1.0)]

    assert worths[0] == 0.0
    assert worths[2] == 0.0
    assert worths[1] > worked(decide(question(0.3))).measuring.cost
    assert worked(decide(question(0.3))).measuring.worthwhile
    assert not worked(decide(question(0.001))).measuring.worthwhile


def test_a_probability_out_of_range_is_refused() -> None:
    with pytest.raises(ValueError, match="between 0 and 1"):
        question(1.2)
    with pytest.raises(ValueError, match="between 0 and 1"):
        replace(question(0.3), probability_interval=(0.1, 1.7))
