"""A paper as what the template of the press reads: names, numbers and strings, never markup."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from contextlib import AbstractContextManager, nullcontext
from dataclasses import replace
from itertools import chain, pairwise
from typing import Any, TypeAlias

from cagewise.report.language import current, say, speaking
from cagewise.report.papers import press_wording
from cagewise.report.papers.breaks import Pieces, in_pieces
from cagewise.report.papers.paper import (
    Blank,
    Block,
    Box,
    Cards,
    Cell,
    Drawing,
    Facts,
    Heading,
    Items,
    Paper,
    PaperSize,
    Paragraph,
    Signatures,
    Table,
    Tone,
    Verdict,
)
from cagewise.report.papers.plain import is_visible, plain, plain_line, tied

Data: TypeAlias = dict[str, Any]

SHEETS: Mapping[PaperSize, str] = {PaperSize.A4: "a4", PaperSize.LETTER: "us-letter"}

LINE_CHARACTERS = 82
"""Characters in a full line of running text, about; words beyond a part of it may be broken."""

TABLE_CHARACTERS = 92
"""The same in a table, whose type is smaller."""

_LONG_WORD = LINE_CHARACTERS // 3
_CARD_WORD = LINE_CHARACTERS // 4
_NARROWEST = 5
"""Characters that every column has room for."""
_LABEL_SHARE = 0.36
"""Of the width, for the labels of facts."""
_WHOLE_SIGNATURES = 8
_HEAD_CHARACTERS, _FOOT_CHARACTERS = 90, 250
"""Room for one line at the head of a page, and for three at its foot."""
_WHOLE_CHARACTERS = 1500
"""About a third of a page: what is longer may go on on the next one."""
_WHOLE_ROW_CHARACTERS = 300
"""The same for a cell of a table, whose column may be narrow."""
_INTRODUCED = frozenset({"drawing", "table", "facts"})
"""Blocks that a paragraph before them is not parted from."""
_MARKS = ("\x02", "\x03")
"""Stand for the two numbers while the words around them are looked up."""


def press_data(paper: Paper) -> Data:
    """Return a paper as a mapping that can be written as JSON; without its drawings."""
    return {
        "title": in_pieces(tied(named(paper.title)), _CARD_WORD),
        "title-plain": named(paper.title),
        "title-running": in_pieces(shortened(named(paper.title), _HEAD_CHARACTERS), _LONG_WORD),
        "subtitle": _text(paper.subtitle),
        "day": [paper.day.year, paper.day.month, paper.day.day],
        "day-text": paper.day.isoformat(),
        "foot": in_pieces(shortened(plain_line(paper.foot), _FOOT_CHARACTERS), _LONG_WORD),
        "keywords": [plain_line(each) for each in paper.keywords],
        "language": paper.language,
        "sheet": SHEETS[paper.size],
        "compact": paper.compact,
        "words": _words(),
        "blocks": _blocks(paper),
    }


def spoken(code: str) -> AbstractContextManager[object]:
    """Return a context in which the language of a paper is spoken: the present one, if it is."""
    return nullcontext() if current() == code else speaking(code)


def drawing_files(paper: Paper) -> Iterator[tuple[str, Drawing]]:
    """Yield the name under which the template finds each drawing, and the drawing."""
    made = (block for block in paper.blocks if isinstance(block, Drawing))
    for number, block in enumerate(made):
        yield f"drawing-{number}.svg", block


def page_of() -> list[str]:
    """Return the words around and between the number of a page and that of all: three."""
    said = say(press_wording.PAGE_OF, page=_MARKS[0], pages=_MARKS[1])
    return re.split("[" + "".join(_MARKS) + "]", said)


def _words() -> Data:
    """Return the words that the press adds."""
    return {
        "contents": say(press_wording.CONTENTS),
        "page-of": page_of(),
        "danger": say(press_wording.DANGER),
        "date": say(press_wording.DATE),
        "name": say(press_wording.NAME_AND_SIGNATURE),
    }


def named(text: str) -> str:
    """Return a title or heading in one line; a word for one that says nothing."""
    line = plain_line(text).strip()
    return line if any(map(is_visible, line)) else say(press_wording.UNTITLED)


def shortened(text: str, most: int) -> str:
    """Return the beginning of a text that repeats on every page."""
    return text if len(text) <= most else text[: most - 1].rstrip() + "\N{HORIZONTAL ELLIPSIS}"


def title_of(box: Box) -> str:
    """Return the title of a box, without one that only repeats the word of danger before it."""
    repeats = box.title.strip().casefold() == say(press_wording.DANGER).casefold()
    return "" if repeats and box.tone is Tone.DANGER else box.title


def told(drawing: Drawing) -> str:
    """Return what is told of a drawing to those who cannot see it: never nothing."""
    lines = (plain_line(text).strip() for text in (drawing.alt, drawing.caption))
    return next(filter(None, lines), say(press_wording.DRAWING))


def with_contents(paper: Paper) -> Iterator[Block | None]:
    """Yield the blocks, and None where the table of contents stands.

    That is before the first section that begins a page, else at the end of the paper's head. The
    levels of headings never skip one: a second level without a first before it is a first.
    """
    first_page_ends = any(isinstance(each, Heading) and each.new_page for each in paper.blocks)
    waiting = paper.contents
    if waiting and not first_page_ends:
        yield None
        waiting = False
    headed = False
    for block in paper.blocks:
        if not isinstance(block, Heading):
            yield block
            continue
        first = block if headed else replace(block, level=1)
        if waiting and block.new_page:
            yield None
            waiting = False
            first = replace(first, new_page=False)
        yield first
        headed = True


def _blocks(paper: Paper) -> list[Data]:
    """Return the blocks as the template reads them; a sentence stays with what it introduces."""
    made = list(_each(paper))
    for block, after in pairwise(made):
        if block["kind"] == "paragraph":
            block["keep"] = after["kind"] in _INTRODUCED and not block["long"]
    return made


def _each(paper: Paper) -> Iterator[Data]:
    """Yield every block as the template reads it."""
    names = iter(name for name, _ in drawing_files(paper))
    for block in with_contents(paper):
        if block is None:
            yield {"kind": "contents"}
        elif isinstance(block, Drawing):
            yield _drawing(block, next(names))
        else:
            yield _MAKERS[type(block)](block)


def _text(text: str, longest: int = _LONG_WORD) -> str | Pieces:
    return in_pieces(tied(plain(text)), longest)


def _is_long(*texts: str) -> bool:
    """Tell whether texts that stand together may be parted by the end of a page."""
    lines = sum(text.count("\n") for text in texts)
    return sum(map(len, texts)) + LINE_CHARACTERS * lines > _WHOLE_CHARACTERS


def _is_long_cell(cell: Cell) -> bool:
    """Tell the same of one cell of a row."""
    return not isinstance(cell, Blank) and len(cell) + 10 * cell.count("\n") > _WHOLE_ROW_CHARACTERS


def _heading(block: Heading) -> Data:
    return {
        "kind": "heading",
        "text": in_pieces(tied(named(block.text)), _CARD_WORD),
        "level": block.level,
        "new-page": block.new_page,
    }


def _paragraph(block: Paragraph) -> Data:
    return {
        "kind": "paragraph",
        "text": _text(block.text),
        "tone": block.tone.value,
        "long": _is_long(block.text),
        "keep": False,
    }


def _items(block: Items) -> Data:
    items = [_text(each) for each in block.items]
    return {"kind": "items", "items": items, "numbered": block.numbered}


def _cell(cell: Cell, longest: int) -> Any:  # noqa: ANN401  # a string, pieces, or a blank
    return {"blank": cell.value} if isinstance(cell, Blank) else _text(cell, longest)


def _facts(block: Facts) -> Data:
    labels = int(LINE_CHARACTERS * _LABEL_SHARE)
    rows = [[_text(label, labels), _cell(value, _LONG_WORD)] for label, value in block.rows]
    long = any(_is_long_cell(cell) for row in block.rows for cell in row)
    return {"kind": "facts", "rows": rows, "label-share": _LABEL_SHARE, "long": long}


def _table(block: Table) -> Data:
    shares = sum(column.share for column in block.columns) or 1.0
    widths = [
        max(_NARROWEST, int(TABLE_CHARACTERS * column.share / shares) - 2)
        for column in block.columns
    ]
    columns = [
        {"head": _text(each.head, width), "numbers": each.numbers, "share": each.share}
        for each, width in zip(block.columns, widths, strict=True)
    ]
    rows = [
        [_cell(cell, width) for cell, width in zip(row, widths, strict=True)] for row in block.rows
    ]
    cells = [cell for row in block.rows for cell in row]
    return {
        "kind": "table",
        "columns": columns,
        "rows": rows,
        "caption": _text(block.caption),
        "blanks": any(isinstance(cell, Blank) for cell in cells),
        "long": any(map(_is_long_cell, cells)),
        "long-heads": any(_is_long_cell(column.head) for column in block.columns),
    }


def _verdict(block: Verdict) -> Data:
    return {
        "kind": "verdict",
        "shape": block.shape.value,
        "word": _text(block.word, _CARD_WORD),
        "sentence": _text(block.sentence),
        "long": _is_long(block.word, block.sentence),
    }


def _cards(block: Cards) -> Data:
    cards = [[_text(each, _CARD_WORD) for each in card] for card in block.cards]
    return {"kind": "cards", "cards": cards, "long": _is_long(*chain.from_iterable(block.cards))}


def _box(block: Box) -> Data:
    return {
        "kind": "box",
        "title": _text(title_of(block)),
        "items": [_text(each) for each in block.items],
        "tone": block.tone.value,
        "long": _is_long(*block.items),
    }


def _drawing(block: Drawing, name: str) -> Data:
    return {
        "kind": "drawing",
        "file": name,
        "alt": told(block),
        "caption": _text(block.caption),
        "width": min(block.width, 1.0),
        "long": _is_long(block.caption),
    }


def _signatures(block: Signatures) -> Data:
    long = len(block.roles) > _WHOLE_SIGNATURES or _is_long(*block.roles)
    roles = [_text(role, _CARD_WORD) for role in block.roles]
    return {"kind": "signatures", "roles": roles, "long": long}


_MAKERS: Mapping[type[Block], Callable[[Any], Data]] = {
    Heading: _heading,
    Paragraph: _paragraph,
    Items: _items,
    Facts: _facts,
    Table: _table,
    Verdict: _verdict,
    Cards: _cards,
    Box: _box,
    Signatures: _signatures,
}
