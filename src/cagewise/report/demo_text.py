"""The demo on the terminal: what was said, beside what is true."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from cagewise.decision.examination import Examination
from cagewise.report import course_text, demo_wording, numbers, sentences, wording
from cagewise.report.forest_page import write_forest
from cagewise.report.page import STYLE_DIM, STYLE_HEADING, page_on
from cagewise.report.symbols import Symbols

if TYPE_CHECKING:
    from rich.console import Console


@dataclass(frozen=True, slots=True, kw_only=True)
class Truth:
    """What is true of a simulated visit."""

    name: str
    where: str
    story: str
    true_state: str
    expected_state: str
    open_bars: float
    damage: str = ""
    """What is wrong, in few words, where open bars do not say it all."""


def write_case(truth: Truth, examination: Examination, console: Console, symbols: Symbols) -> None:
    """Write one recording of the demo: story, verdict, plot, truth."""
    page = page_on(console, symbols)
    page.line(page.symbols.rule * page.width, STYLE_DIM)
    page.paragraph(f"{truth.name} · {truth.where}", indent=0, style=STYLE_HEADING)
    page.paragraph(truth.story, indent=0)
    page.line()
    page.paragraph(sentences.state(examination.verdict).upper(), indent=0, style=STYLE_HEADING)
    for sentence in (
        sentences.verdict(examination),
        *sentences.grounds(examination),
        course_text.action(examination),
    ):
        page.paragraph(sentence, indent=0)
    page.line()
    write_forest(page, examination, notes=False)
    page.line()
    page.paragraph(truth_sentence(truth), indent=0, style=STYLE_HEADING)
    page.line()


def write_summary(
    told: list[tuple[Truth, Examination]], console: Console, symbols: Symbols
) -> None:
    """Write the whole demo in one table: what was said beside what is true."""
    page = page_on(console, symbols)
    page.line(page.symbols.rule * page.width, STYLE_DIM)
    page.paragraph(demo_wording.DEMO_SUMMARY, indent=0, style=STYLE_HEADING)
    heads = demo_wording.DEMO_HEADS
    rows = [
        (
            truth.name,
            _truth_in_short(truth),
            truth.expected_state,
            wording.STATE[examination.verdict.state],
        )
        for truth, examination in told
    ]
    widths = [max(len(row[k]) for row in (heads, *rows)) for k in range(len(heads))]
    for style, row in ((STYLE_DIM, heads), *(("", row) for row in rows)):
        cells = (cell.ljust(width) for cell, width in zip(row, widths, strict=True))
        page.line("  " + "  ".join(cells), style)
    page.paragraph(demo_wording.DEMO_NOTE, indent=0, style=STYLE_DIM)


def truth_sentence(truth: Truth) -> str:
    """Return what is true, and what the recording allows to say."""
    return demo_wording.DEMO_TRUTH.format(
        truth=_truth_in_short(truth), state=truth.true_state, expected=truth.expected_state
    )


def _truth_in_short(truth: Truth) -> str:
    """Return what is wrong: as stated, or the open bars that were simulated."""
    if truth.damage:
        return truth.damage
    if truth.open_bars == 0.0:
        return demo_wording.DEMO_NO_BAR
    return demo_wording.DEMO_BARS.format(
        bars=numbers.significant(truth.open_bars, 2).rstrip("0").rstrip(".")
    )
