"""The pages of a whole plant on the terminal: cases, our calls."""

from __future__ import annotations

from dataclasses import fields
from typing import TYPE_CHECKING

from cagewise.history.outcomes import BarErrors, BrierScore, CallReport
from cagewise.quantities import Estimate, NotKnown
from cagewise.report import history_wording as words
from cagewise.report import wording
from cagewise.report.facts import Fact
from cagewise.report.history_text import percent
from cagewise.report.history_views import CallsView, CasesView
from cagewise.report.page import STYLE_HEADING, page_on
from cagewise.report.symbols import Symbols

if TYPE_CHECKING:
    from rich.console import Console


def write_cases(view: CasesView, console: Console, symbols: Symbols) -> None:
    """Write a list of cases."""
    page = page_on(console, symbols)
    page.paragraph(words.CASES_TITLE.format(day=view.today), indent=0, style=STYLE_HEADING)
    if not view.cases:
        page.paragraph(words.CASES_NONE)
        return
    rows = [
        (str(case.id), motor.tag, f"{case.opened_on}", f"{case.closed_on or ''}", case.title)
        for motor, case in view.cases
    ]
    page.table(words.CASES_HEADS, rows)


def write_calls(view: CallsView, console: Console, symbols: Symbols) -> None:
    """Write our calls against what was found."""
    page = page_on(console, symbols)
    page.paragraph(words.CALLS_TITLE.format(day=view.today), indent=0, style=STYLE_HEADING)
    report = view.report
    if report.outcomes + view.without_call == 0:
        page.paragraph(words.CALLS_NONE)
        return
    without = words.CALLS_WITHOUT.format(count=view.without_call) if view.without_call else ""
    page.paragraph(words.CALLS_SHORT.format(count=report.outcomes, without=without))
    rows = [
        (wording.STATE[one.state], str(one.found_defective.events), str(one.found_defective.cases))
        for one in report.by_state
    ]
    page.line()
    page.table(words.CALLS_HEADS, rows)
    page.line()
    page.fact_table(call_facts(report))


def call_facts(report: CallReport) -> list[Fact]:
    """Return what the calls are worth, labelled; what cannot be said has its reason."""
    named = {each.name for each in fields(CallReport)}
    return [
        (label, _worth(getattr(report, name)))
        for name, label in words.CALLS_FACTS.items()
        if name in named
    ]


def _worth(value: Estimate | BrierScore | BarErrors | NotKnown | bool) -> str:  # noqa: FBT001 - one of the kinds
    """Return one number of the report."""
    match value:
        case NotKnown():
            return value.reason
        case Estimate():
            shares = (percent(x) for x in (value.value, value.low, value.high))
            return words.SHARE.format(**dict(zip(("value", "low", "high"), shares, strict=True)))
        case BrierScore():
            return words.BRIER.format(
                score=f"{value.score:.3f}", reference=f"{value.reference:.3f}", cases=value.cases
            )
        case BarErrors():
            return words.BAR_ERRORS.format(
                error=f"{value.median_error_bars:+.1f}",
                absolute=f"{value.median_absolute_error_bars:.1f}",
                held=value.interval_held.events,
                cases=value.interval_held.cases,
            )
        case _:
            return words.SURPRISING if value else words.AS_SAID
