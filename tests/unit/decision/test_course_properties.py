"""What must hold of the one action for any verdict, probability, costs and dates."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from hypothesis import given
from hypothesis import strategies as st

from cagewise.decision.costs import REMOVALS
from cagewise.decision.costs_policies import CostAction
from cagewise.decision.costs_result import CostQuestion
from cagewise.decision.course import STRICTNESS
from cagewise.decision.course_dates import OutageFit
from cagewise.decision.verdict import State, Verdict
from cagewise.machine.motor import Criticality
from cagewise.quantities import Estimate, NotKnown
from support.cost_questions import MEASURED, decide, question
from support.courses import AGREED, DEFECTIVE, SOUND, SUSPECT, UNDECIDED, course_for, rule_of

VERDICTS = st.sampled_from([AGREED, DEFECTIVE, SUSPECT, UNDECIDED, SOUND])
LEVELS = st.sampled_from(["low", "normal", "high"])
PROBABILITIES = st.floats(0.001, 0.999)
COSTS = st.floats(1.0, 1e6)
OUTAGES = st.none() | st.integers(-30, 900)
BARS = st.none() | st.floats(0.0, 8.0).map(lambda n: Estimate(n, n, n))
INSULATIONS = st.sampled_from(["dry", "damp"])
FACTORS = st.floats(1.1, 100.0)


def paid(
    probability: float,
    false_pull: float,
    miss: float,
    level: str,
    judged: Verdict,
    bars: Estimate | None,
) -> CostQuestion:
    """Return a question with both costs given and an interval about its probability."""
    asked = question(probability, level=level, judged=judged, bars=bars)
    criticality = Criticality(level=level, false_pull_cost=false_pull, miss_cost=miss)
    return likelier(replace(asked, criticality=criticality), 1.0)


def likelier(asked: CostQuestion, factor: float) -> CostQuestion:
    """Return the question for a probability so many times as large, its interval with it."""
    assert isinstance(asked.probability, float)
    probability = min(0.999, factor * asked.probability)
    interval = (0.7 * probability, min(1.0, 1.3 * probability))
    return replace(asked, probability=probability, probability_interval=interval)


def dearer(asked: CostQuestion, *, pull: float = 1.0, miss: float = 1.0) -> CostQuestion:
    """Return the question with costs so many times as high."""
    criticality = asked.criticality
    assert criticality.false_pull_cost is not None
    assert criticality.miss_cost is not None
    costs = replace(
        criticality,
        false_pull_cost=pull * criticality.false_pull_cost,
        miss_cost=miss * criticality.miss_cost,
    )
    return replace(asked, criticality=costs)


PAID = st.builds(paid, PROBABILITIES, COSTS, COSTS, LEVELS, VERDICTS, BARS)


def rank(asked: CostQuestion) -> int:
    """Return how strict the action is."""
    return STRICTNESS[course_for(asked).action]


@given(PAID, FACTORS)
def test_a_dearer_miss_never_makes_the_action_more_lenient(
    asked: CostQuestion, factor: float
) -> None:
    assert rank(dearer(asked, miss=factor)) >= rank(asked)


@given(PAID, FACTORS)
def test_a_dearer_pull_never_makes_the_action_stricter(asked: CostQuestion, factor: float) -> None:
    assert rank(dearer(asked, pull=factor)) <= rank(asked)


@given(PAID, FACTORS)
def test_a_likelier_defect_never_makes_the_action_more_lenient(
    asked: CostQuestion, factor: float
) -> None:
    assert rank(likelier(asked, factor)) >= rank(asked)


def with_outage(asked: CostQuestion, days: int | None) -> CostQuestion:
    """Return the question with a planned outage so many days after the measurement."""
    outage = None if days is None else (MEASURED + timedelta(days=days)).isoformat()
    return replace(asked, criticality=replace(asked.criticality, next_outage=outage))


def unpaid(asked: CostQuestion) -> CostQuestion:
    """Return the question without costs."""
    none = replace(asked.criticality, false_pull_cost=None, miss_cost=None)
    return replace(asked, criticality=none)


@given(PAID | PAID.map(unpaid), OUTAGES, INSULATIONS)
def test_what_holds_of_every_action(
    asked: CostQuestion, outage: int | None, insulation: str
) -> None:
    judged, damp = asked.verdict, insulation == "damp"
    course = course_for(with_outage(asked, outage), damp=damp)
    rule = rule_of(judged, asked.criticality.level, damp=damp)
    in_doubt = damp or judged.state is not State.SOUND

    assert course.action not in REMOVALS or judged.removal_supported
    assert course.action is not CostAction.KEEP or not in_doubt
    assert course.action is not CostAction.WATCH or not damp
    assert 0.0 <= course.act_by.earliest_days <= course.act_by.latest_days
    if course.outage is not OutageFit.AWAITED:
        assert course.act_by.latest_days <= rule.act_by.latest_days
    assert course.act_by.latest is not None
    assert (course.act_by.latest - MEASURED).days == int(course.act_by.latest_days)
    assert (course.interval_days is None) is (course.action is not CostAction.WATCH)
    if course.at_outage:
        assert course.act_by.latest == course.act_by.outage


@given(PAID.map(unpaid), OUTAGES)
def test_a_judged_ratio_never_makes_it_more_lenient_or_takes_the_motor_out(
    asked: CostQuestion, outage: int | None
) -> None:
    asked = with_outage(asked, outage)
    unknown = replace(asked, probability=NotKnown("not calibrated"), probability_interval=None)
    by_rule, course = course_for(unknown), course_for(asked)

    assert STRICTNESS[course.action] >= STRICTNESS[by_rule.action]
    assert (course.action in REMOVALS) is (by_rule.action in REMOVALS)
    assert course.act_by.latest_days <= by_rule.act_by.latest_days


@given(PAID)
def test_the_working_that_is_shown_is_that_of_the_action(asked: CostQuestion) -> None:
    assert course_for(asked).asked is decide(asked).action
