"""Tables of words on the screen: flush left, with the columns that fit."""

from __future__ import annotations

from collections.abc import Sequence

from cagewise.report.page import GAP, Page

Row = Sequence[str]


def write_table(
    page: Page,
    heads: Row,
    rows: Sequence[Row],
    *,
    spare: Sequence[str] = (),
    numbers: Sequence[str] = (),
) -> None:
    """Write a table; empty columns are left out, and spare ones until the rest fits.

    Parameters
    ----------
    page
        Where it is written.
    heads, rows
        Column heads and cells.
    spare
        Heads of columns that may be left out on a narrow page, the first one first.
    numbers
        Heads of columns that are flush right.
    """
    kept = [k for k in range(len(heads)) if any(row[k] for row in rows)]
    widths = [max(len(row[k]) for row in (heads, *rows)) for k in range(len(heads))]
    fitting = kept
    for name in spare:
        if _width(fitting, widths) > page.width:
            fitting = [k for k in fitting if heads[k] != name]
    fits = _width(fitting, widths) <= page.width
    shown = fitting if fits else kept  # a page too narrow for a table has room for blocks
    right = {k for k in shown if heads[k] in numbers}
    cells = [
        [row[k] if k in right else row[k].ljust(widths[k] * fits) for k in shown]
        for row in (heads, *rows)
    ]
    page.table(cells[0], cells[1:])


def _width(kept: Sequence[int], widths: Sequence[int]) -> int:
    """Return the columns of the page that a table takes."""
    return sum(widths[k] + GAP for k in kept)
