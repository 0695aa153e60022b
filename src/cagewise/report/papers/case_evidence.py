"""The evidence of a case report: all readings on one scale, then kind by kind with pictures."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from cagewise.decision.examination import Examination
from cagewise.evidence.findings import ClassVerdict, Finding, Ground, Support
from cagewise.pictures.picture import Picture
from cagewise.report import numbers, sentences, wording
from cagewise.report.drawings import drawings
from cagewise.report.forest_page import cage_findings, together_note
from cagewise.report.forest_text import axis_for
from cagewise.report.html import forest_rows
from cagewise.report.language import retell, say
from cagewise.report.papers import case_readings_wording as plain
from cagewise.report.papers import case_report_wording as words
from cagewise.report.papers.case_material import CaseMaterial
from cagewise.report.papers.paper import (
    Block,
    Column,
    Drawing,
    Heading,
    Paragraph,
    Table,
    Tone,
)

if TYPE_CHECKING:
    from matplotlib.figure import Figure

AXIS_COLUMNS = 60
"""Room for ticks, in characters of the terminal's plot: so wide that every half bar is labelled."""
LEFT_OUT = ("envelope_spectrum", "spectrum", "position_resistance")
"""Pictures that say nothing that another does not, to somebody who cannot zoom."""
ABOUT_MOTOR = "expected"
"""Pictures of the motor, not of what was measured, begin so."""
MANY_ROWS, MANY_WIDTH = 12, 0.9
"""Rows from which on the plot of all readings is smaller: it shares its page with the contents."""
WIDTH_IN = 7.2
"""Width of a picture on paper, where its type is hardly made smaller."""
FLAT, PLANE_FLAT = 0.78, 0.68
"""Height of a picture on paper over that on a page; the second of one whose axes have one scale."""
NAME_CHARACTERS = 24
"""Of the name of an upright axis in one line."""
DECIBEL = "dB"
ROOM_BELOW_DB = 5.0
"""Room below the lowest level of a curve."""
WORDS: dict[Support, str] = {
    Support.FOR: words.WORD_YES,
    Support.AGAINST: words.WORD_NO,
    Support.CANNOT_TELL: words.WORD_OPEN,
}


def evidence(material: CaseMaterial, *, new_page: bool = True) -> list[Block]:
    """Return all readings on one scale, then every kind of measurement."""
    made = material.examination
    blocks = [*_forest(made, new_page=new_page), Heading(text=say(words.SECTION["readings"]))]
    rest = list(pictures_of(material.pictures))
    for vote in made.shown_classes:
        mine = [f for f in cage_findings(made) if f.independence_class is vote.independence_class]
        shown = [p for p in rest if {f.reading for f in mine} & set(p.readings)]
        rest = [p for p in rest if p not in shown]
        blocks += _class(made, vote, mine, shown)
    missing = sentences.not_measured(made)
    blocks += [Paragraph(text=missing)] if missing else []
    return [*blocks, *(() if material.pictures else _own(made))]


def _own(made: Examination) -> Iterator[Block]:
    """Yield the drawings that an examination has by itself, where nothing is kept of it."""
    shown = drawings(made)
    if shown:
        yield Heading(text=say(wording.SECTION["figures"]), level=2)
    for each in shown:
        yield Drawing(svg=str(each.svg).encode(), alt=each.caption, caption=each.caption)


def pictures_of(pictures: Iterable[Picture]) -> Iterator[Picture]:
    """Yield the pictures of readings that a paper shows."""
    for each in pictures:
        if each.name not in LEFT_OUT and not each.name.startswith(ABOUT_MOTOR):
            yield each


def _forest(made: Examination, *, new_page: bool) -> Iterator[Block]:
    """Yield the plot of all readings and how to read it."""
    yield Heading(text=say(words.SECTION["forest"]), new_page=new_page)
    cage = cage_findings(made)
    if not any(finding.bars is not None for finding in cage):
        yield Paragraph(text=say(words.FOREST_NONE))
        return
    from cagewise.figures.forest import forest
    from cagewise.figures.svg import svg_text

    yield Paragraph(text=say(words.FOREST_HOW))
    axis = axis_for(cage, made.evidence.pooled, columns=AXIS_COLUMNS)
    rows = forest_rows(made, cage)
    figure = forest(rows, axis.top_bars, wording.AXIS_LABEL)
    yield Drawing(
        svg=svg_text(figure, "forest").encode(),
        alt=say(words.FOREST_ALT),
        caption=say(wording.LEGEND_FIGURE),
        width=1.0 if len(rows) <= MANY_ROWS else MANY_WIDTH,
    )
    yield Paragraph(text=together_note(made), tone=Tone.NOTE)


def _class(
    made: Examination,
    vote: ClassVerdict,
    findings: Sequence[Finding],
    pictures: Sequence[Picture],
) -> Iterator[Block]:
    """Yield one kind of measurement: what it does, its pictures, its readings."""
    name = numbers.begins(retell(vote.independence_class.value))
    word = say(words.CLASS_WORD[vote.support.value])
    text = say(words.CLASS_TITLE, name=name, word=word)
    yield Heading(text=text, level=2)
    yield Paragraph(text=say(words.CLASS_PLAIN[vote.independence_class]))
    yield readings_table(made, findings)
    for each in pictures:
        yield from picture_blocks(each)


def picture_blocks(picture: Picture) -> Iterator[Block]:
    """Yield a picture with one plain sentence and its caption, or why there is none."""
    yield Paragraph(text=say(plain_of(picture)))
    if picture.reason:
        yield Paragraph(
            text=say(words.PICTURE_ABSENT, reason=retell(picture.reason)), tone=Tone.NOTE
        )
        return
    title, meaning = retell(picture.title), retell(picture.meaning)
    from cagewise.figures.picture import draw
    from cagewise.figures.svg import svg_text

    figure = on_paper(draw(in_sight(picture)), PLANE_FLAT if picture.plane else FLAT)
    yield Drawing(
        svg=svg_text(figure, picture.name).encode(),
        alt=f"{numbers.sentence(title)} {meaning}".strip(),
        caption=f"{numbers.sentence(title)} {meaning}".strip(),
    )


def on_paper(figure: Figure, flat: float) -> Figure:
    """Return a figure made flatter, its type as large as before; long names take two lines."""
    figure.set_size_inches(WIDTH_IN, flat * figure.get_figheight())
    for axes in figure.axes:
        axes.set_ylabel(textwrap.fill(axes.get_ylabel(), NAME_CHARACTERS))
    return figure


def in_sight(picture: Picture) -> Picture:
    """Return a picture of levels without what lies far below them: a line of zero has no place."""
    levels = [curve.y[np.isfinite(curve.y)] for curve in picture.curves]
    levels = [each for each in levels if each.size]
    if picture.y.unit != DECIBEL or not levels:
        return picture
    lowest = min(float(each.min()) for each in levels) - ROOM_BELOW_DB
    return replace(
        picture,
        markers=tuple(
            replace(each, low=None if each.low is None else max(each.low, lowest))
            for each in picture.markers
            if each.y is None or each.y >= lowest
        ),
    )


def plain_of(picture: Picture) -> str:
    """Return the plain sentence of a picture; several of one kind share it."""
    whole, first = picture.name, picture.name.split("_")[0]
    return plain.PICTURE.get(whole) or plain.PICTURE.get(first) or plain.GENERIC


def readings_table(made: Examination, findings: Sequence[Finding]) -> Table:
    """Return the readings of one kind: plain meaning, open bars, what it says, validity."""
    heads = [say(head) for head in words.READING_HEADS]
    shares = (1.5, 2.3, 1.7, 0.95, 2.0)
    return Table(
        columns=tuple(
            Column(head=head, share=share) for head, share in zip(heads, shares, strict=True)
        ),
        rows=tuple(_row(made, finding) for finding in findings),
    )


def _row(made: Examination, finding: Finding) -> tuple[str, ...]:
    """Return one reading."""
    bars = "" if finding.bars is None else numbers.bars_interval(finding.bars)
    return (
        numbers.begins(retell(finding.title)),
        say(plain.READING[finding.reading]) if finding.reading in plain.READING else "",
        bars,
        say(WORDS[finding.support]),
        validity(made, finding),
    )


def validity(made: Examination, finding: Finding) -> str:
    """Return whether a reading is valid, and why it says what it says or could not be used."""
    if finding.ground is not Ground.NOT_READ:
        return say(words.VALID, why=sentences.ground(finding))
    said = sentences.reason_in_verdict(made)
    if finding.note and finding.note == said:
        return say(words.NOT_VALID_AS_SAID)
    return say(words.NOT_VALID, why=retell(finding.note) or say(wording.NOTHING_VALID))
