"""Winding and insulation tests on the page of the plan: voltages, each with the form used."""

from __future__ import annotations

from collections.abc import Sequence

from cagewise.decision.test_levels import SourceStatus, TestLevel
from cagewise.decision.winding_plan import WindingPlan
from cagewise.measurement.cautions import TestKind
from cagewise.report import plan_wording as words
from cagewise.report.page import STYLE_DIM, Page


def write_winding(page: Page, plan: WindingPlan) -> None:
    """Write the section of the winding and insulation tests."""
    page.heading(words.WINDING_TITLE)
    bullet = f"{page.symbols.bullet} "
    page.paragraph(words.RESISTANCE, first=bullet)
    for sentence in level_sentences(plan.levels):
        page.paragraph(sentence, first=bullet)
    if TestKind.DISSIPATION in plan.tests:
        page.paragraph(words.DISSIPATION, first=bullet)
    for remark in (*plan.remarks, words.LEVELS_NOTE):
        page.paragraph(f"{remark[0].upper()}{remark[1:].rstrip('.')}.", style=STYLE_DIM)


def level_sentences(levels: Sequence[TestLevel]) -> list[str]:
    """Return the test voltages, the forms of one test and source together."""
    together: dict[tuple[str, str], list[TestLevel]] = {}
    for level in levels:
        together.setdefault((level.title, _source(level)), []).append(level)
    return [
        words.LEVEL.format(
            title=f"{title[0].upper()}{title[1:]}",
            levels=words.LEVEL_OR.join(_one(level) for level in members),
            source=source,
        )
        for (title, source), members in together.items()
    ]


def _one(level: TestLevel) -> str:
    """Return one voltage with its form."""
    one = level.low_v == level.high_v
    volts = f"{level.low_v:.0f}" if one else f"{level.low_v:.0f} to {level.high_v:.0f}"
    return words.LEVEL_FORM.format(volts=volts, kind=level.kind.value, form=level.form)


def _source(level: TestLevel) -> str:
    """Return the source and how it was had."""
    read = level.status is SourceStatus.READ
    return level.source if read else f"{level.source}, {level.status.value}"
