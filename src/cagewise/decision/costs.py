"""What to do where being wrong costs money: the action with the smallest expected cost.

Every action costs one sum if the motor is sound and another if it is defective; the probability of
a defect weighs the two (docs/theory/decision-costs.md). The rule of agreeing methods and classes
stays a guard: costs may ask for more than it supports, and then that is said.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta

from cagewise.decision.costs_hazard import Hazard, ageing_pace
from cagewise.decision.costs_limits import CostLimits
from cagewise.decision.costs_policies import (
    CostAction,
    Measurement,
    Policy,
    Setting,
    calendar_of,
    policies,
)
from cagewise.decision.costs_result import (
    ActionCost,
    Assumed,
    CostDecision,
    CostQuestion,
    Guard,
    SensitivityCase,
    SensitivityKind,
    Stakes,
    StakesGround,
    Worked,
)
from cagewise.decision.costs_value import odds_rule
from cagewise.decision.costs_working import (
    case_of,
    cheapest,
    expected,
    measuring,
    pay,
    probability_spans,
    ratio_spans,
    sensitivity,
)
from cagewise.decision.limits import DecisionLimits
from cagewise.decision.verdict import State, Verdict
from cagewise.machine.motor import Criticality
from cagewise.quantities import NotKnown

REMOVALS = frozenset({CostAction.PLAN_REPAIR, CostAction.STOP})
"""Actions that take the motor out, and that the guard therefore watches."""
BARS_ASSUMED = 1.0
"""Open bars where nobody has said how many: the smallest damage that must not be missed."""
HIGH = "high"
"""Criticality at which stopping at once is weighed."""


def decide_costs(
    question: CostQuestion, limits: CostLimits, windows: DecisionLimits
) -> CostDecision:
    """Return the action with the smallest expected cost.

    Parameters
    ----------
    question
        Probability, damage, criticality, day and verdict.
    limits
        What is assumed.
    windows
        Intervals and dates by state and criticality, as everywhere else.
    """
    stakes = stakes_of(question.criticality, limits)
    assumed = _assumed(question, limits, windows)
    plans = policies(assumed.setting, stop_allowed=stop_weighed(question, limits))
    probability = question.probability
    worked: Worked | NotKnown
    if isinstance(probability, NotKnown):
        action, worked = rule_action(question.verdict), probability
    else:
        best = cheapest(plans, stakes, probability)
        action = best.action
        worked = Worked(
            expected_cost=expected(best, stakes, probability),
            ratio_spans=ratio_spans(plans, stakes, probability),
            sensitivity=(
                *sensitivity(plans, stakes, probability, question.probability_range),
                *_if_it_failed_otherwise(question, probability, assumed, limits),
            ),
            measuring=measuring(plans, stakes, probability, assumed.setting.better),
        )
    return CostDecision(
        action=action,
        guard=_guard(action, question.verdict),
        probability=probability,
        probability_interval=question.probability_range,
        probability_guarded=question.probability_guarded,
        stakes=stakes,
        assumed=assumed,
        outage=_outage(question, assumed),
        costs=_costs(plans, stakes, question),
        probability_spans=probability_spans(plans, stakes),
        odds_rule_probability=odds_rule(stakes.false_pull, stakes.miss),
        worked=worked,
    )


def rule_action(verdict: Verdict) -> CostAction:
    """Return what the rule of states asks for, where no costs can be worked."""
    if verdict.removal_supported:
        return CostAction.PLAN_REPAIR
    return CostAction.KEEP if verdict.state is State.SOUND else CostAction.REPEAT


def stakes_of(criticality: Criticality, limits: CostLimits) -> Stakes:
    """Return the two costs; ratios by criticality where they are not both given."""
    false_pull, miss = criticality.false_pull_cost, criticality.miss_cost
    if false_pull is not None and miss is not None and false_pull + miss > 0.0:
        return Stakes(
            false_pull=false_pull,
            miss=miss,
            ground=StakesGround.GIVEN,
            level=criticality.level,
        )
    ground = StakesGround.ONE_GIVEN
    if false_pull is None and miss is None:
        ground = StakesGround.BY_LEVEL
    elif false_pull is not None and miss is not None:
        ground = StakesGround.BOTH_ZERO
    ratio = {
        "low": limits.miss_ratio_low,
        "normal": limits.miss_ratio_normal,
        "high": limits.miss_ratio_high,
    }[criticality.level]
    part = limits.spare_part if criticality.spare else 1.0
    return Stakes(
        false_pull=1.0,
        miss=ratio * part,
        ground=ground,
        level=criticality.level,
        spare_part=part,
    )


def stop_weighed(question: CostQuestion, limits: CostLimits) -> bool:
    """Return whether stopping at once is weighed: many bars, and much depends on the motor."""
    bars = question.damage_bars
    many = bars is not None and bars.value >= limits.stop_bars_min
    return many and question.criticality.level == HIGH


def _assumed(question: CostQuestion, limits: CostLimits, windows: DecisionLimits) -> Assumed:
    """Return what the actions are laid out for."""
    bars = BARS_ASSUMED if question.damage_bars is None else question.damage_bars.value
    bars = min(max(bars, limits.least_bars), limits.most_bars)
    return Assumed(
        bars=bars,
        bars_assumed=question.damage_bars is None,
        plausible_rates_per_month=(
            bars * limits.hazard_low_per_month,
            bars * limits.hazard_high_per_month,
        ),
        setting=Setting(
            calendar=calendar_of(question.criticality, question.measured_on, limits, windows),
            hazard=_hazard(question, limits, limits.hazard_per_month * bars),
            visit=Measurement(
                detection=limits.visit_detection,
                false_calls=limits.visit_false_calls,
                part=limits.visit_part,
            ),
            better=question.better
            or Measurement(
                detection=limits.better_detection,
                false_calls=limits.better_false_calls,
                part=limits.better_part,
            ),
            watch_visits=limits.watch_visits,
            outage_part=limits.outage_part,
            stop_factor=limits.stop_factor,
        ),
    )


def _outage(question: CostQuestion, assumed: Assumed) -> date | NotKnown | None:
    """Return the planned outage, or why it is left out."""
    if question.criticality.next_outage is None:
        return None
    outage = date.fromisoformat(question.criticality.next_outage)
    calendar = assumed.setting.calendar
    if question.measured_on is None:
        return NotKnown("the day of the measurement is not known")
    if calendar.outage_days is not None:
        return outage
    if outage < question.measured_on:
        return NotKnown(f"{outage.isoformat()} is before the measurement")
    return NotKnown(
        f"{outage.isoformat()} leaves less than the {calendar.notice_days:g} days of notice that a "
        "repair takes"
    )


def _hazard(question: CostQuestion, limits: CostLimits, rate_per_month: float) -> Hazard:
    """Return the rate of failures of this cage with the pace of its starts."""
    starts = question.starts_per_month
    usual = limits.usual_starts_per_month
    return Hazard(
        rate_per_month=rate_per_month,
        doubling_months=limits.hazard_doubling_months,
        pace=ageing_pace(usual if starts is None else starts, usual, limits.starts_share),
    )


def _costs(
    plans: Sequence[Policy], stakes: Stakes, question: CostQuestion
) -> tuple[ActionCost, ...]:
    """Return every action with its numbers, its better variant where it has two."""
    made = []
    for action in CostAction:
        variants = [plan for plan in plans if plan.action is action]
        if variants:
            made.append(_cost(variants, stakes, question))
    return tuple(made)


def _cost(variants: Sequence[Policy], stakes: Stakes, question: CostQuestion) -> ActionCost:
    """Return one action with its numbers."""
    probability = question.probability
    if isinstance(probability, NotKnown):
        # of a stop made for it and the outage the earlier: an outage that is in time, else not
        plan = min(variants, key=lambda p: (p.days, not p.at_outage))
    else:
        plan = cheapest(variants, stakes, probability)
    on_sound, on_defective = pay(plan, stakes)
    return ActionCost(
        action=plan.action,
        days=plan.days,
        by=_by(plan, question),
        at_outage=plan.at_outage,
        if_sound=on_sound,
        if_defective=on_defective,
        failure_chance=plan.failure_chance,
        expected=None if isinstance(probability, NotKnown) else expected(plan, stakes, probability),
    )


def _by(plan: Policy, question: CostQuestion) -> date | None:
    """Return the day by which to act; none for intervals."""
    interval = plan.action in (CostAction.KEEP, CostAction.WATCH)
    if interval or question.measured_on is None:
        return None
    return question.measured_on + timedelta(days=plan.days)


def _guard(action: CostAction, verdict: Verdict) -> Guard:
    """Return what the rule of agreeing methods and classes says to the action."""
    if action in REMOVALS:
        return Guard.ENOUGH_AGREE if verdict.removal_supported else Guard.FEWER_AGREE
    return Guard.NOT_ASKED if verdict.removal_supported else Guard.NOT_TOUCHED


def _if_it_failed_otherwise(
    question: CostQuestion, probability: float, assumed: Assumed, limits: CostLimits
) -> list[SensitivityCase]:
    """Return the action at both ends of the plausible rates of failure."""
    stakes = stakes_of(question.criticality, limits)
    weighed = stop_weighed(question, limits)

    def best_at(hazard: Hazard) -> Policy:
        setting = replace(assumed.setting, hazard=hazard)
        return cheapest(policies(setting, stop_allowed=weighed), stakes, probability)

    chosen = best_at(assumed.setting.hazard)
    return [
        case_of(SensitivityKind.HAZARD, rate, best_at(_hazard(question, limits, rate)), chosen)
        for rate in assumed.plausible_rates_per_month
    ]
