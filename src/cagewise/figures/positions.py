"""Inductance, resistance or impedance against the position of the rotor, a panel for each pair."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from cagewise.figures import style
from cagewise.language import say

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from cagewise.indicators.standstill.positions import PositionCurve

HEIGHT_IN = 2.5
TURN_DEG = 360.0


def position_curves(
    curves: Sequence[PositionCurve], titles: Sequence[str], labels: tuple[str, str, str, str, str]
) -> Figure:
    """Return the figure of one quantity at one frequency.

    Parameters
    ----------
    curves
        One per pair of terminals, all of the same quantity.
    titles
        One per panel.
    labels
        Of the angle axis, the value axis, the readings, the fit and the open bar.
    """
    from matplotlib.figure import Figure

    with style.drawing():
        figure = Figure(figsize=(style.WIDTH_IN, HEIGHT_IN))
        panels = figure.subplots(1, len(curves), sharex=True, sharey=True, squeeze=False)[0]
        for axes, curve, title in zip(panels, curves, titles, strict=True):
            axes.grid(visible=True)
            axes.set_axisbelow(True)
            axes.plot(
                curve.grid_deg,
                curve.one_open_bar_percent,
                color=style.SOFT,
                linewidth=1.1,
                linestyle=(0, (1, 1.5)),
                label=say(labels[4]),
            )
            axes.plot(
                curve.grid_deg,
                curve.fitted_percent,
                color=style.LINE,
                linewidth=1.0,
                label=say(labels[3]),
            )
            axes.plot(
                curve.angle_deg,
                curve.measured_percent,
                color=style.SPEAKS_FOR,
                marker="o",
                markersize=3.0,
                linestyle="none",
                label=say(labels[2]),
            )
            axes.set_title(title, fontsize=9)
            axes.set_xlim(0.0, TURN_DEG)
            style.number(axes)
            axes.set_xticks([0, 90, 180, 270])
            axes.set_xlabel(say(labels[0]))
        panels[0].set_ylabel(say(labels[1]))
        handles, words = panels[0].get_legend_handles_labels()
        figure.legend(handles, words, loc="lower center", ncols=3, frameon=False, fontsize=8)
        figure.subplots_adjust(left=0.09, right=0.99, top=0.9, bottom=0.32, wspace=0.08)
    return figure
