"""What the parts of a plant share."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime
from functools import cache
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy import Executable, literal
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.orm import Session

from cagewise.store.database import Database
from cagewise.store.instants import day_of, now
from cagewise.store.steps import Step
from cagewise.store.tables import Base


@dataclass(frozen=True, slots=True, kw_only=True)
class Context:
    """The open database of a plant, its clock, and the points between steps."""

    database: Database
    zone: ZoneInfo
    step: Step
    clock: Callable[[], datetime] = now

    def now(self) -> datetime:
        """Return this instant."""
        return self.clock()

    def today(self) -> date:
        """Return the day on the calendar of the plant."""
        return day_of(self.clock(), self.zone)


def insert_if_absent(session: Session, table: type[Base], values: dict[str, Any]) -> bool:
    """Insert a row unless a unique one is there; return whether it was inserted.

    Two processes that do this at once get one row.
    """
    connection = session.connection()
    statement = _insert(table, connection.dialect.name)
    return connection.execute(statement, values).first() is not None


@cache
def _insert(table: type[Base], dialect: str) -> Executable:
    """Return the statement that inserts a row unless it is there."""
    if dialect == "postgresql":
        return postgresql.insert(table).on_conflict_do_nothing().returning(literal(1))
    return sqlite.insert(table).on_conflict_do_nothing().returning(literal(1))
