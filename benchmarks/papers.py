"""Speed of papers: ``python benchmarks/papers.py`` (``--once`` for a small, quick run).

A history of 200 pages, with text, tables, forms and 40 drawings of noisy records, as a tagged PDF
and as a page. *Baseline*: the same words as plain paragraphs, set by the same library without
tables, drawings, tags, contents and numbers of pages. Each time is that of a text that was not set
before, for the library remembers what it has set.
"""

from __future__ import annotations

import argparse
import json
import time
from collections.abc import Callable, Iterator
from datetime import date

import numpy as np
import typst

from cagewise.figures.svg import svg_text
from cagewise.figures.trend import current_trend
from cagewise.report.papers.page import to_page
from cagewise.report.papers.paper import (
    Block,
    Box,
    Column,
    Drawing,
    Facts,
    Heading,
    Paper,
    Paragraph,
    Shape,
    Table,
    Verdict,
)
from cagewise.report.papers.pdf import fonts, to_pdf

PAGES, DRAWINGS = 200, 40
LARGEST_S = 5.0
"""Promised for a history of 200 pages."""
MOST_TIMES_SLOWER = 8.0
"""Against plain paragraphs of the same words: on two busy cores it is 2 to 4."""
VISITS_PER_PAGE = 0.5
READINGS = 24
POINTS = 4000
"""Of a noisy record in a drawing: more than its pixels."""
DAY = date(2031, 3, 4)

PLAIN = b"""
#set text(font: "DejaVu Sans", size: 9.2pt)
#for each in json("words.json") { par(each) }
"""

COLUMNS = (
    Column(head="Reading", share=2.2),
    Column(head="Value", numbers=True),
    Column(head="Limit", numbers=True),
    Column(head="What it says", share=3.0),
)
SENTENCE = (
    "Currents and voltages of three phases were recorded for 60 s at 10 kHz; the load of motor "
    "P-{number} was steady within 0.{number} %, and no other motor started on the same bus bar. "
)


def drawing(number: int) -> Drawing:
    """Return a drawing of a noisy record."""
    noise = np.random.default_rng(number).normal(scale=2.0, size=POINTS)
    figure = current_trend(np.linspace(0.0, 60.0, POINTS), 212.0 + noise, ("Time, s", "Current, A"))
    svg = svg_text(figure, f"history-{number}").encode()
    return Drawing(svg=svg, alt="Line current over 60 s.", caption=f"Line current, visit {number}")


def visit(number: int, salt: int) -> Iterator[Block]:
    """Yield what is said of one visit: a page and a half of text, a table and facts."""
    words = SENTENCE.format(number=number + 1000 * salt)
    yield Heading(text=f"Visit {number + 1}, {salt}", new_page=True)
    yield Verdict(shape=Shape.HALF, word="Suspect", sentence=words)
    yield from (Paragraph(text=words * 4) for _ in range(4))
    rows = tuple(
        (
            f"Lower side line {row}.{salt}",
            f"{0.1 * row:.2f} %",
            "0.42 %",
            "for damage; 2.1 to 3.9 bars",
        )
        for row in range(READINGS)
    )
    yield Table(columns=COLUMNS, rows=rows, caption="What every reading says of the cage")
    yield Box(title="Not excluded", items=(words, words))
    yield Facts(rows=tuple((f"Fact {row}", words) for row in range(5)))


def history(visits: int, drawings: list[Drawing], salt: int) -> Paper:
    """Return the paper; another one for each salt."""
    blocks: list[Block] = []
    for number in range(visits):
        blocks += visit(number, salt)
        blocks += drawings[number : number + 1]
    return Paper(
        title=f"History of P-101, {salt}",
        day=DAY,
        blocks=tuple(blocks),
        foot="P-101",
        contents=True,
    )


def plain(paper: Paper) -> bytes:
    """Return the words of a paper as paragraphs: the baseline."""
    words: list[str] = []
    for block in paper.blocks:
        if isinstance(block, Table):
            words += [" ".join(map(str, row)) for row in block.rows]
        elif isinstance(block, Facts):
            words += [f"{label} {value}" for label, value in block.rows]
        elif isinstance(block, Box):
            words += [block.title, *block.items]
        elif isinstance(block, Verdict):
            words += [block.word, block.sentence]
        elif isinstance(block, Heading | Paragraph):
            words.append(block.text)
    return typst.compile(  # type: ignore[no-any-return, call-overload]  # files by name: not in its stubs
        {"main.typ": PLAIN, "words.json": json.dumps(words).encode()},
        font_paths=fonts(),
        ignore_system_fonts=True,
        pdf_tags=False,
    )


def best(function: Callable[[Paper], object], papers: list[Paper]) -> float:
    """Return the shortest time over papers that are all different."""
    times = []
    for paper in papers:
        begin = time.perf_counter()
        function(paper)
        times.append(time.perf_counter() - begin)
    return min(times)


def pages_of(pdf: bytes) -> int:
    """Return the number of pages."""
    return pdf.count(b"/Type/Page/")


def main() -> None:
    """Measure, print, and fail where a ratio or a time is out of bounds."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--once", action="store_true", help="a small, quick run")
    once = parser.parse_args().once
    share = 0.2 if once else 1.0
    begin = time.perf_counter()
    drawings = [drawing(number) for number in range(round(DRAWINGS * share))]
    drawn_s = time.perf_counter() - begin
    visits = round(PAGES * VISITS_PER_PAGE * share)
    papers = [history(visits, drawings, salt) for salt in range(1 if once else 3)]
    plain(history(1, [], 99))  # fonts are read
    plain_s, pdf_s, page_s = (best(made, papers) for made in (plain, to_pdf, to_page))
    pages = pages_of(to_pdf(papers[0]))
    print(f"{pages} pages, {len(drawings)} drawings of {len(drawings[0].svg) // 1000} kB")
    print(f"  drawings written        {drawn_s:6.2f} s")
    print(f"  plain paragraphs        {plain_s:6.2f} s")
    print(f"  PDF                     {pdf_s:6.2f} s, {pdf_s / plain_s:.1f} times the paragraphs")
    print(f"  page                    {page_s:6.2f} s")
    assert pages >= PAGES * share
    assert pdf_s < MOST_TIMES_SLOWER * plain_s
    assert pdf_s < LARGEST_S


if __name__ == "__main__":
    main()
