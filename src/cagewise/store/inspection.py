"""Is everything there that a plant keeps, and is it what was put in? Nothing is changed."""

from __future__ import annotations

import re
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from pathlib import Path
from typing import Any

from sqlalchemy import Select, select

from cagewise.errors import DamagedFileError, MissingFileError
from cagewise.store.contents import Contents, contents_of
from cagewise.store.durable import INCOMING, file_errors
from cagewise.store.kept_files import ATTACHMENTS, ORIGINALS, WAVEFORMS, KeptFile, kept_files
from cagewise.store.plant import Plant
from cagewise.store.progress import Meter, Tell, tell_nobody
from cagewise.store.records import Waveform, checksum_of
from cagewise.store.tables.case import AttachmentRow, EventRow
from cagewise.store.tables.examination import ExaminationDocumentRow, ExaminationRow
from cagewise.store.tables.motor import MotorRow
from cagewise.store.tables.plant import SiteRow
from cagewise.store.tables.visit import (
    RecordingFileRow,
    RecordingRow,
    TestSheetFileRow,
    TestSheetRow,
    VisitRow,
)

_DOCUMENTS_AT_ONCE = 100
"""Documents in memory at a time: a hundred of 100 kB."""

_KEPT_NAME = re.compile(r"[0-9a-f]{2}/[0-9a-f]{64}(-[^/]*\.parquet)?")
"""Names that the store gives."""


class FaultKind(StrEnum):
    """What is wrong with a kept file."""

    MISSING = "missing"
    DAMAGED = "damaged"


class StrayKind(StrEnum):
    """What a file without a row is."""

    UNCLAIMED = "unclaimed"
    """Whole by its name: an import was killed before it wrote the row, or is running now."""
    HALF = "half-copied"
    """The copy was killed, or is running now."""
    FOREIGN = "foreign"
    """Not put there by the program."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Use:
    """What a kept file is needed for."""

    site: str
    tag: str
    """Of the motor."""
    day: date
    """Of the visit or the event."""
    name: str
    """Of the file as it came."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """A kept file that is not there or not what was put in."""

    folder: str
    """``originals``, ``waveforms``, ``attachments``, or ``documents`` of examinations."""
    where: str
    """Path or address."""
    kind: FaultKind
    uses: tuple[Use, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Stray:
    """A file in the folder that no row speaks of."""

    path: Path
    size_bytes: int
    kind: StrayKind


@dataclass(frozen=True, slots=True, kw_only=True)
class Inspection:
    """What was found."""

    contents: Contents
    files: int
    """That should be there."""
    size_bytes: int
    """Of those files, as they were kept."""
    faults: tuple[Fault, ...]
    database_faults: tuple[str, ...]
    """What the database says of itself; empty of a sound one, and of a server."""
    strays: tuple[Stray, ...]
    elsewhere: str
    """Address of waveforms outside the folder, where nobody looked for strays; else empty."""

    @property
    def is_whole(self) -> bool:
        """Whether nothing is missing or damaged."""
        return not (self.faults or self.database_faults)


def inspect(plant: Plant, *, tell: Tell = tell_nobody) -> Inspection:
    """Read every kept file and document against its checksum.

    Parameters
    ----------
    plant
        Open; it may be read only. Others may go on working with it.
    tell
        Told how far it is.
    """
    faults: list[Fault] = []
    known: set[str] = set()
    with plant.database.reading() as session:
        contents = contents_of(session)
        kept = list(kept_files(session))
    meter = Meter(len(kept), sum(each.size_bytes for each in kept), tell)
    for each in kept:
        known.add(each.name)
        fault = _fault(plant, each)
        if fault is not None:
            faults.append(fault)
        meter.add(each.size_bytes)
    elsewhere = plant.about.waveforms if "://" in plant.about.waveforms else ""
    return Inspection(
        contents=contents,
        files=meter.files,
        size_bytes=meter.size_bytes,
        faults=(*faults, *_documents(plant)),
        database_faults=tuple(_database(plant)),
        strays=tuple(_strays(plant, known, waveforms=not elsewhere)),
        elsewhere=elsewhere,
    )


def _fault(plant: Plant, kept: KeptFile) -> Fault | None:
    """Return what is wrong with a file."""
    try:
        _verify(plant, kept)
    except MissingFileError as error:
        kind, where = FaultKind.MISSING, error.where
    except DamagedFileError as error:
        kind, where = FaultKind.DAMAGED, error.where
    else:
        return None
    return Fault(folder=kept.folder, where=where, kind=kind, uses=_uses(plant, _users(kept)))


def _verify(plant: Plant, kept: KeptFile) -> None:
    """Raise unless a file is what was kept."""
    if kept.folder == WAVEFORMS:
        waveform = Waveform(path=kept.path, checksum=kept.checksum, size_bytes=kept.size_bytes)
        plant.measurements.waveforms.content(waveform)
    elif kept.folder == ORIGINALS:
        plant.measurements.originals.verify(kept.checksum)
    else:
        plant.cases.attachments.verify(kept.checksum)


_Users = Select[*tuple[Any, ...]]
"""Site, tag, day, name."""


def _users(kept: KeptFile) -> tuple[_Users, ...]:
    """Return the questions for what a file is needed."""
    of_motor = select(SiteRow.name, MotorRow.tag).join(MotorRow, MotorRow.site_id == SiteRow.id)
    if kept.folder == ATTACHMENTS:
        return (
            of_motor.add_columns(EventRow.day, AttachmentRow.name)
            .join(EventRow, EventRow.motor_id == MotorRow.id)
            .join(AttachmentRow, AttachmentRow.event_id == EventRow.id)
            .where(AttachmentRow.checksum == kept.checksum),
        )
    of_visit = of_motor.add_columns(VisitRow.day).join(VisitRow, VisitRow.motor_id == MotorRow.id)
    of_recording = of_visit.join(RecordingRow, RecordingRow.visit_id == VisitRow.id)
    if kept.folder == WAVEFORMS:
        recordings = of_recording.add_columns(RecordingRow.source)
        return (recordings.where(RecordingRow.waveform == kept.path),)
    files = of_recording.join(
        RecordingFileRow, RecordingFileRow.recording_id == RecordingRow.id
    ).add_columns(RecordingFileRow.name)
    sheets = of_visit.join(TestSheetRow, TestSheetRow.visit_id == VisitRow.id)
    return (
        files.where(RecordingFileRow.checksum == kept.checksum),
        sheets.add_columns(TestSheetRow.source).where(TestSheetRow.checksum == kept.checksum),
        sheets.join(TestSheetFileRow, TestSheetFileRow.test_sheet_id == TestSheetRow.id)
        .add_columns(TestSheetFileRow.name)
        .where(TestSheetFileRow.checksum == kept.checksum),
    )


def _uses(plant: Plant, questions: tuple[_Users, ...]) -> tuple[Use, ...]:
    """Return for what a file is needed, each once."""
    with plant.database.reading() as session:
        found = [
            Use(site=site, tag=tag, day=day, name=name)
            for each in questions
            for site, tag, day, name in session.execute(each)
        ]
    return tuple(dict.fromkeys(found))


def _documents(plant: Plant) -> Iterator[Fault]:
    """Yield the documents of examinations that are damaged."""
    chosen = (
        select(ExaminationDocumentRow, SiteRow.name, MotorRow.tag, ExaminationRow.day)
        .join(ExaminationRow, ExaminationRow.id == ExaminationDocumentRow.examination_id)
        .join(MotorRow, MotorRow.id == ExaminationRow.motor_id)
        .join(SiteRow, SiteRow.id == MotorRow.site_id)
        .order_by(ExaminationRow.id)
        .execution_options(yield_per=_DOCUMENTS_AT_ONCE)
    )
    with plant.database.reading() as session:
        for row, site, tag, day in session.execute(chosen):
            if not _document_is_whole(row):
                name = f"examination {row.examination_id}"
                yield Fault(
                    folder="documents",
                    where=f"{plant.database.where}, {name}",
                    kind=FaultKind.DAMAGED,
                    uses=(Use(site=site, tag=tag, day=day, name=name),),
                )


def _document_is_whole(row: ExaminationDocumentRow) -> bool:
    try:
        return checksum_of(zlib.decompress(row.document)) == row.checksum
    except zlib.error:
        return False


def _database(plant: Plant) -> Iterator[str]:
    """Yield what an SQLite file says against itself; a server looks after its own."""
    if not plant.database.is_sqlite:
        return
    with plant.database.one_state() as connection:
        for (said,) in connection.exec_driver_sql("PRAGMA integrity_check"):
            if said != "ok":
                yield str(said)
        for row in connection.exec_driver_sql("PRAGMA foreign_key_check"):
            yield f"row {row[1]} of table {row[0]} points to nothing in {row[2]}"


def _strays(plant: Plant, known: set[str], *, waveforms: bool) -> Iterator[Stray]:
    """Yield the files in the folder that no row speaks of."""
    for folder in (ORIGINALS, WAVEFORMS, ATTACHMENTS):
        if folder == WAVEFORMS and not waveforms:
            continue
        root = Path(plant.about.waveforms_in(plant.folder)) if folder == WAVEFORMS else None
        yield from _strays_in(root or plant.folder / folder, folder, known)


def _strays_in(root: Path, folder: str, known: set[str]) -> Iterator[Stray]:
    """Yield the files below a folder that no row speaks of."""
    with file_errors(root, "read"):
        for path in sorted(root.rglob("*")):
            name = path.relative_to(root).as_posix()
            if f"{folder}/{name}" not in known and path.is_file():
                size = path.stat().st_size
                yield Stray(path=path, size_bytes=size, kind=_kind_of(name))


def _kind_of(name: str) -> StrayKind:
    """Return what a file without a row is, by its name."""
    if name.rpartition("/")[2].startswith(INCOMING):
        return StrayKind.HALF
    return StrayKind.UNCLAIMED if _KEPT_NAME.fullmatch(name) else StrayKind.FOREIGN
