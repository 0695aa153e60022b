"""The side line of a start against the slip, beside what open bars would give."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from cagewise.figures import style
from cagewise.language import say
from cagewise.quantities import RealArray

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from cagewise.indicators.start.side_line_track import TrackFigure

HEIGHT_IN = 2.9
LOWEST_DB = -70.0
"""Weaker waves say nothing and would squeeze the rest."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TrackLabels:
    """Words of the figure."""

    slip: str
    level: str
    read: str
    floor: str
    one_bar: str
    two_bars: str


def side_line_track(shown: TrackFigure, labels: TrackLabels) -> Figure:
    """Return the figure of the side line in the windows in which it was read.

    The slip falls from left to right, as time runs.
    """
    from matplotlib.figure import Figure

    with style.drawing():
        figure = Figure(figsize=(style.WIDTH_IN, HEIGHT_IN))
        axes = figure.add_axes((0.09, 0.17, 0.89, 0.78))
        axes.grid(visible=True)
        axes.set_axisbelow(True)
        order = np.argsort(-shown.window_slip)
        slip = shown.window_slip[order]
        _lines(axes, slip, shown, order, labels)
        axes.set_xlim(float(slip.max()) + 0.02, float(slip.min()) - 0.02)
        bottom, top = axes.get_ylim()
        axes.set_ylim(max(bottom, LOWEST_DB), top)
        axes.set_xlabel(say(labels.slip))
        axes.set_ylabel(say(labels.level))
        style.number(axes)
        axes.legend(loc="upper left", bbox_to_anchor=(0.0, 1.0), ncols=4, frameon=False, fontsize=8)
        axes.set_ylim(axes.get_ylim()[0], axes.get_ylim()[1] + 6.0)
    return figure


def _lines(
    axes: Axes, slip: RealArray, shown: TrackFigure, order: np.ndarray, labels: TrackLabels
) -> None:
    """Draw what was read, its floor and what is expected."""
    floor = _level(shown.floor[order])
    axes.fill_between(
        slip, floor, LOWEST_DB, color=style.HIDDEN, linewidth=0, label=say(labels.floor)
    )
    for expected, dashes, label in (
        (shown.expected_one, (0, (1, 1.5)), labels.one_bar),
        (shown.expected_two, (0, (5, 2)), labels.two_bars),
    ):
        level = _level(expected[order])
        axes.plot(slip, level, color=style.SOFT, linewidth=1.1, linestyle=dashes, label=say(label))
    axes.plot(
        slip,
        _level(shown.ratio[order]),
        color=style.SPEAKS_FOR,
        marker="o",
        markersize=3.5,
        linewidth=0.9,
        label=say(labels.read),
    )


def _level(ratio: RealArray) -> RealArray:
    """Return amplitude ratios in dB, none below the lowest that is drawn."""
    return np.asarray(20.0 * np.log10(np.maximum(ratio, 10.0 ** (LOWEST_DB / 20.0))))
