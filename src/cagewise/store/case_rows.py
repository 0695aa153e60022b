"""Rows of cases and events as records."""

from __future__ import annotations

from collections.abc import Sequence

from cagewise.store.records import (
    Attachment,
    BarDamage,
    BarPlace,
    Case,
    Decision,
    Event,
    Found,
    FoundBar,
    Happening,
    Note,
    Outcome,
    Repair,
)
from cagewise.store.tables.case import AttachmentRow, CaseRow, EventRow, FoundBarRow, OutcomeRow


def case_of(row: CaseRow) -> Case:
    """Return a row as a record."""
    return Case(
        id=row.id,
        motor_id=row.motor_id,
        part=row.part,
        title=row.title,
        examination_id=row.examination_id,
        opened_on=row.opened_on,
        closed_on=row.closed_on,
        closing=row.closing,
    )


def event_of(
    row: EventRow,
    outcome: OutcomeRow | None,
    bars: Sequence[FoundBarRow],
    files: Sequence[AttachmentRow],
) -> Event:
    """Return a row with what belongs to it as a record."""
    return Event(
        id=row.id,
        motor_id=row.motor_id,
        case_id=row.case_id,
        day=row.day,
        recorded_at=row.recorded_at,
        author=row.author,
        text=row.text,
        what=_what(row, outcome, bars),
        corrects_id=row.corrects_id,
        attachments=tuple(map(attachment_of, files)),
    )


def _what(row: EventRow, outcome: OutcomeRow | None, bars: Sequence[FoundBarRow]) -> Happening:
    """Return what happened."""
    if outcome is not None:
        return Outcome(
            found=Found(outcome.found), open_bars=outcome.open_bars, bars=tuple(map(_bar, bars))
        )
    if row.kind == "decision":
        return Decision(action=row.action, due_on=row.due_on)
    if row.kind == "repair":
        return Repair(action=row.action, facts=row.facts)
    return Note()


def _bar(row: FoundBarRow) -> FoundBar:
    """Return a row as a record."""
    return FoundBar(bar=row.bar, damage=BarDamage(row.damage), place=BarPlace(row.place))


def attachment_of(row: AttachmentRow) -> Attachment:
    """Return a row as a record."""
    return Attachment(
        checksum=row.checksum, name=row.name, caption=row.caption, size_bytes=row.size_bytes
    )
