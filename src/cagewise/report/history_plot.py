"""The trend as a plot in characters: one line per visit, on a common axis of open bars."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date

from cagewise.history.points import Comparable, TrendPoint
from cagewise.history.trend import CurvePoint
from cagewise.report import forest_text, numbers
from cagewise.report import history_wording as words
from cagewise.report.forest_text import Axis
from cagewise.report.page import INDENT, STYLE_DIM, Page

MOST_ROWS = 24
"""Visits that a screen shows; of more, every second, third and so on."""
DATE_COLUMNS = 10
VALUE_COLUMNS = 19
"""Room for "12.3 (10.1 to 14.9)"."""
GAP = 2
LEAST_COLUMNS = 12
"""Of the plot; where there is less room the numbers are left out."""
LEAST_TOP_BARS = 0.5


def write_plot(page: Page, points: Comparable, curve: Sequence[CurvePoint]) -> None:
    """Write one line per visit: day, interval, reading and level, numbers."""
    step = math.ceil(len(points.points) / MOST_ROWS)
    heading = words.PLOT if step == 1 else words.PLOT_SOME
    page.heading(heading.format(step=step, count=len(points.points)))
    room = page.width - INDENT - DATE_COLUMNS - GAP
    numbered = room - GAP - VALUE_COLUMNS >= LEAST_COLUMNS
    axis = _axis(points.points, room - (GAP + VALUE_COLUMNS if numbered else 0))
    levels = curve or (None,) * len(points.points)
    rows = list(zip(points.points, levels, strict=True))[::-1][::step][::-1]
    for point, level in rows:
        day = date.fromordinal(math.floor(point.day)).isoformat()
        value = numbers.bars_interval(point.bars) if numbered else ""
        plot = _row(page, axis, point, level)
        page.line(" " * INDENT + day + " " * GAP + plot + " " * GAP + value)
    _ruler(page, axis)
    shapes = page.symbols
    legend = words.LEGEND.format(
        reading=shapes.speaks_for, limit=shapes.speaks_against, level=shapes.pooled, dot=shapes.dot
    )
    page.paragraph(legend, style=STYLE_DIM)


def _row(page: Page, axis: Axis, point: TrendPoint, level: CurvePoint | None) -> str:
    """Return the plot of one visit; the reading stands on the level where both fall together."""
    shapes = page.symbols
    shape = shapes.speaks_against if point.is_limit else shapes.speaks_for
    cells = list(forest_text.draw_together(point.bars, shape, axis, shapes))
    if level is not None:
        column = axis.column(level.bars.value)
        if column != axis.column(point.bars.value):
            cells[column] = shapes.pooled
    return "".join(cells)


def _axis(points: Sequence[TrendPoint], columns: int) -> Axis:
    """Return an axis that shows every interval; a few wild ones may run off its end."""
    usual = max(point.bars.value for point in points)
    top = max(LEAST_TOP_BARS, *(min(point.bars.high, 3.0 * usual) for point in points))
    step = next((s for s in (0.1, 0.5, 1.0, 2.0, 5.0) if top / s <= 8.0), 5.0)
    return Axis(columns=columns, top_bars=min(20.0, math.ceil(1.02 * top / step) * step))


def _ruler(page: Page, axis: Axis) -> None:
    """Write the axis with its labels."""
    lead = " " * (INDENT + DATE_COLUMNS + GAP)
    for line in forest_text.draw_axis(axis, page.symbols):
        page.line(lead + line, STYLE_DIM)
