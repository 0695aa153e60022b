"""One table with its headings understood, its cells converted to SI, and every fault named."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import TypeAlias

from cagewise.machine.crosscheck import Fault
from cagewise.measurement.test_sheet import Place, TerminalPair
from cagewise.readers.test_sheet import cells
from cagewise.readers.test_sheet.cells import DecimalSigns
from cagewise.readers.test_sheet.form import Cell, Entry, Raw, Table, Unusable
from cagewise.readers.test_sheet.headings import Heading, resolve
from cagewise.readers.test_sheet.ranges import RANGES
from cagewise.readers.test_sheet.sheet_schema import Kind, TableKind
from cagewise.readers.test_sheet.units import SYMBOL, Unit

MOST_FAULTS_PER_HEADING = 3
"""Faults below one heading that are listed; the rest is counted."""

Key: TypeAlias = tuple[str, TerminalPair | None]
"""Quantity and terminals."""
Value: TypeAlias = float | str | date | Place | bool


@dataclass(frozen=True, slots=True, kw_only=True)
class HeadingRead:
    """What was understood below one heading."""

    heading: str
    """As written."""
    quantity: str
    """Name without terminals and unit."""
    dimension: str
    """Of its unit; empty for words and plain numbers."""
    count: int
    """Readings."""
    written: str
    """The first reading as written."""
    understood: str
    """The first reading in the unit in which it is kept."""


@dataclass(slots=True)
class TableValues:
    """The values of one table; NaN stands for a cell that was at fault."""

    table: Table
    kind: TableKind
    fields: dict[Key, Value] = field(default_factory=dict)
    columns: dict[Key, list[float | None]] = field(default_factory=dict)
    """Quantity and terminals to values by row; None where nothing was measured."""
    headings: dict[Key, str] = field(default_factory=dict)
    """As written, of everything that is not blank."""
    rows: list[int] = field(default_factory=list)
    """Number of each row in the file, of the longest column."""
    read: list[HeadingRead] = field(default_factory=list)

    def number(self, name: str) -> float | None:
        """Return the number in a field, None where it is blank."""
        value = self.fields.get((name, None))
        return value if isinstance(value, float) else None

    def text(self, name: str) -> str:
        """Return the text in a field, empty where it is blank."""
        value = self.fields.get((name, None))
        return value if isinstance(value, str) else ""

    def where(self, key: Key, row: int = 0) -> str:
        """Return the place of a quantity for a message."""
        quantity = self.kind.quantity(key[0])
        return self.table.where(self.headings.get(key, quantity.example), row)


def values_of(
    table: Table, kind: TableKind, signs: DecimalSigns, faults: list[Fault]
) -> TableValues:
    """Return the values of a table, adding every fault of it to ``faults``."""
    reading = _Reading(TableValues(table, kind), signs, faults)
    for entry in (*table.fields, *table.columns):
        heading = resolve(entry.heading, kind)
        if isinstance(heading, Unusable):
            row = entry.cells[0].row if len(entry.cells) == 1 else 0
            faults.append(Fault(table.where(entry.heading, row), heading.what, heading.remedy))
            continue
        if heading.quantity.column:
            reading.note_rows(entry)
        if not entry.blank and reading.accepts(entry, heading):
            reading.take(entry, heading)
    return reading.values


@dataclass(slots=True)
class _Reading:
    """One pass over a table."""

    values: TableValues
    signs: DecimalSigns
    faults: list[Fault]
    units: dict[str, tuple[str, Unit]] = field(default_factory=dict)
    """Quantity to the first heading of it and its unit."""

    def note_rows(self, entry: Entry) -> None:
        """Keep the row numbers of the longest column."""
        if len(entry.cells) > len(self.values.rows):
            self.values.rows = [cell.row for cell in entry.cells]

    def accepts(self, entry: Entry, heading: Heading) -> bool:
        """Return whether a heading stands once, and in the unit of its like in this table."""
        key = (heading.quantity.name, heading.pair)
        where = self.values.table.where(entry.heading)
        if key in self.values.headings:
            other = self.values.headings[key]
            same = other == entry.heading
            what = "stands here twice" if same else f"says the same as {other}"
            self.faults.append(Fault(where, what, "Keep one of them."))
            return False
        self.values.headings[key] = entry.heading
        if heading.unit is None:
            return True
        first, unit = self.units.setdefault(heading.quantity.name, (entry.heading, heading.unit))
        if unit is not heading.unit:
            what = f"has another unit than {first} in the same table"
            remedy = "Use one unit for one quantity of a table."
            self.faults.append(Fault(where, what, remedy))
            return False
        return True

    def take(self, entry: Entry, heading: Heading) -> None:
        """Convert the cells of one heading."""
        found: list[Fault] = []
        if heading.quantity.kind is Kind.NUMBER:
            self._take_numbers(entry, heading, found)
        else:
            self._take_words(entry, heading, found)
        self.faults += found[:MOST_FAULTS_PER_HEADING]
        if len(found) > MOST_FAULTS_PER_HEADING:
            more = len(found) - MOST_FAULTS_PER_HEADING
            where = self.values.table.where(entry.heading)
            self.faults.append(Fault(where, f"{more} more of its cells are at fault"))

    def _take_numbers(self, entry: Entry, heading: Heading, found: list[Fault]) -> None:
        """Convert a column of numbers, or a field that holds one."""
        key = (heading.quantity.name, heading.pair)
        numbers: list[float | None] = []
        for cell in entry.cells:
            number = None if cell.blank else _number(cell, heading, self.values.kind, self.signs)
            if isinstance(number, Unusable):
                where = self.values.table.where(entry.heading, cell.row)
                found.append(Fault(where, number.what, number.remedy))
                number = math.nan
            numbers.append(number)
        if heading.quantity.column:
            self.values.columns[key] = numbers
        elif len(numbers) == 1 and numbers[0] is not None:
            self.values.fields[key] = numbers[0]
        else:
            found.append(_several(self.values.table, entry))
        self.values.read.append(_understood(entry, heading, numbers))

    def _take_words(self, entry: Entry, heading: Heading, found: list[Fault]) -> None:
        """Convert a field that holds a text, a date, a choice."""
        if len(entry.cells) != 1:
            found.append(_several(self.values.table, entry))
            return
        cell = entry.cells[0]
        value = _WORDS[heading.quantity.kind](cell.raw)
        if isinstance(value, Unusable):
            where = self.values.table.where(entry.heading, cell.row)
            found.append(Fault(where, value.what, value.remedy))
            return
        self.values.fields[heading.quantity.name, None] = value
        shown = ("yes" if value else "no") if isinstance(value, bool) else str(value)
        self.values.read.append(
            HeadingRead(
                heading=entry.heading,
                quantity=heading.quantity.name,
                dimension="",
                count=1,
                written=shown,
                understood=shown,
            )
        )


_WORDS: Mapping[Kind, Callable[[Raw], Value | Unusable]] = {
    Kind.TEXT: cells.text_in,
    Kind.DATE: cells.date_in,
    Kind.PLACE: cells.place_in,
    Kind.YES_NO: cells.yes_no_in,
}


def _several(table: Table, entry: Entry) -> Fault:
    """Return the fault of a field with more than one value."""
    return Fault(table.where(entry.heading), "must be one value, not several")


def _number(cell: Cell, heading: Heading, kind: TableKind, signs: DecimalSigns) -> float | Unusable:
    """Return the number in a cell in SI, or why it cannot be used."""
    figure = cells.number_in(cell.raw, signs)
    if isinstance(figure, Unusable):
        return figure
    unit = heading.unit
    if unit is None:
        return float(figure)
    value = unit.to_si(figure)
    allowed = RANGES[kind.name, heading.quantity.name]
    if allowed.holds(value):
        return value
    low, high = unit.from_si(allowed.low), unit.from_si(allowed.high)
    bounds = f"{low:g} to {high:g} {unit.suffix}"
    return Unusable(f"{figure:g} is out of all range ({bounds})", allowed.slip)


def _understood(entry: Entry, heading: Heading, numbers: list[float | None]) -> HeadingRead:
    """Return what was understood below a heading that is not blank."""
    taken = [(cell.raw, n) for cell, n in zip(entry.cells, numbers, strict=True) if n is not None]
    raw, number = taken[0]
    unit, symbol = heading.unit, SYMBOL.get(heading.quantity.dimension, "")
    return HeadingRead(
        heading=entry.heading,
        quantity=heading.quantity.name,
        dimension=heading.quantity.dimension,
        count=len(taken),
        written=str(raw) if unit is None else f"{raw} {unit.suffix}",
        understood=f"{number:.6g} {symbol}".strip(),
    )
