"""Probabilities on demand: a study that covers everything, and examinations of a given chance."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date

from cagewise.decision.costs import decide_costs
from cagewise.decision.costs_result import CostQuestion
from cagewise.decision.course import with_first
from cagewise.decision.examination import Examination
from cagewise.evidence.fusion.parameters import Calibrated, FusionParameters
from cagewise.evidence.fusion.posterior import Rate, Stratum, StratumRates
from cagewise.evidence.probability import TruthStudy
from cagewise.machine.motor import Criticality
from cagewise.pipeline.outlook import course_of
from cagewise.quantities import NotKnown

MEASURED = date(2026, 11, 3)
"""Day of the invented examinations."""


@dataclass(frozen=True)
class EveryStratum(Calibrated):
    """A calibration that covers every stratum with the same invented rates."""

    def rates_of(self, stratum: Stratum) -> StratumRates:
        return StratumRates(
            stratum=stratum,
            false_calls=Rate(events=1, cases=400),
            missed=Rate(events=2, cases=300),
            undecided=Rate(events=30, cases=700),
        )


STUDY = TruthStudy(calibrated=EveryStratum(parameters=FusionParameters()))


def with_chance(
    examined: Examination,
    probability: float | NotKnown,
    *,
    interval: tuple[float, float] | None = None,
    guarded: bool = False,
) -> Examination:
    """Return an examination whose costs are weighed at this chance of a defect."""
    costs = decide_costs(
        CostQuestion(
            probability=probability,
            probability_interval=interval,
            probability_guarded=guarded,
            verdict=examined.verdict,
            criticality=examined.motor.criticality,
            damage_bars=examined.verdict.damage_bars,
            measured_on=MEASURED,
        ),
        examined.settings.limits.costs,
        examined.settings.limits.decision,
    )
    ahead = replace(examined.outlook, costs=costs)
    rule = examined.recommendation
    course = course_of(examined.verdict, rule, ahead, examined.parts, MEASURED)
    steps = with_first(course, rule.next_steps)
    return replace(
        examined,
        outlook=ahead,
        course=course,
        recommendation=replace(rule, next_steps=steps),
        evidence=replace(examined.evidence, probability=probability),
    )


def given(
    false_pull: float, miss: float, *, level: str = "normal", outage: str | None = None
) -> Criticality:
    """Return a criticality with both costs."""
    return Criticality(level=level, false_pull_cost=false_pull, miss_cost=miss, next_outage=outage)
