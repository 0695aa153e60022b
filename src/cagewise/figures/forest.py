"""The forest plot: every reading on one axis of open bars, with interval and blind zone."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from cagewise.evidence.findings import Support
from cagewise.figures import style
from cagewise.language import say
from cagewise.quantities import Estimate

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

LABEL_CHARACTERS = 38
"""Longer names are wrapped."""
ROW_IN = 0.27
"""Height of a row in inches."""
FRAME_IN = 0.75
"""Height that axis and labels take."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ForestRow:
    """One line of the plot, worded."""

    label: str
    heading: bool = False
    """A class heading: no plot."""
    pooled: bool = False
    support: Support = Support.CANNOT_TELL
    bars: Estimate | None = None
    limit_bars: float | None = None
    """Damage below this would not show."""
    value_text: str = ""
    word: str = ""


def forest(rows: Sequence[ForestRow], top_bars: float, axis_label: str) -> Figure:
    """Return the forest plot.

    Parameters
    ----------
    rows
        From top to bottom.
    top_bars
        Upper end of the axis.
    axis_label
        What the axis counts.
    """
    from matplotlib.figure import Figure

    height_in = FRAME_IN + ROW_IN * (len(rows) + 0.5)
    with style.drawing():
        figure = Figure(figsize=(style.WIDTH_IN, height_in))
        axes = figure.add_axes((0.36, 0.55 / height_in, 0.34, 1.0 - (FRAME_IN - 0.1) / height_in))
        axes.set_xlim(0.0, top_bars)
        axes.set_ylim(len(rows) - 0.4, -0.8)
        axes.set_yticks([])
        axes.spines["left"].set_color(style.FAINT)
        axes.set_xlabel(say(axis_label))
        style.number(axes)
        axes.axvline(1.0, color=style.FAINT, linewidth=1.0, zorder=0)
        for position, row in enumerate(rows):
            _draw_row(axes, position, row, top_bars)
    return figure


def _draw_row(axes: Axes, position: int, row: ForestRow, top_bars: float) -> None:
    """Draw one row: name on the left, plot, number and word on the right."""
    weight = "bold" if row.heading or row.pooled else "normal"
    indent = -1.05 if row.heading or row.pooled else -1.0
    label = textwrap.fill(row.label, LABEL_CHARACTERS)
    transform = axes.get_yaxis_transform()
    axes.text(indent, position, label, transform=transform, va="center", weight=weight)
    axes.text(1.05, position, row.value_text, transform=transform, va="center")
    axes.text(1.54, position, row.word, transform=transform, va="center", weight=weight)
    if row.limit_bars is not None:
        axes.barh(
            position, min(row.limit_bars, top_bars), height=0.62, color=style.HIDDEN, zorder=1
        )
    if row.bars is not None:
        _draw_estimate(axes, position, row, top_bars)


def _draw_estimate(axes: Axes, position: int, row: ForestRow, top_bars: float) -> None:
    """Draw point and interval; an interval beyond the axis ends in an arrow."""
    if row.bars is None:
        return
    colour = style.INK if row.pooled else style.SUPPORT_COLOUR[row.support]
    last = min(row.bars.high, top_bars)
    axes.plot([row.bars.low, last], [position, position], color=colour, linewidth=1.6, zorder=2)
    if row.bars.high > top_bars:
        axes.plot(last, position, marker=">", color=colour, markersize=6, clip_on=False, zorder=3)
    if row.bars.value > top_bars:
        return
    hollow = row.support is Support.AGAINST and not row.pooled
    axes.plot(
        row.bars.value,
        position,
        linestyle="none",
        color=colour,
        marker="D" if row.pooled else style.SUPPORT_MARKER[row.support],
        markersize=7,
        markeredgewidth=1.8,
        markeredgecolor=colour,
        markerfacecolor=style.PAPER if hollow else colour,
        clip_on=False,
        zorder=4,
    )
