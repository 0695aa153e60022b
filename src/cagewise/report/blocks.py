"""A page as blocks, for whoever lays it out otherwise than in lines of a terminal."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal, cast

from cagewise.report.facts import Fact
from cagewise.report.page import INDENT, STYLE_DIM, WIDEST, Page
from cagewise.report.symbols import UNICODE

if TYPE_CHECKING:
    from rich.console import Console


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """One part of a page."""

    kind: Literal["heading", "paragraph", "item", "facts", "table", "line"]
    text: str = ""
    dim: bool = False
    """Less important."""
    facts: tuple[Fact, ...] = ()
    heads: tuple[str, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()


@dataclass(frozen=True)
class BlockPage(Page):
    """A page that keeps what is written on it, unwrapped."""

    blocks: list[Block] = field(default_factory=list)

    def line(self, text: str = "", style: str = "") -> None:
        """Keep a line that was laid out by its writer."""
        if text.strip():
            self.blocks.append(Block(kind="line", text=text.strip(), dim=style == STYLE_DIM))

    def paragraph(
        self,
        text: str,
        *,
        indent: int = INDENT,  # noqa: ARG002 - of the terminal
        first: str = "",
        style: str = "",
    ) -> None:
        """Keep a paragraph, or an item of a list where something leads it."""
        kind: Literal["item", "paragraph"] = "item" if first else "paragraph"
        self.blocks.append(Block(kind=kind, text=text, dim=style == STYLE_DIM))

    def heading(self, text: str) -> None:
        """Keep a heading."""
        self.blocks.append(Block(kind="heading", text=text))

    def table(self, heads: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
        """Keep a table."""
        kept = tuple(tuple(row) for row in rows)
        self.blocks.append(Block(kind="table", heads=tuple(heads), rows=kept))

    def fact_table(self, rows: Sequence[Fact], *, indent: int = INDENT) -> None:  # noqa: ARG002 - of the terminal
        """Keep labelled values."""
        self.blocks.append(Block(kind="facts", facts=tuple(rows)))


def block_page() -> BlockPage:
    """Return an empty page; it has no terminal."""
    return BlockPage(console=cast("Console", None), symbols=UNICODE, width=WIDEST)
