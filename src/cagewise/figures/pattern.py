"""Probabilities of the patterns of damage as bars: names and percent on the left."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from cagewise.figures import style

if TYPE_CHECKING:
    from matplotlib.figure import Figure

ROW_IN = 0.27
"""Height of a bar with its gap in inches."""
FRAME_IN = 0.14
"""Height of the margins."""
LEFT, PLOT = 0.36, 0.62
"""Where the bars begin, as in the forest plot, and how long a certainty is: parts of the width."""
PERCENT_GAP = 0.03
"""Between percent and bar, in lengths of a certainty."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PatternBar:
    """One bar, worded."""

    label: str
    probability: float
    """0 to 1."""
    text: str
    """The probability as written."""
    sound: bool
    """Whether it is the probability of a sound cage: drawn hollow."""


def patterns(bars: Sequence[PatternBar]) -> Figure:
    """Return the bars of a set of patterns.

    Parameters
    ----------
    bars
        From top to bottom.
    """
    from matplotlib.figure import Figure

    height_in = FRAME_IN + ROW_IN * len(bars)
    with style.drawing():
        figure = Figure(figsize=(style.WIDTH_IN, height_in))
        axes = figure.add_axes((LEFT, 0.0, PLOT, 1.0))
        axes.set_xlim(0.0, 1.0)
        axes.set_ylim(len(bars) - 0.3, -0.7)
        axes.axis("off")
        transform = axes.get_yaxis_transform()
        for position, bar in enumerate(bars):
            axes.text(-1.0 * LEFT / PLOT, position, bar.label, transform=transform, va="center")
            axes.barh(position, 1.0, height=0.52, color=style.HIDDEN, zorder=0)
            axes.barh(
                position,
                bar.probability,
                height=0.52,
                facecolor=style.PAPER if bar.sound else style.SPEAKS_FOR,
                edgecolor=style.SPEAKS_AGAINST if bar.sound else style.SPEAKS_FOR,
                linewidth=1.2,
                zorder=2,
            )
            axes.text(-PERCENT_GAP, position, bar.text, va="center", ha="right", weight="bold")
    return figure
