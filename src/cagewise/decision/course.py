"""The one action that the page states, from the rule of states and from the weighed costs.

The rule knows what the methods agree on, the costs know what being wrong is worth. Which of the two
leads is a table (docs/theory/decision-costs.md, section 7): costs that the user gave may ask for
less than the rule, costs by our ratio may not, and nothing takes a motor out unless enough methods
and classes agree.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from cagewise.decision.costs import REMOVALS
from cagewise.decision.costs_policies import CostAction
from cagewise.decision.costs_result import CostDecision, Worked
from cagewise.decision.course_dates import OF_RULE, OutageFit, act_by, outage_fit, watch_days
from cagewise.decision.next_measurement import Measurement, MeasurementWorth
from cagewise.decision.parts import PartVerdict
from cagewise.decision.recommendation import (
    ActBy,
    Action,
    NextMeasurement,
    NextStep,
    Recommendation,
)
from cagewise.decision.verdict import State, Verdict

STRICTNESS = {action: rank for rank, action in enumerate(CostAction)}
"""Order of the actions, the most lenient first."""
STEP_OF = {
    Measurement.BETTER_RECORD: NextMeasurement.RUNNING_RECORD,
    Measurement.VOLTAGES: NextMeasurement.VOLTAGES,
    Measurement.SECOND_LOAD: NextMeasurement.SECOND_LOAD,
    Measurement.START_RECORD: NextMeasurement.START_UP,
    Measurement.POSITION_TEST: NextMeasurement.POSITION_TEST,
}
"""The step that makes a measurement."""


class CourseGround(StrEnum):
    """Why the page states this action; each has its sentence in ``report.course_wording``."""

    RULE = "rule"
    """There is no probability, so no cost can be expected: the rule of states leads."""
    AGREED = "agreed"
    """Rule and costs ask for the same."""
    LEVEL_LESS = "level_less"
    """Costs by our ratio would ask for less; the rule leads."""
    LEVEL_MORE = "level_more"
    """Costs by our ratio would ask for more; the rule leads."""
    COSTS_LESS = "costs_less"
    """The user's costs ask for less than the rule and lead."""
    COSTS_MORE = "costs_more"
    """The user's costs ask for more than the rule and lead."""
    FLOOR = "floor"
    """Costs ask for less than the state of the motor allows: what it allows leads."""
    INTERVAL = "interval"
    """The user's costs ask for less, but not at every plausible chance and rate of failures."""
    CONFIRM_FIRST = "confirm_first"
    """Costs ask for taking the motor out and fewer methods and classes agree than that takes."""
    TREND = "trend"
    """A sound cage for which costs ask for a better record: its trend is watched instead."""
    PARTS = "parts"
    """Winding or insulation is in doubt and the cage is not: their tests lead."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CourseQuestion:
    """What the action is chosen from."""

    verdict: Verdict
    rule: Recommendation
    """What the rule of states asks for."""
    costs: CostDecision
    measured_on: date | None
    parts: tuple[PartVerdict, ...] = ()
    """Winding and insulation, where they were tested."""
    next_measurements: tuple[MeasurementWorth, ...] = ()
    """What to measure next, most information per hour first."""

    @property
    def part_doubted(self) -> bool:
        """Whether winding or insulation is suspect or defective."""
        return any(part.doubted for part in self.parts)

    @property
    def costs_given(self) -> bool:
        """Whether both costs are the user's own."""
        return self.costs.stakes.in_currency


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """What to do: one action, with its day and its reason."""

    action: CostAction
    ground: CourseGround
    act_by: ActBy
    """KEEP and WATCH: the next record. REPEAT: the better measurement. PLAN_REPAIR: the repair."""
    rule: CostAction
    """What the rule of states asks for."""
    asked: CostAction | None
    """What the costs ask for; None where none could be expected."""
    interval_days: float | None
    """WATCH: from record to record."""
    outage: OutageFit
    """What the planned outage of the motor file is good for."""
    first: Measurement | None
    """What to confirm with, where the motor would be taken out but for want of agreement: of what
    is not the same record again the measurement that tells most per hour."""

    @property
    def at_outage(self) -> bool:
        """Whether the repair is planned for the outage."""
        plans = self.action is CostAction.PLAN_REPAIR
        return plans and self.outage in (OutageFit.IN_TIME, OutageFit.AWAITED)

    def in_rule_words(self, verdict: Verdict) -> Action:
        """Return the nearest of the four actions that the rule of states knows."""
        if self.action in REMOVALS:
            return Action.PLAN_REMOVAL
        if verdict.state is State.NOT_DECIDABLE and self.ground is not CourseGround.PARTS:
            return Action.MEASURE_AGAIN
        lenient = self.action in (CostAction.KEEP, CostAction.WATCH)
        return Action.CONTINUE if lenient and verdict.state is State.SOUND else Action.CONFIRM


def set_course(question: CourseQuestion) -> Course:
    """Return the one action, by the table of docs/theory/decision-costs.md, section 7."""
    action, ground = _lead(question)
    confirm_first = ground is CourseGround.CONFIRM_FIRST
    worked = isinstance(question.costs.worked, Worked)
    when = act_by(
        action,
        question.rule,
        question.costs,
        question.measured_on,
        before_repair=confirm_first,
        may_wait=question.costs_given,
    )
    watched = action is CostAction.WATCH
    return Course(
        action=action,
        ground=ground,
        act_by=when,
        rule=OF_RULE[question.rule.action],
        asked=question.costs.action if worked else None,
        interval_days=watch_days(question.costs) if watched else None,
        outage=outage_fit(
            action,
            when,
            question.rule,
            question.costs,
            question.measured_on,
            may_wait=question.costs_given,
        ),
        first=_first(question.next_measurements) if confirm_first else None,
    )


def with_first(course: Course, steps: tuple[NextStep, ...]) -> tuple[NextStep, ...]:
    """Return the next steps, the measurement among them that the action names.

    It then takes the place of repeating what was measured, which would confirm nothing.
    """
    if course.first is None:
        return steps
    kind = STEP_OF[course.first]
    rest = tuple(step for step in steps if step.kind is not NextMeasurement.ROUTINE)
    there = any(step.kind is kind for step in rest)
    return rest if there else (NextStep(kind=kind), *rest)


def _lead(question: CourseQuestion) -> tuple[CostAction, CourseGround]:
    """Return the action and why it leads."""
    rule, costs, verdict = OF_RULE[question.rule.action], question.costs, question.verdict
    cage_in_doubt = verdict.state in (State.SUSPECT, State.DEFECTIVE)
    if question.part_doubted and not cage_in_doubt:
        return CostAction.REPEAT, CourseGround.PARTS
    if not isinstance(costs.worked, Worked):
        return rule, CourseGround.RULE
    if costs.action in REMOVALS and not verdict.removal_supported:
        return CostAction.REPEAT, CourseGround.CONFIRM_FIRST
    if costs.action is rule:
        return rule, CourseGround.AGREED
    if STRICTNESS[costs.action] < STRICTNESS[rule]:
        return _less(question, rule, costs.worked)
    return _more(question, rule)


def _first(ranked: Iterable[MeasurementWorth]) -> Measurement | None:
    """Return what would confirm best: another record of the same kind errs as this one does."""
    others = (w.measurement for w in ranked if w.measurement is not Measurement.BETTER_RECORD)
    return next(others, None)


def _less(
    question: CourseQuestion, rule: CostAction, worked: Worked
) -> tuple[CostAction, CourseGround]:
    """Return the action where the costs ask for less than the rule."""
    if not question.costs_given:
        undecided = question.verdict.state is State.NOT_DECIDABLE
        return rule, CourseGround.FLOOR if undecided else CourseGround.LEVEL_LESS
    asked = _strictest((question.costs.action, *(case.action for case in worked.plausible)))
    if STRICTNESS[asked] >= STRICTNESS[rule]:
        return rule, CourseGround.INTERVAL
    least = _least(question)
    if STRICTNESS[asked] < STRICTNESS[least]:
        return least, CourseGround.FLOOR
    return asked, CourseGround.COSTS_LESS


def _least(question: CourseQuestion) -> CostAction:
    """Return the most lenient action that the state of the motor allows.

    Routine records are no answer to a motor on which they decide nothing, and none clears a winding
    or an insulation.
    """
    undecided = question.verdict.state is State.NOT_DECIDABLE
    return CostAction.REPEAT if undecided or question.part_doubted else CostAction.WATCH


def _more(question: CourseQuestion, rule: CostAction) -> tuple[CostAction, CourseGround]:
    """Return the action where the costs ask for more than the rule, and the guard is not asked."""
    asked = question.costs.action
    if asked is CostAction.REPEAT:
        return CostAction.WATCH, CourseGround.TREND
    if question.costs_given:
        return asked, CourseGround.COSTS_MORE
    return rule, CourseGround.LEVEL_MORE


def _strictest(actions: Iterable[CostAction]) -> CostAction:
    """Return the strictest of some actions."""
    return max(actions, key=lambda action: STRICTNESS[action])
