"""A page of the terminal: lines that fit, in shapes and styles settled once."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from cagewise.report.facts import Fact
from cagewise.report.symbols import Symbols, as_ascii

if TYPE_CHECKING:
    from rich.console import Console

NARROWEST = 40
"""Below this width the text would be chopped into single words."""
WIDEST = 120
"""Longer lines are not read but lost."""
ROOMY = 108
"""From this width a reading fits on one line with its plot."""
INDENT = 2
HOLD = "\N{NO-BREAK SPACE}"
"""Between a number and its percent sign: no line ends there."""

STYLE_FOR = "bold magenta"
GAP = 2
"""Blank columns between the columns of a table."""

STYLE_AGAINST = "cyan"
STYLE_DIM = "dim"
STYLE_HEADING = "bold"


@dataclass(frozen=True)
class Page:
    """A place to write lines, with width, shapes and styles settled."""

    console: Console
    symbols: Symbols
    width: int

    def line(self, text: str = "", style: str = "") -> None:
        """Write one line that already fits."""
        from rich.text import Text

        shown = as_ascii(text) if self.symbols.plain else text
        shown = "".join(c if c.isprintable() else " " for c in shown)
        self.console.print(
            Text(shown.rstrip(), style=style), no_wrap=True, overflow="ignore", crop=False
        )

    def paragraph(
        self, text: str, *, indent: int = INDENT, first: str = "", style: str = ""
    ) -> None:
        """Write wrapped text; ``first`` leads its first line and sets the hanging indent."""
        lead = " " * indent + first
        lines = textwrap.wrap(
            text.replace(" %", f"{HOLD}%"),
            width=self.width,
            initial_indent=lead,
            subsequent_indent=" " * len(lead),
            break_long_words=True,
            break_on_hyphens=False,
        )
        for line in lines:
            self.line(line.replace(HOLD, " "), style)

    def heading(self, text: str) -> None:
        """Write a section heading after an empty line."""
        self.line()
        self.paragraph(text, indent=0, style=STYLE_HEADING)

    def table(self, heads: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
        """Write right-aligned columns, or one labelled block per row where they do not fit."""
        widths = [max(len(row[k]) for row in (heads, *rows)) for k in range(len(heads))]
        if sum(widths) + GAP * len(widths) > self.width:
            for row in rows:
                self.paragraph(f"{heads[0]} {row[0]}", style=STYLE_HEADING)
                self.fact_table(list(zip(heads[1:], row[1:], strict=True)))
            return
        for style, row in ((STYLE_DIM, heads), *(("", row) for row in rows)):
            cells = (cell.rjust(width) for cell, width in zip(row, widths, strict=True))
            self.line((" " * GAP + (" " * GAP).join(cells)).rstrip(), style)

    def fact_table(self, rows: Sequence[Fact], *, indent: int = INDENT) -> None:
        """Write labelled values in two columns, wrapped under the value.

        A label longer than half the page takes a line of its own.
        """
        room = self.width // 2
        column = max((len(label) for label, _ in rows if len(label) <= room), default=0) + 2
        for label, value in rows:
            if len(label) > room:
                self.paragraph(label, indent=indent)
                self.paragraph(value, indent=indent + GAP)
            else:
                self.paragraph(value, indent=indent, first=label.ljust(column))


def page_on(console: Console, symbols: Symbols) -> Page:
    """Return a page as wide as the console allows and reading permits."""
    return Page(console=console, symbols=symbols, width=max(NARROWEST, min(console.width, WIDEST)))
