"""The line current against time: what a cage beat, a load step or a drift looks like."""

from __future__ import annotations

from typing import TYPE_CHECKING

from cagewise.figures import style
from cagewise.language import say
from cagewise.quantities import RealArray

if TYPE_CHECKING:
    from matplotlib.figure import Figure

HEIGHT_IN = 2.1


def current_trend(
    time_s: RealArray, line_current_rms_a: RealArray, labels: tuple[str, str]
) -> Figure:
    """Return the figure of the current envelope.

    Parameters
    ----------
    time_s
        Time from the start of the recording, shape (n,).
    line_current_rms_a
        Envelope of the line current, shape (n,).
    labels
        Of the time and of the current axis.
    """
    from matplotlib.figure import Figure

    with style.drawing():
        figure = Figure(figsize=(style.WIDTH_IN, HEIGHT_IN))
        axes = figure.add_axes((0.09, 0.23, 0.89, 0.71))
        axes.grid(visible=True)
        axes.set_axisbelow(True)
        axes.plot(time_s, line_current_rms_a, color=style.LINE, linewidth=0.9)
        axes.set_xlim(float(time_s[0]), float(time_s[-1]))
        axes.set_xlabel(say(labels[0]))
        axes.set_ylabel(say(labels[1]))
        axes.ticklabel_format(axis="y", useOffset=False)
        style.number(axes)
    return figure
