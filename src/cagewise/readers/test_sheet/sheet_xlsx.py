"""Reading a test sheet from a workbook: any number of worksheets, each with tables."""

from __future__ import annotations

import io
import lzma
import warnings
import zipfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import date
from typing import TYPE_CHECKING

from cagewise.errors import CagewiseError, MissingExtraError, SheetError
from cagewise.machine.crosscheck import Fault
from cagewise.readers.files import LIBRARY_ERRORS
from cagewise.readers.test_sheet.form import Form, Raw, Unusable, is_comment
from cagewise.readers.test_sheet.grid import Sheet, tables_of

if TYPE_CHECKING:
    from openpyxl import Workbook
    from openpyxl.cell.cell import Cell, MergedCell
    from openpyxl.worksheet.worksheet import Worksheet

    AnyCell = Cell | MergedCell

MOST_CELLS = 2_000_000
"""Cells of one worksheet up to the last used row and column; more is a stray cell far away."""
LARGEST_UNPACKED_BYTES = 400_000_000
"""Size to which a workbook may unpack; more is damaged or hostile."""

_ALSO = (zipfile.BadZipFile, lzma.LZMAError, SyntaxError, AssertionError)
"""What damaged archives and XML raise beside the usual (an XML fault is a syntax error)."""


@contextmanager
def _translated(where: str) -> Iterator[None]:
    """Turn what the library raises on damaged workbooks into one error of ours."""
    from openpyxl.utils.exceptions import InvalidFileException

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of parts of the workbook that nobody reads here
            yield
    except CagewiseError:
        raise
    except (*LIBRARY_ERRORS, *_ALSO, InvalidFileException) as error:
        reason = next(iter(str(error).splitlines()), "") or type(error).__name__
        raise SheetError(
            f"this is not a readable workbook ({reason[:200]})",
            where=where,
            remedy="Save it again as a workbook (.xlsx), without a password.",
        ) from error


def require_extra(where: str) -> None:
    """Raise if the optional library for workbooks is not there.

    Raises
    ------
    MissingExtraError
        If it is not installed.
    """
    try:
        import openpyxl  # noqa: F401 - whether it is there is the question
    except ImportError as error:
        raise MissingExtraError(
            "workbooks need an optional library",
            where=where,
            remedy="Install it with: pip install 'cagewise[sheet]', or use .csv or .toml.",
        ) from error


def sheets_of_xlsx(content: bytes, where: str) -> tuple[list[Sheet], list[Fault]]:
    """Return the rows of every worksheet, and what cannot be brought into rows.

    Raises
    ------
    SheetError
        If it is not a readable workbook.
    MissingExtraError
        If the optional library is not installed.
    """
    require_extra(where)
    faults: list[Fault] = []
    sheets: list[Sheet] = []
    with _translated(where):
        _require_moderate(content, where)
        written = _workbook(content, computed=False)
        computed = _workbook(content, computed=True) if _has_formulas(written) else written
        for worksheet, shown in zip(written.worksheets, computed.worksheets, strict=True):
            sheets.append(Sheet(rows=tuple(_rows(worksheet, shown)), title=worksheet.title))
            faults += _merged(worksheet)
    return sheets, faults


def form_from_xlsx(content: bytes, where: str) -> Form:
    """Return the tables of a workbook.

    Raises
    ------
    SheetError, MissingExtraError
        As :func:`sheets_of_xlsx`.
    """
    sheets, faults = sheets_of_xlsx(content, where)
    form = Form(faults=faults)
    for sheet in sheets:
        tables_of(sheet, form)
    if not form.tables and not form.faults:
        raise SheetError("is empty", where=where, remedy="Start from a template.")
    return form


def _require_moderate(content: bytes, where: str) -> None:
    """Raise if the archive would unpack to more than any sheet has."""
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        size = sum(entry.file_size for entry in archive.infolist())
    if size > LARGEST_UNPACKED_BYTES:
        raise SheetError(f"would unpack to {size / 1e6:.3g} MB; this is no test sheet", where=where)


def _workbook(content: bytes, *, computed: bool) -> Workbook:
    """Return the workbook with formulas, or with the values they had when it was saved."""
    from openpyxl import load_workbook

    workbook = load_workbook(io.BytesIO(content), data_only=computed)
    for worksheet in workbook.worksheets:
        if worksheet.max_row * worksheet.max_column > MOST_CELLS:
            message = f"worksheet {worksheet.title!r} reaches to row {worksheet.max_row}"
            raise ValueError(message)
    return workbook


def _has_formulas(workbook: Workbook) -> bool:
    """Return whether any cell holds a formula."""
    return any(
        cell.data_type == "f"
        for worksheet in workbook.worksheets
        for row in worksheet.iter_rows()
        for cell in row
    )


def _rows(written: Worksheet, computed: Worksheet) -> Iterator[tuple[int, Sequence[Raw]]]:
    """Yield the cells of each row with its number."""
    beside = [None] * (written.min_column - 1)  # found by walking over all cells: once
    rows = zip(written.iter_rows(), computed.iter_rows(), strict=True)
    for number, (row, shown) in enumerate(rows, start=written.min_row):
        cells = [_raw(cell, value) for cell, value in zip(row, shown, strict=True)]
        if any(cell is not None for cell in cells):
            yield number, [*beside, *cells]


def _raw(cell: AnyCell, shown: AnyCell) -> Raw:
    """Return what a cell holds; for a formula the value it had when the workbook was saved."""
    value = shown.value
    if cell.data_type == "f" and value is None:
        return Unusable(
            "holds a formula without a value",
            "Open the workbook in a spreadsheet, let it compute, and save it; or write the value.",
        )
    if shown.data_type == "e":
        return Unusable(f"shows the error {value}", "Mend the formula, or write the value.")
    if value is None or isinstance(value, (str, bool, date)):
        return value
    if isinstance(value, (int, float)):
        return _number(value, shown.number_format)
    return Unusable(f"holds {value}, not a number", "Give the cell the format of a number.")


def _number(value: float, number_format: str) -> Raw:
    """Return a number unless the spreadsheet shows another one than it keeps."""
    if "%" in number_format:
        return Unusable(
            f"is kept as {value:g} and shown as {100 * value:g} %",
            "Give the cell the format of a plain number and write it again.",
        )
    return value


def _merged(worksheet: Worksheet) -> list[Fault]:
    """Return a fault for every group of merged cells that holds a value."""
    faults = []
    for cells in worksheet.merged_cells.ranges:
        value = worksheet.cell(cells.min_row, cells.min_col).value
        if value is None or is_comment(value):
            continue
        where = f'worksheet "{worksheet.title}", cells {cells.coord}'
        remedy = "Unmerge them, and write the value into every cell it holds for."
        faults.append(Fault(where, "are merged", remedy))
    return faults
