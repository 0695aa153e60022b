"""Text as it can be set: what cannot be seen, or would move what can, is shown or left out.

Names and notes come from files, sheets and forms. Nothing in them is ever markup; but a control
character has no glyph, and one that turns the direction of writing makes a number look like
another one.
"""

from __future__ import annotations

import re
import unicodedata

UNSHOWABLE = "\N{REPLACEMENT CHARACTER}"
"""Stands for a character that no font can show."""

_UNSHOWN_CATEGORIES = frozenset({"Cc", "Cn", "Co", "Cs"})
"""Controls, code points without a character, private ones and halves of pairs."""

_INKLESS_CATEGORIES = frozenset({"Cf", "Zl", "Zp", "Zs"})
"""Spaces, and characters that only format."""

_LEFT_OUT = frozenset(
    "\N{ARABIC LETTER MARK}\N{LEFT-TO-RIGHT MARK}\N{RIGHT-TO-LEFT MARK}"
    "\N{LEFT-TO-RIGHT EMBEDDING}\N{RIGHT-TO-LEFT EMBEDDING}\N{POP DIRECTIONAL FORMATTING}"
    "\N{LEFT-TO-RIGHT OVERRIDE}\N{RIGHT-TO-LEFT OVERRIDE}\N{LEFT-TO-RIGHT ISOLATE}"
    "\N{RIGHT-TO-LEFT ISOLATE}\N{FIRST STRONG ISOLATE}\N{POP DIRECTIONAL ISOLATE}"
    "\N{ZERO WIDTH NO-BREAK SPACE}"
)
"""Marks of direction, and the mark of byte order: letters find their direction without."""

NO_BREAK_SPACE = "\N{NO-BREAK SPACE}"

_TIES = re.compile(
    r"(?<=\d) (?=\d{3}(?!\d)"
    r"|(?:%|‰|°[CF]?|[kMGTmµμnp]?(?:V|A|W|VA|var|Hz|Ω|ohm|F|H|T|m|s|g|N|Nm|Pa|J|Wh|eV)|dB|min|h|d|K|in|ft"
    r"|lb|hp|psi|rpm|mil|[A-Z]{3})(?![^\W_])"
    r"|[-+−±×=] \d)"  # noqa: RUF001  # signs
    r"|(?<=\d [-+−±×=]) (?=\d)"  # noqa: RUF001  # signs
)
"""Spaces between groups of three digits, between a number and its unit or currency, in a sum."""


def plain(text: str) -> str:
    """Return text that can be set, its line breaks kept."""
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    return "\n".join(_shown(line) for line in lines)


def tied(text: str) -> str:
    """Return text whose numbers stay in one line with their groups of digits and their units."""
    return _TIES.sub(NO_BREAK_SPACE, text)


def plain_line(text: str) -> str:
    """Return text that can be set, in one line."""
    return plain(text).replace("\n", " ")


def is_visible(each: str) -> bool:
    """Tell whether a character leaves ink."""
    return unicodedata.category(each) not in _INKLESS_CATEGORIES


def _shown(line: str) -> str:
    """Return a line without what cannot be seen."""
    if line.isascii() and line.isprintable():
        return line
    return "".join(_character(each) for each in line if each not in _LEFT_OUT)


def _character(each: str) -> str:
    """Return what stands for a character."""
    if each == "\t":
        return " "
    return UNSHOWABLE if unicodedata.category(each) in _UNSHOWN_CATEGORIES else each
