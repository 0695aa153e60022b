"""Probabilities, explanations and next measurements laid out on the terminal page."""

from __future__ import annotations

from cagewise.decision.examination import Examination
from cagewise.report import likelihood_text, next_text, numbers, wording
from cagewise.report import likelihood_wording as words
from cagewise.report.explanation_text import ExplanationRow, explained
from cagewise.report.language import say
from cagewise.report.page import GAP, INDENT, STYLE_DIM, Page

BAR_COLUMNS = 24
"""Length of the bar of a certainty."""
LEAST_BAR_COLUMNS = 8
"""Shorter bars are left out."""
SHARE_COLUMNS = 5
"""Room for "100 %"."""


def write_probability(page: Page, examination: Examination) -> None:
    """Write the probability below the verdict, and what was counted."""
    first, *others = likelihood_text.probability_lines(examination)
    page.paragraph(first, indent=0)
    for paragraph in others:
        page.paragraph(paragraph, indent=0, style=STYLE_DIM)


def write_patterns(page: Page, examination: Examination) -> None:
    """Write the likeliest patterns of damage as bars, and the credible interval of open bars."""
    rows = likelihood_text.pattern_rows(examination)
    line = likelihood_text.pattern_line(examination)
    if not rows and not line:
        return
    page.heading(say(words.SECTION["patterns"]))
    label = max((len(row.label) for row in rows), default=0)
    columns = min(BAR_COLUMNS, page.width - INDENT - label - SHARE_COLUMNS - 2 * GAP)
    for row in rows:
        if columns < LEAST_BAR_COLUMNS:
            page.paragraph(say(words.PATTERN_NARROW, share=row.percent, label=row.label))
            continue
        bar = page.symbols.bar * max(1, round(columns * row.probability))
        share = numbers.percent_of(row.percent).rjust(SHARE_COLUMNS)
        page.line(f"{' ' * INDENT}{row.label.ljust(label)}{' ' * GAP}{share}{' ' * GAP}{bar}")
    if line:
        page.paragraph(line)
    page.paragraph(likelihood_text.open_bars(examination), style=STYLE_DIM)


def write_explanations(page: Page, examination: Examination) -> None:
    """Write the ranked causes of the lines; those that hardly weigh in a line each."""
    section = explained(examination)
    if not section.note:
        return
    page.heading(say(words.SECTION["explanations"]))
    column = max((len(row.weight) for row in section.rows), default=0)
    for row in section.rows:
        page.paragraph(_cause(row), first=row.weight.rjust(column) + " " * GAP)
    for text in section.together:
        page.paragraph(text)
    page.paragraph(section.note, style=STYLE_DIM if section.rows else "")


def _cause(row: ExplanationRow) -> str:
    """Return one cause as a sentence, and what would part it from the cage."""
    said = say(words.CAUSE_LINE, cause=numbers.begins(row.cause), why=row.why)
    return f"{said} {say(words.WOULD_TELL, test=row.test)}" if row.test else said


def write_next(page: Page, examination: Examination) -> None:
    """Write what to measure next, what it is worth, and why."""
    rows = next_text.next_rows(examination)
    if rows:
        page.heading(say(wording.SECTION["next"]))
    for number, row in enumerate(rows, start=1):
        page.paragraph(row.what, first=f"{number}. ")
        beside = " ".join(text for text in (row.worth, row.why) if text)
        if beside:
            page.paragraph(beside, indent=INDENT + 3, style=STYLE_DIM)
    note = next_text.next_note(examination)
    if note:
        page.paragraph(note, style=STYLE_DIM)
