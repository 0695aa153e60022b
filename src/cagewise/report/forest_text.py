"""The forest plot in characters: one line per reading on a common axis of open bars."""

from __future__ import annotations

import math
from dataclasses import dataclass

from cagewise.evidence.findings import Finding, Pooled
from cagewise.quantities import Estimate
from cagewise.report.language import decimal
from cagewise.report.symbols import Symbols

TICK_STEPS = (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0)
"""Distances of the ticks that are easy to read, in open bars."""
LEAST_TICK_COLUMNS = 6
"""Columns between two ticks: room for a label and air."""


@dataclass(frozen=True, slots=True)
class Axis:
    """Open bars to columns."""

    columns: int
    """Width of the plot."""
    top_bars: float
    """Value at the last column."""

    def column(self, value_bars: float) -> int:
        """Return the column of a value, clamped into the plot."""
        position = round(value_bars / self.top_bars * (self.columns - 1))
        return min(max(position, 0), self.columns - 1)

    @property
    def ticks_bars(self) -> tuple[float, ...]:
        """Values at which the axis is labelled."""
        most = max(1, (self.columns - 1) // LEAST_TICK_COLUMNS)
        step = next((s for s in TICK_STEPS if self.top_bars / s <= most), TICK_STEPS[-1])
        return tuple(step * k for k in range(math.floor(self.top_bars / step + 1e-9) + 1))


def axis_for(findings: tuple[Finding, ...], pooled: Pooled, columns: int) -> Axis:
    """Return an axis that shows every interval; a few wild ones may run off its end."""
    ends = [1.5]
    for finding in findings:
        if finding.bars is not None:
            ends.append(min(finding.bars.high, 3.0 * max(finding.bars.value, 1.0)))
        ends.append(min(finding.numbers.get("limit_bars", 0.0), 6.0))
    if pooled.bars is not None:
        ends.append(pooled.bars.high)
    top = min(max(ends) * 1.05, 20.0)
    step = next((s for s in (0.5, 1.0, 2.0, 5.0) if top / s <= 8.0), 5.0)
    return Axis(columns=columns, top_bars=math.ceil(top / step) * step)


def draw_reading(finding: Finding, axis: Axis, symbols: Symbols) -> str:
    """Return the plot of one reading; blank where it has no number."""
    cells = _empty(axis, symbols)
    limit = finding.numbers.get("limit_bars")
    if limit is not None:
        for column in range(axis.column(limit) + (limit > 0.0)):
            cells[column] = symbols.hidden
    if finding.bars is not None:
        _draw_interval(cells, finding.bars, axis, symbols)
        cells[axis.column(finding.bars.value)] = symbols.point(finding.support)
    return "".join(cells)


def draw_together(bars: Estimate | None, shape: str, axis: Axis, symbols: Symbols) -> str:
    """Return the plot of a line over all classes, blank where they do not agree.

    Parameters
    ----------
    bars
        Value and interval.
    shape
        Of the point.
    axis, symbols
        As for a reading.
    """
    cells = _empty(axis, symbols)
    if bars is not None:
        _draw_interval(cells, bars, axis, symbols)
        cells[axis.column(bars.value)] = shape
    return "".join(cells)


def draw_axis(axis: Axis, symbols: Symbols) -> tuple[str, str]:
    """Return the ruler and its labels."""
    ruler = [symbols.axis] * axis.columns
    labels = [" "] * (axis.columns + 4)
    for value in axis.ticks_bars:
        column = axis.column(value)
        ruler[column] = symbols.axis_tick
        text = decimal(f"{value:g}")
        start = max(0, column - (len(text) - 1) // 2)
        labels[start : start + len(text)] = text
    return "".join(ruler), "".join(labels).rstrip()


def _empty(axis: Axis, symbols: Symbols) -> list[str]:
    """Return an empty line with the guide at one open bar."""
    cells = [" "] * axis.columns
    if axis.top_bars >= 1.0:
        cells[axis.column(1.0)] = symbols.guide
    return cells


def _draw_interval(cells: list[str], bars: Estimate, axis: Axis, symbols: Symbols) -> None:
    """Draw the 95 % interval into a line."""
    first, last = axis.column(bars.low), axis.column(bars.high)
    for column in range(first, last + 1):
        cells[column] = symbols.interval
    cells[first] = symbols.interval_low
    cells[last] = symbols.beyond if bars.high > axis.top_bars else symbols.interval_high
