"""A test sheet as it is written: tables of headed cells, before anybody asks what they mean.

All three kinds of file are read into this and written from it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from typing import TypeAlias

from cagewise.machine.crosscheck import Fault


@dataclass(frozen=True, slots=True)
class Unusable:
    """Why nobody may use what stands in a cell."""

    what: str
    remedy: str = ""

    def __str__(self) -> str:
        return self.what


COMMENT = "#"

Raw: TypeAlias = str | int | float | Decimal | bool | date | Unusable | None
"""Content of a cell; None or blank text where nothing was measured."""


@dataclass(frozen=True, slots=True)
class Cell:
    """One cell and the row it stands in."""

    raw: Raw
    row: int = 0

    @property
    def blank(self) -> bool:
        """Whether nothing stands here: not measured."""
        return is_blank(self.raw)


def is_blank(raw: Raw) -> bool:
    """Return whether a cell holds nothing."""
    return raw is None or (isinstance(raw, str) and not raw.strip())


@dataclass(frozen=True, slots=True)
class Entry:
    """A heading and the one cell beside it, or the cells below it."""

    heading: str
    cells: tuple[Cell, ...]

    @property
    def blank(self) -> bool:
        """Whether all cells are blank."""
        return all(cell.blank for cell in self.cells)


@dataclass(slots=True)
class Table:
    """One test, or the head of the sheet."""

    name: str
    """Of the table's kind, as in ``[position]``."""
    place: str
    """Where it stands, for a message."""
    row_word: str = "row"
    """What a row is called in this kind of file."""
    fields: list[Entry] = field(default_factory=list)
    """Headings with one cell each."""
    columns: list[Entry] = field(default_factory=list)
    """Headings over cells; all of one length when written."""
    notes: tuple[str, ...] = ()
    """Remarks for whoever fills it in; written as comments, never read."""
    title: str = ""
    """Name of the worksheet, where there are worksheets."""

    def where(self, heading: str, row: int = 0) -> str:
        """Return place, row and heading for a message."""
        parts = [self.place, f"{self.row_word} {row}" if row else "", heading]
        return ", ".join(part for part in parts if part)


@dataclass(slots=True)
class Form:
    """All tables of one file."""

    tables: list[Table] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)
    """What could not even be brought into tables."""


def is_comment(raw: object) -> bool:
    """Return whether a cell is a note: ``#`` and a blank (``#N/A`` is a fault of a spreadsheet)."""
    return isinstance(raw, str) and (
        raw.strip() == COMMENT or raw.strip().startswith(f"{COMMENT} ")
    )


def field_entry(heading: str, raw: Raw) -> Entry:
    """Return a heading with one cell."""
    return Entry(heading, (Cell(raw),))


def column_entry(heading: str, raws: Iterable[Raw]) -> Entry:
    """Return a heading over cells."""
    return Entry(heading, tuple(Cell(raw, row) for row, raw in enumerate(raws, start=1)))


def several(rows: Sequence[int]) -> str:
    """Return row numbers for a message, the first few in full."""
    shown = ", ".join(str(row) for row in rows[:SHOWN_ROWS])
    return shown if len(rows) <= SHOWN_ROWS else f"{shown} and {len(rows) - SHOWN_ROWS} more"


SHOWN_ROWS = 5
"""Rows that one message lists."""
