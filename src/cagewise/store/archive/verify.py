"""Whether a plant would come out of an archive whole, without making one."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from zipfile import ZipFile, ZipInfo

from cagewise.store.archive.check import checked_infos, read_manifest
from cagewise.store.archive.format import DATABASE_ENTRY, Entry, Manifest
from cagewise.store.archive.read import checked_blocks, meter_of, opened
from cagewise.store.archive.settle import checked_database
from cagewise.store.contents import Contents
from cagewise.store.durable import file_errors
from cagewise.store.progress import Tell, tell_nobody
from cagewise.store.steps import no_step


@dataclass(frozen=True, slots=True, kw_only=True)
class Verified:
    """An archive that holds what it says."""

    archive: Path
    plant_name: str
    exported_at: str
    """Instant, ISO 8601."""
    program_version: str
    """That wrote it."""
    files: int
    """Beside the database."""
    size_bytes: int
    """Before compression."""
    lost: tuple[str, ...]
    """Files that the plant had lost already when it was exported."""
    contents: Contents


def verify(archive: Path, *, tell: Tell = tell_nobody) -> Verified:
    """Read an archive through as :func:`restore` does; nothing but its database is copied, aside.

    Parameters
    ----------
    archive
        As :func:`export` writes it.
    tell
        Told how far it is.

    Raises
    ------
    ArchiveError
        If the archive is damaged, incomplete, or made to do harm.
    NewerSchemaError
        If a later version of the program wrote it.
    """
    where = str(archive)
    with file_errors(archive, "read"), opened(archive) as zipped:
        manifest = read_manifest(zipped, where)
        infos = checked_infos(zipped, manifest, where)
        meter = meter_of(manifest, tell)
        contents = _database_checked(zipped, infos[DATABASE_ENTRY], manifest, where)
        for entry in manifest.entries:
            for _ in checked_blocks(zipped, infos[entry.name], entry):
                pass
            meter.add(entry.size_bytes)
    return Verified(
        archive=archive,
        plant_name=manifest.plant_name,
        exported_at=manifest.exported_at,
        program_version=manifest.program_version,
        files=len(manifest.entries) - 1,
        size_bytes=meter.size_bytes,
        lost=manifest.lost,
        contents=contents,
    )


def _database_checked(zipped: ZipFile, info: ZipInfo, manifest: Manifest, where: str) -> Contents:
    """Return what the database of an archive holds, after it was checked in a passing folder."""
    entry = next(each for each in manifest.entries if each.name == DATABASE_ENTRY)
    with TemporaryDirectory(prefix="cagewise-") as name, file_errors(name):
        folder = Path(name)
        _copy(zipped, info, entry, folder / DATABASE_ENTRY)
        with checked_database(manifest, folder, where, no_step) as (_, contents):
            return contents


def _copy(zipped: ZipFile, info: ZipInfo, entry: Entry, target: Path) -> None:
    """Write one entry, checked."""
    with target.open("xb") as stream:
        for block in checked_blocks(zipped, info, entry):
            stream.write(block)
