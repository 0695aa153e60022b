"""A figure as SVG text that goes into a page: the same bytes for the same figure."""

from __future__ import annotations

import io
import re
from typing import TYPE_CHECKING

from cagewise.figures.style import CSS_VARIABLES, drawing

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def svg_text(figure: Figure, salt: str) -> str:
    """Return ``figure`` as an SVG element.

    Parameters
    ----------
    figure
        The figure.
    salt
        Different for every figure of a page, so that their element ids differ.

    Returns
    -------
    str
        Without XML prolog, document type and metadata; colours as CSS variables.
    """
    buffer = io.StringIO()
    with drawing(**{"svg.hashsalt": salt}):
        figure.savefig(
            buffer,
            format="svg",
            transparent=True,
            metadata={"Date": None, "Creator": None, "Format": None, "Type": None},
        )
    text = buffer.getvalue()
    text = text[text.index("<svg") :]
    text = re.sub(r"\s*<metadata>.*?</metadata>", "", text, flags=re.DOTALL)
    for group in ("figure", "axes", "patch", "line2d", "text", "matplotlib.axis", "xtick", "ytick"):
        text = re.sub(rf'<g id="{re.escape(group)}_\d+">', "<g>", text)
    for colour, variable in CSS_VARIABLES.items():
        text = text.replace(colour, variable)
    return text.strip()
