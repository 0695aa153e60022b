"""Cautions on the terminal: each said once, under the measurements it belongs to."""

from __future__ import annotations

from collections.abc import Iterable

from cagewise.decision.cautions import CautionGroup, TestKind, grouped_cautions
from cagewise.measurement.cautions import DEFERENCE, ISOLATION, LIVE
from cagewise.report import numbers
from cagewise.report import plan_wording as words
from cagewise.report.language import retell, say
from cagewise.report.page import STYLE_DIM, Page


def write_cautions(page: Page, tests: Iterable[TestKind]) -> None:
    """Write the cautions of these measurements, then where they come from."""
    groups = grouped_cautions(tests)
    if not groups:
        return
    page.heading(say(words.CAUTIONS_TITLE))
    for group in groups:
        page.paragraph(say(words.CAUTION_HEAD, title=caution_title(group)))
        for caution in group.cautions:
            page.paragraph(retell(caution.text), indent=4, first=f"{page.symbols.bullet} ")
    sources = dict.fromkeys(c.source for group in groups for c in group.cautions)
    page.paragraph(
        say(words.CAUTION_SOURCES, sources="; ".join(retell(source) for source in sources)),
        style=STYLE_DIM,
    )


def caution_title(group: CautionGroup) -> str:
    """Return what a group of cautions is for."""
    if group.cautions == LIVE:
        return say(words.CAUTION_LIVE)
    if group.cautions == ISOLATION:
        return say(words.CAUTION_AT_REST)
    if group.cautions == (DEFERENCE,):
        return say(words.CAUTION_ALL)
    named = ", ".join(say(words.CAUTION_FOR[test]) for test in group.tests)
    return numbers.begins(named)
