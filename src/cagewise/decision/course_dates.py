"""By when to act, and what the planned outage is good for (docs/theory/decision-costs.md, 7)."""

from __future__ import annotations

from datetime import date, timedelta
from enum import StrEnum

from cagewise.decision.costs_policies import Calendar, CostAction
from cagewise.decision.costs_result import CostDecision, Worked
from cagewise.decision.recommendation import ActBy, Action, Recommendation

OF_RULE = {
    Action.CONTINUE: CostAction.KEEP,
    Action.MEASURE_AGAIN: CostAction.REPEAT,
    Action.CONFIRM: CostAction.REPEAT,
    Action.PLAN_REMOVAL: CostAction.PLAN_REPAIR,
}
"""What the rule of states asks for, among the actions that costs are weighed for."""


class OutageFit(StrEnum):
    """What the planned outage of the motor file is good for."""

    NONE = "none"
    """The motor file states none, or the action needs no stop."""
    IN_TIME = "in_time"
    """It lies before the latest day."""
    AWAITED = "awaited"
    """It lies after the latest day of the rule, and by the user's costs waiting is the cheaper
    whatever is plausible."""
    TEMPTING = "tempting"
    """The same at the rate of failures assumed, but not at every plausible one."""
    TOO_LATE = "too_late"
    """It lies after the latest day."""
    NO_NOTICE = "no_notice"
    """It leaves less notice than a repair takes."""
    PAST = "past"
    """It was before the measurement."""
    UNDATED = "undated"
    """The day of the measurement is not known."""


def act_by(
    action: CostAction,
    rule: Recommendation,
    costs: CostDecision,
    measured_on: date | None,
    *,
    before_repair: bool,
    may_wait: bool,
) -> ActBy:
    """Return the window of an action.

    Parameters
    ----------
    action
        What is done.
    rule
        The rule of states with its window; no action comes later than that window ends, but a
        repair that waits for the outage.
    costs
        Gives intervals, notice and the day of the repair.
    measured_on
        Day of the measurement.
    before_repair
        Whether it confirms a repair that the costs already ask for: then it stands, with notice,
        before that repair.
    may_wait
        Whether the costs may choose a later day than the rule: those of the user may.
    """
    window = rule.act_by
    latest_days = _latest_days(action, rule, costs, before_repair=before_repair, may_wait=may_wait)
    own = action is OF_RULE[rule.action]
    earliest_days = min(window.earliest_days, latest_days) if own else 0.0
    return ActBy(
        earliest_days=earliest_days,
        latest_days=latest_days,
        earliest=_day(measured_on, earliest_days),
        latest=_day(measured_on, latest_days),
        outage=window.outage,
    )


def watch_days(costs: CostDecision) -> float:
    """Return the interval of a motor under watch in whole days."""
    return float(round(_calendar(costs).watch_days))


def outage_fit(
    action: CostAction,
    when: ActBy,
    rule: Recommendation,
    costs: CostDecision,
    measured_on: date | None,
    *,
    may_wait: bool,
) -> OutageFit:
    """Return what the planned outage is good for."""
    needs_stop = action is CostAction.PLAN_REPAIR or _confirms(action, rule.action)
    if when.outage is None or not needs_stop:
        return OutageFit.NONE
    if measured_on is None:
        return OutageFit.UNDATED
    days = (when.outage - measured_on).days
    if days < 0:
        return OutageFit.PAST
    if action is CostAction.PLAN_REPAIR and days < _calendar(costs).notice_days:
        return OutageFit.NO_NOTICE
    if days > when.latest_days:
        tempting = action is CostAction.PLAN_REPAIR and may_wait and _waits(costs)
        return OutageFit.TEMPTING if tempting else OutageFit.TOO_LATE
    awaited = days > rule.act_by.latest_days
    return OutageFit.AWAITED if awaited else OutageFit.IN_TIME


def _latest_days(
    action: CostAction,
    rule: Recommendation,
    costs: CostDecision,
    *,
    before_repair: bool,
    may_wait: bool,
) -> float:
    """Return the latest day of an action, counted from the measurement."""
    calendar, latest_days = _calendar(costs), rule.act_by.latest_days
    if action is CostAction.STOP:
        return 0.0
    if action is CostAction.WATCH:
        return min(watch_days(costs), latest_days)
    if action is CostAction.REPEAT:
        if rule.action is not Action.MEASURE_AGAIN:
            latest_days = min(calendar.repeat_days, latest_days)
        if before_repair:
            latest_days = min(latest_days, costs.chosen.days - calendar.notice_days)
        return max(latest_days, 0.0)
    if action is CostAction.PLAN_REPAIR:
        return _repair_days(latest_days, costs, may_wait=may_wait)
    return latest_days


def _repair_days(latest_days: float, costs: CostDecision, *, may_wait: bool) -> float:
    """Return the day of a repair: in the outage if it is in time, or if waiting is the cheaper."""
    outage_days = _calendar(costs).outage_days
    if outage_days is None:
        return latest_days
    waits = may_wait and _waits(costs) and _waits_whatever(costs)
    return outage_days if waits or outage_days <= latest_days else latest_days


def _waits(costs: CostDecision) -> bool:
    """Return whether the cheapest is a repair in the outage."""
    repairs = isinstance(costs.worked, Worked) and costs.action is CostAction.PLAN_REPAIR
    return repairs and costs.chosen.at_outage


def _waits_whatever(costs: CostDecision) -> bool:
    """Return whether waiting stays the cheapest at any plausible chance and rate of failures."""
    if not isinstance(costs.worked, Worked):
        return False
    lenient = (CostAction.KEEP, CostAction.WATCH, CostAction.REPEAT)
    return all(case.at_outage or case.action in lenient for case in costs.worked.plausible)


def _confirms(action: CostAction, rule: Action) -> bool:
    """Return whether a measurement may need a stop: it confirms what was shown, or refutes it."""
    return action is CostAction.REPEAT and rule is not Action.MEASURE_AGAIN


def _calendar(costs: CostDecision) -> Calendar:
    """Return the days that go with the motor."""
    return costs.assumed.setting.calendar


def _day(measured_on: date | None, days: float) -> date | None:
    """Return a day as a date."""
    return None if measured_on is None else measured_on + timedelta(days=days)
