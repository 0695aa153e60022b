"""A test sheet as one CSV file: all tables below each other."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator, Sequence

from cagewise.errors import SheetError
from cagewise.readers.test_sheet.cells import LOOKS_GROUPED
from cagewise.readers.test_sheet.form import Form, Raw
from cagewise.readers.test_sheet.grid import Sheet, tables_of
from cagewise.readers.test_sheet.grid_rows import rows_of
from cagewise.readers.test_sheet.sheet_schema import MARKER
from cagewise.readers.text import decode_text

SEPARATORS = (";", ",", "\t")
_FIRST = re.compile(rf'(?:sep=.\r?\n)?\s*"?{MARKER}"?\s*([;,\t\r\n]|$)', re.IGNORECASE)
"""The first cell, and the separator after it; some spreadsheets want the separator stated above."""


def is_csv_sheet(head: bytes) -> bool:
    """Return whether the first bytes of a file are those of a test sheet."""
    return bool(head) and _FIRST.match(decode_text(head)[0]) is not None


def form_from_csv(content: bytes, where: str) -> Form:
    """Return the tables of a CSV file.

    Raises
    ------
    SheetError
        If it does not begin with the marker, or is not text in cells.
    """
    text = decode_text(content)[0]
    match = _FIRST.match(text)
    if match is None:
        raise SheetError(
            f'the first cell is not "{MARKER}"',
            where=where,
            remedy="Start from a template; the first row tells a sheet from a recording.",
        )
    separator = match[1] if match[1] in SEPARATORS else ";"
    form = Form()
    sheet = Sheet(
        rows=rows_in(text, separator, where),
        row_word="line",
        comma_separated=separator == ",",
    )
    tables_of(sheet, form)
    return form


def rows_in(text: str, separator: str, where: str) -> Iterator[tuple[int, Sequence[Raw]]]:
    """Yield the cells of each row with the line on which it begins."""
    lines = csv.reader(io.StringIO(text.replace("\0", " "), newline=""), delimiter=separator)
    begins = 1
    try:
        for cells in lines:
            yield begins, cells
            begins = lines.line_num + 1
    except csv.Error as error:
        raise SheetError(
            f"line {lines.line_num} is not readable as cells ({error})",
            where=where,
            remedy="Look for a lost quote.",
        ) from error


def csv_from_form(form: Form, *, separator: str = ";", decimal_comma: bool = False) -> bytes:
    """Return a form as a CSV file, with the mark by which spreadsheets know UTF-8."""
    stream = io.StringIO(newline="")
    writer = csv.writer(stream, delimiter=separator, lineterminator="\n")
    for k, table in enumerate(form.tables):
        if k:
            writer.writerow([])
        for row in rows_of(table):
            writer.writerow([_written(cell, decimal_comma=decimal_comma) for cell in row.cells])
    return stream.getvalue().encode("utf-8-sig")


def _written(raw: Raw, *, decimal_comma: bool) -> str:
    """Return the text of one cell."""
    if raw is None:
        return ""
    if isinstance(raw, bool):
        return "yes" if raw else "no"
    if isinstance(raw, float):
        return with_comma(figure(raw)) if decimal_comma else figure(raw)
    return str(raw)


def with_comma(text: str) -> str:
    """Return a figure with a decimal comma that nobody takes for one between thousands."""
    text = text.replace(".", ",")
    return f"{text}0" if LOOKS_GROUPED.fullmatch(text) else text


def figure(value: float) -> str:
    """Return a number as people write it, so that it reads back exactly."""
    text = repr(value)
    return text.removesuffix(".0")
