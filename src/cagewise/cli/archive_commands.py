"""The commands that keep a plant safe: export, restore, verify, plant-check."""

from __future__ import annotations

from pathlib import Path
from time import monotonic
from typing import Annotated

from cyclopts import App, Parameter

from cagewise.cli.options import PageOptions
from cagewise.cli.plant_options import PlantOptions
from cagewise.cli.status import ExitStatus
from cagewise.cli.streams import Streams

Injected = Annotated[Streams, Parameter(parse=False)]


def add_archive_commands(app: App) -> None:
    """Give a command line the commands."""
    app.command(export)
    app.command(restore)
    app.command(verify)
    app.command(plant_check)


def export(
    archive: Path,
    /,
    *,
    accept_loss: bool = False,
    force: bool = False,
    plant: PlantOptions | None = None,
    page: PageOptions | None = None,
    streams: Injected,
) -> ExitStatus:
    """Write a whole plant into one archive, in one state, while others go on working with it.

    Every file is read against its checksum. The archive gets its name when it is whole; stopped
    before, nothing is left under that name, or the old one.

    Parameters
    ----------
    archive
        Zip file to write.
    accept_loss
        Write what is left of a plant that has lost files, and list what is lost.
    force
        Replace an existing archive.
    """
    from cagewise.cli.progress import bar_of_bytes
    from cagewise.cli.show_archive import show_exported
    from cagewise.workflows.files import require_writable
    from cagewise.workflows.plant_archive import export_plant
    from cagewise.workflows.plant_folder import look_into_plant

    begin, where = monotonic(), plant or PlantOptions()
    require_writable([archive], overwrite=force)
    with look_into_plant(where.plant) as opened, bar_of_bytes("exporting", streams) as tell:
        done = export_plant(opened, archive, overwrite=force, accept_loss=accept_loss, tell=tell)
    show_exported(done, monotonic() - begin, page or PageOptions(), streams)
    return ExitStatus.EXAMINED


def restore(
    archive: Path,
    folder: Path,
    /,
    *,
    database: str = "",
    waveforms: str = "",
    page: PageOptions | None = None,
    streams: Injected,
) -> ExitStatus:
    """Make a plant from an archive, in a folder that is empty or not there yet.

    Everything is checked first against the list in the archive; the folder gets its name when the
    plant in it is whole. A folder that holds something is never touched.

    Parameters
    ----------
    archive
        As "cagewise export" writes it.
    folder
        Of the new plant.
    database
        URL of an empty PostgreSQL database, without a password; a file in the folder if left out.
    waveforms
        Where waveforms are kept, as an fsspec URL; in the folder if left out.
    """
    from cagewise.cli.progress import bar_of_bytes
    from cagewise.cli.show_archive import show_restored
    from cagewise.workflows.plant_archive import restore_plant

    begin = monotonic()
    with bar_of_bytes("restoring", streams) as tell:
        done = restore_plant(archive, folder, database=database, waveforms=waveforms, tell=tell)
    show_restored(done, folder, monotonic() - begin, page or PageOptions(), streams)
    return ExitStatus.EXAMINED


def verify(archive: Path, /, *, page: PageOptions | None = None, streams: Injected) -> ExitStatus:
    """Say whether a plant would come out of an archive whole; no plant is made.

    Parameters
    ----------
    archive
        As "cagewise export" writes it.
    """
    from cagewise.cli.progress import bar_of_bytes
    from cagewise.cli.show_archive import show_verified
    from cagewise.workflows.plant_archive import verify_plant_archive

    begin = monotonic()
    with bar_of_bytes("verifying", streams) as tell:
        done = verify_plant_archive(archive, tell=tell)
    show_verified(done, monotonic() - begin, page or PageOptions(), streams)
    return ExitStatus.EXAMINED


def plant_check(
    *,
    every: bool = False,
    plant: PlantOptions | None = None,
    page: PageOptions | None = None,
    streams: Injected,
) -> ExitStatus:
    """Read every kept file against its checksum; say what is missing or damaged and what to do.

    Nothing is changed. The exit status is 9 if anything is missing or damaged.

    Parameters
    ----------
    every
        Name every file, not only the first few of each kind.
    """
    from cagewise.cli.progress import bar_of_bytes
    from cagewise.cli.show_inspection import show_inspection
    from cagewise.workflows.plant_archive import check_plant
    from cagewise.workflows.plant_folder import look_into_plant

    begin, where = monotonic(), plant or PlantOptions()
    with look_into_plant(where.plant) as opened, bar_of_bytes("reading", streams) as tell:
        found = check_plant(opened, tell=tell)
    seconds = monotonic() - begin
    show_inspection(found, seconds, page or PageOptions(), streams, every=every)
    return ExitStatus.EXAMINED if found.is_whole else ExitStatus.PLANT
