"""Cases, and what happened to a motor: decisions, repairs, outcomes, notes, attachments."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import assert_never

from sqlalchemy import Select, select
from sqlalchemy.orm import Session, aliased

from cagewise.errors import AlreadyKeptError, InputError, NotKeptError
from cagewise.store.case_rows import attachment_of, case_of, event_of
from cagewise.store.context import Context, insert_if_absent
from cagewise.store.records import (
    Attachment,
    Case,
    Decision,
    Event,
    Happening,
    KeptExamination,
    MotorEntry,
    Note,
    Outcome,
    Repair,
)
from cagewise.store.tables.case import AttachmentRow, CaseRow, EventRow, FoundBarRow, OutcomeRow
from cagewise.store.tables.motor import MotorRow
from cagewise.store.vault import Vault


class Cases:
    """The cases and events of a plant."""

    def __init__(self, context: Context, attachments: Vault) -> None:
        self._context = context
        self._database = context.database
        self.attachments = attachments

    def open(
        self,
        motor: MotorEntry,
        title: str,
        *,
        part: str = "cage",
        examination: KeptExamination | None = None,
        on: date | None = None,
    ) -> Case:
        """Open a case; one of the same part that is open already is returned instead.

        Parameters
        ----------
        motor
            The motor.
        title
            The suspicion, in words.
        part
            Of the motor.
        examination
            That raised it.
        on
            Today if None.
        """
        with self._database.writing() as session:
            self._hold(session, motor.id)
            standing = session.scalars(
                select(CaseRow).where(
                    CaseRow.motor_id == motor.id,
                    CaseRow.part == part,
                    CaseRow.closed_on.is_(None),
                )
            ).first()
            if standing is not None:
                return case_of(standing)
            row = CaseRow(
                motor_id=motor.id,
                part=part,
                title=title,
                examination_id=None if examination is None else examination.id,
                opened_on=on or self._context.today(),
                opened_at=self._context.now(),
                closing="",
            )
            session.add(row)
            session.flush()
            return case_of(row)

    def close(self, case: Case, why: str, *, on: date | None = None) -> Case:
        """Close a case; a closed one stays as it was closed.

        Raises
        ------
        AlreadyKeptError
            If it was closed with another reason.
        InputError
            If no reason is given.
        """
        if not why.strip():
            raise InputError("a case is closed with a reason", where=f"case {case.id}")
        with self._database.writing() as session:
            row = self._case(session, case.id, for_update=True)
            if row.closed_on is None:
                row.closed_on = on or self._context.today()
                row.closed_at = self._context.now()
                row.closing = why
            elif row.closing != why:
                raise AlreadyKeptError(
                    f"it was closed on {row.closed_on} ({row.closing})",
                    where=f"case {case.id}",
                    remedy="Add a note, or open another case.",
                )
            return case_of(row)

    def get(self, case_id: int) -> Case:
        """Return a case by its number."""
        with self._database.reading() as session:
            return case_of(self._case(session, case_id))

    def all(self, motor: MotorEntry | None = None, *, only_open: bool = False) -> Sequence[Case]:
        """Return cases, the oldest first: of a motor, or of all."""
        chosen = select(CaseRow).order_by(CaseRow.opened_on, CaseRow.id)
        if motor is not None:
            chosen = chosen.where(CaseRow.motor_id == motor.id)
        if only_open:
            chosen = chosen.where(CaseRow.closed_on.is_(None))
        with self._database.reading() as session:
            return [case_of(row) for row in session.scalars(chosen)]

    def add_event(
        self,
        of: Case | MotorEntry,
        what: Happening,
        *,
        text: str = "",
        author: str = "",
        on: date | None = None,
        corrects: Event | None = None,
    ) -> Event:
        """Note what happened, to a case or to a motor without one; it is never changed.

        Parameters
        ----------
        of
            To what it belongs.
        what
            A decision, repair, outcome or note.
        text
            In words.
        author
            Who says so.
        on
            When it happened; today if None.
        corrects
            An event that this one puts right.
        """
        case, motor_id = (of, of.motor_id) if isinstance(of, Case) else (None, of.id)
        row = EventRow(
            motor_id=motor_id,
            case_id=None if case is None else case.id,
            day=on or self._context.today(),
            recorded_at=self._context.now(),
            author=author,
            text=text,
            corrects_id=None if corrects is None else corrects.id,
            action="",
            facts={},
        )
        details = _details(row, what)
        with self._database.writing() as session:
            session.add(row)
            session.flush()
            for each in details:
                each.event_id = row.id
                session.add(each)
                session.flush()
            self._context.step("event added")
            return self._events(session, select(EventRow).where(EventRow.id == row.id))[0]

    def attach(
        self, event: Event, source: Path | bytes, *, name: str = "", caption: str = ""
    ) -> Attachment:
        """Keep a photograph or paper with an event; the same bytes once."""
        kept = self.attachments.keep(source, name)
        self._context.step("attachment kept")
        values = {
            "event_id": event.id,
            "checksum": kept.checksum,
            "size_bytes": kept.size_bytes,
            "name": kept.name,
            "caption": caption,
            "added_at": self._context.now(),
        }
        chosen = select(AttachmentRow).where(
            AttachmentRow.event_id == event.id, AttachmentRow.checksum == kept.checksum
        )
        with self._database.writing() as session:
            insert_if_absent(session, AttachmentRow, values)
            return attachment_of(session.scalars(chosen).one())

    def events(self, of: Case | MotorEntry) -> Sequence[Event]:
        """Return what happened to a case, or to a motor with all its cases, by day."""
        chosen = select(EventRow).order_by(EventRow.day, EventRow.id)
        if isinstance(of, Case):
            chosen = chosen.where(EventRow.case_id == of.id)
        else:
            chosen = chosen.where(EventRow.motor_id == of.id)
        with self._database.reading() as session:
            return self._events(session, chosen)

    def outcomes(self) -> Sequence[Event]:
        """Return all outcomes of the plant, by day: what was found, against what was said."""
        chosen = (
            select(EventRow).where(EventRow.kind == "outcome").order_by(EventRow.day, EventRow.id)
        )
        with self._database.reading() as session:
            return self._events(session, chosen)

    def repairs(self) -> Sequence[Event]:
        """Return all repairs of the plant that no later entry puts right, by day."""
        later = aliased(EventRow)
        chosen = (
            select(EventRow)
            .where(EventRow.kind == "repair")
            .where(~select(later.id).where(later.corrects_id == EventRow.id).exists())
            .order_by(EventRow.day, EventRow.id)
        )
        with self._database.reading() as session:
            return self._events(session, chosen)

    def _events(self, session: Session, chosen: Select[EventRow]) -> list[Event]:
        """Return events with what belongs to them."""
        rows = session.scalars(chosen).all()
        numbers = [row.id for row in rows]
        outcomes = {
            row.event_id: row
            for row in session.scalars(select(OutcomeRow).where(OutcomeRow.event_id.in_(numbers)))
        }
        bars = session.scalars(
            select(FoundBarRow).where(FoundBarRow.event_id.in_(numbers)).order_by(FoundBarRow.bar)
        ).all()
        files = session.scalars(
            select(AttachmentRow)
            .where(AttachmentRow.event_id.in_(numbers))
            .order_by(AttachmentRow.id)
        ).all()
        return [
            event_of(
                row,
                outcomes.get(row.id),
                [bar for bar in bars if bar.event_id == row.id],
                [file for file in files if file.event_id == row.id],
            )
            for row in rows
        ]

    def _hold(self, session: Session, motor_id: int) -> None:
        """Let nobody else open a case of this motor meanwhile."""
        session.execute(select(MotorRow.id).where(MotorRow.id == motor_id).with_for_update())

    def _case(self, session: Session, case_id: int, *, for_update: bool = False) -> CaseRow:
        row = session.get(CaseRow, case_id, with_for_update=for_update or None)
        if row is None:
            raise NotKeptError(f"there is no case number {case_id}", remedy="List the cases.")
        return row


def _details(row: EventRow, what: Happening) -> list[OutcomeRow | FoundBarRow]:
    """Write what happened into the row of the event; return the rows that belong to it."""
    match what:
        case Decision():
            row.kind, row.action, row.due_on = "decision", what.action, what.due_on
        case Repair():
            row.kind, row.action, row.facts = "repair", what.action, dict(what.facts)
        case Outcome():
            row.kind = "outcome"
            bars = [
                FoundBarRow(bar=bar.bar, damage=bar.damage.value, place=bar.place.value)
                for bar in what.bars
            ]
            return [OutcomeRow(found=what.found.value, open_bars=what.open_bars), *bars]
        case Note():
            row.kind = "note"
        case _:
            assert_never(what)
    return []
