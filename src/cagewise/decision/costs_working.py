"""The working of a decision: expected costs, where the action changes, what knowing more is worth.

All expected costs are straight lines, in the probability and in the ratio of the costs alike, so
the points at which the action changes are crossings of lines and exact.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

from cagewise.decision.costs_policies import CostAction, Measurement, Policy
from cagewise.decision.costs_result import (
    MeasuringWorth,
    SensitivityCase,
    SensitivityKind,
    Span,
    Stakes,
)
from cagewise.decision.costs_value import (
    lower_envelope,
    value_of_perfect_information,
    value_of_sample_information,
)
from cagewise.quantities import NotKnown

COST_FACTORS = (0.2, 0.5, 2.0, 5.0)
"""Factors by which the ratio of costs may be wrong, for the sensitivity."""


def pay(policy: Policy, stakes: Stakes) -> tuple[float, float]:
    """Return what an action costs on a sound and on a defective motor."""
    on_defective = policy.if_defective * stakes.false_pull + policy.failure_chance * stakes.miss
    return policy.if_sound * stakes.false_pull, on_defective


def expected(policy: Policy, stakes: Stakes, probability: float) -> float:
    """Return the expected cost of an action."""
    on_sound, on_defective = pay(policy, stakes)
    return (1.0 - probability) * on_sound + probability * on_defective


def cheapest(plans: Sequence[Policy], stakes: Stakes, probability: float) -> Policy:
    """Return the cheapest action; of equals the one that leaves fewer failures, if any can occur.

    At probability zero nothing can fail, and the most lenient of equals is taken.
    """
    at_stake = probability * stakes.miss > 0.0
    return min(
        plans,
        key=lambda p: (expected(p, stakes, probability), p.failure_chance if at_stake else 0.0),
    )


def probability_spans(plans: Sequence[Policy], stakes: Stakes) -> tuple[Span, ...]:
    """Return which action is the cheapest at which probability, from 0 to 1."""
    lines = [
        (on_sound, on_defective - on_sound)
        for on_sound, on_defective in (pay(plan, stakes) for plan in plans)
    ]
    return _spans(plans, lines, 1.0)


def ratio_spans(
    plans: Sequence[Policy], stakes: Stakes, probability: float
) -> tuple[Span, ...] | NotKnown:
    """Return which action is the cheapest at which ratio of costs, from 0 to infinity."""
    if stakes.false_pull == 0.0:
        return NotKnown("pulling a sound motor is said to cost nothing, so there is no ratio")
    lines = [
        (
            (1.0 - probability) * plan.if_sound + probability * plan.if_defective,
            probability * plan.failure_chance,
        )
        for plan in plans
    ]
    return _spans(plans, lines, math.inf)


def _spans(
    plans: Sequence[Policy], lines: Sequence[tuple[float, float]], high: float
) -> tuple[Span, ...]:
    """Return the stretches of the lowest line, those of one action put together."""
    spans: list[Span] = []
    stretches = lower_envelope(lines, 0.0, high)
    ends = [begin for begin, _ in stretches[1:]] + [high]
    for (begin, index), end in zip(stretches, ends, strict=True):
        action = plans[index].action
        if spans and spans[-1].action is action:
            spans[-1] = replace(spans[-1], high=end)
        else:
            spans.append(Span(action=action, low=begin, high=end))
    return tuple(spans)


def sensitivity(
    plans: Sequence[Policy],
    stakes: Stakes,
    probability: float,
    interval: tuple[float, float] | None,
) -> Iterator[SensitivityCase]:
    """Yield the action if the ratio of costs or the probability were another."""
    chosen = cheapest(plans, stakes, probability)
    for factor in COST_FACTORS:
        best = cheapest(plans, replace(stakes, miss=factor * stakes.miss), probability)
        yield case_of(SensitivityKind.COST_RATIO, factor, best, chosen)
    for end in interval or ():
        best = cheapest(plans, stakes, end)
        yield case_of(SensitivityKind.PROBABILITY, end, best, chosen)


def case_of(kind: SensitivityKind, value: float, best: Policy, chosen: Policy) -> SensitivityCase:
    """Return what would be done if one number were another."""
    return SensitivityCase(
        kind=kind,
        value=value,
        action=best.action,
        at_outage=best.at_outage,
        changes=(best.action, best.at_outage) != (chosen.action, chosen.at_outage),
    )


def measuring(
    plans: Sequence[Policy], stakes: Stakes, probability: float, better: Measurement
) -> MeasuringWorth:
    """Return what it is worth to know more before choosing among the actions that end the matter.

    REPEAT is left out of the table: it is the measurement whose worth is asked.
    """
    table = [pay(plan, stakes) for plan in plans if plan.action is not CostAction.REPEAT]
    prior = (1.0 - probability, probability)
    likelihood = (
        (better.false_calls, better.detection),
        (1.0 - better.false_calls, 1.0 - better.detection),
    )
    return MeasuringWorth(
        perfect=value_of_perfect_information(prior, table),
        better=value_of_sample_information(prior, table, likelihood),
        cost=better.part * stakes.false_pull,
    )
