"""Which visits hold something that no examination has looked at, for whoever watches a folder.

The answer is computed from what is kept, so that nothing has to be remembered: a program that is
killed between an import and its examination finds the visit here when it starts again.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path

from sqlalchemy import ColumnElement, Select, and_, exists, func, or_, select
from sqlalchemy.orm import InstrumentedAttribute, aliased

from cagewise.store.context import Context
from cagewise.store.records import KeptRecording, KeptSheet, Visit
from cagewise.store.tables.examination import ExaminationInputRow, ExaminationRow
from cagewise.store.tables.imported import ImportedRow
from cagewise.store.tables.visit import RecordingFileRow, RecordingRow, TestSheetRow, VisitRow


class Unexamined:
    """The visits of a plant that wait to be examined."""

    def __init__(self, context: Context) -> None:
        self._database = context.database

    def below(self, folders: Sequence[Path]) -> Sequence[Visit]:
        """Return visits with files from these folders of which something was never examined.

        Of several recordings of one file, and of several test sheets of one name, the newest
        counts: it is the one that an examination takes.

        Returns
        -------
        Sequence
            The earliest day first, so that later visits find theirs to compare with.
        """
        sources = or_(*(_is_below(ImportedRow.source, each) for each in folders))
        imported = select(ImportedRow.checksum).where(ImportedRow.refusal == "", sources)
        chosen = (
            select(VisitRow)
            .where(or_(VisitRow.id.in_(_recorded(imported)), VisitRow.id.in_(_noted(imported))))
            .order_by(VisitRow.day, VisitRow.id)
        )
        with self._database.reading() as session:
            return [
                Visit(id=row.id, motor_id=row.motor_id, day=row.day, note=row.note)
                for row in session.scalars(chosen)
            ]

    def mark(self) -> tuple[int, ...]:
        """Return numbers that change whenever :meth:`below` may have got something new.

        They cost nothing, where the visits of a hundred thousand files cost seconds.
        """
        with self._database.reading() as session:
            return tuple(
                session.scalar(select(func.max(table.id))) or 0
                for table in (ImportedRow, RecordingRow, TestSheetRow)
            )

    def hold(self, visit: Visit) -> None:
        """Let nobody else keep an examination of a visit through here until the transaction ends.

        Call it inside :meth:`Plant.writing` (SQLite has one writer anyway; a server locks the row).
        """
        with self._database.writing() as session:
            session.scalars(
                select(VisitRow.id).where(VisitRow.id == visit.id).with_for_update()
            ).one()

    def has_seen(
        self, visit: Visit, recordings: Sequence[KeptRecording], sheets: Sequence[KeptSheet]
    ) -> bool:
        """Return whether one examination of a visit has looked at all of these."""
        wanted = {(each.id, None) for each in recordings} | {(None, each.id) for each in sheets}
        chosen = (
            select(
                ExaminationInputRow.examination_id,
                ExaminationInputRow.recording_id,
                ExaminationInputRow.test_sheet_id,
            )
            .join(ExaminationRow, ExaminationRow.id == ExaminationInputRow.examination_id)
            .where(ExaminationRow.visit_id == visit.id, ExaminationInputRow.earlier.is_(False))
        )
        seen: dict[int, set[tuple[int | None, int | None]]] = {}
        with self._database.reading() as session:
            for number, recording, sheet in session.execute(chosen):
                seen.setdefault(number, set()).add((recording, sheet))
        return any(wanted <= each for each in seen.values())


def _recorded(imported: Select[str]) -> Select[int]:
    """Select visits with a recording of these files that was not examined."""
    newer = aliased(RecordingRow)
    replaced = exists().where(
        newer.visit_id == RecordingRow.visit_id,
        newer.checksum == RecordingRow.checksum,
        newer.part == RecordingRow.part,
        newer.id > RecordingRow.id,
    )
    return (
        select(RecordingRow.visit_id)
        .join(RecordingFileRow, RecordingFileRow.recording_id == RecordingRow.id)
        .where(RecordingFileRow.checksum.in_(imported), ~replaced)
        .where(
            ~_examined(RecordingRow.visit_id, ExaminationInputRow.recording_id == RecordingRow.id)
        )
    )


def _noted(imported: Select[str]) -> Select[int]:
    """Select visits with a test sheet of these files that was not examined."""
    newer = aliased(TestSheetRow)
    replaced = exists().where(
        newer.visit_id == TestSheetRow.visit_id,
        newer.source == TestSheetRow.source,
        newer.id > TestSheetRow.id,
    )
    return select(TestSheetRow.visit_id).where(
        TestSheetRow.checksum.in_(imported),
        ~replaced,
        ~_examined(TestSheetRow.visit_id, ExaminationInputRow.test_sheet_id == TestSheetRow.id),
    )


def _examined(
    visit_id: InstrumentedAttribute[int], is_input: ColumnElement[bool]
) -> ColumnElement[bool]:
    """Return whether an examination of a visit looked at something of it."""
    return (
        exists()
        .where(ExaminationRow.visit_id == visit_id)
        .where(
            and_(
                ExaminationInputRow.examination_id == ExaminationRow.id,
                ExaminationInputRow.earlier.is_(False),
                is_input,
            )
        )
    )


def _is_below(source: InstrumentedAttribute[str], folder: Path) -> ColumnElement[bool]:
    """Return whether a path lies in a folder; exact, where LIKE would not mind letter case."""
    beginning = f"{folder}".rstrip(os.sep) + os.sep
    return func.substr(source, 1, len(beginning)) == beginning
