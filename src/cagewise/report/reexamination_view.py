"""What the page of examinations made again is written from; no text."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from cagewise.history.differences import Kind, Value
from cagewise.store import ExaminationKeys, MotorEntry


class Fate(StrEnum):
    """What became of a visit."""

    CHANGED = "changed"
    UNCHANGED = "unchanged"
    """Examined again, and says what it said."""
    UP_TO_DATE = "up to date"
    """Not examined again: made by this version, of what is kept now, with these settings."""
    REFUSED = "not possible"


class CauseKind(StrEnum):
    """What was different from the start."""

    PROGRAM = "program"
    LIMITS = "limits"
    MOTOR_FILE = "motor file"
    MEASUREMENTS = "measurements"
    BASELINES = "baselines"
    SETTINGS = "settings"


@dataclass(frozen=True, slots=True, kw_only=True)
class Cause:
    """One thing that was different from the start."""

    kind: CauseKind
    name: str
    """Which limit, setting, file; empty where there is one of the kind."""
    old: Value
    new: Value


@dataclass(frozen=True, slots=True, kw_only=True)
class Changed:
    """One thing that the examination says differently."""

    kind: Kind
    name: str
    old: Value
    new: Value
    within_interval: bool | None
    """Whether a new value lies within the old 95 % interval; None where that is not asked."""


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitAgain:
    """One visit, examined again."""

    motor: MotorEntry
    day: date
    fate: Fate
    old: int
    """Number of the examination that counted before."""
    new: int | None = None
    """Number of the one that was made; None where none was made, or it was not kept."""
    counts: int
    """Number of the one that lists and trends use from now on: of a visit the one kept last."""
    old_version: str
    """Program that made the old one."""
    old_keys: ExaminationKeys
    new_keys: ExaminationKeys | None = None
    changes: tuple[Changed, ...] = ()
    causes: tuple[Cause, ...] = ()
    """Empty where something changed and nothing that is written down explains it."""
    refusal: str = ""
    """Why it was not possible, with what to do."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReexaminationView:
    """Visits that were examined again."""

    plant: str
    """Name of the plant."""
    program_version: str
    """That examined again."""
    kept: bool
    """Whether the new examinations are kept."""
    visits: tuple[VisitAgain, ...]
    """By motor and day."""
    never_examined: int
    """Visits that nobody examined yet: there is nothing to compare with."""

    def of(self, fate: Fate) -> tuple[VisitAgain, ...]:
        """Return the visits of one fate."""
        return tuple(visit for visit in self.visits if visit.fate is fate)
