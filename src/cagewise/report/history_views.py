"""What the pages of a plant's history are written from; no text, no drawing."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

from cagewise.evidence.explanations import Cause
from cagewise.history.change import Change
from cagewise.history.missing import MissingItem, RepairKind
from cagewise.history.outcomes import CallReport
from cagewise.history.plant_risk import PlantRanking, RankedMotor
from cagewise.history.points import Comparable
from cagewise.history.repair import RepairComparison
from cagewise.history.time_to_limit import TimeToLimit
from cagewise.history.trend import NoTrend, Trend
from cagewise.quantities import NotKnown
from cagewise.store import Case, Event, KeptExamination, MotorEntry

NOT_EXAMINED = "not examined"
REPAIRED = "repaired"
"""The cage was repaired and nothing was measured since: its old state is of another cage."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TrendView:
    """The trend of a motor with what follows from it."""

    motor: MotorEntry
    today: date
    trend: Trend | NoTrend
    change: Change | None
    """None where there is no trend."""
    limit: TimeToLimit | None
    """None where there is no trend."""
    repaired_on: date | None
    """Last repair of the cage: the trend begins after it."""
    visits: int
    """With an examination."""
    unknown: tuple[MissingItem, ...]
    """What the motor file does not say."""
    programs: Mapping[str, int] = field(default_factory=dict)
    """Points of the trend by the version of the program that examined them."""

    @property
    def points(self) -> Comparable:
        """Points that were used and set aside."""
        return self.trend.points


@dataclass(frozen=True, slots=True, kw_only=True)
class RankingView:
    """The motors of a plant by risk, or some of them."""

    plant: str
    """Name of the plant."""
    today: date
    in_all: int
    """Motors of the plant, or of the site."""
    due_in_all: int
    """Of those, due on that day."""
    cases_in_all: int
    """Open cases of theirs."""
    ranking: PlantRanking
    """Of the motors that are shown; its sum is of all."""
    latest: Mapping[str, KeptExamination]
    """Last examination of a motor, by the name that the ranking has."""
    open_cases: Mapping[str, tuple[Case, ...]]
    """By the same name."""

    def cage_state(self, motor: RankedMotor) -> str:
        """Return the state of a cage as lists have it."""
        if MissingItem.NOT_SINCE_REPAIR in motor.missing:
            return REPAIRED
        last = self.latest.get(motor.tag)
        return NOT_EXAMINED if last is None else last.keys.state


@dataclass(frozen=True, slots=True, kw_only=True)
class ExaminedView:
    """An examination as a case tells of it."""

    examination: KeptExamination
    methods_agreeing: int | NotKnown
    """Methods that speak for a defect, of the trade's six."""
    classes_agreeing: int | NotKnown
    """Independence classes that speak for a defect."""
    statement: str
    """The verdict in one sentence."""
    cause: tuple[Cause, float] | None = None
    """What beside the cage makes the lines, with its weight, where something measured says so."""
    advice: str = ""
    """What the examination advised, in a sentence or two."""
    parts: tuple[tuple[str, str], ...] = ()
    """Other parts than the cage that are not sound, each with its statement."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RepairView:
    """A repair and what was measured after it."""

    event: Event
    kind: RepairKind
    baseline: KeptExamination | None
    """None where nothing was measured after it."""
    comparison: RepairComparison | None
    """None where nothing was measured after it."""
    owed: tuple[MissingItem, ...]
    """What the shop was asked and neither it nor a motor file valid from then on says."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CaseView:
    """The story of a case."""

    motor: MotorEntry
    case: Case
    today: date
    events: tuple[Event, ...]
    """By day; those put right by a later one are left out."""
    corrected: int
    """Events left out for that."""
    examined: tuple[ExaminedView, ...]
    """Of the visits from the one that raised the case to the end, by day, and the last one before
    each outcome."""
    repairs: tuple[RepairView, ...]
    calls: Mapping[int, ExaminedView] = field(default_factory=dict)
    """Our last examination before the motor was opened, by the number of the outcome."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CasesView:
    """Cases of a plant or a motor."""

    today: date
    cases: tuple[tuple[MotorEntry, Case], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CallsView:
    """Our calls against what was found."""

    today: date
    report: CallReport
    without_call: int
    """Motors that were opened and had no examination before."""
