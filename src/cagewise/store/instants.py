"""Two kinds of time: instants, kept in UTC, and days, which are those of the plant's own clock.

A repair, a visit, the day from which a nameplate is valid are *days*: what the calendar in the
plant says. When something was written down is an *instant*. They are never mixed: an instant
becomes a day only through the time zone of the plant.
"""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy import DateTime, Dialect, String
from sqlalchemy.types import TypeDecorator, TypeEngine

_LENGTH = 27
"""Of the text of an instant on SQLite: 2026-03-01T09:30:00.000000Z, which sorts as it should."""


class Instant(TypeDecorator[datetime]):
    """An aware datetime; ``timestamptz`` on PostgreSQL, text that sorts on SQLite."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def load_dialect_impl(self, dialect: Dialect) -> TypeEngine[Any]:
        """Return the type of the column."""
        if dialect.name == "sqlite":
            return dialect.type_descriptor(String(_LENGTH))
        return dialect.type_descriptor(DateTime(timezone=True))

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> Any:  # noqa: ANN401 - the base class says so
        """Return what is stored."""
        if value is None:
            return None
        if value.tzinfo is None:
            message = f"an instant needs a time zone, got {value!r}"
            raise ValueError(message)
        moment = value.astimezone(UTC)
        return instant_text(moment) if dialect.name == "sqlite" else moment

    def process_result_value(
        self,
        value: Any,  # noqa: ANN401 - text or datetime, as the dialect has it
        dialect: Dialect,  # noqa: ARG002 - the value tells
    ) -> datetime | None:
        """Return the instant, in UTC."""
        if value is None:
            return None
        if isinstance(value, str):
            return datetime.fromisoformat(value).astimezone(UTC)
        moment: datetime = value
        return moment.astimezone(UTC)


def instant_text(moment: datetime) -> str:
    """Return an instant as text of one length that sorts by time."""
    return moment.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")


def now() -> datetime:
    """Return this instant."""
    return datetime.now(UTC)


def day_of(moment: datetime, zone: ZoneInfo) -> date:
    """Return the day that the plant's calendar shows at an instant.

    An instrument that states no zone is taken to show the plant's own time.
    """
    return moment.date() if moment.tzinfo is None else moment.astimezone(zone).date()


def instant_of(moment: datetime, zone: ZoneInfo) -> datetime:
    """Return a time stamp of an instrument as an instant (no zone: the plant's own time)."""
    aware = moment.replace(tzinfo=zone) if moment.tzinfo is None else moment
    return aware.astimezone(UTC)
