"""What follows from the probabilities: explanations, the next measurement, the costs."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from cagewise.decision.costs import decide_costs
from cagewise.decision.costs_result import CostQuestion
from cagewise.decision.course import Course, CourseQuestion, set_course
from cagewise.decision.examination import Outlook, RecordExamination, Settings, Source
from cagewise.decision.next_measurement import rank_measurements
from cagewise.decision.parts import PartVerdict
from cagewise.decision.plan import aimed_load
from cagewise.decision.recommendation import Recommendation
from cagewise.decision.verdict import Verdict
from cagewise.evidence.explanations import explain
from cagewise.evidence.findings import Evidence
from cagewise.evidence.probability import probability_interval
from cagewise.machine.motor import Motor
from cagewise.quantities import NotKnown


def outlook(
    motor: Motor,
    evidence: Evidence,
    verdict: Verdict,
    sources: Sequence[Source],
    settings: Settings,
    measured_on: date | None,
) -> Outlook:
    """Return what follows from the probabilities.

    Parameters
    ----------
    motor, evidence, verdict
        Of the visit.
    sources
        The sources that the report shows, the leading one of every kind.
    settings
        Limits, and what makes probabilities.
    measured_on
        Day of the visit, None when it is not known.
    """
    limits = settings.limits
    record = next((s for s in sources if isinstance(s, RecordExamination)), None)
    return Outlook(
        explanations=()
        if record is None or record.stopped
        else explain(evidence, motor, record.operating_point, limits.explanations),
        next_measurements=rank_measurements(
            evidence,
            motor,
            aimed_load(motor, limits),
            voltages_measured=record is not None and record.voltages_measured > 0,
            study=settings.study,
            effort=limits.effort,
        ),
        costs=decide_costs(
            CostQuestion(
                probability=evidence.probability,
                probability_interval=probability_interval(evidence.posterior),
                probability_guarded=not isinstance(evidence.posterior, NotKnown)
                and evidence.posterior.guarded,
                verdict=verdict,
                criticality=motor.criticality,
                damage_bars=verdict.damage_bars,
                measured_on=measured_on,
            ),
            limits.costs,
            limits.decision,
        ),
    )


def course_of(
    verdict: Verdict,
    rule: Recommendation,
    ahead: Outlook,
    parts: Sequence[PartVerdict],
    measured_on: date | None,
) -> Course:
    """Return the one action, from the rule of states and from the costs."""
    return set_course(
        CourseQuestion(
            verdict=verdict,
            rule=rule,
            costs=ahead.costs,
            measured_on=measured_on,
            parts=tuple(parts),
            next_measurements=ahead.next_measurements,
        )
    )
