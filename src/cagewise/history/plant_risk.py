"""Which motor of a plant comes first: probability, consequence, time (docs/theory/trend.md, 10)."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from cagewise.decision.costs_hazard import DAYS_PER_MONTH, LARGEST_DOUBLINGS
from cagewise.decision.costs_limits import CostLimits
from cagewise.decision.limits import DecisionLimits, load_limits
from cagewise.decision.verdict import State
from cagewise.evidence.fusion.patterns import DEFAULT_PREVALENCE
from cagewise.history.growth_model import DAYS_PER_YEAR
from cagewise.history.limits import PlantLimits, RepairLimits, plant_limits, repair_limits
from cagewise.history.missing import MissingItem
from cagewise.quantities import RealArray

LEVELS = ("low", "normal", "high")
"""Criticality levels of the motor file."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MotorSummary:
    """What the ranking needs to know of a motor."""

    tag: str
    state: State | None = None
    """Of the last examination; None where there was none."""
    examined_on: float | None = None
    """Day of the last examination, days from any fixed day."""
    probability: float | None = None
    """Of a cage defect by the last examination; None where it gave none."""
    damage_bars: float | None = None
    """Damage by the last examination; None where it gave none."""
    criticality: str = "normal"
    """``"low"``, ``"normal"`` or ``"high"``."""
    spare: bool | None = None
    false_pull_cost: float | None = None
    """Cost of pulling a sound motor, in the currency of the plant."""
    miss_cost: float | None = None
    """Cost of a failure in service beyond the repair, same currency."""
    starts_per_month: float | None = None
    next_on: float | None = None
    """Latest day of what the last examination asks for; None where it gave none."""
    repaired_on: float | None = None
    """Day of the last repair of the cage; None where there was none."""
    unknown: tuple[MissingItem, ...] = ()
    """What its motor file does not say."""

    @property
    def renewed(self) -> bool:
        """Whether the cage was repaired and nothing was measured since."""
        if self.repaired_on is None:
            return False
        return self.examined_on is None or self.examined_on < self.repaired_on


@dataclass(frozen=True, slots=True, kw_only=True)
class RiskSettings:
    """Limits and the share of defective cages where nothing was measured."""

    costs: CostLimits = field(default_factory=lambda: load_limits().costs)
    windows: DecisionLimits = field(default_factory=lambda: load_limits().decision)
    plant: PlantLimits = field(default_factory=plant_limits)
    repair: RepairLimits = field(default_factory=repair_limits)
    prevalence: float = DEFAULT_PREVALENCE


@dataclass(frozen=True, slots=True, kw_only=True)
class RankedMotor:
    """A motor in its place."""

    rank: int
    """1 for the first."""
    tag: str
    expected_cost_per_month: float
    """Probability of a defect times chance of a failure in the next month times consequence."""
    probability: float
    """Of a defect today."""
    assumed_probability: bool
    """Whether it comes from the prevalence, because no examination gave one."""
    failure_chance: float
    """Of a defective cage in the next month."""
    consequence: float
    """Of a failure in service."""
    due_on: float
    """Day by which the next thing is due, a measurement or the repair that the last examination
    asks for; today where nothing was measured yet."""
    overdue_days: float
    """Days past that; negative while there is time."""
    missing: tuple[MissingItem, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlantRanking:
    """All motors of a plant, the greatest risk first."""

    motors: tuple[RankedMotor, ...]
    in_currency: bool
    """Whether costs are in the currency of the plant; else in pulls of a sound motor."""
    expected_cost_per_month: float
    """Of all motors together."""

    @property
    def due(self) -> tuple[RankedMotor, ...]:
        """Motors that are due, the longest overdue first, then by risk."""
        late = [motor for motor in self.motors if motor.overdue_days >= 0.0]
        return tuple(sorted(late, key=lambda motor: (-motor.overdue_days, motor.rank)))


def rank_plant(
    summaries: Sequence[MotorSummary], today: float, settings: RiskSettings | None = None
) -> PlantRanking:
    """Rank the motors of a plant; equals keep the order they came in.

    Parameters
    ----------
    summaries
        One per motor.
    today
        Day for which the ranking holds, in the days of the summaries.
    settings
        Limits in force where None.
    """
    settings = settings or RiskSettings()
    begun = [s.repaired_on if s.renewed else s.examined_on for s in summaries]
    days = np.maximum(today - _column(begun, today), 0.0)
    known = _column([None if s.renewed else s.probability for s in summaries], math.nan)
    start = np.where(np.isnan(known), settings.prevalence, known)
    new = -np.expm1(-settings.plant.new_defects_per_year * days / DAYS_PER_YEAR)
    probability = start + (1.0 - start) * new
    failure = _failure_chance(summaries, days, settings.costs)
    consequence, in_currency = _consequences(summaries, settings.costs)
    risk = probability * failure * consequence
    due_on = _due_on(summaries, today, settings)
    order = np.argsort(-risk, kind="stable").tolist()
    columns = [
        c.tolist() for c in (risk, probability, np.isnan(known), failure, consequence, due_on)
    ]
    return PlantRanking(
        motors=tuple(
            RankedMotor(
                rank=rank,
                tag=summaries[i].tag,
                expected_cost_per_month=columns[0][i],
                probability=columns[1][i],
                assumed_probability=columns[2][i],
                failure_chance=columns[3][i],
                consequence=columns[4][i],
                due_on=columns[5][i],
                overdue_days=today - columns[5][i],
                missing=_missing(summaries[i]),
            )
            for rank, i in enumerate(order, start=1)
        ),
        in_currency=in_currency,
        expected_cost_per_month=math.fsum(columns[0]),
    )


def _column(values: Sequence[float | None], otherwise: float) -> RealArray:
    """Return a column with another value where there is none, shape (n_motors,)."""
    return np.array([otherwise if value is None else value for value in values], dtype=float)


def _failure_chance(
    summaries: Sequence[MotorSummary], days: RealArray, costs: CostLimits
) -> RealArray:
    """Return the chance that a defective cage that still runs fails in the next month.

    The same law as ``decision.costs_hazard``, for all motors at once.
    """
    bars = np.clip(
        _column([None if s.renewed else s.damage_bars for s in summaries], 1.0),
        costs.least_bars,
        costs.most_bars,
    )
    usual = costs.usual_starts_per_month
    starts = _column([s.starts_per_month for s in summaries], usual)
    pace = (1.0 - costs.starts_share) + costs.starts_share * starts / usual
    tau = costs.hazard_doubling_months
    now = np.minimum(pace * days / DAYS_PER_MONTH / tau, LARGEST_DOUBLINGS)
    grown = np.exp2(now) * np.expm1(np.minimum(pace / tau, LARGEST_DOUBLINGS) * math.log(2.0))
    rate = costs.hazard_per_month * bars * tau / math.log(2.0)
    chance: RealArray = -np.expm1(-rate * grown)
    return chance


def _consequences(summaries: Sequence[MotorSummary], costs: CostLimits) -> tuple[RealArray, bool]:
    """Return the cost of a failure in service, shape (n_motors,), and whether it is in currency."""
    given = [s.false_pull_cost for s in summaries if s.false_pull_cost is not None]
    currency = bool(given) or any(s.miss_cost is not None for s in summaries)
    pull = _column(
        [s.false_pull_cost for s in summaries], float(np.median(given)) if given else 1.0
    )
    ratios = {
        "low": costs.miss_ratio_low,
        "normal": costs.miss_ratio_normal,
        "high": costs.miss_ratio_high,
    }
    ratio = np.array(
        [ratios[s.criticality] * (costs.spare_part if s.spare else 1.0) for s in summaries],
        dtype=float,
    )
    miss = _column([s.miss_cost for s in summaries], math.nan)
    return np.where(np.isnan(miss), pull * ratio, miss), currency


def _due_on(summaries: Sequence[MotorSummary], today: float, settings: RiskSettings) -> RealArray:
    """Return the latest day of what is next.

    The last examination says it. Where it does not, state and criticality do; after a repair the
    time within which its baseline is to be measured.
    """
    latest: dict[tuple[State, str], float] = {
        (state, level): getattr(settings.windows, f"{state.name.lower()}_{level}_days")[1]
        for state in State
        for level in LEVELS
    }

    def day(summary: MotorSummary) -> float:
        if summary.renewed and summary.repaired_on is not None:
            return summary.repaired_on + settings.repair.largest_age_days
        if summary.state is None or summary.examined_on is None:
            return today
        if summary.next_on is not None:
            return summary.next_on
        return summary.examined_on + latest[summary.state, summary.criticality]

    return np.array([day(summary) for summary in summaries], dtype=float)


def _missing(summary: MotorSummary) -> tuple[MissingItem, ...]:
    """Return what is missing of a motor, the examinations first."""
    if summary.renewed:
        return (MissingItem.NOT_SINCE_REPAIR, *summary.unknown)
    if summary.state is None or summary.examined_on is None:
        return (MissingItem.NEVER_EXAMINED, *summary.unknown)
    of_examination = []
    if summary.probability is None:
        of_examination.append(MissingItem.NO_PROBABILITY)
    if summary.damage_bars is None and summary.state is not State.SOUND:
        of_examination.append(MissingItem.NO_DAMAGE)
    return (*of_examination, *summary.unknown)
