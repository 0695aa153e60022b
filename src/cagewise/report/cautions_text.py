"""Cautions on the terminal: each said once, under the measurements it belongs to."""

from __future__ import annotations

from collections.abc import Iterable

from cagewise.decision.cautions import CautionGroup, TestKind, grouped_cautions
from cagewise.measurement.cautions import DEFERENCE, ISOLATION, LIVE
from cagewise.report import plan_wording as words
from cagewise.report.page import STYLE_DIM, Page


def write_cautions(page: Page, tests: Iterable[TestKind]) -> None:
    """Write the cautions of these measurements, then where they come from."""
    groups = grouped_cautions(tests)
    if not groups:
        return
    page.heading(words.CAUTIONS_TITLE)
    for group in groups:
        page.paragraph(f"{caution_title(group)}:")
        for caution in group.cautions:
            page.paragraph(caution.text, indent=4, first=f"{page.symbols.bullet} ")
    sources = dict.fromkeys(c.source for group in groups for c in group.cautions)
    page.paragraph(words.CAUTION_SOURCES.format(sources="; ".join(sources)), style=STYLE_DIM)


def caution_title(group: CautionGroup) -> str:
    """Return what a group of cautions is for."""
    if group.cautions == LIVE:
        return words.CAUTION_LIVE
    if group.cautions == ISOLATION:
        return words.CAUTION_AT_REST
    if group.cautions == (DEFERENCE,):
        return words.CAUTION_ALL
    named = ", ".join(words.CAUTION_FOR[test] for test in group.tests)
    return named[0].upper() + named[1:]
