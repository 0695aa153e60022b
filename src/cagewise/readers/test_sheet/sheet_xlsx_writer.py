"""Writing a form as a workbook: one worksheet per test, units in the headings, nothing locked."""

from __future__ import annotations

import io
import math
import re
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import TYPE_CHECKING

from cagewise.measurement.test_sheet import Place
from cagewise.readers.test_sheet.form import Form, Raw, Table
from cagewise.readers.test_sheet.grid_rows import Row, Sort, rows_of
from cagewise.readers.test_sheet.headings import belongs
from cagewise.readers.test_sheet.sheet_schema import TABLES, Kind
from cagewise.readers.test_sheet.sheet_xlsx import require_extra

if TYPE_CHECKING:
    from openpyxl import Workbook
    from openpyxl.cell.cell import Cell, MergedCell
    from openpyxl.styles import Alignment, Border, Font, PatternFill
    from openpyxl.worksheet.datavalidation import DataValidation
    from openpyxl.worksheet.worksheet import Worksheet

    AnyCell = Cell | MergedCell

LONGEST_TITLE = 31
"""Characters that a worksheet's name may have."""
NOTE_COLUMNS, NOTE_CHARACTERS, LINE_HEIGHT = 7, 130, 15.0
"""Columns over which a note runs, characters that fit on one line of them, points of a line."""
_FORBIDDEN_IN_TITLE = re.compile(r"[\[\]:*?/\\]")
_MADE = datetime(2000, 1, 1)  # noqa: DTZ001 - a workbook keeps naive times; the form has no age
_COLUMN_WIDTH, _FIRST_WIDTH = 20.0, 30.0
_INPUT_FILL, _HEADING_FILL = "FFF7E8", "E8EEF4"
_DIGITS = "0123456789"
_CHOICES = {Kind.PLACE: ",".join(place.value for place in Place), Kind.YES_NO: "yes,no"}
_TOGETHER = {"conditions", "truth"}
"""Tables without a worksheet of their own: they stand below the head of the sheet."""


FORMATTED_ROWS = 1000
"""Rows of readings that look like cells to fill in; more are a waveform, written by a program."""
_NUMBERS_ONLY = (
    "Write a plain number, or nothing if it was not measured. The unit is in the heading; a "
    "reading beyond the range of the instrument belongs into the remark."
)


def xlsx_from_form(form: Form, where: str) -> bytes:
    """Return a form as a workbook.

    Raises
    ------
    MissingExtraError
        If the optional library is not installed.
    """
    require_extra(where)
    from openpyxl import Workbook

    workbook = Workbook()
    properties = workbook.properties
    properties.creator, properties.created, properties.modified = "cagewise", _MADE, _MADE
    workbook.worksheets[0].title = TABLES["sheet"].title
    looks = _looks()
    for table in form.tables:
        _Writing(table, _worksheet_for(table, workbook), looks).write()
    stream = io.BytesIO()
    workbook.save(stream)
    return stream.getvalue()


def _worksheet_for(table: Table, workbook: Workbook) -> Worksheet:
    """Return the worksheet of a table: the first one, or one of its own."""
    first: Worksheet = workbook.worksheets[0]
    if table.name == "sheet" or table.name in _TOGETHER:
        return first
    title = _FORBIDDEN_IN_TITLE.sub(" ", table.title or TABLES[table.name].title)
    made: Worksheet = workbook.create_sheet(title[:LONGEST_TITLE])
    return made


@dataclass(frozen=True, slots=True)
class _Looks:
    """How cells look; made once, because a sheet has thousands of cells."""

    strong: Font
    note: Font
    wrapped: Alignment
    heading: PatternFill
    blank: PatternFill
    frame: Border


def _looks() -> _Looks:
    """Return how cells look."""
    from openpyxl.styles import Alignment, Border, Font, PatternFill, Side

    thin = Side(style="thin", color="B0B0B0")
    return _Looks(
        strong=Font(bold=True),
        note=Font(italic=True),
        wrapped=Alignment(wrap_text=True, vertical="top"),
        heading=PatternFill("solid", fgColor=_HEADING_FILL),
        blank=PatternFill("solid", fgColor=_INPUT_FILL),
        frame=Border(left=thin, right=thin, top=thin, bottom=thin),
    )


@dataclass(slots=True)
class _Writing:
    """One table on its worksheet."""

    table: Table
    worksheet: Worksheet
    looks: _Looks
    rules: dict[str, DataValidation] = field(default_factory=dict)
    """What a cell can hold, to the rule that says so."""

    def write(self) -> None:
        """Write the table below what stands on the worksheet."""
        from openpyxl.worksheet.properties import PageSetupProperties

        sheet = self.worksheet
        first = sheet.max_row + 2 if sheet.max_row > 1 else 1
        readings = 0
        for number, row in enumerate(rows_of(self.table), start=first):
            cells: list[AnyCell] = []
            for column, raw in enumerate(row.cells, start=1):
                cell = sheet.cell(number, column)
                _put(cell, raw)
                cells.append(cell)
            readings += row.sort is Sort.READINGS
            if readings <= FORMATTED_ROWS:
                self._format(row, cells, number)
        sheet.column_dimensions["A"].width = _FIRST_WIDTH
        for letter in "BCDEFGH":
            sheet.column_dimensions[letter].width = _COLUMN_WIDTH
        sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
        sheet.page_setup.fitToHeight = 0
        sheet.page_setup.orientation = "landscape"

    def _format(self, row: Row, cells: list[AnyCell], number: int) -> None:
        """Give one row its looks."""
        looks = self.looks
        if row.sort is Sort.READINGS:
            for cell in cells:
                cell.fill, cell.border = looks.blank, looks.frame
        elif row.sort is Sort.NOTE:
            cells[0].font = looks.note
            self._spread(cells[0], number)
        elif row.sort is Sort.HEADINGS:
            for cell, entry in zip(cells, self.table.columns, strict=True):
                cell.font, cell.fill, cell.alignment = looks.strong, looks.heading, looks.wrapped
                letter, last = cell.coordinate.rstrip(_DIGITS), number + len(entry.cells)
                self._restrict(f"{letter}{number + 1}:{letter}{last}", entry.heading)
        else:
            cells[0].font = looks.strong
            for cell in cells[2:]:
                cell.font = looks.note
            if row.sort is Sort.FIELD:
                cells[1].fill, cells[1].border = looks.blank, looks.frame
                self._restrict(cells[1].coordinate, str(row.cells[0]))

    def _spread(self, cell: AnyCell, number: int) -> None:
        """Let a note run over the width of the page, on as many lines as it needs."""
        self.worksheet.merge_cells(
            start_row=number, end_row=number, start_column=1, end_column=NOTE_COLUMNS
        )
        cell.alignment = self.looks.wrapped
        lines = math.ceil(len(str(cell.value)) / NOTE_CHARACTERS)
        self.worksheet.row_dimensions[number].height = LINE_HEIGHT * lines

    def _restrict(self, cells: str, heading: str) -> None:
        """Say what a cell, or a block of cells, can hold."""
        quantity = belongs(heading, TABLES[self.table.name])
        if quantity is None or quantity.kind in (Kind.TEXT, Kind.DATE):
            return
        if quantity.kind not in self.rules:
            self.rules[quantity.kind] = _rule(quantity.kind)
            self.worksheet.add_data_validation(self.rules[quantity.kind])
        self.rules[quantity.kind].add(cells)


def _rule(kind: Kind) -> DataValidation:
    """Return what a cell of this kind can hold: one of some words, or a number."""
    from openpyxl.worksheet.datavalidation import DataValidation

    if kind in _CHOICES:
        return DataValidation(type="list", formula1=f'"{_CHOICES[kind]}"', allow_blank=True)
    return DataValidation(
        type="decimal",
        operator="between",
        formula1="-1E+15",
        formula2="1E+15",
        allow_blank=True,
        errorTitle="Not a number",
        error=_NUMBERS_ONLY,
        showErrorMessage=True,
    )


def _put(cell: AnyCell, raw: Raw) -> None:
    """Write a value; a number of seventeen digits as text, because workbooks keep sixteen."""
    if isinstance(raw, bool):
        cell.value = "yes" if raw else "no"
    elif isinstance(raw, float) and float(f"{raw:.16g}") != raw:
        cell.value = repr(raw)
    elif isinstance(raw, (int, float)):
        cell.value = raw
    elif isinstance(raw, date):
        cell.value = raw
        cell.number_format = "yyyy-mm-dd"
    elif raw is not None:
        cell.value = str(raw)
        cell.data_type = "s"  # a text that begins with an equals sign is no formula
