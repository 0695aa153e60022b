"""Use cases: a whole plant to one file and back, and whether everything is there."""

from __future__ import annotations

from pathlib import Path

from cagewise.errors import ArchiveError, DamagedFileError, MissingFileError
from cagewise.store import Exported, Inspection, Plant, Restored, Verified, export, inspect
from cagewise.store import restore as restore_archive
from cagewise.store import verify as verify_archive
from cagewise.store.plant_file import DATABASE, WAVEFORMS
from cagewise.store.progress import Tell, tell_nobody
from cagewise.workflows.files import require_writable

AFTER_LOSS = (
    '"cagewise plant-check" names all of them and what to do; --accept-loss writes what is left.'
)


def export_plant(
    plant: Plant,
    archive: Path,
    *,
    overwrite: bool = False,
    accept_loss: bool = False,
    tell: Tell = tell_nobody,
) -> Exported:
    """Write everything that a plant keeps into one file, in one state.

    Parameters
    ----------
    plant
        Open; others go on working with it.
    archive
        The zip file; it gets this name when it is whole.
    overwrite
        Whether it may replace a file.
    accept_loss
        Whether to write what is left of a plant that has lost files.
    tell
        Told how far it is.

    Raises
    ------
    OutputError
        If the file exists, or its folder does not.
    StoreError
        If the plant has lost files and that was not accepted, or the archive cannot be written.
    """
    require_writable([archive], overwrite=overwrite)
    try:
        return export(plant, archive, overwrite=overwrite, accept_loss=accept_loss, tell=tell)
    except (MissingFileError, DamagedFileError) as error:
        raise type(error)(error.what, where=error.where, remedy=AFTER_LOSS) from error


def restore_plant(
    archive: Path,
    folder: Path,
    *,
    database: str = "",
    waveforms: str = "",
    tell: Tell = tell_nobody,
) -> Restored:
    """Make a plant from an archive; what is left empty is as the store has it.

    Parameters
    ----------
    archive
        As :func:`export_plant` writes it.
    folder
        Empty, or not there yet.
    database, waveforms
        Addresses of a server and of a place of waveforms, where they shall not be in the folder.
    tell
        Told how far it is.

    Raises
    ------
    StoreError
        If the archive cannot be used, or something is in the folder or in the database.
    """
    _require_file(archive)
    return restore_archive(
        archive, folder, database=database or DATABASE, waveforms=waveforms or WAVEFORMS, tell=tell
    )


def verify_plant_archive(archive: Path, *, tell: Tell = tell_nobody) -> Verified:
    """Read an archive through as a restore would; no plant is made.

    Raises
    ------
    StoreError
        If no plant would come out of it.
    """
    _require_file(archive)
    return verify_archive(archive, tell=tell)


def check_plant(plant: Plant, *, tell: Tell = tell_nobody) -> Inspection:
    """Read everything that a plant keeps against its checksums."""
    return inspect(plant, tell=tell)


def _require_file(archive: Path) -> None:
    """Raise if there is no file of that name."""
    if not archive.is_file():
        raise ArchiveError(
            "there is no such file",
            where=str(archive),
            remedy='Name an archive that "cagewise export" has written.',
        )
