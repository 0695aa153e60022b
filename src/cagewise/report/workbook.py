"""Workbooks that are written row by row: typed cells, bounded memory, the same bytes again."""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import islice
from typing import IO, TYPE_CHECKING, Any, BinaryIO
from zipfile import ZIP_DEFLATED, ZipFile, ZipInfo

from cagewise.readers.test_sheet.sheet_xlsx import require_extra
from cagewise.report.spreadsheet_text import Cell, computes, readable

if TYPE_CHECKING:
    from openpyxl.worksheet.worksheet import Worksheet

MADE = datetime(2000, 1, 1)  # noqa: DTZ001 - a workbook keeps naive times; ours has no age
"""Time that stands in every workbook: it tells what is kept, not when it was asked."""
MOST_ROWS = 500_000
"""Of one worksheet; the others follow on another. A worksheet may have twice as many, but not more
than 2 GiB of text."""
_LEVEL = 6
_CORE = "docProps/core.xml"
_MODIFIED = re.compile(rb"(<dcterms:modified[^>]*>)[^<]*")
_STAMP = MADE.strftime("%Y-%m-%dT%H:%M:%SZ").encode()
_HEADING_FILL = "FFE8EEF4"


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """A worksheet: heads, then rows as they come."""

    title: str
    heads: Sequence[str]
    widths: Sequence[float]
    """In characters, one per column."""
    rows: Iterable[Sequence[Cell]]
    """Gone through once."""
    frozen: int = 0
    """Columns that stay in view; the head always does."""


def write_workbook(stream: BinaryIO, sheets: Sequence[Sheet], where: str) -> None:
    """Write a workbook; rows are never all in memory.

    Parameters
    ----------
    stream
        Where it is written; it can be searched.
    sheets
        In their order.
    where
        Named if the optional library is not there.

    Raises
    ------
    MissingExtraError
        If the optional library is not installed.
    """
    require_extra(where)
    from openpyxl import Workbook
    from openpyxl.writer.excel import ExcelWriter

    workbook = Workbook(write_only=True)
    properties = workbook.properties
    properties.creator, properties.created, properties.modified = "cagewise", MADE, MADE
    for sheet in sheets:
        rows, number = iter(sheet.rows), 1
        while _write(workbook.create_sheet(_title(sheet, number)), sheet, rows) == MOST_ROWS:
            number += 1
    with _SameZip(stream, "w", ZIP_DEFLATED, compresslevel=_LEVEL) as archive:
        ExcelWriter(workbook, archive).save()


class _SameZip(ZipFile):
    """An archive that does not say when it was made."""

    def writestr(self, zinfo_or_arcname: str | ZipInfo, data: str | bytes, *_: Any) -> None:  # type: ignore[override]  # noqa: ANN401 - as the library calls it
        """Add a text or bytes."""
        name = str(getattr(zinfo_or_arcname, "filename", zinfo_or_arcname))
        content = data.encode() if isinstance(data, str) else data
        if name == _CORE:
            content = _MODIFIED.sub(rb"\g<1>" + _STAMP, content)
        with self._new(name) as target:
            target.write(content)

    def write(self, filename: str, arcname: str | None = None, *_: Any) -> None:  # type: ignore[override]  # noqa: ANN401 - as the library calls it
        """Add a file."""
        with open(filename, "rb") as source, self._new(arcname or filename) as target:  # noqa: PTH123 - a path of the library
            shutil.copyfileobj(source, target)

    def _new(self, name: str) -> IO[bytes]:
        """Return a stream of a new member."""
        member = ZipInfo(name, date_time=(MADE.year, MADE.month, MADE.day, 0, 0, 0))
        member.compress_type, member.external_attr = ZIP_DEFLATED, 0o644 << 16
        return self.open(member, "w", force_zip64=False)


def _title(sheet: Sheet, number: int) -> str:
    """Return the name of a worksheet that goes on in others."""
    return sheet.title if number == 1 else f"{sheet.title} {number}"


def _write(worksheet: Worksheet, sheet: Sheet, rows: Iterator[Sequence[Cell]]) -> int:
    """Write one worksheet, as many rows as it may have; return how many there were."""
    from openpyxl.cell import WriteOnlyCell
    from openpyxl.styles import Alignment, Font, PatternFill
    from openpyxl.utils import get_column_letter

    letters = [get_column_letter(n) for n in range(1, len(sheet.heads) + 1)]
    for letter, width in zip(letters, sheet.widths, strict=True):
        worksheet.column_dimensions[letter].width = width
    worksheet.freeze_panes = f"{letters[sheet.frozen]}2"
    strong, fill = Font(bold=True), PatternFill("solid", fgColor=_HEADING_FILL)
    wrapped = Alignment(wrap_text=True, vertical="top")
    heads = []
    for head in sheet.heads:
        cell = WriteOnlyCell(worksheet, head)
        cell.font, cell.fill, cell.alignment = strong, fill, wrapped
        heads.append(cell)
    worksheet.append(heads)
    count = 0
    for row in islice(rows, MOST_ROWS):
        worksheet.append([_cell(worksheet, value) for value in row])
        count += 1
    worksheet.auto_filter.ref = f"A1:{letters[-1]}{count + 1}"
    return count


def _cell(worksheet: Worksheet, value: Cell) -> Any:  # noqa: ANN401 - what the library takes
    """Return what is written into a cell: text stays text, whatever it begins with."""
    if not isinstance(value, str):
        return value
    text = readable(value)
    if not text:
        return None
    if not computes(text) and not text.startswith(("=", "#")):
        return text
    from openpyxl.cell import WriteOnlyCell

    cell = WriteOnlyCell(worksheet)
    cell.value = text
    cell.data_type = "s"  # a text that begins with an equals sign is no formula
    cell.quotePrefix = True  # nor does it become one when somebody edits it
    return cell
