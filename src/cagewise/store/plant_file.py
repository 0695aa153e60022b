"""``plant.toml``: what makes a folder a plant."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path
from zoneinfo import ZoneInfo

from cagewise.errors import NewerSchemaError, PlantFolderError
from cagewise.store.durable import file_errors, write_whole
from cagewise.store.steps import Step, no_step

NAME = "plant.toml"
FOLDER_SCHEMA = 1
"""Number of the layout of the folder; of the database see ``schema``."""

DATABASE = "history.sqlite"
WAVEFORMS = "waveforms"
_REMEDY = "Correct the file, or make a new plant in an empty folder."


@dataclass(frozen=True, slots=True, kw_only=True)
class PlantFile:
    """The content of ``plant.toml``."""

    plant_id: str
    """Made when the plant was created; the database holds the same."""
    name: str = ""
    time_zone: str = "UTC"
    """Of the plant's calendar and of instruments that state none, as in ``Europe/Zurich``."""
    database: str = DATABASE
    """A file in the folder, or the URL of a PostgreSQL database, without a password."""
    waveforms: str = WAVEFORMS
    """A folder in the folder, or an fsspec URL."""

    @property
    def zone(self) -> ZoneInfo:
        """The time zone."""
        return zone_named(self.time_zone, NAME)

    def waveforms_in(self, folder: Path) -> str:
        """Return the place of the waveforms: an URL, or a path."""
        return self.waveforms if "://" in self.waveforms else str(folder / self.waveforms)


def zone_named(name: str, where: str) -> ZoneInfo:
    """Return a time zone.

    Raises
    ------
    PlantFolderError
        If there is no such zone.
    """
    try:
        return ZoneInfo(name)
    except (KeyError, ValueError, OSError) as error:
        raise PlantFolderError(
            f"there is no time zone {name!r}",
            where=where,
            remedy='Write it as in "Europe/Zurich" or "UTC".',
        ) from error


def read_plant_file(folder: Path) -> PlantFile:
    """Return what ``plant.toml`` of a folder says.

    Raises
    ------
    PlantFolderError
        If the folder is no plant, or the file cannot be used.
    NewerSchemaError
        If a later version of the program made the folder.
    """
    path = folder / NAME
    if not path.is_file():
        raise PlantFolderError(
            f"this folder is no plant (it has no {NAME})",
            where=str(folder),
            remedy="Name the folder of a plant, or create one.",
        )
    with file_errors(path, "read"):
        content = path.read_bytes()
    try:
        table = tomllib.loads(content.decode("utf-8-sig"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise PlantFolderError(
            f"this is not TOML: {error}", where=str(path), remedy=_REMEDY
        ) from error
    return _checked(table, path)


def _checked(table: Mapping[str, object], path: Path) -> PlantFile:
    """Return the content of the file after looking at every key."""
    schema = table.get("schema")
    if isinstance(schema, int) and schema > FOLDER_SCHEMA:
        raise NewerSchemaError(
            f"it was written by a later version of the program (layout {schema})",
            where=str(path),
            remedy="Bring this installation up to date; nothing was changed.",
        )
    texts = {"plant": "", "name": "", "time_zone": "UTC"}
    texts |= {"database": DATABASE, "waveforms": WAVEFORMS}
    for key, value in table.items():
        if key != "schema" and key not in texts:
            close = get_close_matches(key, texts, n=1)
            hint = f"Did you mean `{close[0]}`?" if close else _REMEDY
            raise PlantFolderError(f"unknown key `{key}`", where=str(path), remedy=hint)
        if key != "schema" and not isinstance(value, str):
            raise PlantFolderError(f"`{key}` must be text", where=str(path), remedy=_REMEDY)
    if schema != FOLDER_SCHEMA or not table.get("plant"):
        raise PlantFolderError(
            "it does not say `schema = 1` and which `plant` it is", where=str(path), remedy=_REMEDY
        )
    said = texts | {key: str(value) for key, value in table.items()}
    zone_named(said["time_zone"], str(path))
    return PlantFile(
        plant_id=said["plant"],
        name=said["name"],
        time_zone=said["time_zone"],
        database=said["database"],
        waveforms=said["waveforms"],
    )


def write_plant_file(folder: Path, content: PlantFile, step: Step = no_step) -> None:
    """Write ``plant.toml``."""
    lines = {
        "plant": content.plant_id,
        "name": content.name,
        "time_zone": content.time_zone,
        "database": content.database,
        "waveforms": content.waveforms,
    }
    text = f"# A plant of cagewise; see docs/history.md.\nschema = {FOLDER_SCHEMA}\n"
    text += "".join(f"{k} = {json.dumps(v, ensure_ascii=False)}\n" for k, v in lines.items())
    path = folder / NAME
    with file_errors(path):
        write_whole(path, text.encode("utf-8"), step)
