"""The pages of a plant's history as JSON text for other programs (docs/history.md)."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from datetime import date
from enum import Enum

from cagewise.quantities import Estimate, NotKnown
from cagewise.report.history_views import CallsView, CasesView, CaseView, RankingView, TrendView
from cagewise.report.reexamination_view import ReexaminationView

SCHEMA_VERSION = "1.0"
"""Changes in the first number break readers; the second adds fields."""

INTERNAL = frozenset({"posterior", "path", "recorded_at", "independence_class"})
"""Fields that only computing needs, or that others say again."""

DAYS = frozenset(
    {"day", "from_day", "signal_day", "onset_day", "fall_day", "due_on", "examined_on", "days"}
)
"""Fields that hold days counted from the first of January of the year 1."""

_Plain = None | bool | int | float | str | list["_Plain"] | dict[str, "_Plain"]

View = TrendView | RankingView | CaseView | CasesView | CallsView | ReexaminationView


def to_json(view: View) -> str:
    """Return a page as JSON text with a final newline.

    Fields have the names of the results. Estimates are value and interval; what is not known is
    null with its reason; days are ISO 8601.
    """
    kind = type(view).__name__.removesuffix("View").lower()
    said = {"schema_version": SCHEMA_VERSION, "page": kind, **_fields(view)}
    return json.dumps(said, indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def _fields(value: object) -> dict[str, _Plain]:
    """Return the fields of a dataclass in the types of JSON."""
    assert is_dataclass(value)  # noqa: S101 - for the type checker: callers have looked
    return {
        each.name: _dated(getattr(value, each.name))
        if each.name in DAYS
        else _plain(getattr(value, each.name))
        for each in fields(value)
        if each.name not in INTERNAL
    }


def _dated(value: object) -> _Plain:
    """Return days as dates."""
    if isinstance(value, list | tuple):
        return [_dated(each) for each in value]
    if isinstance(value, float):
        return date.fromordinal(math.floor(value)).isoformat()
    return _plain(value)


def _plain(value: object) -> _Plain:
    """Return a value in the types of JSON; numbers that are not finite become null."""
    if isinstance(value, Enum):
        return _plain(value.value)
    if isinstance(value, float):
        return float(value) if math.isfinite(value) else None
    if value is None or isinstance(value, bool | int | str):
        return value
    return _composed(value)


def _composed(value: object) -> _Plain:
    """Return something that consists of other things."""
    match value:
        case Estimate(value=middle, low=low, high=high):
            return {"value": middle, "interval": [low, high], "reason": ""}
        case NotKnown(reason=reason):
            return {"value": None, "interval": None, "reason": reason}
        case date():
            return value.isoformat()
        case Mapping():
            return {str(key): _plain(each) for key, each in value.items()}
        case list() | tuple():
            return [_plain(each) for each in value]
        case _:
            return _fields(value)
