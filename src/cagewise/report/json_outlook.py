"""What follows from the probabilities, for the JSON document."""

from __future__ import annotations

import math
from collections.abc import Iterable
from datetime import date

from cagewise.decision.costs_result import CostDecision, Span, Worked
from cagewise.decision.examination import Examination
from cagewise.evidence.explanations import Explanation
from cagewise.evidence.fusion.posterior import Posterior, Rate
from cagewise.quantities import NotKnown
from cagewise.report import course_text
from cagewise.report import document_outlook as document
from cagewise.report.document_record import OpenBars


def posterior_part(posterior: Posterior | NotKnown) -> document.PosteriorPart | None:
    """Return what all readings say together; None where no reading could be heard."""
    if isinstance(posterior, NotKnown):
        return None
    bars = posterior.open_bars
    return document.PosteriorPart(
        calibrated=posterior.calibrated,
        reason=posterior.not_calibrated_because,
        stratum=str(posterior.stratum),
        probability_of_defect=posterior.probability_of_defect,
        guarded=posterior.guarded,
        guard=posterior.guard,
        probabilities={pattern.value: p for pattern, p in posterior.probabilities.items()},
        open_bars=OpenBars(value=bars.value, interval=(bars.low, bars.high)),
        prior={pattern.value: p for pattern, p in posterior.prior.probabilities().items()},
        prior_source=posterior.prior.source,
        false_call_rate=_rate(posterior.false_call_rate),
        missed_rate=_rate(posterior.missed_rate),
        undecided_rate=_rate(posterior.undecided_rate),
        heard=posterior.heard,
    )


def explanation_parts(
    explanations: Iterable[Explanation],
) -> tuple[document.ExplanationPart, ...]:
    """Return what could make the lines, the likeliest first."""
    return tuple(
        document.ExplanationPart(
            cause=one.cause.value,
            weight=None if isinstance(one.weight, NotKnown) else one.weight,
            weight_reason=one.weight.reason if isinstance(one.weight, NotKnown) else "",
            ground=one.ground.value,
            test=one.test.value,
            line=one.line,
            numbers={**one.numbers},
        )
        for one in explanations
    )


def measurement_parts(examination: Examination) -> tuple[document.MeasurementPart, ...]:
    """Return what to measure next, most information per hour first."""
    return tuple(
        document.MeasurementPart(
            measurement=worth.measurement.value,
            bits=worth.bits,
            hours=worth.hours,
            doubt_bits=worth.doubt_bits,
            bits_per_hour=worth.bits_per_hour,
            change_probability=worth.change_probability,
            limit=worth.limit_bars,
        )
        for worth in examination.outlook.next_measurements
    )


def costs_part(costs: CostDecision) -> document.CostsPart:
    """Return what being wrong costs."""
    worked = costs.worked if isinstance(costs.worked, Worked) else None
    stakes, assumed, hazard = costs.stakes, costs.assumed, costs.assumed.setting.hazard
    spans = None if worked is None else worked.ratio_spans
    return document.CostsPart(
        action=costs.action.value,
        expected=None if worked is None else worked.expected_cost,
        reason=costs.worked.reason if isinstance(costs.worked, NotKnown) else "",
        guard=costs.guard.value,
        probability=None if isinstance(costs.probability, NotKnown) else costs.probability,
        probability_interval=costs.probability_interval,
        unit="currency of the motor file" if stakes.in_currency else "pulls of a sound motor",
        false_pull=stakes.false_pull,
        miss=stakes.miss,
        source=stakes.ground.value,
        spare_part=stakes.spare_part,
        bars=assumed.bars,
        bars_assumed=assumed.bars_assumed,
        failures_per_month=hazard.rate_per_month,
        failures_per_month_plausible=assumed.plausible_rates_per_month,
        doubling_months=hazard.doubling_months,
        outage=costs.outage.isoformat() if isinstance(costs.outage, date) else None,
        outage_reason=costs.outage.reason if isinstance(costs.outage, NotKnown) else "",
        actions=_actions(costs),
        probability_spans=_spans(costs.probability_spans),
        ratio_spans=() if spans is None or isinstance(spans, NotKnown) else _spans(spans),
        pull_from_probability=costs.odds_rule_probability,
        sensitivity=() if worked is None else _sensitivity(worked),
        measuring=None if worked is None else _measuring(worked),
    )


def course_part(examination: Examination) -> document.CoursePart:
    """Return the one action."""
    course = examination.course
    when = course.act_by
    return document.CoursePart(
        action=course.action.value,
        ground=course.ground.value,
        text=course_text.action(examination),
        notes=tuple(course_text.action_notes(examination)),
        rule=course.rule.value,
        costs=None if course.asked is None else course.asked.value,
        earliest_days=when.earliest_days,
        latest_days=when.latest_days,
        earliest=None if when.earliest is None else when.earliest.isoformat(),
        latest=None if when.latest is None else when.latest.isoformat(),
        interval_days=course.interval_days,
        at_outage=course.at_outage,
        outage=course.outage.value,
        confirm_with=None if course.first is None else course.first.value,
    )


def _rate(rate: Rate) -> document.RatePart:
    """Return a rate of the study."""
    low, high = rate.interval
    return document.RatePart(events=rate.events, cases=rate.cases, low=low, high=high)


def _actions(costs: CostDecision) -> tuple[document.ActionCostPart, ...]:
    """Return every action with its numbers."""
    return tuple(
        document.ActionCostPart(
            action=cost.action.value,
            days=cost.days,
            by=None if cost.by is None else cost.by.isoformat(),
            at_outage=cost.at_outage,
            if_sound=cost.if_sound,
            if_defective=cost.if_defective,
            failure_chance=cost.failure_chance,
            expected=cost.expected,
        )
        for cost in costs.costs
    )


def _spans(spans: Iterable[Span]) -> tuple[document.SpanPart, ...]:
    """Return the ranges in which the actions are the cheapest."""
    return tuple(
        document.SpanPart(
            action=span.action.value,
            low=span.low,
            high=span.high if math.isfinite(span.high) else None,
        )
        for span in spans
    )


def _sensitivity(worked: Worked) -> tuple[document.SensitivityPart, ...]:
    """Return what would be the cheapest if a number were another."""
    return tuple(
        document.SensitivityPart(
            kind=case.kind.value,
            value=case.value,
            action=case.action.value,
            at_outage=case.at_outage,
            changes=case.changes,
        )
        for case in worked.sensitivity
    )


def _measuring(worked: Worked) -> document.MeasuringPart:
    """Return what knowing more is worth."""
    worth = worked.measuring
    return document.MeasuringPart(certainty=worth.perfect, better=worth.better, cost=worth.cost)
