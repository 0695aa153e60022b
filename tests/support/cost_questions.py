"""Questions of costs with invented numbers, and their answers."""

from __future__ import annotations

from datetime import date, timedelta

from cagewise.decision.costs import decide_costs
from cagewise.decision.costs_limits import CostLimits
from cagewise.decision.costs_result import CostDecision, CostQuestion, Worked
from cagewise.decision.limits import load_limits
from cagewise.decision.verdict import State, StateGround, Verdict
from cagewise.machine.motor import Criticality
from cagewise.quantities import Estimate, NotKnown

LIMITS = CostLimits()
WINDOWS = load_limits().decision
MEASURED = date(2026, 11, 3)


def verdict(state: State = State.SUSPECT, *, removal: bool = False) -> Verdict:
    return Verdict(
        state=state,
        ground=StateGround.ENOUGH_AGREE if removal else StateGround.TOO_FEW_AGREE,
        methods_agreeing=3 if removal else 1,
        classes_agreeing=2 if removal else 1,
        removal_supported=removal,
    )


def question(
    probability: float | NotKnown = 0.3,
    *,
    ratio: float | None = None,
    false_pull: float = 1.0,
    level: str = "normal",
    outage_days: int | None = None,
    bars: Estimate | None = None,
    judged: Verdict | None = None,
) -> CostQuestion:
    outage = None if outage_days is None else MEASURED + timedelta(days=outage_days)
    criticality = Criticality(
        level=level,
        false_pull_cost=None if ratio is None else false_pull,
        miss_cost=None if ratio is None else ratio * false_pull,
        next_outage=None if outage is None else outage.isoformat(),
    )
    return CostQuestion(
        probability=probability,
        verdict=judged or verdict(),
        criticality=criticality,
        damage_bars=bars,
        measured_on=MEASURED,
    )


def decide(asked: CostQuestion, limits: CostLimits = LIMITS) -> CostDecision:
    return decide_costs(asked, limits, WINDOWS)


def worked(decision: CostDecision) -> Worked:
    assert isinstance(decision.worked, Worked)
    return decision.worked
