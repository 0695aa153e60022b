"""The one action for invented verdicts, probabilities and costs."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

from cagewise.decision.costs_result import CostQuestion
from cagewise.decision.course import Course, CourseQuestion, set_course
from cagewise.decision.next_measurement import Measurement, MeasurementWorth
from cagewise.decision.parts import PartGround, PartVerdict
from cagewise.decision.recommendation import ActBy, Action, Recommendation
from cagewise.decision.verdict import State, Verdict
from cagewise.indicators.reading import Part
from support.cost_questions import MEASURED, WINDOWS, decide, verdict

BEST = MeasurementWorth(
    measurement=Measurement.START_RECORD,
    bits=0.4,
    doubt_bits=0.9,
    hours=1.0,
    change_probability=0.2,
    limit_bars=0.3,
)
DAMP = PartVerdict(
    part=Part.INSULATION, state=State.SUSPECT, ground=PartGround.ONE_BEYOND, findings=()
)
DEFECTIVE = verdict(State.DEFECTIVE)
AGREED = verdict(State.DEFECTIVE, removal=True)
SUSPECT = verdict(State.SUSPECT)
SOUND = verdict(State.SOUND)
UNDECIDED = verdict(State.NOT_DECIDABLE)


def rule_of(judged: Verdict, level: str, *, damp: bool = False) -> Recommendation:
    """Return what the rule of states asks for, with its window."""
    cage_in_doubt = judged.state in (State.SUSPECT, State.DEFECTIVE)
    if judged.removal_supported:
        action = Action.PLAN_REMOVAL
    elif damp or cage_in_doubt:
        action = Action.CONFIRM
    else:
        sound = judged.state is State.SOUND
        action = Action.CONTINUE if sound else Action.MEASURE_AGAIN
    state = "suspect" if damp and not cage_in_doubt else judged.state.name.lower()
    earliest, latest = getattr(WINDOWS, f"{state}_{level}_days")
    return Recommendation(
        action=action,
        act_by=ActBy(
            earliest_days=earliest,
            latest_days=latest,
            earliest=MEASURED + timedelta(days=earliest),
            latest=MEASURED + timedelta(days=latest),
        ),
        next_steps=(),
    )


def course_for(asked: CostQuestion, *, damp: bool = False) -> Course:
    """Return the one action for a question of costs; ``damp``: the insulation is suspect."""
    rule = rule_of(asked.verdict, asked.criticality.level, damp=damp)
    outage = asked.criticality.next_outage
    when = replace(rule.act_by, outage=None if outage is None else date.fromisoformat(outage))
    return set_course(
        CourseQuestion(
            verdict=asked.verdict,
            rule=replace(rule, act_by=when),
            costs=decide(asked),
            measured_on=asked.measured_on,
            parts=(DAMP,) if damp else (),
            next_measurements=(BEST,),
        )
    )
