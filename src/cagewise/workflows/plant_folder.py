"""Use cases: which plant is meant, and making a new one."""

from __future__ import annotations

import os
from pathlib import Path

from cagewise.errors import PlantFolderError, StoreReadOnlyError
from cagewise.store import Plant
from cagewise.store.plant_file import DATABASE, WAVEFORMS
from cagewise.store.plant_file import NAME as PLANT_FILE

VARIABLE = "CAGEWISE_PLANT"
"""Environment variable that names the folder of the plant."""

USUAL = Path("plant")
"""Folder that is taken when nobody names one, if it is a plant."""

UTC = "UTC"
"""Time zone of a plant that nobody gave one."""

REMEDY = (
    f"Name it with --plant FOLDER or in the environment variable {VARIABLE}, or make one with "
    f'"cagewise plant-new {USUAL}" where you are now.'
)


def plant_folder(stated: Path | None = None) -> Path:
    """Return the folder of the plant: the one stated, else of the environment, else ``./plant``.

    Raises
    ------
    PlantFolderError
        If none of them names a plant.
    """
    named = os.environ.get(VARIABLE, "").strip()
    if stated is not None:
        return _of(stated, "--plant")
    if named:
        return _of(Path(named), VARIABLE)
    if is_plant(USUAL):
        return USUAL
    raise PlantFolderError("it is not known which plant is meant", remedy=REMEDY)


def is_plant(folder: Path) -> bool:
    """Return whether a folder holds a plant."""
    return (folder / PLANT_FILE).is_file()


def open_plant(stated: Path | None = None) -> Plant:
    """Open the plant that is meant, to write into it; use it in a ``with`` block.

    Raises
    ------
    StoreError
        As :func:`plant_folder` and :meth:`cagewise.store.Plant.open`.
    """
    return Plant.open(plant_folder(stated))


def look_into_plant(stated: Path | None = None) -> Plant:
    """Open the plant that is meant, to read it; also where nothing may be written.

    Raises
    ------
    StoreError
        As :func:`open_plant`.
    """
    folder = plant_folder(stated)
    try:
        return Plant.open(folder)
    except StoreReadOnlyError:
        return Plant.open(folder, read_only=True)


def new_plant(
    folder: Path, *, name: str = "", time_zone: str = "", database: str = "", waveforms: str = ""
) -> Plant:
    """Make a plant and open it; what is left empty is as the store has it.

    Raises
    ------
    StoreError
        If something else is in the folder or the database, or the time zone is not known.
    """
    return Plant.create(
        folder,
        name=name,
        time_zone=time_zone or UTC,
        database=database or DATABASE,
        waveforms=waveforms or WAVEFORMS,
    )


def _of(folder: Path, where: str) -> Path:
    """Return a folder that was named, if it is a plant."""
    if is_plant(folder):
        return folder
    what = f"there is no {PLANT_FILE} in it" if folder.is_dir() else "there is no such folder"
    raise PlantFolderError(
        f"{folder} is no plant: {what}",
        where=where,
        remedy=f'Name the folder of a plant, or make it one with "cagewise plant-new {folder}".',
    )
