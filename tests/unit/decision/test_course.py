"""Which action leads, cell by cell of the table of docs/theory/decision-costs.md, section 7."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from cagewise.decision.costs_policies import CostAction
from cagewise.decision.costs_result import CostDecision, CostQuestion
from cagewise.decision.course import Course, CourseGround, CourseQuestion, set_course, with_first
from cagewise.decision.course_dates import OutageFit
from cagewise.decision.next_measurement import Measurement
from cagewise.decision.recommendation import Action, NextMeasurement, NextStep
from cagewise.decision.verdict import State, Verdict
from cagewise.quantities import Estimate, NotKnown
from support.cost_questions import MEASURED, decide, question, worked
from support.courses import (
    AGREED,
    BEST,
    DAMP,
    DEFECTIVE,
    SOUND,
    SUSPECT,
    UNDECIDED,
    course_for,
    rule_of,
)

KEEP, WATCH, REPEAT, PLAN, STOP = CostAction
G = CourseGround
ASKED = (KEEP, WATCH, REPEAT, PLAN, STOP)
CONFIRM = (REPEAT, G.CONFIRM_FIRST)
CELLS = {
    ("agreed", "given"): (
        (WATCH, G.FLOOR), (WATCH, G.COSTS_LESS), (REPEAT, G.COSTS_LESS), (PLAN, G.AGREED),
        (STOP, G.COSTS_MORE),
    ),
    ("agreed", "level"): (
        (PLAN, G.LEVEL_LESS), (PLAN, G.LEVEL_LESS), (PLAN, G.LEVEL_LESS), (PLAN, G.AGREED),
        (PLAN, G.LEVEL_MORE),
    ),
    ("doubted", "given"): (
        (WATCH, G.FLOOR), (WATCH, G.COSTS_LESS), (REPEAT, G.AGREED), CONFIRM, CONFIRM,
    ),
    ("doubted", "level"): (
        (REPEAT, G.LEVEL_LESS), (REPEAT, G.LEVEL_LESS), (REPEAT, G.AGREED), CONFIRM, CONFIRM,
    ),
    ("undecided", "given"): (
        (REPEAT, G.FLOOR), (REPEAT, G.FLOOR), (REPEAT, G.AGREED), CONFIRM, CONFIRM,
    ),
    ("undecided", "level"): (
        (REPEAT, G.FLOOR), (REPEAT, G.FLOOR), (REPEAT, G.AGREED), CONFIRM, CONFIRM,
    ),
    ("sound", "given"): (
        (KEEP, G.AGREED), (WATCH, G.COSTS_MORE), (WATCH, G.TREND), CONFIRM, CONFIRM,
    ),
    ("sound", "level"): (
        (KEEP, G.AGREED), (KEEP, G.LEVEL_MORE), (WATCH, G.TREND), CONFIRM, CONFIRM,
    ),
}  # fmt: skip
"""Action and ground for KEEP, WATCH, REPEAT, PLAN_REPAIR, STOP asked by the costs."""
VERDICTS = {
    "agreed": (AGREED,),
    "doubted": (DEFECTIVE, SUSPECT),
    "undecided": (UNDECIDED,),
    "sound": (SOUND,),
}


def asking(action: CostAction, judged: Verdict, *, given: bool) -> CostDecision:
    """Return costs that ask for an action whatever is plausible; four bars allow for STOP."""
    made = decide(
        question(
            0.3,
            ratio=10.0 if given else None,
            level="high",
            bars=Estimate(4.0, 3.5, 4.5),
            judged=judged,
        )
    )
    cases = tuple(replace(case, action=action) for case in worked(made).sensitivity)
    return replace(made, action=action, worked=replace(worked(made), sensitivity=cases))


def led(costs: CostDecision, judged: Verdict, *, damp: bool = False) -> Course:
    return set_course(
        CourseQuestion(
            verdict=judged,
            rule=rule_of(judged, "high", damp=damp),
            costs=costs,
            measured_on=MEASURED,
            parts=(DAMP,) if damp else (),
            next_measurements=(BEST,),
        )
    )


@pytest.mark.parametrize(("state", "source"), CELLS)
def test_every_cell_of_the_table(state: str, source: str) -> None:
    for judged in VERDICTS[state]:
        for action, cell in zip(ASKED, CELLS[state, source], strict=True):
            course = led(asking(action, judged, given=source == "given"), judged)
            assert (course.action, course.ground) == cell, (judged.state, action)


@pytest.mark.parametrize("given", [True, False])
@pytest.mark.parametrize("asked", ASKED)
def test_a_doubted_insulation_is_tested_before_anything(asked: CostAction, *, given: bool) -> None:
    for judged in (SOUND, UNDECIDED):
        course = led(asking(asked, judged, given=given), judged, damp=True)
        assert (course.action, course.ground) == (REPEAT, G.PARTS)
    for judged in (SUSPECT, DEFECTIVE, AGREED):
        course = led(asking(asked, judged, given=given), judged, damp=True)
        assert course.action not in (KEEP, WATCH)


@pytest.mark.parametrize(
    ("judged", "action"),
    [(AGREED, PLAN), (DEFECTIVE, REPEAT), (SUSPECT, REPEAT), (UNDECIDED, REPEAT), (SOUND, KEEP)],
)
def test_without_a_probability_the_rule_leads_whatever_the_costs(
    judged: Verdict, action: CostAction
) -> None:
    for ratio in (None, 1e-3, 1e4):
        course = course_for(question(NotKnown("not calibrated"), ratio=ratio, judged=judged))
        assert (course.action, course.ground, course.asked) == (action, G.RULE, None)


def test_one_cost_alone_overrules_nothing() -> None:
    asked = question(0.01, ratio=10.0, judged=AGREED)
    alone = replace(asked, criticality=replace(asked.criticality, false_pull_cost=None))

    assert course_for(asked).action is WATCH
    assert course_for(alone).action is PLAN


def test_less_than_the_rule_needs_all_that_is_plausible() -> None:
    """At 1 % watching is enough, at 40 % it is not: a chance of 1 to 40 % is confirmed."""
    sure = replace(question(0.01, ratio=2.0, judged=SUSPECT), probability_interval=(0.005, 0.02))
    vague = replace(sure, probability_interval=(0.005, 0.95))

    assert course_for(sure).action is WATCH
    assert course_for(vague).ground is G.INTERVAL
    assert course_for(vague).action is REPEAT


def test_a_guarded_probability_counts_as_anything_beyond() -> None:
    """97 % where the study ends may be certainty; 0.1 % there may be nothing."""
    likely = replace(question(0.97), probability_interval=(0.94, 0.97), probability_guarded=True)
    hardly = replace(question(0.001), probability_interval=(0.0, 0.002), probability_guarded=True)

    assert likely.probability_range == (0.94, 1.0)
    assert hardly.probability_range == (0.0, 0.002)
    assert replace(likely, probability_interval=None).probability_range == (0.97, 1.0)
    assert {case.value for case in worked(decide(likely)).plausible} >= {0.94, 1.0}


def test_confirming_stands_before_the_repair_that_the_costs_ask_for() -> None:
    """Notice is 7 days: an outage on day 30 is kept by a confirmation on day 23."""
    plain = course_for(question(0.9, judged=SUSPECT))
    outage = course_for(question(0.9, judged=SUSPECT, outage_days=30))

    assert plain.act_by.latest_days == 45.0
    assert outage.act_by.latest_days == 23.0
    assert outage.act_by.latest == MEASURED + timedelta(days=23)
    assert outage.outage is OutageFit.TOO_LATE
    assert outage.first is Measurement.START_RECORD


def test_what_confirms_is_among_the_next_steps_and_mere_repetition_is_not() -> None:
    course = course_for(question(0.9, judged=SUSPECT))
    steps = tuple(
        NextStep(kind=kind)
        for kind in (
            NextMeasurement.SECOND_LOAD,
            NextMeasurement.START_UP,
            NextMeasurement.ROUTINE,
        )
    )

    assert with_first(course, steps) == steps[:2]
    assert [s.kind for s in with_first(course, steps[:1])] == [
        NextMeasurement.START_UP,
        NextMeasurement.SECOND_LOAD,
    ]
    assert with_first(course_for(question(0.3, judged=SUSPECT)), steps) == steps


@pytest.mark.parametrize(
    ("days", "fit", "by_days"),
    [
        (-3, OutageFit.PAST, 60.0),
        (4, OutageFit.NO_NOTICE, 60.0),
        (7, OutageFit.IN_TIME, 7.0),
        (60, OutageFit.IN_TIME, 60.0),
        (61, OutageFit.TOO_LATE, 60.0),
    ],
)
def test_a_repair_goes_into_an_outage_that_is_in_time(
    days: int, fit: OutageFit, by_days: float
) -> None:
    """Costs by level and no probability at all alike; neither waits beyond the rule."""
    for probability in (0.95, NotKnown("not calibrated")):
        course = course_for(question(probability, judged=AGREED, outage_days=days))
        assert (course.outage, course.act_by.latest_days) == (fit, by_days)
        assert course.at_outage is (fit is OutageFit.IN_TIME)


def test_an_outage_beyond_the_rule_is_waited_for_by_the_users_costs_only() -> None:
    cheap = question(0.99, ratio=0.5, judged=AGREED, outage_days=100)
    dear = replace(cheap, criticality=replace(cheap.criticality, miss_cost=1000.0))

    waits = course_for(cheap)
    assert (waits.action, waits.outage, waits.act_by.latest_days) == (
        PLAN, OutageFit.AWAITED, 100.0
    )  # fmt: skip
    assert course_for(dear).outage is OutageFit.TOO_LATE
    assert course_for(dear).act_by.latest_days == 60.0
    level = course_for(question(0.99, level="low", judged=AGREED, outage_days=200))
    assert level.act_by.latest_days == 180.0


def test_an_outage_that_waits_only_at_the_assumed_failures_is_named_and_not_taken() -> None:
    """0.02 a month and bar: waiting is cheaper; 0.1: it is not."""
    torn = question(0.99, ratio=10.0, judged=AGREED, outage_days=90)
    course = course_for(torn)

    assert decide(torn).chosen.at_outage
    assert course.outage is OutageFit.TEMPTING
    assert course.act_by.latest_days == 60.0


def test_without_a_day_of_measurement_no_outage_is_placed() -> None:
    undated = replace(question(0.95, judged=AGREED, outage_days=30), measured_on=None)

    assert course_for(undated).outage is OutageFit.UNDATED
    assert course_for(undated).act_by.latest is None
    assert course_for(undated).act_by.latest_days == 60.0


def test_a_watch_begins_no_later_than_the_rule_would_confirm() -> None:
    suspect = course_for(question(0.01, ratio=2.0, judged=SUSPECT))
    sound = course_for(question(0.1, ratio=10.0, judged=SOUND))

    assert suspect.act_by.latest_days == 45.0
    assert suspect.interval_days == sound.interval_days == 79.0
    assert sound.act_by.latest_days == sound.interval_days


def test_stopping_has_no_window() -> None:
    four = Estimate(5.0, 4.5, 5.5)
    course = course_for(question(0.99, ratio=500.0, level="high", judged=AGREED, bars=four))

    assert (course.action, course.act_by.latest) == (STOP, MEASURED)


@pytest.mark.parametrize(
    ("judged", "probability", "ratio", "words"),
    [
        (AGREED, 0.95, None, Action.PLAN_REMOVAL),
        (AGREED, 0.001, 1.0, Action.CONFIRM),
        (SUSPECT, 0.9, None, Action.CONFIRM),
        (SUSPECT, 0.01, 2.0, Action.CONFIRM),
        (UNDECIDED, 0.01, 2.0, Action.MEASURE_AGAIN),
        (SOUND, 0.001, 2.0, Action.CONTINUE),
        (SOUND, 0.1, 10.0, Action.CONTINUE),
        (SOUND, 0.9, None, Action.CONFIRM),
    ],
)
def test_the_four_actions_of_older_documents_never_contradict_it(
    judged: Verdict, probability: float, ratio: float | None, words: Action
) -> None:
    asked: CostQuestion = question(probability, ratio=ratio, judged=judged)

    assert course_for(asked).in_rule_words(judged) is words


def test_the_guard_is_the_only_way_to_a_repair() -> None:
    assert SUSPECT.state is State.SUSPECT
    for judged in (DEFECTIVE, SUSPECT, UNDECIDED, SOUND):
        for ratio in (1e4, None):
            course = course_for(question(0.999, ratio=ratio, judged=judged, outage_days=20))
            assert course.action is REPEAT
            assert course.act_by.outage == date(2026, 11, 23)
