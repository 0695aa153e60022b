"""Visits: one occasion of measuring, a day and a motor."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime

from sqlalchemy import select

from cagewise.errors import NotKeptError
from cagewise.store.context import Context, insert_if_absent
from cagewise.store.instants import day_of
from cagewise.store.records import MotorEntry, Visit
from cagewise.store.tables.visit import VisitRow


class Visits:
    """The visits of a plant."""

    def __init__(self, context: Context) -> None:
        self._context = context
        self._database = context.database

    def on(self, motor: MotorEntry, day: date | datetime, *, note: str = "") -> Visit:
        """Return the visit to a motor on a day; it is made when there is none.

        A moment counts to the day that the calendar of the plant shows then.
        """
        if isinstance(day, datetime):
            day = day_of(day, self._context.zone)
        values = {
            "motor_id": motor.id,
            "day": day,
            "note": note,
            "added_at": self._context.now(),
        }
        chosen = select(VisitRow).where(VisitRow.motor_id == motor.id, VisitRow.day == day)
        with self._database.writing() as session:
            row = session.scalars(chosen).first()
            if row is None:
                insert_if_absent(session, VisitRow, values)
                row = session.scalars(chosen).one()
            return _visit(row)

    def of(self, motor: MotorEntry) -> Sequence[Visit]:
        """Return the visits to a motor, the oldest first."""
        chosen = select(VisitRow).where(VisitRow.motor_id == motor.id).order_by(VisitRow.day)
        with self._database.reading() as session:
            return [_visit(row) for row in session.scalars(chosen)]

    def get(self, visit_id: int) -> Visit:
        """Return the visit of a number that a record holds."""
        with self._database.reading() as session:
            row = session.get(VisitRow, visit_id)
            if row is None:
                raise NotKeptError(f"there is no visit number {visit_id}")
            return _visit(row)


def _visit(row: VisitRow) -> Visit:
    """Return a row as a record."""
    return Visit(id=row.id, motor_id=row.motor_id, day=row.day, note=row.note)
