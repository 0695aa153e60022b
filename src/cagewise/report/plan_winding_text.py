"""Winding and insulation tests on the page of the plan: voltages, each with the form used."""

from __future__ import annotations

from collections.abc import Sequence

from cagewise.decision.test_levels import SourceStatus, TestLevel
from cagewise.decision.winding_plan import WindingPlan
from cagewise.measurement.cautions import TestKind
from cagewise.report import number_wording, numbers
from cagewise.report import plan_wording as words
from cagewise.report.language import retell, say
from cagewise.report.page import STYLE_DIM, Page


def write_winding(page: Page, plan: WindingPlan) -> None:
    """Write the section of the winding and insulation tests."""
    page.heading(say(words.WINDING_TITLE))
    bullet = f"{page.symbols.bullet} "
    page.paragraph(say(words.RESISTANCE), first=bullet)
    for sentence in level_sentences(plan.levels):
        page.paragraph(sentence, first=bullet)
    if TestKind.DISSIPATION in plan.tests:
        page.paragraph(say(words.DISSIPATION), first=bullet)
    for remark in (*plan.remarks, words.LEVELS_NOTE):
        said = numbers.begins(retell(remark)).rstrip(".")
        page.paragraph(f"{said}.", style=STYLE_DIM)


def level_sentences(levels: Sequence[TestLevel]) -> list[str]:
    """Return the test voltages, the forms of one test and source together."""
    together: dict[tuple[str, str], list[TestLevel]] = {}
    for level in levels:
        together.setdefault((level.title, _source(level)), []).append(level)
    return [
        say(
            words.LEVEL,
            title=numbers.begins(retell(title)),
            levels=say(words.LEVEL_OR).join(_one(level) for level in members),
            source=source,
        )
        for (title, source), members in together.items()
    ]


def _one(level: TestLevel) -> str:
    """Return one voltage with its form."""
    one = level.low_v == level.high_v
    volts = (
        f"{level.low_v:.0f}"
        if one
        else say(number_wording.RANGE, low=f"{level.low_v:.0f}", high=f"{level.high_v:.0f}")
    )
    return say(
        words.LEVEL_FORM, volts=volts, kind=retell(level.kind.value), form=retell(level.form)
    )


def _source(level: TestLevel) -> str:
    """Return the source and how it was had."""
    read = level.status is SourceStatus.READ
    source = retell(level.source)
    if read:
        return source
    return say(words.LEVEL_SOURCE, source=source, status=retell(level.status.value))
