"""The return sheet of a repair shop: blanks to be filled in by hand, and rows for a file."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from cagewise.decision.repair_specification import RepairSpecification
from cagewise.measurement.repair_return import AnswerKind, Question, Section
from cagewise.report.language import say
from cagewise.report.papers import repair_return_wording as words
from cagewise.report.papers import repair_specification_wording as own
from cagewise.report.papers.paper import (
    Blank,
    Block,
    Cell,
    Column,
    Facts,
    Heading,
    Paragraph,
    Table,
)

BARS_ON_PAPER = 8
"""Rows for damaged bars on the printed sheet; the bar map takes the others."""
MAP_COLUMNS = 10
"""Bars in a row of the bar map."""
MAP_BARS_UNKNOWN = 80
"""Bars of the map where their number is not known: three of four cages have fewer; common
practice, no source."""


def question_text(question: Question) -> str:
    """Return what is asked."""
    return say(words.QUESTION[question.key])


def return_blocks(specification: RepairSpecification) -> Iterator[Block]:
    """Yield the return sheet."""
    yield Heading(text=say(own.RETURN_TITLE), new_page=True)
    yield Paragraph(text=say(own.RETURN_NOTE))
    for section in Section:
        asked = [q for q in specification.questions if q.section is section]
        if not asked:
            continue
        yield Heading(text=say(words.SECTION[section]), level=2)
        short = [q for q in asked if q.kind is not AnswerKind.TEXT]
        if short:
            yield _blanks(short)
        long = tuple((question_text(q), Blank.LINE) for q in asked if q not in short)
        if long:
            yield Facts(rows=long)
        if section is Section.FOUND and any(q.key == "open_bars" for q in asked):
            yield bars_table()


def _blanks(asked: Sequence[Question]) -> Table:
    """Return questions with room for an answer, two side by side."""
    texts = [question_text(q) for q in asked]
    rows: list[tuple[Cell, ...]] = [
        (left, Blank.LINE, right, Blank.LINE)
        for left, right in zip(texts[::2], texts[1::2], strict=False)
    ]
    if len(texts) % 2:
        rows.append((texts[-1], Blank.LINE, "", ""))
    heads = (words.ASKED, words.ANSWER)
    return Table(
        columns=tuple(
            Column(head=say(head), share=share)
            for head, share in zip(heads * 2, (1.5, 1.0) * 2, strict=True)
        ),
        rows=tuple(rows),
        row_heads=False,
    )


def bars_table() -> Table:
    """Return rows for the damaged bars."""
    return Table(
        columns=tuple(Column(head=say(head)) for head in own.BARS_HEADS),
        rows=((Blank.LINE,) * len(own.BARS_HEADS),) * BARS_ON_PAPER,
        caption=say(own.BARS_FOUND),
        row_heads=False,
    )


def map_blocks(rotor_bars: int | None) -> Iterator[Block]:
    """Yield the bar map, a box for every bar."""
    bars = rotor_bars or MAP_BARS_UNKNOWN
    yield Heading(text=say(own.MAP_TITLE), level=2)
    yield Paragraph(text=say(own.MAP_NOTE))
    if rotor_bars is None:
        yield Paragraph(text=say(own.MAP_UNKNOWN))
    heads = (Column(head=say(own.MAP_BARS), share=1.6),)
    digits = [(n + 1) % MAP_COLUMNS for n in range(MAP_COLUMNS)]
    numbers = tuple(Column(head=say(own.MAP_HEAD, digit=digit)) for digit in digits)
    rows = []
    for first in range(1, bars + 1, MAP_COLUMNS):
        last = min(first + MAP_COLUMNS - 1, bars)
        filled = last - first + 1
        span = say(own.MAP_RANGE, first=first, last=last)
        rows.append((span, *(Blank.LINE,) * filled, *(own.NO_BAR,) * (MAP_COLUMNS - filled)))
    yield Table(columns=(*heads, *numbers), rows=tuple(rows))
