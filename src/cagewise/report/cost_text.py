"""What being wrong costs, in words: for the terminal and the web page alike."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator
from datetime import date

from cagewise.decision.costs_policies import CostAction
from cagewise.decision.costs_result import (
    CostDecision,
    SensitivityCase,
    SensitivityKind,
    Span,
    Stakes,
    StakesGround,
    Worked,
)
from cagewise.decision.course import CourseGround
from cagewise.decision.examination import Examination
from cagewise.decision.verdict import State
from cagewise.quantities import NotKnown
from cagewise.report import cost_wording as words
from cagewise.report import numbers
from cagewise.report.facts import Fact
from cagewise.report.language import decimal, retell, say, say_each

LEAST_PERCENT = 0.1
"""Chances below are written as below: nobody knows them better."""
SMALLEST_PERCENT = 1e-3
"""Chances at which the action changes are written out down to this."""
DUST = 1e-9
"""Part of the two costs below which a sum is what rounding leaves of nothing."""


def costs_shown(examination: Examination) -> bool:
    """Return whether the working is worth its lines: not for a guess about a sound motor."""
    costs, state = examination.outlook.costs, examination.verdict.state
    if costs.stakes.ground is StakesGround.GIVEN:
        return True
    if examination.course.ground in (CourseGround.CONFIRM_FIRST, CourseGround.TREND):
        return True
    if isinstance(costs.worked, NotKnown):
        return state in (State.SUSPECT, State.DEFECTIVE)
    return state is not State.SOUND


def cost_lead(examination: Examination) -> str:
    """Return what the costs ask for, in a sentence; alone where nothing else is shown."""
    costs, course, shown = examination.outlook.costs, examination.course, costs_shown(examination)
    said = _lead(costs, shown=shown)
    if course.ground is CourseGround.PARTS:
        return say(words.CAGE_ALONE, said=numbers.continues(said))
    if shown and course.asked not in (None, course.action):
        return f"{said} {say(words.LEADS, name=say(words.NAME[course.action]))}"
    return said


def _lead(decision: CostDecision, *, shown: bool) -> str:
    """Return the sentence; table and working follow, or do not."""
    whose_costs = whose(decision.stakes)
    if isinstance(decision.worked, NotKnown):
        return (
            say(words.IN_EITHER_CASE, whose=whose_costs)
            if shown
            else say(words.NOT_WEIGHED_UNKNOWN)
        )
    name = say(words.NAME[decision.action])
    if not shown:
        return say(words.NOT_WEIGHED, whose=whose_costs, name=name)
    return say(words.CHEAPEST, whose=whose_costs, name=name)


def cost_note(decision: CostDecision) -> str:
    """Return what is to be known to read table and working."""
    return (
        say(words.NOTE) if decision.stakes.in_currency else f"{say(words.UNIT)} {say(words.NOTE)}"
    )


def cost_table(decision: CostDecision) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """Return heads and rows: every action, what it costs in either case, and the expectation."""
    rows: list[tuple[str, ...]] = [
        (
            say(words.NAME[cost.action]),
            cost_in_words(cost.if_sound, decision),
            cost_in_words(cost.if_defective, decision),
            percent(cost.failure_chance),
            cost_in_words(cost.expected, decision),
        )
        for cost in decision.costs
    ]
    if isinstance(decision.worked, NotKnown):
        return say_each(words.HEADS[:-1]), [row[:-1] for row in rows]
    return say_each(words.HEADS), rows


def cost_rows(decision: CostDecision) -> list[Fact]:
    """Return the working as labelled values: what goes in, where it changes, what is open."""
    told = (*_inputs(decision), *_changes(decision))
    return [(say(words.ROW[key]), text) for key, text in told if text]


def whose(stakes: Stakes) -> str:
    """Return whose costs they are, as in a sentence."""
    return (
        say(words.WHOSE_GIVEN)
        if stakes.in_currency
        else say(words.WHOSE_LEVEL, level=retell(stakes.level))
    )


def _inputs(decision: CostDecision) -> Iterator[Fact]:
    """Yield what the costs are worked from."""
    if not isinstance(decision.probability, NotKnown):
        yield "probability", _probability(decision.probability, decision)
    yield "stakes", _stakes(decision)
    low, high = decision.assumed.plausible_rates_per_month
    bars = numbers.trimmed(numbers.bars(decision.assumed.bars))
    template = words.HAZARD_ASSUMED if decision.assumed.bars_assumed else words.HAZARD
    yield (
        "hazard",
        say(
            template,
            bars=say(words.ONE_BAR) if bars == "1" else say(words.BARS, bars=bars),
            rate=percent(decision.assumed.setting.hazard.rate_per_month),
            low=percent(low),
            high=percent(high),
        ),
    )
    yield "outage", _outage(decision)


def _stakes(decision: CostDecision) -> str:
    """Return the two costs and where they come from."""
    stakes = decision.stakes
    if not math.isfinite(stakes.ratio):
        return say(words.FREE_PULL, miss=cost_in_words(stakes.miss, decision))
    return say(
        words.STAKES[stakes.ground],
        false_pull=cost_in_words(stakes.false_pull, decision),
        miss=cost_in_words(stakes.miss, decision),
        ratio=ratio(stakes.ratio),
        level=retell(stakes.level),
        spare=say(words.SPARE, part=percent(stakes.spare_part)) if stakes.spare_part < 1.0 else "",
    )


def _changes(decision: CostDecision) -> Iterator[Fact]:
    """Yield where the action changes, and what knowing more is worth."""
    yield "spans", _spans(decision.probability_spans, _break_even)
    if isinstance(decision.worked, Worked):
        yield "if_wrong", _if_wrong(decision.worked, outage=isinstance(decision.outage, date))
        yield "worth", _worth(decision.worked, decision)


def _if_wrong(worked: Worked, *, outage: bool) -> str:
    """Return what would be done if a number were another: what changes, else that nothing does."""
    if worked.robust:
        tried = {case.kind for case in worked.sensitivity}
        interval = say(words.ROBUST_INTERVAL) if SensitivityKind.PROBABILITY in tried else ""
        return say(words.ROBUST, interval=interval)
    changing: dict[str, list[str]] = {}
    for case in worked.sensitivity:
        if case.changes:
            changing.setdefault(_named(case, outage=outage), []).append(_value(case))
    told = ((name, ", ".join(values)) for name, values in changing.items())
    return "; ".join(say(words.CHANGED, name=name, values=values) for name, values in told)


def _worth(worked: Worked, decision: CostDecision) -> str:
    """Return what knowing more before acting is worth."""
    worth = worked.measuring
    return say(
        words.WORTH,
        better=cost_in_words(worth.better, decision),
        cost=cost_in_words(worth.cost, decision),
        verdict=say(words.WORTHWHILE) if worth.worthwhile else say(words.NOT_WORTHWHILE),
        perfect=cost_in_words(worth.perfect, decision),
    )


def _probability(probability: float, decision: CostDecision) -> str:
    """Return the chance of a defect with its interval."""
    value = percent(probability)
    if decision.probability_interval is None:
        return say(words.PROBABILITY, value=value)
    low, high = (percent(end) for end in decision.probability_interval)
    guarded = decision.probability_guarded
    template = words.PROBABILITY_GUARDED if guarded else words.PROBABILITY_INTERVAL
    return say(template, value=value, low=low, high=high)


def _outage(decision: CostDecision) -> str:
    """Return what the planned outage is worth, or why it is left out."""
    if isinstance(decision.outage, NotKnown):
        return say(words.OUTAGE_UNUSED, reason=retell(decision.outage.reason))
    if not isinstance(decision.outage, date):
        return ""
    part = percent(decision.assumed.setting.outage_part)
    return say(words.OUTAGE, day=decision.outage.isoformat(), part=part)


def _value(case: SensitivityCase) -> str:
    """Return the number that is another."""
    of_ratio = case.kind is SensitivityKind.COST_RATIO
    value = decimal(f"{case.value:g}") if of_ratio else percent(case.value)
    return say(words.CASE[case.kind], value=value)


def _named(case: SensitivityCase, *, outage: bool) -> str:
    """Return the action then; of a repair, where there is an outage, whether it is in it."""
    if outage and case.action is CostAction.PLAN_REPAIR:
        return say(words.AT_OUTAGE[case.at_outage])
    return say(words.NAME[case.action])


def _spans(spans: Iterable[Span], written: Callable[[float], str]) -> str:
    """Return the ranges in which the actions are the cheapest."""
    kept = list(spans)
    if len(kept) == 1:
        return say(words.SPAN_ALWAYS, name=say(words.NAME[kept[0].action]))
    first, *rest = kept
    parts = [say(words.NAME[first.action])]
    parts += [
        say(words.SPAN_NEXT, name=say(words.NAME[span.action]), low=written(span.low))
        for span in rest
    ]
    return "".join(parts)


def percent(probability: float) -> str:
    """Return a chance with two digits that carry something: 0.4 %, 9.1 %, 45 %, 99.5 %."""
    value = 100.0 * probability
    if 0.0 < value < LEAST_PERCENT:
        return say(words.UNDER, value=f"{LEAST_PERCENT:g}")
    if 100.0 - LEAST_PERCENT < value < 100.0:
        return say(words.OVER, value=f"{100.0 - LEAST_PERCENT:g}")
    decimals = 1 if 0.0 < value < 9.95 or 99.0 < value < 100.0 else 0
    return numbers.percent_of(numbers.trimmed(decimal(f"{value:.{decimals}f}")))


def _break_even(probability: float) -> str:
    """Return a chance at which the action changes, with two digits however small it is."""
    value = 100.0 * probability
    small = SMALLEST_PERCENT < value < LEAST_PERCENT
    return numbers.percent_of(decimal(f"{value:.2g}")) if small else percent(probability)


def cost_in_words(cost: float | None, decision: CostDecision) -> str:
    """Return a cost: three digits of the user's currency, or pulls of a sound motor to 0.01."""
    if cost is None:
        return say(words.NOT_WORKED)
    if cost < DUST * (decision.stakes.false_pull + decision.stakes.miss):
        cost = 0.0
    if decision.stakes.in_currency:
        return numbers.trimmed(numbers.significant(float(f"{cost:.3g}")))
    return decimal(f"{cost:.2f}" if cost < 9.95 else f"{cost:.0f}")


def ratio(value: float) -> str:
    """Return a ratio of costs with two digits."""
    return numbers.trimmed(numbers.significant(float(f"{value:.2g}"), 2))
