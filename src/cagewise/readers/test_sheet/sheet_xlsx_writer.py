"""Writing a form as a workbook: one worksheet per test, units in the headings, nothing locked."""

from __future__ import annotations

import io
import math
import re
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
_BOLD = (Sort.TITLE, Sort.HEADINGS)
_CHOICES = {Kind.PLACE: ",".join(place.value for place in Place), Kind.YES_NO: "yes,no"}
_TOGETHER = {"conditions", "truth"}
"""Tables without a worksheet of their own: they stand below the head of the sheet."""


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
    first = workbook.worksheets[0]
    first.title = TABLES["sheet"].title
    for table in form.tables:
        _write(table, _worksheet_for(table, workbook))
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


def _write(table: Table, worksheet: Worksheet) -> None:
    """Write one table below what stands on the worksheet."""
    from openpyxl.worksheet.properties import PageSetupProperties

    row = worksheet.max_row + 2 if worksheet.max_row > 1 else 1
    for number, content in enumerate(rows_of(table), start=row):
        _write_row(worksheet, number, content, table)
    worksheet.column_dimensions["A"].width = _FIRST_WIDTH
    for column in "BCDEFGH":
        worksheet.column_dimensions[column].width = _COLUMN_WIDTH
    worksheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
    worksheet.page_setup.fitToHeight = 0
    worksheet.page_setup.orientation = "landscape"


def _write_row(worksheet: Worksheet, number: int, row: Row, table: Table) -> None:
    """Write and format one row."""
    from openpyxl.styles import Alignment, Font, PatternFill

    cells: list[AnyCell] = []
    for column, raw in enumerate(row.cells, start=1):
        cell = worksheet.cell(number, column)
        _put(cell, raw)
        cells.append(cell)
    for cell in cells:
        cell.font = Font(
            bold=row.sort in _BOLD or (row.sort is Sort.FIELD and cell is cells[0]),
            italic=row.sort is Sort.NOTE or (row.sort is Sort.FIELD and cell in cells[2:]),
        )
        if row.sort is Sort.HEADINGS:
            cell.fill = PatternFill("solid", fgColor=_HEADING_FILL)
            cell.alignment = Alignment(wrap_text=True, vertical="top")
    if row.sort is Sort.NOTE:
        _wrap(worksheet, number, cells[0])
    elif row.sort is Sort.FIELD:
        _for_input(worksheet, cells[1], str(row.cells[0]), table)
    elif row.sort is Sort.READINGS:
        for cell, entry in zip(cells, table.columns, strict=True):
            _for_input(worksheet, cell, entry.heading, table)


def _wrap(worksheet: Worksheet, number: int, cell: AnyCell) -> None:
    """Let a note run over the width of the page, on as many lines as it needs."""
    from openpyxl.styles import Alignment

    worksheet.merge_cells(start_row=number, end_row=number, start_column=1, end_column=NOTE_COLUMNS)
    cell.alignment = Alignment(wrap_text=True, vertical="top")
    lines = math.ceil(len(str(cell.value)) / NOTE_CHARACTERS)
    worksheet.row_dimensions[number].height = LINE_HEIGHT * lines


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


def _for_input(worksheet: Worksheet, cell: AnyCell, heading: str, table: Table) -> None:
    """Show that a cell is to be filled in, and offer what it can hold."""
    from openpyxl.styles import Border, PatternFill, Side
    from openpyxl.worksheet.datavalidation import DataValidation

    thin = Side(style="thin", color="B0B0B0")
    cell.fill = PatternFill("solid", fgColor=_INPUT_FILL)
    cell.border = Border(left=thin, right=thin, top=thin, bottom=thin)
    quantity = belongs(heading, TABLES[table.name])
    if quantity is None or quantity.kind not in _CHOICES:
        return
    choices = DataValidation(type="list", formula1=f'"{_CHOICES[quantity.kind]}"', allow_blank=True)
    worksheet.add_data_validation(choices)
    choices.add(cell.coordinate)
