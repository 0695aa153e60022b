"""What the summary of a plant is written from; no text, no drawing."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from cagewise.report.history_views import CallsView, RankingView
from cagewise.store import Case, Event, KeptExamination, MotorEntry, Outcome


class ChangeKind(StrEnum):
    """What changed."""

    STATE = "state"
    """A cage is in another state than before the month, or was measured for the first time."""
    PART = "part"
    """Winding or insulation is in doubt and was not, or was not tested, before the month."""
    OPENED = "opened"
    DECIDED = "decided"
    REPAIRED = "repaired"
    FOUND = "found"
    CLOSED = "closed"


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """Something that changed in the month."""

    day: date
    motor: MotorEntry
    kind: ChangeKind
    before: KeptExamination | None = None
    """Last examination before the month."""
    after: KeptExamination | None = None
    """Last one of the month."""
    case: Case | None = None
    event: Event | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenCase:
    """A case that is open on the day."""

    case: Case
    motor: MotorEntry
    name: str
    """Of the motor, as the ranking has it."""
    decided: Event | None
    """The decision that waits; None where there is none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenedCall:
    """A motor that was opened, and our call before it."""

    motor: MotorEntry
    event: Event
    outcome: Outcome
    call: KeptExamination | None


@dataclass(frozen=True, slots=True, kw_only=True)
class StatedCosts:
    """What being wrong costs, as a motor file states it, in its currency."""

    false_pull: float | None
    miss: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class PlantMaterial:
    """A plant at the end of a month."""

    version: str
    """Of the program."""
    plant: str
    """Its name."""
    first: date
    """Of the month."""
    day: date
    """For which it holds: the last of the month, or today."""
    ranking: RankingView
    """As of that day."""
    motors: Mapping[str, MotorEntry]
    """By the name that the ranking has."""
    costs: Mapping[str, StatedCosts]
    """Of motors whose motor file states any, by the same name."""
    measured: int
    """Motors that were measured in the month."""
    unchanged: tuple[str, ...]
    """Of these, by name, those whose cage, winding and insulation are what they were."""
    changes: tuple[Change, ...]
    """By day."""
    cases: tuple[OpenCase, ...]
    """The oldest first."""
    calls: CallsView
    """Of all motors that were opened until that day."""
    opened: tuple[OpenedCall, ...]
    """The same, the latest first."""
