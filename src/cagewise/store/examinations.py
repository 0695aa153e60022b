"""Examinations: immutable, with everything that is needed to run them again."""

from __future__ import annotations

import json
import zlib
from collections.abc import Mapping, Sequence
from dataclasses import asdict, fields
from datetime import date, datetime
from typing import Any

from sqlalchemy import RowMapping, Select, select
from sqlalchemy.orm import aliased

from cagewise.errors import DamagedFileError, NotKeptError
from cagewise.store.context import Context, insert_if_absent
from cagewise.store.examination_keys import ExaminationKeys
from cagewise.store.records import (
    ExaminationDocument,
    ExaminationInput,
    KeptExamination,
    KeptReading,
    KeptRecording,
    KeptSheet,
    MotorEntry,
    NewExamination,
    Visit,
    checksum_of,
)
from cagewise.store.tables.examination import (
    ExaminationDocumentRow,
    ExaminationInputRow,
    ExaminationRow,
    ReadingRow,
)
from cagewise.store.tables.motor import MotorRow

_KEYS = tuple(each.name for each in fields(ExaminationKeys))
_HEAD = ("id", "visit_id", "motor_id", "day", "nameplate_id", "made_at", "program_version")
_COMPRESSION = 6
"""Level of zlib: a document of 100 kB in 2 ms."""


class Examinations:
    """The examinations of a plant."""

    def __init__(self, context: Context) -> None:
        self._context = context
        self._database = context.database

    def add(
        self, visit: Visit, examination: NewExamination, *, made_at: datetime | None = None
    ) -> KeptExamination:
        """Keep an examination of a visit; the same one again is the one that is there.

        It is the same when document, settings, nameplate and inputs are the same.

        Parameters
        ----------
        visit
            That was examined.
        examination
            What is kept.
        made_at
            Now if None.
        """
        inputs = _inputs(examination)
        fingerprint = _fingerprint(examination, inputs)
        values = {
            "visit_id": visit.id,
            "motor_id": visit.motor_id,
            "day": visit.day,
            "nameplate_id": examination.nameplate_id,
            "made_at": made_at or self._context.now(),
            "program_version": examination.program_version,
            "fingerprint": fingerprint,
            **asdict(examination.keys),
        }
        chosen = _heads(ExaminationRow).where(
            ExaminationRow.visit_id == visit.id, ExaminationRow.fingerprint == fingerprint
        )
        with self._database.writing() as session:
            new = insert_if_absent(session, ExaminationRow, values)
            kept = _examination(session.execute(chosen).mappings().one())
            if new:
                self._context.step("examination inserted")
                session.add(_document_row(kept.id, examination))
                session.add_all(
                    ExaminationInputRow(examination_id=kept.id, position=n, **asdict(each))
                    for n, each in enumerate(inputs)
                )
                session.add_all(
                    ReadingRow(examination_id=kept.id, position=n, **asdict(each))
                    for n, each in enumerate(examination.readings)
                )
                session.flush()
                self._context.step("examination complete")
        self._context.step("examination committed")
        return kept

    def latest(self, *, until: date | None = None) -> Sequence[KeptExamination]:
        """Return the examination of the latest visit of every motor that has one.

        Of several examinations of that visit it is the one kept last.

        Parameters
        ----------
        until
            Visits after that day are left out; none is if None.
        """
        other = aliased(ExaminationRow)
        visited = select(other.id).where(other.motor_id == MotorRow.id)
        if until is not None:
            visited = visited.where(other.day <= until)
        newest = visited.order_by(other.day.desc(), other.id.desc()).limit(1).scalar_subquery()
        chosen = (
            _heads(ExaminationRow)
            .select_from(MotorRow)
            .join(ExaminationRow, ExaminationRow.id == newest)
            .order_by(MotorRow.id)
        )
        with self._database.reading() as session:
            return [_examination(row) for row in session.execute(chosen).mappings()]

    def of_motor(self, motor: MotorEntry) -> Sequence[KeptExamination]:
        """Return all examinations of a motor, by the day of the visit, then as they were kept."""
        chosen = (
            _heads(ExaminationRow)
            .where(ExaminationRow.motor_id == motor.id)
            .order_by(ExaminationRow.day, ExaminationRow.id)
        )
        with self._database.reading() as session:
            return [_examination(row) for row in session.execute(chosen).mappings()]

    def of_visit(self, visit: Visit) -> Sequence[KeptExamination]:
        """Return the examinations of a visit, as they were kept."""
        chosen = (
            _heads(ExaminationRow)
            .where(ExaminationRow.visit_id == visit.id)
            .order_by(ExaminationRow.id)
        )
        with self._database.reading() as session:
            return [_examination(row) for row in session.execute(chosen).mappings()]

    def get(self, examination_id: int) -> KeptExamination:
        """Return the examination of a number.

        Raises
        ------
        NotKeptError
            If there is none.
        """
        chosen = _heads(ExaminationRow).where(ExaminationRow.id == examination_id)
        with self._database.reading() as session:
            row = session.execute(chosen).mappings().first()
        if row is None:
            raise NotKeptError(f"there is no examination number {examination_id}")
        return _examination(row)

    def readings(
        self, motor: MotorEntry, *, names: Sequence[str] = ()
    ) -> Mapping[int, Sequence[KeptReading]]:
        """Return the readings of all examinations of a motor.

        Parameters
        ----------
        motor
            The motor.
        names
            Of the readings wanted; all if empty.

        Returns
        -------
        Mapping
            From the number of an examination to its readings, in their order.
        """
        columns = [getattr(ReadingRow, each.name) for each in fields(KeptReading)]
        chosen = (
            select(ReadingRow.examination_id, *columns)
            .join(ExaminationRow, ExaminationRow.id == ReadingRow.examination_id)
            .where(ExaminationRow.motor_id == motor.id)
            .order_by(ReadingRow.examination_id, ReadingRow.position)
        )
        if names:
            chosen = chosen.where(ReadingRow.name.in_(names))
        found: dict[int, list[KeptReading]] = {}
        with self._database.reading() as session:
            for examination_id, *values in session.execute(chosen):
                reading = KeptReading(**dict(zip(_READING, values, strict=True)))
                found.setdefault(examination_id, []).append(reading)
        return found

    def fingerprint(self, examination: KeptExamination) -> str:
        """Return the checksum of all that makes an examination what it is; unique in a visit."""
        chosen = select(ExaminationRow.fingerprint).where(ExaminationRow.id == examination.id)
        with self._database.reading() as session:
            return session.scalars(chosen).one()

    def document(self, examination: KeptExamination) -> ExaminationDocument:
        """Return the document of an examination, checked, with what made it.

        Raises
        ------
        DamagedFileError
            If it is not what was kept.
        """
        inputs = (
            select(ExaminationInputRow)
            .where(ExaminationInputRow.examination_id == examination.id)
            .order_by(ExaminationInputRow.position)
        )
        with self._database.reading() as session:
            row = session.get(ExaminationDocumentRow, examination.id)
            if row is None:
                raise NotKeptError(f"there is no examination number {examination.id}")
            return ExaminationDocument(
                text=self._unpacked(row),
                schema_version=row.schema_version,
                settings=row.settings,
                inputs=tuple(_input(each) for each in session.scalars(inputs)),
            )

    def _unpacked(self, row: ExaminationDocumentRow) -> str:
        try:
            content = zlib.decompress(row.document)
        except zlib.error:
            content = b""
        if checksum_of(content) != row.checksum:
            raise DamagedFileError(
                f"the document of examination {row.examination_id} is damaged",
                where=self._database.where,
                remedy="Examine the visit again: its measurements are kept.",
            )
        return content.decode("utf-8")


_READING = tuple(each.name for each in fields(KeptReading))


def _heads(table: type[ExaminationRow]) -> Select[*tuple[Any, ...]]:
    """Select what an examination is without its document."""
    return select(*(getattr(table, name) for name in (*_HEAD, *_KEYS)))


def _examination(row: RowMapping) -> KeptExamination:
    """Return a row as a record."""
    head = {name: row[name] for name in _HEAD}
    return KeptExamination(keys=ExaminationKeys(**{name: row[name] for name in _KEYS}), **head)


def _document_row(examination_id: int, examination: NewExamination) -> ExaminationDocumentRow:
    """Return the row of a document."""
    content = examination.document.encode("utf-8")
    return ExaminationDocumentRow(
        examination_id=examination_id,
        document=zlib.compress(content, _COMPRESSION),
        checksum=checksum_of(content),
        schema_version=examination.schema_version,
        settings=dict(examination.settings),
    )


def _inputs(examination: NewExamination) -> list[ExaminationInput]:
    """Return what was looked at, that of the visit first."""
    return [
        _looked_at(each, earlier=earlier)
        for earlier, group in ((False, examination.inputs), (True, examination.earlier))
        for each in group
    ]


def _looked_at(kept: KeptRecording | KeptSheet, *, earlier: bool) -> ExaminationInput:
    """Return one input."""
    is_sheet = isinstance(kept, KeptSheet)
    return ExaminationInput(
        recording_id=None if is_sheet else kept.id,
        test_sheet_id=kept.id if is_sheet else None,
        checksum=kept.checksum,
        earlier=earlier,
    )


def _input(row: ExaminationInputRow) -> ExaminationInput:
    """Return a row as a record."""
    return ExaminationInput(
        recording_id=row.recording_id,
        test_sheet_id=row.test_sheet_id,
        checksum=row.checksum,
        earlier=row.earlier,
    )


def _fingerprint(examination: NewExamination, inputs: Sequence[ExaminationInput]) -> str:
    """Return a checksum of everything that makes an examination what it is."""
    said = [
        examination.program_version,
        examination.schema_version,
        examination.nameplate_id,
        dict(examination.settings),
        [asdict(each) for each in inputs],
        checksum_of(examination.document.encode("utf-8")),
    ]
    return checksum_of(json.dumps(said, sort_keys=True).encode("utf-8"))
