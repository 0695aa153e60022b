"""What being wrong costs, in words: for the terminal and the web page alike."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator
from datetime import date

from cagewise.decision.costs_policies import CostAction
from cagewise.decision.costs_result import (
    ActionCost,
    CostDecision,
    SensitivityCase,
    SensitivityKind,
    Span,
    Worked,
)
from cagewise.quantities import NotKnown
from cagewise.report import cost_wording as words
from cagewise.report import numbers
from cagewise.report.facts import Fact

LEAST_PERCENT = 0.1
"""Chances below are written as below: nobody knows them better."""


def cost_headline(decision: CostDecision) -> str:
    """Return what to do and, where it could be worked out, what it is expected to cost."""
    cost = decision.chosen
    said = words.ACTION[decision.action].format(
        days=f"{cost.days:.0f}", by=_by(cost), visits=decision.assumed.setting.watch_visits
    )
    if isinstance(decision.worked, NotKnown):
        return f"{said} {words.BY_RULE.format(reason=decision.worked.reason)}"
    other = decision.others[0]
    compared = words.CHEAPEST.format(
        cost=_sum(cost.expected, decision),
        other=words.NAME[other.action],
        other_cost=_sum(other.expected, decision),
    )
    return f"{said} {compared}"


def cost_notes(decision: CostDecision) -> list[str]:
    """Return what is to be said beside the action: the guard first, then what it stands on."""
    notes = [words.GUARD[decision.guard]]
    if isinstance(decision.worked, Worked):
        notes.append(words.ROBUST if decision.worked.robust else words.NOT_ROBUST)
    notes.append(words.STAKES[decision.stakes.ground].format(level=decision.stakes.level))
    if decision.stakes.spare_part < 1.0:
        notes.append(words.SPARE.format(part=percent(decision.stakes.spare_part)))
    if isinstance(decision.outage, NotKnown):
        notes.append(words.OUTAGE_UNUSED.format(reason=decision.outage.reason))
    if decision.assumed.bars_assumed:
        notes.append(words.DAMAGE_ASSUMED)
    return [note for note in (*notes, words.JUDGED, words.TABLE_NOTE) if note]


def cost_table(decision: CostDecision) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """Return heads and rows: every action, what it costs in either case, and the expectation."""
    rows: list[tuple[str, ...]] = [
        (
            words.NAME[cost.action],
            _sum(cost.if_sound, decision),
            _sum(cost.if_defective, decision),
            percent(cost.failure_chance),
            words.NOT_WORKED if cost.expected is None else _sum(cost.expected, decision),
        )
        for cost in decision.costs
    ]
    return words.HEADS, rows


def cost_rows(decision: CostDecision) -> list[Fact]:
    """Return the working as labelled values: what goes in, where it changes, what is open."""
    facts = [(words.ROW[key], text) for key, text in (*_inputs(decision), *_changes(decision))]
    if isinstance(decision.worked, Worked):
        facts += [
            *_if_wrong(decision.worked),
            (words.ROW["worth"], _worth(decision.worked, decision)),
        ]
    return [(label, text) for label, text in facts if text]


def _inputs(decision: CostDecision) -> Iterator[Fact]:
    """Yield what the costs are worked from."""
    yield "probability", _probability(decision)
    stakes, setting = decision.stakes, decision.assumed.setting
    one = _sum(stakes.false_pull, decision) if stakes.in_currency else words.ONE_PULL
    yield "false_pull", one
    finite = math.isfinite(stakes.ratio)
    ratio = numbers.significant(stakes.ratio) if finite else words.RATIO_WITHOUT_LIMIT
    yield "miss", words.MISS.format(cost=_sum(stakes.miss, decision), ratio=_trimmed(ratio))
    low, high = decision.assumed.plausible_rates_per_month
    yield (
        "hazard",
        words.HAZARD.format(
            bars=_trimmed(numbers.bars(decision.assumed.bars)),
            rate=percent(setting.hazard.rate_per_month),
            doubling=f"{setting.hazard.doubling_months:g}",
            low=percent(low),
            high=percent(high),
        ),
    )
    yield "outage", _outage(decision)
    yield (
        "better",
        words.BETTER.format(
            detection=percent(setting.better.detection),
            false_calls=percent(setting.better.false_calls),
            part=percent(setting.better.part),
        ),
    )


def _changes(decision: CostDecision) -> Iterator[Fact]:
    """Yield where the action changes."""
    yield "probability_spans", _spans(decision.probability_spans, percent)
    if isinstance(decision.worked, Worked):
        spans = decision.worked.ratio_spans
        told = spans.reason if isinstance(spans, NotKnown) else _spans(spans, _ratio)
        yield "ratio_spans", told
    yield "odds", words.ODDS.format(value=percent(decision.odds_rule_probability))


def _if_wrong(worked: Worked) -> Iterator[Fact]:
    """Yield what would be done if a number were another."""
    for kind in SensitivityKind:
        cases = [case for case in worked.sensitivity if case.kind is kind]
        yield words.ROW_IF[kind], "; ".join(_case(case) for case in cases)


def _worth(worked: Worked, decision: CostDecision) -> str:
    """Return what knowing more before acting is worth."""
    worth = worked.measuring
    return words.WORTH.format(
        better=_sum(worth.better, decision),
        cost=_sum(worth.cost, decision),
        verdict=words.WORTHWHILE if worth.worthwhile else words.NOT_WORTHWHILE,
        perfect=_sum(worth.perfect, decision),
    )


def _probability(decision: CostDecision) -> str:
    """Return the chance of a defect with its interval."""
    if isinstance(decision.probability, NotKnown):
        return words.PROBABILITY_UNKNOWN.format(reason=decision.probability.reason)
    value = percent(decision.probability)
    if decision.probability_interval is None:
        return words.PROBABILITY.format(value=value)
    low, high = (percent(end) for end in decision.probability_interval)
    return words.PROBABILITY_INTERVAL.format(value=value, low=low, high=high)


def _outage(decision: CostDecision) -> str:
    """Return what the planned outage is worth; nothing where there is none to use."""
    if not isinstance(decision.outage, date):
        return ""
    part = percent(decision.assumed.setting.outage_part)
    return words.OUTAGE.format(day=decision.outage.isoformat(), part=part)


def _by(cost: ActionCost) -> str:
    """Return the day in words."""
    if cost.by is None:
        return words.BY_DAYS.format(days=f"{cost.days:.0f}")
    at_outage = cost.at_outage and cost.action is CostAction.PLAN_REPAIR
    template = words.BY_OUTAGE if at_outage else words.BY_DATE
    return template.format(day=cost.by.isoformat())


def _case(case: SensitivityCase) -> str:
    """Return one changed number and the action then."""
    ratio = case.kind is SensitivityKind.COST_RATIO
    return words.CASE[case.kind].format(
        value=f"{case.value:g}" if ratio else percent(case.value),
        name=words.NAME[case.action] if case.changes else words.UNCHANGED,
    )


def _spans(spans: Iterable[Span], written: Callable[[float], str]) -> str:
    """Return the ranges in which the actions are the cheapest."""
    kept = list(spans)
    if len(kept) == 1:
        return words.SPAN_ALWAYS.format(name=words.NAME[kept[0].action])
    first, *rest = kept
    parts = [words.SPAN_FIRST.format(name=words.NAME[first.action], high=written(first.high))]
    parts += [
        words.SPAN_NEXT.format(name=words.NAME[span.action], low=written(span.low)) for span in rest
    ]
    return "; ".join(parts)


def percent(probability: float) -> str:
    """Return a chance with two digits that carry something: 0.4 %, 9.1 %, 45 %, 99.5 %."""
    value = 100.0 * probability
    if 0.0 < value < LEAST_PERCENT:
        return f"under {LEAST_PERCENT:g} %"
    if 100.0 - LEAST_PERCENT < value < 100.0:
        return f"over {100.0 - LEAST_PERCENT:g} %"
    decimals = 1 if 0.0 < value < 9.95 or 99.0 < value < 100.0 else 0
    return f"{_trimmed(f'{value:.{decimals}f}')} %"


def _sum(cost: float | None, decision: CostDecision) -> str:
    """Return a cost: three digits of the user's currency, or pulls of a sound motor to 0.01."""
    if cost is None:
        return words.NOT_WORKED
    if decision.stakes.in_currency:
        return _trimmed(numbers.significant(float(f"{cost:.3g}")))
    return f"{cost:.2f}" if cost < 9.95 else f"{cost:.0f}"


def _ratio(ratio: float) -> str:
    """Return a ratio of costs with two digits."""
    return _trimmed(numbers.significant(float(f"{ratio:.2g}"), 2))


def _trimmed(digits: str) -> str:
    """Return a number without zeros that stand for nothing: 10.0 is 10."""
    return digits.rstrip("0").rstrip(".") if "." in digits else digits
