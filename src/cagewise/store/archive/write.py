"""A whole plant into one file."""

from __future__ import annotations

import hashlib
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import BinaryIO
from zipfile import ZIP_DEFLATED, ZIP_STORED, ZipFile

from sqlalchemy.exc import DBAPIError

from cagewise import __version__
from cagewise.errors import DamagedFileError, MissingFileError, OutputError, StoreError
from cagewise.store import schema
from cagewise.store.archive.copy_rows import copy_rows
from cagewise.store.archive.format import DATABASE_ENTRY, MANIFEST, Entry, Manifest
from cagewise.store.contents import Contents, contents_of
from cagewise.store.database import Database, parse_url
from cagewise.store.database_errors import database_error
from cagewise.store.durable import clear_abandoned, file_errors, incoming
from cagewise.store.instants import instant_text, now
from cagewise.store.kept_files import ORIGINALS, WAVEFORMS, KeptFile, kept_files
from cagewise.store.plant import Plant
from cagewise.store.progress import Meter, Tell, tell_nobody
from cagewise.store.records import checksum_of
from cagewise.store.steps import Step, no_step
from cagewise.store.vault import BLOCK_BYTES

_LEVEL = 1
"""Of compression: originals shrink nearly as much as at higher levels, in a third of the time."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Exported:
    """What was written."""

    archive: Path
    files: int
    """Beside the database."""
    size_bytes: int
    """Of the files before compression."""
    lost: tuple[str, ...]
    """Files that were missing or damaged in the plant; empty unless that was accepted."""
    contents: Contents


@dataclass(slots=True, kw_only=True)
class _Writing:
    """What has been written so far."""

    archive: ZipFile
    meter: Meter
    entries: list[Entry] = field(default_factory=list)
    missing: list[str] = field(default_factory=list)
    faults: list[StoreError] = field(default_factory=list)


def export(
    plant: Plant,
    archive: Path,
    *,
    overwrite: bool = False,
    accept_loss: bool = False,
    tell: Tell = tell_nobody,
    step: Step = no_step,
) -> Exported:
    """Write everything that a plant keeps into one file, in one state, while others go on working.

    Parameters
    ----------
    plant
        Open.
    archive
        The zip file; it appears under this name when it is whole.
    overwrite
        Whether it may replace a file.
    accept_loss
        Whether to write what is left of a plant that has lost files. Without it the first loss
        ends the export.
    tell
        Told how far it is.
    step
        For tests.

    Raises
    ------
    OutputError
        If the file exists.
    MissingFileError, DamagedFileError
        If the plant has lost files and that was not accepted.
    StoreError
        If the archive cannot be written; nothing is left behind.
    """
    archive = archive.resolve()
    if archive.exists() and not overwrite:
        raise OutputError(
            "the file exists and was left as it is",
            where=str(archive),
            remedy="Choose another name, or allow it to be replaced.",
        )
    clear_abandoned(archive.parent)
    with (
        file_errors(archive),
        _snapshot(plant, archive.parent, step) as database,
        incoming(archive.parent, step) as file,
    ):
        with ZipFile(file.stream, "w", ZIP_DEFLATED, compresslevel=_LEVEL) as zipped:
            writing = _Writing(archive=zipped, meter=_meter(database, tell))
            with database.file.open("rb") as stream:
                _add(writing, DATABASE_ENTRY, stream)
            with database.reading() as session:
                contents = contents_of(session)
                for kept in kept_files(session):
                    _add_kept(writing, plant, kept, accept_loss=accept_loss)
                    step("file exported")
            _finish(writing, plant)
        file.settle(archive)
    return Exported(
        archive=archive,
        files=len(writing.entries) - 1,
        size_bytes=sum(entry.size_bytes for entry in writing.entries),
        lost=tuple(f"{fault.where}: {fault.what}" for fault in writing.faults),
        contents=contents,
    )


def _meter(database: Database, tell: Tell) -> Meter:
    """Return what counts the files of an export."""
    files, size = 1, database.file.stat().st_size
    with database.reading() as session:
        for kept in kept_files(session):
            files, size = files + 1, size + kept.size_bytes
    return Meter(files, size, tell)


@contextmanager
def _snapshot(plant: Plant, folder: Path, step: Step) -> Iterator[Database]:
    """Give an SQLite database that holds one state of the plant; it is removed afterwards."""
    with incoming(folder) as file:
        path = Path(file.stream.name)
        source = plant.database
        if source.is_sqlite:
            _copy_from_file(source, path, folder)
        else:
            _copy_from_server(source, path)
        step("snapshot taken")
        copy = Database(parse_url(str(path), folder), read_only=True)
        try:
            yield copy
        finally:
            copy.close()


def _copy_from_file(source: Database, path: Path, folder: Path) -> None:
    """Write one state of an SQLite file into another; the file may be one that is only read."""
    with source.one_state() as connection, closing(sqlite3.connect(path)) as target:
        raw = connection.connection.driver_connection
        assert isinstance(raw, sqlite3.Connection)  # noqa: S101 - for the type checker
        try:
            raw.backup(target)
            target.execute("PRAGMA journal_mode = DELETE")
        except sqlite3.Error as error:
            raise database_error(DBAPIError(None, None, error), str(folder)) from error


def _copy_from_server(source: Database, path: Path) -> None:
    """Write the rows of a server, in one state, into an SQLite file."""
    target = Database(parse_url(str(path), path.parent))
    try:
        with target.connection() as rows:
            schema.upgrade(rows)
            with source.one_state() as connection:
                copy_rows(connection, rows)
    finally:
        target.close()


def _add_kept(writing: _Writing, plant: Plant, kept: KeptFile, *, accept_loss: bool) -> None:
    """Add a file of the plant, checked."""
    try:
        if kept.folder == WAVEFORMS:
            _add_waveform(writing, plant, kept)
        else:
            files = plant.measurements.originals
            vault = files if kept.folder == ORIGINALS else plant.cases.attachments
            with vault.open(kept.checksum) as stream:
                _add(writing, kept.name, stream, expected=kept.checksum)
    except MissingFileError as fault:
        writing.missing.append(kept.name)
        writing.faults.append(fault)
        writing.meter.add(kept.size_bytes)
    if writing.faults and not accept_loss:
        raise writing.faults[-1]


def _add_waveform(writing: _Writing, plant: Plant, kept: KeptFile) -> None:
    """Add a waveform as it is: Parquet is compressed already."""
    content = plant.measurements.waveforms.place.read(kept.path)
    writing.archive.writestr(kept.name, content, ZIP_STORED)
    _note(writing, kept.name, len(content), checksum_of(content), kept.checksum)


def _add(writing: _Writing, name: str, stream: BinaryIO, *, expected: str = "") -> None:
    """Add an entry while hashing it."""
    digest, size = hashlib.sha256(), 0
    with writing.archive.open(name, "w", force_zip64=True) as entry:
        while block := stream.read(BLOCK_BYTES):
            digest.update(block)
            entry.write(block)
            size += len(block)
    _note(writing, name, size, digest.hexdigest(), expected)


def _note(writing: _Writing, name: str, size: int, found: str, expected: str) -> None:
    """Note an entry, and the fault if it is not what was expected."""
    damaged = bool(expected) and found != expected
    writing.entries.append(Entry(name=name, size_bytes=size, checksum=found, damaged=damaged))
    writing.meter.add(size)
    if damaged:
        writing.faults.append(
            DamagedFileError(
                "the bytes are not those that were kept (the checksum differs)",
                where=name,
                remedy="Copy it back from a backup, or accept the loss.",
            )
        )


def _finish(writing: _Writing, plant: Plant) -> None:
    """Write the manifest."""
    manifest = Manifest(
        plant_id=plant.about.plant_id,
        plant_name=plant.about.name,
        time_zone=plant.about.time_zone,
        schema=schema.HEAD,
        program_version=__version__,
        exported_at=instant_text(now()),
        entries=tuple(writing.entries),
        missing=tuple(writing.missing),
    )
    writing.archive.writestr(MANIFEST, manifest.to_json())
