"""What a paper consists of: blocks of text, tables, drawings and lines to be filled in."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum
from typing import TypeAlias


class PaperSize(StrEnum):
    """Sizes of sheets."""

    A4 = "a4"
    LETTER = "letter"


class Shape(StrEnum):
    """Sign of a state, readable without colour; always beside its word."""

    HOLLOW = "hollow"
    """Sound: a ring."""
    HALF = "half"
    """Suspect: a half-filled disc."""
    FILLED = "filled"
    """Defective: a disc."""
    CROSS = "cross"
    """Not decidable: a cross."""
    NONE = "none"


class Tone(StrEnum):
    """How a paragraph or a box is to be read."""

    PLAIN = "plain"
    LEAD = "lead"
    """Larger: the sentence that has to be read if only one is."""
    NOTE = "note"
    """Smaller: about how, not what."""
    DANGER = "danger"
    """What can hurt somebody."""


class Blank(StrEnum):
    """A cell that is filled in by hand."""

    LINE = "line"
    """A number or a few words."""
    BOX = "box"
    """A mark: done, yes."""


Cell: TypeAlias = str | Blank


@dataclass(frozen=True, slots=True, kw_only=True)
class Heading:
    """Heads a section; level 1 stands in the table of contents and in the bookmarks."""

    text: str
    level: int = 1
    """1 or 2."""
    new_page: bool = False
    """The section begins a page."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Paragraph:
    """Running text."""

    text: str
    tone: Tone = Tone.PLAIN


@dataclass(frozen=True, slots=True, kw_only=True)
class Items:
    """A list."""

    items: tuple[str, ...]
    numbered: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """Labelled values, one below the other."""

    rows: tuple[tuple[str, Cell], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """Head of a column and how it is set."""

    head: str
    numbers: bool = False
    """Set to the right."""
    share: float = 1.0
    """Of the width, relative to the other columns."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """Rows under heads; its head is repeated on every page it reaches."""

    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell, ...], ...]
    caption: str = ""
    row_heads: bool = True
    """The first cell of each row names it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """State of something: sign, word, sentence."""

    shape: Shape
    word: str
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Cards:
    """A few answers side by side: the questions of whoever has to decide, and one answer each."""

    cards: tuple[tuple[str, str], ...]
    """Question and answer, two to six."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """Framed text: cautions, or what has to be known before the rest is used."""

    title: str
    items: tuple[str, ...]
    tone: Tone = Tone.NOTE


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """A drawing, as wide as the text."""

    svg: bytes
    """Of ``figures``: the same bytes for the same numbers, readable in black and white."""
    alt: str
    """What it shows, for those who cannot see it."""
    caption: str = ""
    width: float = 1.0
    """Of the width of the text."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Signatures:
    """Lines for a date and a name, one for each role."""

    roles: tuple[str, ...]


Block: TypeAlias = (
    Heading | Paragraph | Items | Facts | Table | Verdict | Cards | Box | Drawing | Signatures
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Paper:
    """A whole paper."""

    title: str
    day: date
    """Day it speaks of: stands on it and in its file, which is the same whenever it is made."""
    blocks: tuple[Block, ...]
    subtitle: str = ""
    foot: str = ""
    """At the foot of each page, beside its number: which motor, which version of the program."""
    contents: bool = False
    """A table of contents after the first page."""
    language: str = "en"
    """ISO 639-1."""
    size: PaperSize = PaperSize.A4
    compact: bool = False
    """Set closer, with narrow margins: a paper of one page that is carried to the motor."""
    keywords: tuple[str, ...] = field(default=())
