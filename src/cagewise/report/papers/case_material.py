"""What a case report is made from, gathered beforehand: results and stories, no text."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from cagewise.decision.examination import Examination
from cagewise.pictures.picture import Picture
from cagewise.report.history_views import CaseView, TrendView
from cagewise.report.papers.paper import PaperSize
from cagewise.store import Event


@dataclass(frozen=True, slots=True, kw_only=True)
class TrendMaterial:
    """How the damage of the motor developed."""

    view: TrendView
    events: tuple[Event, ...]
    """What happened to the motor, by day."""
    limit_bars: float
    """Damage that is drawn as a line, open bars."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CaseMaterial:
    """Everything that a case report says, before it is worded."""

    examination: Examination
    """The last one of the case or of the motor: what is believed now."""
    day: date
    """Last day that the report knows of: of the examination, or of what happened after it."""
    measured_on: date
    """Day of the visit."""
    number: int | None = None
    """Of the kept examination; None of one that is not kept."""
    not_as_kept: str = ""
    """Why the program says something else today than what is kept, as a clause; empty if it does
    not."""
    site: str = ""
    pictures: tuple[Picture, ...] = ()
    """What the readings look like, in the order of the examination; none where nothing is kept."""
    case: CaseView | None = None
    trend: TrendMaterial | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CaseLook:
    """How a case report is printed; its language and units are those of the moment."""

    size: PaperSize = PaperSize.A4
