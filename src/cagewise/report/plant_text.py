"""The pages of a whole plant on the terminal: motors by risk, cases, our calls."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields
from typing import TYPE_CHECKING

from cagewise.decision.verdict import State
from cagewise.history.missing import MissingItem
from cagewise.history.outcomes import BarErrors, BrierScore, CallReport
from cagewise.history.plant_risk import RankedMotor
from cagewise.quantities import Estimate, NotKnown
from cagewise.report import history_wording as words
from cagewise.report import numbers, wording
from cagewise.report.facts import Fact
from cagewise.report.history_text import day_of, percent
from cagewise.report.history_views import CallsView, CasesView, RankingView
from cagewise.report.page import STYLE_DIM, STYLE_HEADING, Page, page_on
from cagewise.report.symbols import Symbols

if TYPE_CHECKING:
    from rich.console import Console


_FIRST = (MissingItem.NEVER_EXAMINED, MissingItem.NO_PROBABILITY, MissingItem.NO_DAMAGE)
"""Missing examinations stand before missing data."""


def write_ranking(
    view: RankingView, console: Console, symbols: Symbols, *, top: int | None = None
) -> None:
    """Write every motor by risk, what is due, and what is missing.

    Parameters
    ----------
    view
        What is written.
    console, symbols
        Where and with which shapes.
    top
        Motors of the greatest risk that are shown; all if None.
    """
    page = page_on(console, symbols)
    _title(page, view.plant, words.RANKING_TITLE.format(day=view.today))
    page.paragraph(_in_short(view, symbols))
    shown = view.ranking.motors[:top]
    page.line()
    page.table(words.RANKING_HEADS, [_row(view, motor) for motor in shown])
    if len(shown) < len(view.ranking.motors):
        left = len(view.ranking.motors) - len(shown)
        page.paragraph(words.LEFT_OUT.format(count=left), style=STYLE_DIM)
    page.paragraph(words.RANKING_NOTE, style=STYLE_DIM)
    _due(page, view, top)
    _missing(page, view.ranking.motors)


def _title(page: Page, plant: str, title: str) -> None:
    """Write which plant it is, a rule, and what follows."""
    if plant:
        page.paragraph(plant, indent=0)
        page.line(page.symbols.rule * page.width, STYLE_DIM)
    page.paragraph(title, indent=0, style=STYLE_HEADING)


def _in_short(view: RankingView, symbols: Symbols) -> str:
    """Return the plant in one sentence."""
    ranking = view.ranking
    unit = words.IN_CURRENCY if ranking.in_currency else words.IN_PULLS
    return words.RANKING_SHORT.format(
        count=len(ranking.motors),
        due=len(ranking.due),
        cases=sum(map(len, view.open_cases.values())),
        dot=symbols.dot,
        risk=words.RISK.format(cost=_cost(ranking.expected_cost_per_month), unit=unit),
    )


def _cost(value: float) -> str:
    """Return a cost in two digits; small ones as such."""
    return numbers.round_figure(value) if value >= 0.01 else "<0.01"


def _row(view: RankingView, motor: RankedMotor) -> tuple[str, ...]:
    """Return one motor of the table."""
    last, cases = view.latest.get(motor.tag), view.open_cases.get(motor.tag, ())
    probability = percent(motor.probability)
    bars = None if last is None else last.keys.open_bars
    state = words.NOT_EXAMINED if last is None else wording.STATE[State(last.keys.state)]
    due = day_of(motor.due_on).isoformat() if motor.overdue_days < 0.0 else words.NOW
    return (
        motor.tag,
        state,
        words.ASSUMED.format(probability=probability) if motor.assumed_probability else probability,
        "" if bars is None else numbers.bars(bars),
        _cost(motor.expected_cost_per_month),
        due,
        ", ".join(str(case.id) for case in cases),
    )


def _due(page: Page, view: RankingView, top: int | None) -> None:
    """Write what is due to be measured, the longest overdue first."""
    page.heading(words.DUE_TITLE)
    due = view.ranking.due
    if not due:
        page.paragraph(words.DUE_NONE)
    page.fact_table([(motor.tag, _since(view, motor)) for motor in due[:top]])


def _since(view: RankingView, motor: RankedMotor) -> str:
    """Return since when a motor is due."""
    if motor.tag not in view.latest:
        return words.DUE_TODAY
    return words.DUE_LINE.format(day=day_of(motor.due_on), days=f"{motor.overdue_days:.0f}")


def _missing(page: Page, motors: Sequence[RankedMotor]) -> None:
    """Write what is missing of which motors, those of the greatest risk named first."""
    rows: list[Fact] = []
    for item in (*_FIRST, *(i for i in MissingItem if i not in _FIRST)):
        tags = [motor.tag for motor in motors if item in motor.missing]
        if tags:
            said = words.MISSING_LINE.format(count=len(tags), names=_named(tags))
            rows.append((words.MISSING[item], said))
    if rows:
        page.heading(words.MISSING_TITLE)
        page.fact_table(rows)


def _named(tags: Sequence[str]) -> str:
    """Return the first names of a list and how many more there are."""
    names = ", ".join(tags[: words.MOTORS_SHOWN])
    more = len(tags) - words.MOTORS_SHOWN
    return names if more <= 0 else words.AND_MORE.format(names=names, count=more)


def write_cases(view: CasesView, console: Console, symbols: Symbols) -> None:
    """Write a list of cases."""
    page = page_on(console, symbols)
    _title(page, "", words.CASES_TITLE.format(day=view.today))
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
    _title(page, "", words.CALLS_TITLE.format(day=view.today))
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
    page.fact_table(_call_facts(report))


def _call_facts(report: CallReport) -> list[Fact]:
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
