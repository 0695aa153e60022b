"""Text tables: comma, semicolon, tab or blanks between columns, decimal point or comma."""

from __future__ import annotations

from pathlib import Path

from cagewise.measurement import Recording
from cagewise.readers.format import Format, ReadOptions
from cagewise.readers.heads import COMTRADE_TEXTS, looks_like_comtrade
from cagewise.readers.text import is_text

_SUFFIXES = (".csv", ".txt", ".tsv", ".asc", ".prn")

_FEWEST_ROWS = 10
"""Lines of numbers from which text under any other name is taken for a table."""


def _sniff(path: Path, head: bytes) -> bool:
    """Return whether this is text that holds, or by its name should hold, a table of numbers."""
    suffix = path.suffix.casefold()
    if not is_text(head) or suffix in COMTRADE_TEXTS or looks_like_comtrade(path, head):
        return False
    if suffix in _SUFFIXES:
        return True
    from cagewise.readers.csv_text.layout import find_layout, to_utf8

    layout = find_layout(to_utf8(head))
    return layout is not None and layout.n_rows >= _FEWEST_ROWS


def _read(path: Path, options: ReadOptions) -> Recording:
    from cagewise.readers.csv_text.reader import read

    return read(path, options)


def _write(recording: Recording, path: Path) -> None:
    from cagewise.readers.csv_text.writer import write

    write(recording, path)


FORMAT = Format(
    name="csv",
    title="text table (CSV)",
    suffixes=_SUFFIXES,
    holds="Columns of numbers with an optional preamble, header and units row; the sampling rate "
    "from a time column, the preamble, the sidecar or an option.",
    sniff=_sniff,
    read=_read,
    write=_write,
)
