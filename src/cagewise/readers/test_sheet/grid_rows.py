"""Tables of a form to rows of cells: what a CSV file and a worksheet have in common."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import Enum

from cagewise.readers.test_sheet.form import COMMENT, Entry, Raw, Table
from cagewise.readers.test_sheet.grid import MARKER_TABLE
from cagewise.readers.test_sheet.headings import belongs
from cagewise.readers.test_sheet.sheet_schema import MARKER, TABLES


class Sort(Enum):
    """What a row is, for whoever formats it."""

    TITLE = "title"
    NOTE = "note"
    FIELD = "field"
    HEADINGS = "headings"
    READINGS = "readings"


@dataclass(frozen=True, slots=True)
class Row:
    """One row."""

    sort: Sort
    cells: tuple[Raw, ...]


def rows_of(table: Table) -> Iterator[Row]:
    """Yield the rows of a table: title, notes, single values, columns."""
    fields = list(table.fields)
    if table.name == MARKER_TABLE:
        version = fields.pop(0)
        yield Row(Sort.TITLE, (MARKER, version.cells[0].raw))
    else:
        yield Row(Sort.TITLE, (f"[{table.name}]",))
    for note in table.notes:
        yield Row(Sort.NOTE, (f"{COMMENT} {note}",))
    for entry in fields:
        yield Row(Sort.FIELD, _field_cells(table, entry))
    if table.columns:
        for meaning in _column_meanings(table):
            yield Row(Sort.NOTE, (f"{COMMENT} {meaning}",))
        yield Row(Sort.HEADINGS, tuple(entry.heading for entry in table.columns))
        columns = [[cell.raw for cell in entry.cells] for entry in table.columns]
        for cells in zip(*columns, strict=True):
            yield Row(Sort.READINGS, cells)


def _field_cells(table: Table, entry: Entry) -> tuple[Raw, ...]:
    """Return heading, value and what it means."""
    meaning = meaning_of(table, entry)
    note = (f"{COMMENT} {meaning}",) if meaning else ()
    return (entry.heading, entry.cells[0].raw, *note)


def meaning_of(table: Table, entry: Entry) -> str:
    """Return what a heading means, empty where nothing is known."""
    quantity = belongs(entry.heading, TABLES[table.name])
    return "" if quantity is None else quantity.meaning


def _column_meanings(table: Table) -> list[str]:
    """Return what the headings of the columns mean, each quantity once."""
    said = {}
    for entry in table.columns:
        quantity = belongs(entry.heading, TABLES[table.name])
        if quantity is not None:
            said[quantity.name] = f"{quantity.name}: {quantity.meaning}"
    return list(said.values())
