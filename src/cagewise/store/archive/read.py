"""A plant out of an archive, verified before anything of it can be seen."""

from __future__ import annotations

import hashlib
import os
import secrets
import shutil
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from zipfile import BadZipFile, ZipFile, ZipInfo

from cagewise.errors import PlantFolderError, StoreFullError
from cagewise.store.archive.check import checked_infos, read_manifest
from cagewise.store.archive.format import Entry, Manifest, damaged
from cagewise.store.archive.settle import settle_database
from cagewise.store.contents import Contents
from cagewise.store.durable import INCOMING, clear_abandoned, file_errors, make_folder, sync_folder
from cagewise.store.kept_files import ATTACHMENTS, ORIGINALS
from cagewise.store.places import place_at
from cagewise.store.plant_file import DATABASE, WAVEFORMS, PlantFile, write_plant_file
from cagewise.store.progress import Meter, Tell, tell_nobody
from cagewise.store.steps import Step, no_step
from cagewise.store.vault import BLOCK_BYTES


@dataclass(frozen=True, slots=True, kw_only=True)
class Restored:
    """What was read."""

    folder: Path
    files: int
    """Beside the database."""
    size_bytes: int
    lost: tuple[str, ...]
    """Files that the plant had lost already when it was exported."""
    contents: Contents


def restore(
    archive: Path,
    folder: Path,
    *,
    database: str = DATABASE,
    waveforms: str = WAVEFORMS,
    tell: Tell = tell_nobody,
    step: Step = no_step,
) -> Restored:
    """Make a plant from an archive, in a folder that is empty or not there.

    Everything is checked against the manifest, the database against itself and against the files;
    only then does the folder get its name.

    Parameters
    ----------
    archive
        As :func:`export` writes it.
    folder
        Of the new plant.
    database
        As for :meth:`Plant.create`; a plant can move to a server this way, or back.
    waveforms
        As for :meth:`Plant.create`.
    tell
        Told how far it is.
    step
        For tests.

    Raises
    ------
    ArchiveError
        If the archive is damaged, incomplete, or made to do harm. Nothing is left behind.
    NewerSchemaError
        If a later version of the program wrote it.
    PlantFolderError
        If something is in the folder, or in the database of a server.
    StoreFullError
        If there is not enough space.
    """
    folder = folder.resolve()
    _require_empty(folder)
    where = str(archive)
    with file_errors(archive, "read"), opened(archive) as zipped:
        manifest = read_manifest(zipped, where)
        infos = checked_infos(zipped, manifest, where)
        with file_errors(folder), _building(folder) as building:
            _require_space(manifest, building)
            meter = meter_of(manifest, tell)
            for entry in manifest.entries:
                _unpack(zipped, infos[entry.name], entry, building / entry.name)
                meter.add(entry.size_bytes)
                step("file restored")
            contents = settle_database(manifest, building, database, where, step)
            _settle_waveforms(manifest, building, waveforms)
            about = PlantFile(
                plant_id=manifest.plant_id,
                name=manifest.plant_name,
                time_zone=manifest.time_zone,
                database=database,
                waveforms=waveforms,
            )
            write_plant_file(building, about, step)
            if folder.exists():
                folder.rmdir()
            building.rename(folder)
            step("folder named")
            sync_folder(folder.parent)
    return Restored(
        folder=folder,
        files=len(manifest.entries) - 1,
        size_bytes=sum(entry.size_bytes for entry in manifest.entries),
        lost=manifest.lost,
        contents=contents,
    )


def _require_empty(folder: Path) -> None:
    """Raise if there is anything in a folder."""
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise PlantFolderError(
            "there is something already",
            where=str(folder),
            remedy="Name an empty folder, or one that is not there yet.",
        )


@contextmanager
def opened(archive: Path) -> Iterator[ZipFile]:
    """Open the zip file; what is wrong with it inside the block is one error."""
    try:
        with ZipFile(archive) as zipped:
            yield zipped
    except (BadZipFile, zlib.error, EOFError, NotImplementedError, UnicodeError) as error:
        raise damaged(f"it is damaged, or no archive ({error})", str(archive)) from error


@contextmanager
def _building(folder: Path) -> Iterator[Path]:
    """Give a new folder beside the final one; it is removed unless it was renamed."""
    make_folder(folder.parent)
    clear_abandoned(folder.parent)
    building = folder.parent / f"{INCOMING}{os.getpid()}-{secrets.token_hex(8)}"
    for each in (building, building / ORIGINALS, building / ATTACHMENTS):
        each.mkdir()
    try:
        yield building
    finally:
        shutil.rmtree(building, ignore_errors=True)


def _require_space(manifest: Manifest, building: Path) -> None:
    """Raise if there is not enough space; an archive that claims too much ends here."""
    needed = sum(entry.size_bytes for entry in manifest.entries)
    free = shutil.disk_usage(building).free
    if needed > free:
        raise StoreFullError(
            f"the plant needs {needed / 2**30:.3g} GiB, {free / 2**30:.3g} GiB are free",
            where=str(building.parent),
            remedy="Make space, or restore it elsewhere.",
        )


def _unpack(zipped: ZipFile, info: ZipInfo, entry: Entry, target: Path) -> None:
    """Write one entry and check it."""
    target.parent.mkdir(parents=True, exist_ok=True)
    with target.open("xb") as stream:
        for block in checked_blocks(zipped, info, entry):
            stream.write(block)
        stream.flush()
        os.fsync(stream.fileno())


def checked_blocks(zipped: ZipFile, info: ZipInfo, entry: Entry) -> Iterator[bytes]:
    """Yield the bytes of one entry, never more than its stated size.

    Raises
    ------
    ArchiveError
        After the last one, if they are not what was exported.
    """
    digest, left = hashlib.sha256(), entry.size_bytes
    with zipped.open(info) as source:
        while left > 0 and (block := source.read(min(BLOCK_BYTES, left))):
            digest.update(block)
            yield block
            left -= len(block)
    if digest.hexdigest() != entry.checksum:
        raise damaged(f"{entry.name} is not what was exported", zipped.filename or "")


def meter_of(manifest: Manifest, tell: Tell) -> Meter:
    """Return what counts the files of an archive."""
    size = sum(entry.size_bytes for entry in manifest.entries)
    return Meter(len(manifest.entries), size, tell)


def _settle_waveforms(manifest: Manifest, building: Path, wanted: str) -> None:
    """Put the waveforms where they are wanted."""
    if wanted == WAVEFORMS:
        return
    place = place_at(wanted if "://" in wanted else str(building / wanted))
    for entry in manifest.entries:
        folder, _, name = entry.name.partition("/")
        if folder == WAVEFORMS:
            place.write(name, (building / entry.name).read_bytes())
    shutil.rmtree(building / WAVEFORMS, ignore_errors=True)
