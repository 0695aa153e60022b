"""Where the numbers of a text table begin, and what stands above them."""

from __future__ import annotations

import codecs
import csv
import re
from collections.abc import Sequence
from dataclasses import dataclass

from cagewise.readers.text import decode_text
from cagewise.readers.units import is_unit, split_names, unique_names

_DIALECTS = (
    (",", "."),
    (";", "."),
    (";", ","),
    ("\t", "."),
    ("\t", ","),
    ("|", "."),
    ("|", ","),
    (" ", "."),
    (" ", ","),
    (",", ","),
)
"""Separator (a blank means any run of blanks) and decimal sign, the first of equals is taken; the
last pair is for decimal commas in quotes."""

_NUMBER = {
    ".": re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?"),
    ",": re.compile(r"[+-]?(?:\d+,?\d*|,\d+)(?:[eE][+-]?\d+)?"),
}

MISSING = (
    *("", "NaN", "nan", "NAN", "-nan", "+nan", "-NaN", "NULL", "null", "None", "n/a", "N/A", "NA"),
    *("-", "--", "---", "#N/A", "#DIV/0!", "1.#QNAN", "-1.#IND", "1,#QNAN", "-1,#IND", "?"),
)
"""Cells that mean "no value"."""

_MISSING = frozenset(MISSING) | {"inf", "-inf", "+inf", "Inf", "-Inf", "INF", "-INF"}

_WHEN = re.compile(
    r"(?:\d{1,4}[-./]\d{1,2}[-./]\d{1,4})?[ T]?"
    r"(?:\d{1,2}:\d{2}(?::\d{2}(?:[.,]\d+)?)?(?: ?[AaPp][Mm])?)?(?:Z|[+-]\d{2}:?\d{2})?",
)
"""A date, a time of day, or both."""

_LONGEST_NAME = 60
"""Characters; a longer line above a single column is a remark and not its name."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """How one text table is laid out."""

    encoding: str
    separator: str
    """One character; a blank stands for any run of blanks and tabs."""
    decimal_sign: str
    first_line: int
    """Number of lines above the first line of numbers."""
    n_rows: int
    """Lines of numbers among the lines that were looked at."""
    data_offset: int
    """Bytes before the first line of numbers."""
    names: tuple[str, ...]
    """Name of every column, made up ("column 2") where the file gives none."""
    units: tuple[str, ...]
    named: bool
    """Whether the file names its columns."""
    preamble: tuple[str, ...]
    """Lines above the table."""


def to_utf8(data: bytes) -> bytes:
    """Return UTF-16 text as UTF-8, anything else as it is."""
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return data.decode("utf-16", errors="ignore").encode()
    return data


def find_layout(head: bytes, *, complete: bool = False) -> Layout | None:
    """Return the layout of a text table from its first bytes, or None if it holds no numbers.

    Parameters
    ----------
    head
        First bytes in an encoding that contains ASCII.
    complete
        Whether ``head`` is the whole file; otherwise its last line may be cut.
    """
    raw_lines = head.splitlines(keepends=True)
    if not complete and len(raw_lines) > 1:
        raw_lines = raw_lines[:-1]
    _, encoding = decode_text(head)
    mark = len(codecs.BOM_UTF8) if head.startswith(codecs.BOM_UTF8) else 0
    lines = [raw.decode(encoding, errors="replace").strip("\r\n") for raw in raw_lines]
    if mark and lines:
        lines[0] = lines[0].removeprefix("\ufeff")
    best = _best_dialect(lines)
    if best is None:
        return None
    (n_rows, _, n_columns), separator, decimal_sign, start = best
    header = _header(lines, start, separator, n_columns)
    names, units = header or ([""] * n_columns, [""] * n_columns)
    return Layout(
        encoding=encoding,
        separator=separator,
        decimal_sign=decimal_sign,
        first_line=start,
        n_rows=n_rows,
        data_offset=max(mark, sum(map(len, raw_lines[:start]))),
        names=tuple(unique_names(names)),
        units=tuple(units),
        named=header is not None and any(names),
        preamble=tuple(lines[:start]),
    )


def _best_dialect(lines: Sequence[str]) -> tuple[tuple[int, bool, int], str, str, int] | None:
    """Return score (lines, heading, columns), separator, decimal sign and first line of numbers."""
    best: tuple[tuple[int, bool, int], str, str, int] | None = None
    for separator, decimal_sign in _DIALECTS:
        start, length, n_columns = _longest_run(lines, separator, decimal_sign)
        if length:
            header = _header(lines, start, separator, n_columns)
            score = (length, header is not None, n_columns)
            if best is None or score > best[0]:
                best = (score, separator, decimal_sign, start)
    return best


def cells_of(line: str, separator: str) -> list[str]:
    """Return the cells of a line, without blanks around them."""
    if separator == " ":
        return line.split()
    if '"' not in line:
        return [cell.strip() for cell in line.split(separator)]
    try:
        rows = list(csv.reader([line], delimiter=separator, skipinitialspace=True))
    except csv.Error:
        return []
    return [cell.strip() for cell in rows[0]] if rows else []


def is_number(cell: str, decimal_sign: str) -> bool:
    """Return whether a cell is a number."""
    return _NUMBER[decimal_sign].fullmatch(cell) is not None


def _data_width(line: str, separator: str, decimal_sign: str) -> int:
    """Return the number of cells of a line of data, or 0 for any other line."""
    cells = cells_of(line, separator)
    numbers = 0
    for cell in cells:
        if is_number(cell, decimal_sign):
            numbers += 1
        elif cell not in _MISSING and not _WHEN.fullmatch(cell):
            return 0
    return len(cells) if numbers else 0


def _longest_run(lines: Sequence[str], separator: str, decimal_sign: str) -> tuple[int, int, int]:
    """Return start, length and width of the longest run of lines of data of one width."""
    best = (0, 0, 0)
    start = length = width = 0
    for number, line in enumerate(lines):
        if not line.strip():
            continue
        here = _data_width(line, separator, decimal_sign)
        if here and here == width:
            length += 1
        else:
            start, length, width = number, min(here, 1), here
        if length > best[1]:
            best = (start, length, width)
    return best


def _header(
    lines: Sequence[str], start: int, separator: str, n_columns: int
) -> tuple[list[str], list[str]] | None:
    """Return names and units from the lines just above the data, or None if there are none."""
    above = [line for line in lines[:start] if line.strip()]
    if not above:
        return None
    last = _heading_cells(above[-1], separator, n_columns)
    if last is None:
        return None
    if all(is_unit(cell) for cell in last if cell):
        names = _heading_cells(above[-2], separator, n_columns) if len(above) > 1 else None
        if names is None:
            return [""] * n_columns, [cell.strip("[](){} ") for cell in last]
        bare = [name for name, _ in split_names(names)]
        return bare, [cell.strip("[](){} ") for cell in last]
    pairs = split_names(last)
    return [name for name, _ in pairs], [unit for _, unit in pairs]


def _heading_cells(line: str, separator: str, n_columns: int) -> list[str] | None:
    """Return the cells of a heading, as many as the data have, or None if it is no heading."""
    cells = cells_of(line.lstrip("#%/ "), separator)
    while len(cells) > n_columns and not cells[-1]:
        cells.pop()
    missing = n_columns - len(cells)
    if missing not in (0, 1) or not any(cells) or (missing and n_columns == 1):
        return None
    if n_columns == 1 and len(line) > _LONGEST_NAME:
        return None
    return cells + [""] * missing
