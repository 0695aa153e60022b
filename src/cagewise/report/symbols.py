"""The shapes of the terminal report, in Unicode and in plain ASCII. Meaning is never colour."""

from __future__ import annotations

from dataclasses import dataclass

from cagewise.evidence.findings import Support


@dataclass(frozen=True, slots=True, kw_only=True)
class Symbols:
    """One set of characters, each one column wide."""

    speaks_for: str
    speaks_against: str
    cannot_tell: str
    pooled: str
    weighed: str
    """The fusion of all readings."""
    interval: str
    interval_low: str
    interval_high: str
    beyond: str
    """The interval goes on beyond the axis."""
    hidden: str
    """Damage that would not show in this record."""
    axis: str
    axis_tick: str
    axis_end: str
    guide: str
    """Vertical guide at one open bar."""
    rule: str
    bar: str
    """Length for a probability."""
    bullet: str
    dot: str
    """Separator between short facts."""
    plain: bool
    """Whether all output must be ASCII."""

    def point(self, support: Support) -> str:
        """Return the shape of the point."""
        return {
            Support.FOR: self.speaks_for,
            Support.AGAINST: self.speaks_against,
            Support.CANNOT_TELL: self.cannot_tell,
        }[support]


UNICODE = Symbols(
    speaks_for="●",
    speaks_against="○",
    cannot_tell="×",  # noqa: RUF001  # a shape, not a letter
    pooled="◆",
    weighed="◈",
    interval="─",
    interval_low="├",
    interval_high="┤",
    beyond="▸",
    hidden="░",
    axis="─",
    axis_tick="┴",
    axis_end="┴",
    guide="┊",
    rule="─",
    bar="▪",
    bullet="•",
    dot="·",
    plain=False,
)

ASCII = Symbols(
    speaks_for="#",
    speaks_against="o",
    cannot_tell="x",
    pooled="*",
    weighed="@",
    interval="-",
    interval_low="[",
    interval_high="]",
    beyond=">",
    hidden=":",
    axis="-",
    axis_tick="+",
    axis_end="+",
    guide="|",
    rule="-",
    bar="=",
    bullet="-",
    dot="|",
    plain=True,
)


def as_ascii(text: str) -> str:
    """Return ``text`` with the few characters beyond ASCII that reports use written out."""
    for character, plain in _REPLACEMENTS.items():
        text = text.replace(character, plain)
    return text.encode("ascii", "replace").decode("ascii")


_REPLACEMENTS = {
    "\N{EN DASH}": "-",
    "\N{EM DASH}": "-",
    "\N{MINUS SIGN}": "-",
    "\N{MIDDLE DOT}": "|",
    "\N{MULTIPLICATION SIGN}": "x",
    "\N{PLUS-MINUS SIGN}": "+-",
    "\N{SUPERSCRIPT TWO}": "2",
    "\N{DEGREE SIGN}": " deg",
    "\N{MICRO SIGN}": "u",
    "\N{GREEK CAPITAL LETTER OMEGA}": "ohm",
    "\N{LEFT DOUBLE QUOTATION MARK}": '"',
    "\N{RIGHT DOUBLE QUOTATION MARK}": '"',
    "\N{RIGHT SINGLE QUOTATION MARK}": "'",
    "\N{HORIZONTAL ELLIPSIS}": "...",
    "\N{LESS-THAN OR EQUAL TO}": "<=",
    "\N{GREATER-THAN OR EQUAL TO}": ">=",
}
