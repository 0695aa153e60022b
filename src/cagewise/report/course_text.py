"""The one action in words: what to do, by when, and why that and not another."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from cagewise.decision.costs import REMOVALS
from cagewise.decision.costs_policies import CostAction
from cagewise.decision.costs_result import CostDecision, Span, Worked
from cagewise.decision.course import STRICTNESS, Course, CourseGround
from cagewise.decision.course_dates import OutageFit
from cagewise.decision.examination import Examination
from cagewise.decision.parts import PartVerdict
from cagewise.decision.verdict import State
from cagewise.quantities import NotKnown
from cagewise.report import (
    cost_text,
    cost_wording,
    course_wording,
    number_wording,
    numbers,
    sentences,
    wording,
)
from cagewise.report.course_wording import Saying
from cagewise.report.language import retell, say

LESS = (CourseGround.COSTS_LESS, CourseGround.LEVEL_LESS, CourseGround.FLOOR)
"""Grounds on which costs ask for less than the rule."""


def action(examination: Examination) -> str:
    """Return what to do, by when."""
    course = examination.course
    outage = course.act_by.outage
    return say(
        course_wording.ACTION[_saying(examination)],
        by=_by(course),
        days="" if course.interval_days is None else f"{course.interval_days:.0f}",
        visits=examination.outlook.costs.assumed.setting.watch_visits,
        parts=_parts_named(examination),
        records=sentences.measured(examination),
        next=say(course_wording.QUOTED, text=say(wording.SECTION["next"])),
        outage="" if outage is None else outage.isoformat(),
    )


def action_notes(examination: Examination) -> list[str]:
    """Return what is to be said of the action: why it, the outage, what the window is."""
    said = [_why(examination), _outage(examination), _window(examination)]
    return [note for note in said if note]


def _saying(examination: Examination) -> Saying:
    """Return how the action is said."""
    course, state = examination.course, examination.verdict.state
    if course.action is CostAction.STOP:
        return Saying.STOP
    if course.action is CostAction.PLAN_REPAIR:
        return Saying.REPAIR_OUTAGE if course.at_outage else Saying.REPAIR
    if course.action is CostAction.REPEAT:
        return _saying_of_repeat(course, state)
    unanswered = bool(_parts_in_question(examination))
    if course.action is CostAction.KEEP:
        return Saying.KEEP_CAGE if unanswered else Saying.KEEP
    if state is not State.SOUND:
        return Saying.WATCH_DAMAGE
    return Saying.WATCH_CAGE if unanswered else Saying.WATCH


def _saying_of_repeat(course: Course, state: State) -> Saying:
    """Return how it is said that more is to be measured before anything is decided."""
    if course.ground is CourseGround.PARTS:
        return Saying.PARTS if state is State.SOUND else Saying.PARTS_ALONE
    if course.rule is CostAction.PLAN_REPAIR:
        return Saying.MEASURE_BETTER
    if state is State.NOT_DECIDABLE:
        return Saying.MEASURE_AGAIN
    return Saying.SOUND_BETTER if state is State.SOUND else Saying.CONFIRM


def _by(course: Course) -> str:
    """Return the window in words."""
    at_once = course.act_by.latest_days <= 0.0
    return say(course_wording.AT_ONCE) if at_once else sentences.act_by(course.act_by)


def _parts_in_question(examination: Examination) -> list[PartVerdict]:
    """Return winding or insulation, if in doubt; else what of them could not be judged."""
    doubted = [part for part in examination.parts if part.doubted]
    return doubted or [part for part in examination.parts if part.unanswered]


def _parts_named(examination: Examination) -> str:
    """Return winding or insulation by name, as far as they are in question."""
    names = [retell(part.part.value) for part in _parts_in_question(examination)]
    return numbers.listed(names, number_wording.THE_BOTH) if names else ""


def _why(examination: Examination) -> str:
    """Return why this action and not that of the rule or that of the costs."""
    course, costs = examination.course, examination.outlook.costs
    if course.ground is CourseGround.AGREED:
        other_day = course.outage in (OutageFit.AWAITED, OutageFit.TEMPTING)
        said = say(course_wording.AGREED_REPAIR) if other_day else say(course_wording.AGREED_GIVEN)
        return said if costs.stakes.in_currency else ""
    if not isinstance(costs.worked, Worked) or not say(course_wording.GROUND[course.ground]):
        return ""
    said = say(
        course_wording.GROUND[course.ground],
        whose=cost_text.whose(costs.stakes),
        asked=say(cost_wording.NAME[costs.action]),
        action=say(cost_wording.NAME[course.action]),
        rule=say(cost_wording.NAME[course.rule]),
        cost=_expected(course.action, costs),
        rule_cost=_expected(course.rule, costs),
        lack=_lack(examination),
    )
    return " ".join((*_before(examination), said, *_after(examination, costs)))


def _lack(examination: Examination) -> str:
    """Return what the rule for taking a motor out misses."""
    limits, verdict = examination.settings.limits.decision, examination.verdict
    methods, classes = limits.removal_methods_min, limits.removal_classes_min
    if verdict.methods_agreeing < methods or verdict.classes_agreeing < classes:
        return say(course_wording.FEWER, methods=methods, classes=classes)
    return say(course_wording.NOT_CLEAR)


def _before(examination: Examination) -> Iterator[str]:
    """Yield what is said before the reason."""
    if examination.course.ground in LESS and examination.verdict.removal_supported:
        yield say(course_wording.GUARD_AGREES)


def _after(examination: Examination, costs: CostDecision) -> Iterator[str]:
    """Yield what is said after the reason."""
    course = examination.course
    if course.ground is CourseGround.FLOOR:
        yield _floor(examination)
    led_away = STRICTNESS[course.action] < STRICTNESS[course.rule]
    if led_away and isinstance(costs.worked, Worked):
        yield from _what_would_change(course.rule, costs, costs.worked)
    if costs.action is CostAction.STOP and course.action is not CostAction.STOP:
        yield say(course_wording.STOP_LEVEL)
    if course.first is not None:
        yield say(course_wording.FIRST, first=say(course_wording.MEASUREMENT[course.first]))


def _floor(examination: Examination) -> str:
    """Return why the state of the motor does not allow less."""
    if examination.verdict.state is State.NOT_DECIDABLE:
        return say(course_wording.FLOOR_UNDECIDED)
    if any(part.doubted for part in examination.parts):
        return say(course_wording.FLOOR_PARTS, parts=_parts_named(examination))
    return say(course_wording.FLOOR_FOUND)


def _what_would_change(rule: CostAction, costs: CostDecision, worked: Worked) -> Iterator[str]:
    """Yield from where on the action of the rule would be the cheapest."""
    chance = _from(rule, costs.probability_spans)
    spans = worked.ratio_spans
    ratio = None if isinstance(spans, NotKnown) else _from(rule, spans)
    names = {"rule": say(cost_wording.NAME[rule])}
    if chance is not None and ratio is not None:
        yield say(
            course_wording.CHANGE_BOTH,
            **names,
            chance=cost_text.percent(chance),
            ratio=cost_text.ratio(ratio),
        )
    elif chance is not None:
        yield say(course_wording.CHANGE_CHANCE, **names, chance=cost_text.percent(chance))
    elif ratio is not None:
        yield say(course_wording.CHANGE_RATIO, **names, ratio=cost_text.ratio(ratio))


def _from(action: CostAction, spans: Sequence[Span]) -> float | None:
    """Return where an action begins to be the cheapest; None where it never is."""
    begins = [span.low for span in spans if span.action is action]
    return min(begins) if begins and math.isfinite(min(begins)) else None


def _expected(action: CostAction, costs: CostDecision) -> str:
    """Return what an action is expected to cost."""
    cost = next((c for c in costs.costs if c.action is action), None)
    return cost_text.cost_in_words(None if cost is None else cost.expected, costs)


def _outage(examination: Examination) -> str:
    """Return what the planned outage is good for."""
    course, costs = examination.course, examination.outlook.costs
    if course.act_by.outage is None:
        return ""
    outage = course.act_by.outage.isoformat()
    serves = costs.action in REMOVALS and costs.chosen.at_outage
    if course.ground is CourseGround.CONFIRM_FIRST and serves:
        return say(course_wording.OUTAGE_KEPT, outage=outage)
    repairs = course.action is CostAction.PLAN_REPAIR
    said = course_wording.OUTAGE_REPAIR if repairs else course_wording.OUTAGE_TEST
    return say(
        said[course.outage],
        outage=outage,
        notice=f"{costs.assumed.setting.calendar.notice_days:g}",
        failing=cost_text.percent(costs.chosen.failure_chance),
    )


def _window(examination: Examination) -> str:
    """Return what kind of day the window is."""
    course, level = examination.course, examination.motor.criticality.level
    if course.action is CostAction.STOP or course.act_by.latest_days <= 0.0:
        return ""
    if course.action is CostAction.WATCH:
        return say(course_wording.INTERVAL_BY_RULE, level=retell(level))
    latest = examination.recommendation.act_by.latest
    if course.outage in (OutageFit.IN_TIME, OutageFit.AWAITED) and course.at_outage and latest:
        return say(course_wording.LATEST_BY_RULE, level=retell(level), latest=latest.isoformat())
    return say(course_wording.BY_RULE, level=retell(level))
