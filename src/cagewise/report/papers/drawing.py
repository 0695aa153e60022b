"""A drawing of ``figures`` in the colours of paper, or in those of a page, light and dark."""

from __future__ import annotations

import re
from collections.abc import Mapping

from cagewise.figures.style import CSS_VARIABLES

PRINT_COLOURS: Mapping[str, str] = {
    "ink": "#000000",
    "soft": "#4a4a4a",
    "faint": "#bdbdbd",
    "hidden": "#e2e2e2",
    "paper": "#ffffff",
    "band": "#f2f2f2",
    "for": "#2a1c70",
    "against": "#0f6f8c",
    "line": "#234a70",
}
"""On paper: told apart by lightness, so that a copy in black and white says the same."""

LIGHT_COLOURS: Mapping[str, str] = {
    "ink": "#14171c",
    "soft": "#565d68",
    "faint": "#ccd0d7",
    "hidden": "#e3e7ee",
    "paper": "#ffffff",
    "band": "#f1f3f7",
    "for": "#3a2a86",
    "against": "#0f7290",
    "line": "#34618f",
}
DARK_COLOURS: Mapping[str, str] = {
    "ink": "#e9ecf1",
    "soft": "#a5adba",
    "faint": "#3d4551",
    "hidden": "#2c3440",
    "paper": "#171b22",
    "band": "#1d232d",
    "for": "#b9a8ff",
    "against": "#5fc6e4",
    "line": "#86b7ea",
}

_WHITE, _BLACK = "#ffffff", "#000000"
"""What the drawing library takes where the house style says nothing."""
_ALL_VARIABLES = {**CSS_VARIABLES, _WHITE: "var(--paper)", _BLACK: "var(--ink)"}
_VARIABLES = {
    colour.encode("ascii"): name.encode("ascii") for colour, name in _ALL_VARIABLES.items()
}
_COLOUR = re.compile(rb"(?i:" + b"|".join(map(re.escape, _VARIABLES)) + rb")(?![\w-])")
_VARIABLE = re.compile(rb"var\(--([a-z-]+)\)")
_ROOT = re.compile(rb"<svg\b[^>]*>")


def for_print(svg: bytes) -> bytes:
    """Return a drawing with the colours of paper."""
    return _VARIABLE.sub(_print_colour, _with_variables(svg))


def for_page(svg: bytes) -> bytes:
    """Return a drawing that is light or dark, as its reader prefers; black on white if printed."""
    style = b"<style>" + _style().encode("ascii") + b"</style>"
    return _ROOT.sub(lambda found: found[0] + style, _with_variables(svg), count=1)


def _with_variables(svg: bytes) -> bytes:
    """Return a drawing in which the colours of the house are variables."""
    return _COLOUR.sub(lambda found: _VARIABLES[found[0].lower()], svg)


def _print_colour(found: re.Match[bytes]) -> bytes:
    """Return the colour of paper for a variable; black for one that is not known."""
    return PRINT_COLOURS.get(found[1].decode("ascii"), PRINT_COLOURS["ink"]).encode("ascii")


def _style() -> str:
    """Return the values of the variables."""
    light, dark = (_values(colours) for colours in (LIGHT_COLOURS, DARK_COLOURS))
    return f":root{{{light}}}@media(prefers-color-scheme:dark){{:root{{{dark}}}}}"


def _values(colours: Mapping[str, str]) -> str:
    """Return declarations of variables."""
    return ";".join(f"--{name}:{colour}" for name, colour in colours.items())
