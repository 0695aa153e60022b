"""Rows of cells to the tables of a form: what a CSV file and a worksheet have in common.

A row whose first cell is ``[position]`` begins a table. Below it stand single values, heading and
cell side by side, and then columns: a row of headings with readings under them. Rows that are blank
or begin with ``#`` and a blank are notes, and so is what stands below such a heading.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from cagewise.machine.crosscheck import Fault
from cagewise.readers.test_sheet.form import (
    COMMENT,
    Cell,
    Entry,
    Form,
    Raw,
    Table,
    is_blank,
    is_comment,
)
from cagewise.readers.test_sheet.headings import belongs, plain, quoted
from cagewise.readers.test_sheet.sheet_schema import MARKER, TABLES, TableKind
from cagewise.readers.test_sheet.suggestions import unknown_table

_TABLE = re.compile(r"\[+([^\[\]]*)\]+")
MARKER_TABLE = "sheet"
"""The table that the marker begins; the version stands beside the marker."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """Rows that stand together: a CSV file, or one worksheet."""

    rows: Iterable[tuple[int, Sequence[Raw]]]
    """Number of each row, and its cells."""
    title: str = ""
    """Of the worksheet."""
    row_word: str = "row"
    comma_separated: bool = False
    """Whether a decimal comma without quotes would split a cell."""


def tables_of(sheet: Sheet, form: Form) -> None:
    """Add the tables of a sheet to a form, and what cannot be brought into tables as faults."""
    walk = _Walk(sheet, form)
    for number, cells in sheet.rows:
        walk.row(number, cells)
    walk.finish()


@dataclass(slots=True)
class _Walk:
    """Where a walk down the rows has come to."""

    sheet: Sheet
    form: Form
    table: Table | None = None
    kind: TableKind | None = None
    headings: list[str] = field(default_factory=list)
    """Of the columns, as wide as the row of headings; empty above it."""
    columns: list[list[Cell]] = field(default_factory=list)
    lost: bool = False
    """Whether rows stand under no table, or under one that is not known; told once."""

    def row(self, number: int, cells: Sequence[Raw]) -> None:
        """Take one row."""
        first = next((cell for cell in cells[:1]), None)
        text = first.strip() if isinstance(first, str) else ""
        if is_comment(text) or all(is_blank(cell) for cell in cells):
            return
        match = _TABLE.fullmatch(text)
        if match is not None:
            self._begin(plain(match[1]), number)
            self._require_alone(number, cells, 1)
        elif text.casefold() == MARKER:
            self._begin(MARKER_TABLE, number)
            self._field(number, ["format", *cells[1:]])
        elif self.table is None or self.kind is None:
            self._outside(number, cells)
        else:
            self._inside(number, cells, text)

    def finish(self) -> None:
        """Hand over the last table."""
        if self.table is not None:
            for heading, column in zip(self.headings, self.columns, strict=True):
                if heading and not is_comment(heading):
                    self.table.columns.append(Entry(heading, tuple(column)))
        self.headings, self.columns = [], []

    def _begin(self, name: str, number: int) -> None:
        """Begin a table; the marker and ``[sheet]`` begin the same one."""
        self.finish()
        self.lost = False
        self.kind = TABLES.get(name)
        place = self._place(f"[{name}]")
        if self.kind is None:
            self.table, self.lost = None, True
            where = f"{place}, {self.sheet.row_word} {number}"
            self.form.faults.append(unknown_table(name, where))
            return
        same = [table for table in self.form.tables if table.name == name]
        if name == MARKER_TABLE and same:
            self.table = same[0]
            return
        if same and not self.sheet.title:
            place = f"{place} no. {len(same) + 1}"
        self.table = Table(name, place, self.sheet.row_word)
        self.form.tables.append(self.table)

    def _place(self, table: str) -> str:
        """Return where a table stands, for messages."""
        title = self.sheet.title
        return f'worksheet "{title}", {table}' if title else table

    def _outside(self, number: int, cells: Sequence[Raw]) -> None:
        """Complain once about cells under no table."""
        if self.lost:
            return
        self.lost = True
        content = next(cell for cell in cells if not is_blank(cell))
        place = self._place("").removesuffix(", ")
        where = ", ".join(part for part in (place, f"{self.sheet.row_word} {number}") if part)
        remedy = f'Begin it with a row such as [position], or with "{COMMENT} " if it is a note.'
        self.form.faults.append(Fault(where, f"{quoted(content)} stands under no table", remedy))

    def _inside(self, number: int, cells: Sequence[Raw], text: str) -> None:
        """Take a row of a known table."""
        assert self.kind is not None  # noqa: S101 - the caller looked
        quantity = belongs(text, self.kind) if text else None
        if self.kind.free or (quantity is not None and not quantity.column):
            self._field(number, cells)
        elif any(self._names_column(cell) for cell in cells):
            self._head(number, cells)
        elif self.headings:
            self._readings(number, cells)
        else:
            self._field(number, cells)

    def _names_column(self, cell: Raw) -> bool:
        """Return whether a cell is the heading of a column."""
        if not isinstance(cell, str) or self.kind is None:
            return False
        quantity = belongs(cell, self.kind)
        return quantity is not None and quantity.column

    def _field(self, number: int, cells: Sequence[Raw]) -> None:
        """Take a heading and the cell beside it."""
        assert self.table is not None  # noqa: S101 - the caller looked
        value = cells[1] if len(cells) > 1 else None
        self.table.fields.append(Entry(str(cells[0]).strip(), (Cell(value, number),)))
        self._require_alone(number, cells, 2)

    def _head(self, number: int, cells: Sequence[Raw]) -> None:
        """Take a row of headings."""
        assert self.table is not None  # noqa: S101 - the caller looked
        if self.headings:
            where = self.table.where("", number)
            remedy = f"Begin another table with a row [{self.table.name}] above it."
            self.form.faults.append(Fault(where, "is a second row of headings", remedy))
            return
        self.headings = ["" if is_blank(cell) else str(cell).strip() for cell in cells]
        self.columns = [[] for _ in self.headings]

    def _readings(self, number: int, cells: Sequence[Raw]) -> None:
        """Take a row of readings."""
        assert self.table is not None  # noqa: S101 - the caller looked
        for k, heading in enumerate(self.headings):
            raw = cells[k] if k < len(cells) else None
            self.columns[k].append(Cell(raw, number))
            if not heading and not is_blank(raw) and not is_comment(raw):
                self._stray(number, raw, "stands below no heading")
        self._require_alone(number, cells, len(self.headings))

    def _require_alone(self, number: int, cells: Sequence[Raw], taken: int) -> None:
        """Complain about cells beyond those that belong to a row."""
        for raw in cells[taken:]:
            if not is_blank(raw) and not is_comment(raw):
                self._stray(number, raw, "stands beyond the last cell of its row")
                return

    def _stray(self, number: int, raw: Raw, what: str) -> None:
        """Complain about a cell that belongs to nothing."""
        if self.table is None:
            return
        remedy = f'Begin it with "{COMMENT} " if it is a note.'
        if self.sheet.comma_separated:
            remedy = f"Was it a decimal comma? Write a point, or use semicolons. {remedy}"
        where = self.table.where("", number)
        self.form.faults.append(Fault(where, f"{quoted(raw)} {what}", remedy))
