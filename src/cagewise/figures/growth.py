"""How damage grew from visit to visit: readings, the level that all give together, the load."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from cagewise.figures import style
from cagewise.quantities import Estimate

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

HEIGHT_IN = 3.3
WITH_LOADS_IN = 4.2
LEAST_TOP_BARS = 1.2
"""The axis shows one open bar at least."""
MOST_TICKS = 9
MARKER = 5.0
EPOCH = date(1970, 1, 1).toordinal()
"""Day from which axes of dates count."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GrowthPoint:
    """The reading of one visit."""

    day: date
    bars: Estimate
    is_limit: bool
    """"No more than" its value."""
    used: bool
    load_percent: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class GrowthLabels:
    """The words of the drawing."""

    bars: str
    load: str
    level: str
    used: str
    limit_only: str
    aside: str
    limit: str
    """Of the line at the limit."""


def growth(
    points: Sequence[GrowthPoint],
    curve: Sequence[tuple[date, Estimate]],
    moments: Sequence[tuple[date, str]],
    limit_bars: float,
    labels: GrowthLabels,
) -> Figure:
    """Return the figure of a trend.

    Parameters
    ----------
    points
        Of the visits, by day.
    curve
        Level and its 95 % interval by day; empty where there is none.
    moments
        What happened, each with a short word.
    limit_bars
        Damage that is marked by a line, where it lies on the axis.
    labels
        The words.
    """
    from matplotlib.figure import Figure

    loads = [p for p in points if p.load_percent is not None]
    with style.drawing():
        height = WITH_LOADS_IN if loads else HEIGHT_IN
        figure = Figure(figsize=(style.WIDTH_IN, height), layout="constrained")
        ratios = [4, 1] if loads else [1]
        panels = figure.subplots(len(ratios), 1, sharex=True, height_ratios=ratios, squeeze=False)
        axes = panels[0][0]
        for each in (panel[0] for panel in panels):
            each.grid(visible=True)
            each.set_axisbelow(True)
        _level(axes, curve, labels)
        _points(axes, points, labels)
        _frame(axes, points, curve, limit_bars, labels)
        style.number(axes)
        _moments(axes, moments)
        if loads:
            _loads(panels[1][0], loads, labels)
        _dates(panels[-1][0])
        figure.legend(loc="outside lower center", ncols=4, frameon=False, fontsize=8)
    return figure


def _level(axes: Axes, curve: Sequence[tuple[date, Estimate]], labels: GrowthLabels) -> None:
    """Draw the level and its band."""
    if not curve:
        return
    days = [_number(day) for day, _ in curve]
    low, high = [at.low for _, at in curve], [at.high for _, at in curve]
    axes.fill_between(days, low, high, color=style.FAINT, alpha=0.7, linewidth=0)
    axes.plot(days, [at.value for _, at in curve], color=style.SOFT, label=labels.level)


def _points(axes: Axes, points: Sequence[GrowthPoint], labels: GrowthLabels) -> None:
    """Draw readings with their intervals, one shape for each kind."""
    kinds = (
        ("o", labels.used, [p for p in points if p.used and not p.is_limit]),
        ("v", labels.limit_only, [p for p in points if p.used and p.is_limit]),
        ("x", labels.aside, [p for p in points if not p.used]),
    )
    for marker, label, kind in kinds:
        colour = style.SOFT if marker == "x" else style.INK
        for point in kind:
            axes.vlines(
                [_number(point.day)], point.bars.low, point.bars.high, color=colour, linewidth=1.2
            )
        if kind:
            axes.plot(
                [_number(p.day) for p in kind],
                [p.bars.value for p in kind],
                linestyle="none",
                marker=marker,
                markersize=MARKER,
                color=colour,
                label=label,
            )


def _frame(
    axes: Axes,
    points: Sequence[GrowthPoint],
    curve: Sequence[tuple[date, Estimate]],
    limit_bars: float,
    labels: GrowthLabels,
) -> None:
    """Set the axis of open bars; the limit is a line where it lies on it."""
    highest = max([LEAST_TOP_BARS, *(p.bars.high for p in points), *(at.high for _, at in curve)])
    top = 1.08 * highest
    axes.set_ylim(0.0, top)
    axes.set_ylabel(labels.bars)
    axes.axhline(1.0, color=style.FAINT, linewidth=1.2, zorder=0)
    if limit_bars <= top:
        axes.axhline(
            limit_bars, color=style.INK, linewidth=1.0, linestyle=(0, (6, 3)), label=labels.limit
        )


def _moments(axes: Axes, moments: Sequence[tuple[date, str]]) -> None:
    """Draw what happened as upright lines with a word."""
    for day, word in moments:
        axes.axvline(_number(day), color=style.SOFT, linewidth=1.0, linestyle=(0, (1, 2)))
        axes.annotate(
            word,
            (_number(day), 1.0),
            xycoords=("data", "axes fraction"),
            xytext=(3, -3),
            textcoords="offset points",
            fontsize=8,
            va="top",
            rotation=90,
        )


def _loads(axes: Axes, points: Sequence[GrowthPoint], labels: GrowthLabels) -> None:
    """Draw the load of every visit."""
    days = [_number(p.day) for p in points]
    loads = [p.load_percent or 0.0 for p in points]
    axes.vlines(days, 0.0, loads, color=style.SOFT, linewidth=3.0)
    axes.set_ylim(0.0, max(110.0, *loads))
    axes.set_yticks([0.0, 50.0, 100.0])
    axes.set_ylabel(labels.load)


def _number(day: date) -> float:
    """Return a day as the number that an axis of dates has for it."""
    return float(day.toordinal() - EPOCH)


def _dates(axes: Axes) -> None:
    """Write days as year and month."""
    from matplotlib.dates import AutoDateLocator, DateFormatter

    axes.xaxis.set_major_locator(AutoDateLocator(maxticks=MOST_TICKS))  # type: ignore[no-untyped-call]
    axes.xaxis.set_major_formatter(DateFormatter("%Y-%m"))  # type: ignore[no-untyped-call]
