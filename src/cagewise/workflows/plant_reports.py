"""What is stated about an import, and what became of each file."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum
from pathlib import Path

from cagewise.workflows.plant_decode import Statement


class Fate(StrEnum):
    """What became of a file."""

    IMPORTED = "imported"
    KNOWN = "there already"
    REFUSED = "refused"
    FOREIGN = "passed over"
    """Found in a folder, and no recording by its name either."""


class MappedBy(StrEnum):
    """How it was known to which motor a file belongs."""

    STATED = "--motor"
    FOLDER = "name of the folder"
    SHEET = "tag in the sheet"
    BEFORE = "import before"


@dataclass(frozen=True, slots=True, kw_only=True)
class ImportOptions:
    """What the user states beside the files."""

    tag: str | None = None
    """Motor of all files; else the nearest folder whose name is a tag, else the sheet's own."""
    site: str | None = None
    day: date | None = None
    """When recordings that do not say it were made."""
    statement: Statement = field(default_factory=Statement)
    again: bool = False
    """Read files again that are known, and take those that another motor has too."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FileReport:
    """What became of one recording or test sheet."""

    path: Path
    fate: Fate
    is_sheet: bool = False
    tag: str = ""
    """Of the motor it belongs to, where that is known."""
    mapped_by: MappedBy | None = None
    day: date | None = None
    """Of the visit."""
    reason: str = ""
    """Why it was refused, as a clause."""
    remedy: str = ""
