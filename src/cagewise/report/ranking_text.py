"""The page of all motors of a plant: by risk, what is due, other parts in doubt, missing data."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from cagewise.decision.costs_policies import CostAction
from cagewise.decision.recommendation import NextMeasurement
from cagewise.decision.verdict import State
from cagewise.history.missing import MissingItem
from cagewise.history.plant_risk import RankedMotor
from cagewise.report import history_wording as words
from cagewise.report import numbers
from cagewise.report.facts import Fact
from cagewise.report.history_text import day_of, percent
from cagewise.report.history_views import NOT_EXAMINED, REPAIRED, RankingView
from cagewise.report.language import say, say_each
from cagewise.report.list_table import write_table
from cagewise.report.page import STYLE_DIM, STYLE_HEADING, Page, page_on
from cagewise.report.symbols import Symbols

if TYPE_CHECKING:
    from rich.console import Console

    from cagewise.store import ExaminationKeys

DOUBTED = (State.SUSPECT.value, State.DEFECTIVE.value)
"""States of a part that a list names."""

_FIRST = (
    MissingItem.NEVER_EXAMINED,
    MissingItem.NOT_SINCE_REPAIR,
    MissingItem.NO_PROBABILITY,
    MissingItem.NO_DAMAGE,
)
"""Missing examinations stand before missing data."""


def write_ranking(
    view: RankingView, console: Console, symbols: Symbols, *, most: int | None = None
) -> None:
    """Write motors by risk, what is due, winding and insulation in doubt, and what is missing.

    Parameters
    ----------
    view
        What is written.
    console, symbols
        Where and with which shapes.
    most
        Motors that are shown in each part of the page; all if None.
    """
    page = page_on(console, symbols)
    motors = view.ranking.motors
    _title(page, view)
    page.paragraph(in_short(view, symbols.dot))
    if len(motors) < view.in_all:
        said = say(words.SHOWN_OF, count=len(motors), in_all=view.in_all)
        page.paragraph(said if motors else say(words.NONE_SHOWN))
    if not motors:
        return
    page.line()
    write_table(
        page,
        say_each(words.RANKING_HEADS),
        [_row(view, motor) for motor in motors[:most]],
        spare=say_each(words.RANKING_SPARE),
        numbers=say_each(words.RANKING_NUMBERS),
    )
    _left_out(page, len(motors), most)
    page.paragraph(say(words.RANKING_NOTE), style=STYLE_DIM)
    _parts(page, view, most)
    _due(page, view, most)
    _missing(page, motors)


def next_of(view: RankingView, motor: RankedMotor) -> tuple[str, str]:
    """Return what is to be done next with a motor: in a column, and in a sentence."""
    state, last = view.cage_state(motor), view.latest.get(motor.tag)
    if state == REPAIRED:
        return _said(words.NEXT_AFTER_REPAIR)
    if last is None:
        return _said(words.NEXT_FIRST)
    if last.keys.action in words.NEXT_REMOVAL:
        return _said(words.NEXT_REMOVAL[last.keys.action])
    code = last.keys.next_step or ""
    if last.keys.action in (CostAction.KEEP, CostAction.WATCH):
        code = ""  # the trend is watched with the record that there is
    if not code and parts_doubted(last.keys):
        code = NextMeasurement.PART_TESTS.value
    return _said((words.NEXT.get(code, code), words.NEXT_LONG.get(code, code)))


def _said(both: tuple[str, str]) -> tuple[str, str]:
    short, whole = both
    return say(short), say(whole)


def parts_doubted(keys: ExaminationKeys) -> str:
    """Return which parts beside the cage are in doubt, in words; empty if none is."""
    states = {"winding": keys.winding, "insulation": keys.insulation}
    doubted = {part: state for part, state in states.items() if state in DOUBTED}
    if len(doubted) == len(states) and len(set(doubted.values())) == 1:
        return say(words.BOTH_PARTS, state=say(next(iter(doubted.values()))))
    return ", ".join(
        say(words.PART, part=say(words.PART_NAMES[part]), state=say(state))
        for part, state in doubted.items()
    )


def _title(page: Page, view: RankingView) -> None:
    """Write which plant it is, a rule, and the day."""
    if view.plant:
        page.paragraph(view.plant, indent=0)
        page.line(page.symbols.rule * page.width, STYLE_DIM)
    title = say(words.RANKING_TITLE, day=view.today)
    page.paragraph(title, indent=0, style=STYLE_HEADING)


def in_short(view: RankingView, dot: str) -> str:
    """Return the plant in one sentence."""
    ranking = view.ranking
    unit = say(words.IN_CURRENCY) if ranking.in_currency else say(words.IN_PULLS)
    return say(
        words.RANKING_SHORT,
        count=view.in_all,
        due=view.due_in_all,
        cases=view.cases_in_all,
        dot=dot,
        risk=say(words.RISK, cost=cost_in_words(ranking.expected_cost_per_month), unit=unit),
    )


def cost_in_words(value: float) -> str:
    """Return a cost in two digits; small ones as such."""
    return numbers.round_figure(value) if value >= 0.01 else "<0.01"


def _left_out(page: Page, count: int, most: int | None) -> None:
    """Say how many are not shown."""
    if most is not None and count > most:
        page.paragraph(say(words.LEFT_OUT, count=count - most), style=STYLE_DIM)


def _row(view: RankingView, motor: RankedMotor) -> tuple[str, ...]:
    """Return one motor of the table."""
    last, cases = view.latest.get(motor.tag), view.open_cases.get(motor.tag, ())
    state = view.cage_state(motor)
    known = None if last is None or state == REPAIRED else last.keys.open_bars
    probability = percent(motor.probability)
    return (
        motor.tag,
        say(state),
        "" if last is None else parts_doubted(last.keys),
        say(words.ASSUMED, probability=probability) if motor.assumed_probability else probability,
        "" if known is None else numbers.bars(known),
        cost_in_words(motor.expected_cost_per_month),
        say(words.NOW) if state == NOT_EXAMINED else day_of(motor.due_on).isoformat(),
        next_of(view, motor)[0],
        ", ".join(str(case.id) for case in cases),
    )


def _parts(page: Page, view: RankingView, most: int | None) -> None:
    """Write the motors whose winding or insulation is in doubt, whatever their cage is."""
    rows = []
    for motor in view.ranking.motors:
        last = view.latest.get(motor.tag)
        if last is not None and parts_doubted(last.keys):
            parts = (part_state(last.keys.winding), part_state(last.keys.insulation))
            rows.append((motor.tag, *parts, view.cage_state(motor), str(last.day)))
    rows.sort(key=lambda row: State.DEFECTIVE.value not in row[1:3])
    if rows:
        page.heading(say(words.PARTS_TITLE))
        write_table(page, say_each(words.PARTS_HEADS), rows[:most])
        _left_out(page, len(rows), most)


def part_state(state: str | None) -> str:
    """Return the state of a part beside the cage as lists have it."""
    return say(words.PART_NOT_KNOWN) if state is None else say(state or words.PART_NOT_TESTED)


def _due(page: Page, view: RankingView, most: int | None) -> None:
    """Write what is due, the longest overdue first, or what comes next."""
    page.heading(say(words.DUE_TITLE))
    due = view.ranking.due
    if due:
        write_table(page, say_each(words.DUE_HEADS), [_since(view, motor) for motor in due[:most]])
        _left_out(page, len(due), most)
    else:
        page.paragraph(say(words.DUE_NONE))
    later = min(
        (m for m in view.ranking.motors if m.overdue_days < 0.0),
        key=lambda motor: motor.due_on,
        default=None,
    )
    if later is not None:
        what, day = next_of(view, later)[1], day_of(later.due_on)
        page.paragraph(say(words.DUE_NEXT, tag=later.tag, day=day, what=what))


def _since(view: RankingView, motor: RankedMotor) -> tuple[str, str, str, str]:
    """Return what is due, and since when."""
    never = view.cage_state(motor) == NOT_EXAMINED
    days = "" if never else f"{motor.overdue_days:.0f}"
    since = say(words.NEVER) if never else day_of(motor.due_on).isoformat()
    return motor.tag, since, days, next_of(view, motor)[1]


def _missing(page: Page, motors: Sequence[RankedMotor]) -> None:
    """Write what is missing of which motors."""
    rows = missing_rows(motors)
    if rows:
        page.heading(say(words.MISSING_TITLE))
        page.fact_table(rows)


def missing_rows(motors: Sequence[RankedMotor]) -> list[Fact]:
    """Return what is missing of which motors, those of the greatest risk named first."""
    rows: list[Fact] = []
    for item in (*_FIRST, *(i for i in MissingItem if i not in _FIRST)):
        tags = [motor.tag for motor in motors if item in motor.missing]
        if tags:
            rows.append((say(words.MISSING[item]), _named(tags, len(motors))))
    return rows


def _named(tags: Sequence[str], in_all: int) -> str:
    """Return how many, and the first names; none where it is all of them."""
    if len(tags) == in_all > 1:
        return say(words.MISSING_ALL, count=in_all)
    names, more = ", ".join(tags[: words.MOTORS_SHOWN]), len(tags) - words.MOTORS_SHOWN
    if more > 0:
        names = say(words.AND_MORE, names=names, count=more)
    return say(words.MISSING_LINE, count=len(tags), names=names)
