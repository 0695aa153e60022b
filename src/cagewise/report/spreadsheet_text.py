"""Text that a spreadsheet shows and never computes, and rows of comma-separated values.

Rows are those of RFC 4180: commas, CRLF, double quotes doubled. A spreadsheet takes a cell that
begins with ``=``, ``+``, ``-`` or ``@`` for a formula, whoever wrote it; such a cell begins with an
apostrophe here. So does what stands after a character at which a program of other settings may
part cells, in the middle of a text.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import date

Cell = str | float | int | bool | date | None
"""What stands in a cell: text, a number, yes or no, a day, nothing."""

_SIGNS = "=+\\-@\uff1d\uff0b\uff0d\uff20"  # the last four are the wide forms of the first
_FORMULA = re.compile(rf"(?:\A[ \u00a0]*|(?<=[;|\t\r\n]))(?=[{_SIGNS}\t\r])")
"""Where a formula could begin: at the beginning of a text, or where cells could be parted."""
_CONTROL = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\ufffe\uffff\ud800-\udfff]")
"""What no cell can hold and no reader wants to see; tabs and ends of lines stay."""
_ENDS = re.compile("\r\n?|\u2028|\u2029")
_QUOTED = re.compile('[",\r\n;\t|]|^ | $')
LINE_END = "\r\n"
REPLACEMENT = "\N{REPLACEMENT CHARACTER}"


def readable(text: str) -> str:
    """Return a text without control characters, its lines ended alike."""
    return _CONTROL.sub(REPLACEMENT, _ENDS.sub("\n", text))


def guarded(text: str) -> str:
    """Return a text of which no spreadsheet computes anything."""
    return _FORMULA.sub(lambda found: f"{found[0]}'", readable(text))


def computes(text: str) -> bool:
    """Return whether a spreadsheet could take a text for a formula."""
    return _FORMULA.search(readable(text)) is not None


def csv_row(cells: Iterable[Cell]) -> str:
    """Return a row of comma-separated values, with its end.

    Numbers are written in full, with a point; days as ISO 8601; yes and no as ``true`` and
    ``false``; nothing as nothing.
    """
    return ",".join(map(_cell, cells)) + LINE_END


def _cell(value: Cell) -> str:
    """Return one cell."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return repr(value)
    if isinstance(value, date):
        return value.isoformat()
    text = guarded(value)
    if _QUOTED.search(text):
        doubled = text.replace('"', '""')
        return f'"{doubled}"'
    return text
