"""What is due when: a row for each thing, a disc where it is decided and a ring where it is not."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING

from cagewise.figures import style

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

ROW_IN, EDGES_IN, WIDTH_IN = 0.2, 0.62, 6.6
EARLIEST_DAYS, LATEST_DAYS = 120, 300
"""Part of the calendar that is drawn at most, before and after the day; beyond it stands an
arrow."""
LEAST_DAYS = 45
"""Drawn at least, on both sides."""
MARGIN_DAYS = 8
MOST_TICKS = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class DueThing:
    """One thing that is due."""

    label: str
    day: date
    decided: bool
    """Whether somebody has decided it; else it is advised."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DueLabels:
    """Words of the figure."""

    today: str
    outage: str
    """Of one planned outage: its day is beside it."""


def due_line(
    things: Sequence[DueThing], today: date, outages: Sequence[date], labels: DueLabels
) -> Figure:
    """Return the figure.

    Parameters
    ----------
    things
        From top to bottom.
    today
        Day that parts what is overdue from what is to come.
    outages
        Planned, drawn where they lie within what is shown.
    labels
        Words.
    """
    from matplotlib.figure import Figure

    low, high = _span([thing.day for thing in things], today)
    with style.drawing():
        height = EDGES_IN + ROW_IN * max(len(things), 2)
        figure = Figure(figsize=(WIDTH_IN, height))
        axes = figure.add_axes((0.2, 0.3 / height, 0.78, 1.0 - EDGES_IN / height))
        axes.set_xlim(low.toordinal(), high.toordinal())
        axes.set_ylim(len(things) - 0.4, -0.6)
        axes.set_yticks(range(len(things)), [thing.label for thing in things])
        axes.tick_params(axis="y", length=0.0)
        axes.spines["left"].set_visible(False)
        _months(axes, low, high)
        _marks(axes, today, [day for day in outages if low < day < high], labels)
        for row, thing in enumerate(things):
            _point(axes, row, thing, low, high)
    return figure


def _span(days: Sequence[date], today: date) -> tuple[date, date]:
    """Return the part of the calendar that is drawn."""
    first = min((*days, today - timedelta(days=LEAST_DAYS)))
    last = max((*days, today + timedelta(days=LEAST_DAYS)))
    margin = timedelta(days=MARGIN_DAYS)
    low = max(first, today - timedelta(days=EARLIEST_DAYS)) - margin
    return low, min(last, today + timedelta(days=LATEST_DAYS)) + margin


def _months(axes: Axes, low: date, high: date) -> None:
    """Put a tick at the beginning of months."""
    begin = date(low.year, low.month, 1)
    months = []
    while begin <= high:
        if begin > low:
            months.append(begin)
        begin = (begin + timedelta(days=31)).replace(day=1)
    step = -(-len(months) // MOST_TICKS)
    shown = months[::step]
    axes.set_xticks([each.toordinal() for each in shown], [f"{each:%Y-%m}" for each in shown])
    axes.grid(visible=True, axis="x")
    axes.set_axisbelow(True)


def _marks(axes: Axes, today: date, outages: Sequence[date], labels: DueLabels) -> None:
    """Draw the day and the outages."""
    marks = [(today, labels.today, "-"), *((day, labels.outage, (0, (4, 2))) for day in outages)]
    for day, label, line in marks:
        axes.axvline(day.toordinal(), color=style.INK, linewidth=0.9, linestyle=line)
        axes.text(
            day.toordinal(),
            -0.7,
            label,
            ha="center",
            va="bottom",
            fontsize=8,
            color=style.INK,
            clip_on=False,
        )


def _point(axes: Axes, row: int, thing: DueThing, low: date, high: date) -> None:
    """Draw one thing: a disc, a ring, or an arrow where it lies beyond what is drawn."""
    at = min(max(thing.day, low + timedelta(days=3)), high - timedelta(days=3))
    marker = "o" if at == thing.day else "<" if thing.day < at else ">"
    axes.plot(
        at.toordinal(),
        row,
        marker=marker,
        markersize=6.0,
        markeredgewidth=1.2,
        markeredgecolor=style.INK,
        markerfacecolor=style.INK if thing.decided else style.PAPER,
        linestyle="none",
        clip_on=False,
        zorder=3,
    )
