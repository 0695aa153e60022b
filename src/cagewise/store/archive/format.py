"""The archive of a plant: a zip file with a list of what must be in it.

``manifest.json`` names every other entry with its size and SHA-256. ``history.sqlite`` is the
database, also of a plant that keeps it on a server; ``originals/``, ``waveforms/`` and
``attachments/`` are the files it speaks of, under the names they have in the plant.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

from cagewise.errors import ArchiveError, NewerSchemaError

MANIFEST = "manifest.json"
DATABASE_ENTRY = "history.sqlite"
KIND = "plant of cagewise"
LAYOUT = 1

_HASH = "[0-9a-f]"
_NAME = re.compile(
    rf"history\.sqlite|(originals|attachments)/{_HASH}{{2}}/{_HASH}{{64}}"
    rf"|waveforms/{_HASH}{{2}}/{_HASH}{{64}}(-[0-9A-Za-z_]{{1,40}})?-{_HASH}{{16}}\.parquet"
)
"""All names that an archive can have; nothing else is ever written to the disk."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One file of an archive."""

    name: str
    size_bytes: int
    checksum: str
    """SHA-256 of what is in the archive."""
    damaged: bool = False
    """It was not what the plant had kept when it was exported."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Manifest:
    """What an archive says of itself."""

    plant_id: str
    plant_name: str
    time_zone: str
    schema: str
    """Revision of the database."""
    program_version: str
    exported_at: str
    entries: tuple[Entry, ...]
    missing: tuple[str, ...] = ()
    """Files that the plant had lost when it was exported."""

    @property
    def lost(self) -> tuple[str, ...]:
        """Files that the plant had lost, or that were damaged, when it was exported."""
        return (*self.missing, *(entry.name for entry in self.entries if entry.damaged))

    def to_json(self) -> str:
        """Return the text of the manifest."""
        return json.dumps({"kind": KIND, "layout": LAYOUT, **asdict(self)}, indent=1)


def is_name(name: str) -> bool:
    """Return whether an archive can have an entry of this name."""
    return _NAME.fullmatch(name) is not None


def manifest_from(text: str, where: str) -> Manifest:
    """Return the manifest of an archive.

    Raises
    ------
    NewerSchemaError
        If a later version of the program wrote it.
    ArchiveError
        If it is damaged.
    """
    try:
        table = json.loads(text)
        if table["kind"] != KIND:
            raise damaged("it is another kind of archive", where)
        if table["layout"] > LAYOUT:
            raise NewerSchemaError(
                f"it was written by a later version of the program (layout {table['layout']})",
                where=where,
                remedy="Bring this installation up to date.",
            )
        manifest = Manifest(
            **{name: str(table[name]) for name in _TEXTS},
            entries=tuple(_entry(each) for each in table["entries"]),
            missing=tuple(str(name) for name in table["missing"]),
        )
    except (KeyError, TypeError, ValueError, RecursionError) as error:
        raise damaged(f"its manifest cannot be read ({type(error).__name__})", where) from error
    return manifest


_TEXTS = ("plant_id", "plant_name", "time_zone", "schema", "program_version", "exported_at")


def _entry(said: Mapping[str, Any]) -> Entry:
    """Return one entry."""
    return Entry(
        name=str(said["name"]),
        size_bytes=int(said["size_bytes"]),
        checksum=str(said["checksum"]),
        damaged=bool(said["damaged"]),
    )


def damaged(what: str, where: str) -> ArchiveError:
    """Return the error for an archive that cannot be used."""
    return ArchiveError(
        what,
        where=where,
        remedy="Copy the archive again from where it was made; nothing was written.",
    )
