"""Spectra with their floor and the places where cage lines are expected."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from cagewise.figures import style
from cagewise.indicators.lines.spectrum import Spectrum
from cagewise.language import retell, say

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

HEIGHT_IN = 2.9
HEADROOM_DB = 8.0
"""Room for labels above the highest line."""
FOOTROOM_DB = 15.0
"""Room below the floor; deeper dips of single bins say nothing."""


def spectrum(shown: Spectrum, labels: tuple[str, str, str]) -> Figure:
    """Return the figure of one spectrum.

    Parameters
    ----------
    shown
        Levels in dB relative to the fundamental current.
    labels
        Of the level axis, of the spectrum and of the floor.
    """
    from matplotlib.figure import Figure

    with style.drawing():
        figure = Figure(figsize=(style.WIDTH_IN, HEIGHT_IN))
        axes = figure.add_axes((0.09, 0.17, 0.89, 0.72))
        bottom, top = _level_limits(shown)
        axes.set_xlim(float(shown.frequency_hz[0]), float(shown.frequency_hz[-1]))
        axes.set_ylim(bottom, top)
        axes.grid(visible=True)
        axes.set_axisbelow(True)
        axes.plot(
            shown.frequency_hz,
            shown.level_dbc,
            color=style.LINE,
            linewidth=0.9,
            label=say(labels[1]),
        )
        axes.plot(
            shown.frequency_hz,
            shown.floor_dbc,
            color=style.SOFT,
            linewidth=1.0,
            linestyle=(0, (4, 2)),
            label=say(labels[2]),
        )
        axes.set_xlabel(f"{retell(shown.offset_label)}, Hz")
        axes.set_ylabel(say(labels[0]))
        _mark(axes, shown, top)
        style.number(axes)
        axes.legend(loc="upper right", frameon=False, fontsize=8)
    return figure


def _level_limits(shown: Spectrum) -> tuple[float, float]:
    """Return the ends of the level axis: from below the floor to above the highest line."""
    levels = shown.level_dbc[np.isfinite(shown.level_dbc)]
    floor = shown.floor_dbc[np.isfinite(shown.floor_dbc)]
    highest = float(np.max(levels, initial=-60.0))
    lowest = float(np.min(floor, initial=highest - 40.0))
    return lowest - FOOTROOM_DB, highest + HEADROOM_DB


def _mark(axes: Axes, shown: Spectrum, top: float) -> None:
    """Mark the expected lines with a dotted line and a label at the top."""
    first, last = float(shown.frequency_hz[0]), float(shown.frequency_hz[-1])
    for label, frequency_hz in shown.markers_hz.items():
        if not first <= frequency_hz <= last:
            continue
        axes.axvline(
            frequency_hz, color=style.SPEAKS_FOR, linewidth=1.0, linestyle=(0, (1, 2)), zorder=1
        )
        axes.text(
            frequency_hz,
            top,
            retell(label),
            color=style.SPEAKS_FOR,
            ha="center",
            va="bottom",
            fontsize=8,
        )
