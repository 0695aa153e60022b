"""Colours, sizes and type of every figure. Shapes carry meaning; colour only repeats it.

The palette is blue-violet against cyan with greys: told apart by lightness under every kind of
colour blindness, and in black and white. Each colour is also the name of a CSS variable, so that a
page can show the same figure light or dark (``svg.svg_text``).
"""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import AbstractContextManager
from typing import TYPE_CHECKING, Any

from cagewise.evidence.findings import Support
from cagewise.language import catalogue, current

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.typing import RcKeyType

INK = "#1c2330"
SOFT = "#66707f"
FAINT = "#ccd2da"
HIDDEN = "#e6e9ee"
PAPER = "#fdfdfe"
SPEAKS_FOR = "#3a2a86"
SPEAKS_AGAINST = "#1787a5"
LINE = "#34618f"

CSS_VARIABLES: Mapping[str, str] = {
    INK: "var(--ink)",
    SOFT: "var(--soft)",
    FAINT: "var(--faint)",
    HIDDEN: "var(--hidden)",
    PAPER: "var(--paper)",
    SPEAKS_FOR: "var(--for)",
    SPEAKS_AGAINST: "var(--against)",
    LINE: "var(--line)",
}
"""Colour of a figure to the variable that stands for it on a page."""

SUPPORT_COLOUR: Mapping[Support, str] = {
    Support.FOR: SPEAKS_FOR,
    Support.AGAINST: SPEAKS_AGAINST,
    Support.CANNOT_TELL: SOFT,
}
SUPPORT_MARKER: Mapping[Support, str] = {
    Support.FOR: "o",
    Support.AGAINST: "o",
    Support.CANNOT_TELL: "x",
}

WIDTH_IN = 7.6
"""Width of a full-width figure in inches, at which 9 points read well."""

_SETTINGS: dict[RcKeyType, Any] = {
    "font.family": ["sans-serif"],
    "font.sans-serif": ["DejaVu Sans", "sans-serif"],
    "font.size": 9.0,
    "text.color": INK,
    "axes.edgecolor": SOFT,
    "axes.labelcolor": INK,
    "axes.linewidth": 0.8,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "xtick.color": SOFT,
    "xtick.labelcolor": INK,
    "ytick.color": SOFT,
    "ytick.labelcolor": INK,
    "grid.color": FAINT,
    "grid.linewidth": 0.6,
    "svg.fonttype": "none",
}


def drawing(**more: Any) -> AbstractContextManager[None]:  # noqa: ANN401  # any setting
    """Return a context in which the house style holds; nothing is set globally."""
    import matplotlib as mpl

    return mpl.rc_context(_SETTINGS | more)  # type: ignore[arg-type]  # keys given by keyword


def number(axes: Axes) -> None:
    """Write the numbers of both axes with the decimal sign of the language of the moment."""
    sign = catalogue(current()).decimal_sign
    if sign == ".":
        return
    from matplotlib.ticker import ScalarFormatter

    class Signed(ScalarFormatter):
        """Numbers with another decimal sign."""

        def format_ticks(self, values: Any) -> list[str]:  # noqa: ANN401  # whatever has ticks
            return [text.replace(".", sign) for text in super().format_ticks(values)]

    for axis in (axes.xaxis, axes.yaxis):
        written = axis.get_major_formatter()
        if type(written) is ScalarFormatter:
            axis.set_major_formatter(Signed(useOffset=written.get_useOffset()))
