"""The action with the smallest expected cost, case by case."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from cagewise.decision.costs import stakes_of
from cagewise.decision.costs_policies import CostAction
from cagewise.decision.costs_result import CostQuestion, Guard, SensitivityKind, StakesGround
from cagewise.decision.verdict import State, Verdict
from cagewise.machine.motor import Criticality
from cagewise.quantities import Estimate, NotKnown
from support.cost_questions import LIMITS, MEASURED, decide, question, verdict, worked


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
    assert stakes_of(given_costs, LIMITS).spare_part == 1.0


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
        assert isinstance(decide(question(0.9, outage_days=days)).outage, NotKnown)
    undated = decide(replace(question(0.9, outage_days=30), measured_on=None))
    assert undated.assumed.setting.calendar.outage_days is None
    assert isinstance(undated.outage, NotKnown)
    assert undated.chosen.by is None
    assert plain.outage is None
    assert decide(question(0.9, outage_days=30)).outage == date(2026, 12, 3)


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
