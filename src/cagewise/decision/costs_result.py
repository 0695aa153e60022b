"""The question of costs and its answer, as data (docs/theory/decision-costs.md)."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from cagewise.decision.costs_policies import CostAction, Measurement, Setting
from cagewise.decision.verdict import Verdict
from cagewise.machine.motor import Criticality
from cagewise.quantities import Estimate, NotKnown

EVEN = 0.5
"""Probability above which a defect is the likelier case."""


class StakesGround(StrEnum):
    """Where the two costs come from."""

    GIVEN = "given"
    """Both stand in the motor file; they are taken as they are."""
    BY_LEVEL = "by_level"
    """None is given: a ratio that goes with the criticality stands in."""
    ONE_GIVEN = "one_given"
    """Only one is given, which weighs nothing by itself: the ratio stands in."""
    BOTH_ZERO = "both_zero"
    """Both are given as nothing: the ratio stands in."""


class Guard(StrEnum):
    """What the rule of agreeing methods and classes says to the action."""

    ENOUGH_AGREE = "enough_agree"
    """The costs ask for taking the motor out, and enough methods and classes agree."""
    FEWER_AGREE = "fewer_agree"
    """The costs ask for it although fewer agree."""
    NOT_ASKED = "not_asked"
    """Enough agree for taking it out, but the costs do not ask for it."""
    NOT_TOUCHED = "not_touched"
    """Neither asks for it."""


class SensitivityKind(StrEnum):
    """What may be wrong."""

    COST_RATIO = "cost_ratio"
    PROBABILITY = "probability"
    HAZARD = "hazard"


@dataclass(frozen=True, slots=True, kw_only=True)
class CostQuestion:
    """What is known when the action is chosen."""

    probability: float | NotKnown
    """Probability of a cage defect."""
    verdict: Verdict
    criticality: Criticality
    probability_interval: tuple[float, float] | None = None
    """Ends of its interval, from the calibration."""
    probability_guarded: bool = False
    """Whether the probability was held where the calibration ends: what lies beyond, to certainty,
    is then not excluded."""
    damage_bars: Estimate | None = None
    """Open-bar equivalent; one open bar is assumed without it."""
    measured_on: date | None = None
    """Day of the measurement; without it no outage can be placed."""
    starts_per_month: float | None = None
    """Starts of this motor; the usual number is assumed without it."""
    better: Measurement | None = None
    """The better measurement that is to be had; a typical one is assumed without it."""

    def __post_init__(self) -> None:
        if isinstance(self.probability, NotKnown):
            return
        for value in (self.probability, *(self.probability_interval or ())):
            if not 0.0 <= value <= 1.0:
                message = f"a probability lies between 0 and 1, not at {value}"
                raise ValueError(message)

    @property
    def probability_range(self) -> tuple[float, float] | None:
        """Ends within which the probability may lie: its interval, and what lies beyond a guard."""
        if isinstance(self.probability, NotKnown):
            return None
        low, high = self.probability_interval or (self.probability, self.probability)
        if self.probability_guarded:
            likely = self.probability > EVEN
            return (low, 1.0) if likely else (0.0, high)
        return self.probability_interval


@dataclass(frozen=True, slots=True, kw_only=True)
class Stakes:
    """The two costs of being wrong."""

    false_pull: float
    """Cost of pulling a sound motor in a stop made for it."""
    miss: float
    """Cost of a failure in service, beyond the repair that a defect needs anyway."""
    ground: StakesGround
    level: str
    """Criticality of the motor."""
    spare_part: float = 1.0
    """Part that a spare has left of ``miss``; a given cost is taken as it is."""

    @property
    def in_currency(self) -> bool:
        """Whether costs are in the user's currency; else in units of pulling a sound motor."""
        return self.ground is StakesGround.GIVEN

    @property
    def ratio(self) -> float:
        """Cost of a failure over that of pulling a sound motor; infinite when pulling is free."""
        return self.miss / self.false_pull if self.false_pull > 0.0 else math.inf


@dataclass(frozen=True, slots=True, kw_only=True)
class Assumed:
    """What the costs stand on beside the motor file; all judgement (:class:`CostLimits`)."""

    bars: float
    """Open bars that the rate of failures is for."""
    bars_assumed: bool
    """Whether nobody has said how many."""
    plausible_rates_per_month: tuple[float, float]
    """Ends of what is plausible for the rate of failures of so many bars."""
    setting: Setting
    """Calendar, rate of failures and measurements."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ActionCost:
    """One action and what it costs."""

    action: CostAction
    days: float
    """KEEP and WATCH: interval; REPEAT and PLAN_REPAIR: by that day after the measurement."""
    by: date | None
    """The same as a date; None for intervals and where the day of the measurement is not known."""
    at_outage: bool
    """Whether PLAN_REPAIR takes place in the planned outage."""
    if_sound: float
    """Cost on a sound motor."""
    if_defective: float
    """Expected cost on a defective motor."""
    failure_chance: float
    """Chance that a defective cage fails in service first."""
    expected: float | None
    """Expected cost; None where the probability is not known."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """The range in which an action is the cheapest."""

    action: CostAction
    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SensitivityCase:
    """What would be done if one number were another."""

    kind: SensitivityKind
    value: float
    """COST_RATIO: factor on it; PROBABILITY: its value; HAZARD: failures per month."""
    action: CostAction
    at_outage: bool
    """Whether it is a repair in the planned outage."""
    changes: bool
    """Whether this is another action, or the same with another outage."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuringWorth:
    """What knowing more before acting is worth, in the unit of the costs."""

    perfect: float
    """Certainty today, which no measurement gives: more is never worth paying."""
    better: float
    """The better measurement, its result in hand today, its own cost left out."""
    cost: float
    """That own cost."""

    @property
    def worthwhile(self) -> bool:
        """Whether it saves more than it costs."""
        return self.better > self.cost


@dataclass(frozen=True, slots=True, kw_only=True)
class Worked:
    """What can be worked out only with a probability."""

    expected_cost: float
    """Of the action."""
    ratio_spans: tuple[Span, ...] | NotKnown
    """Which action is cheapest at which ratio of costs, at this probability."""
    sensitivity: tuple[SensitivityCase, ...]
    measuring: MeasuringWorth

    @property
    def robust(self) -> bool:
        """Whether nothing that was varied changes the action."""
        return not any(case.changes for case in self.sensitivity)

    @property
    def plausible(self) -> tuple[SensitivityCase, ...]:
        """What would be done at the ends of what nobody knows better: chance and failures."""
        ours = (SensitivityKind.PROBABILITY, SensitivityKind.HAZARD)
        return tuple(case for case in self.sensitivity if case.kind in ours)


@dataclass(frozen=True, slots=True, kw_only=True)
class CostDecision:
    """What to do, and the working."""

    action: CostAction
    """The cheapest; without a probability the one that the rule of states asks for."""
    guard: Guard
    probability: float | NotKnown
    probability_interval: tuple[float, float] | None
    """Ends within which the probability may lie, what is beyond a guard included."""
    probability_guarded: bool
    """Whether the probability was held where the calibration ends."""
    stakes: Stakes
    assumed: Assumed
    outage: date | NotKnown | None
    """The planned outage, or why it is left out; None when the motor file states none."""
    costs: tuple[ActionCost, ...]
    """Each action once, from the most lenient to the strictest; no STOP where it is not
    weighed."""
    probability_spans: tuple[Span, ...]
    """Which action is cheapest at which probability."""
    odds_rule_probability: float
    """Where pulling would begin if there were only pulling and keeping, and every missed defect
    failed: ``P/(1 - P) = C_false/C_miss``."""
    worked: Worked | NotKnown
    """What needs a probability, or why there is none."""

    @property
    def chosen(self) -> ActionCost:
        """The action with its numbers."""
        return next(cost for cost in self.costs if cost.action is self.action)
