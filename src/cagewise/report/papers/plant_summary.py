"""The summary of a plant for the meeting of a month: what changed, what is open, what is next."""

from __future__ import annotations

from collections.abc import Iterator

from cagewise.history.plant_risk import RankedMotor
from cagewise.report import history_wording, numbers, wording
from cagewise.report.asked import asked_of, what_of
from cagewise.report.case_text import found_in_words, judged
from cagewise.report.history_text import day_of, percent
from cagewise.report.language import current, decimal, say
from cagewise.report.motor_rows import SOON_DAYS
from cagewise.report.papers import plant_summary_wording as words
from cagewise.report.papers.paper import (
    Block,
    Cell,
    Column,
    Drawing,
    Heading,
    Items,
    Paper,
    PaperSize,
    Paragraph,
    Table,
    Tone,
)
from cagewise.report.papers.plant_changes import change_in_words
from cagewise.report.papers.plant_due import Due, decided_later, due_things, overdue
from cagewise.report.papers.plant_material import OpenCase, OpenedCall, PlantMaterial
from cagewise.report.papers.plant_short import cards, lead, shortened
from cagewise.report.papers.plant_words import due_in_words, month_name, state_of
from cagewise.report.ranking_text import cost_in_words
from cagewise.store import Decision

TOP = 10
"""Motors in the table of risk."""
MOST = 12
"""Rows of every other table: the summary stays on three pages, and says how many it left out."""


def plant_summary(material: PlantMaterial, *, size: PaperSize = PaperSize.A4) -> Paper:
    """Return the paper.

    Parameters
    ----------
    material
        The plant at the end of the month.
    size
        Of the sheets.
    """
    month, name = f"{material.first:%Y-%m}", material.plant
    foot = say(
        words.FOOT if name else words.FOOT_NO_NAME,
        plant=name,
        month=month,
        version=material.version,
    )
    return Paper(
        title=say(words.TITLE, month=month_name(material.first), year=material.first.year),
        subtitle=say(
            words.SUBTITLE if name else words.SUBTITLE_NO_NAME, plant=name, day=material.day
        ),
        day=material.day,
        foot=foot,
        blocks=tuple(_blocks(material)),
        language=current(),
        size=size,
        keywords=tuple(map(say, words.KEYWORDS)),
    )


def _blocks(material: PlantMaterial) -> Iterator[Block]:
    """Yield the blocks."""
    yield Paragraph(text=lead(material), tone=Tone.LEAD)
    if not material.ranking.in_all:
        return
    yield cards(material)
    yield from _changed(material)
    yield from _risk(material)
    yield from _cases(material)
    yield from _overdue(material)
    yield from _calls(material)
    yield from _next(material)
    yield from _costs(material)
    yield Heading(text=say(words.SECTION_NOTES))
    for note in (words.SIGNS, history_wording.RANKING_NOTE):
        yield Paragraph(text=say(note), tone=Tone.NOTE)
    yield Paragraph(text=say(words.KNOWN_THEN, day=material.day), tone=Tone.NOTE)


def _changed(material: PlantMaterial) -> Iterator[Block]:
    """Yield what changed in the month."""
    yield Heading(text=say(words.SECTION_CHANGED))
    said = [change_in_words(each) for each in material.changes]
    if material.unchanged:
        said.append(say(words.MEASURED_SAME, names=shortened(material.unchanged)))
    if not said:
        yield Paragraph(text=say(words.CHANGED_NOTHING))
        return
    yield Items(items=tuple(said[: 2 * MOST]))
    yield from _more(len(said) - 2 * MOST)


def _risk(material: PlantMaterial) -> Iterator[Block]:
    """Yield the motors of the greatest risk."""
    motors = material.ranking.ranking.motors
    yield Heading(text=say(words.SECTION_RISK))
    yield Table(
        columns=_columns(
            (words.HEAD_MOTOR, 1.2),
            (words.HEAD_STATE, 1.4),
            (words.HEAD_PROBABILITY, 1.35, True),
            (words.HEAD_BARS, 0.85, True),
            (words.HEAD_RISK, 1.0, True),
            (words.HEAD_ADVISED_BY, 1.5),
            (words.HEAD_ADVISED, 1.75),
            (words.HEAD_CASE, 0.65),
        ),
        rows=tuple(_ranked(material, motor) for motor in motors[:TOP]),
        caption=say(words.RISK_CAPTION, count=TOP, in_all=len(motors)) if len(motors) > TOP else "",
    )


def _ranked(material: PlantMaterial, motor: RankedMotor) -> tuple[Cell, ...]:
    """Return one motor of the table of risk."""
    view = material.ranking
    last, asked = view.latest.get(motor.tag), asked_of(view, motor)
    probability = percent(motor.probability)
    if motor.assumed_probability:
        probability = say(words.ASSUMED, probability=probability)
    read = None if last is None or asked == "after_repair" else last.keys.open_bars
    return (
        motor.tag,
        state_of(material, motor),
        probability,
        words.NONE if read is None else numbers.bars(read),
        cost_in_words(motor.expected_cost_per_month),
        say(words.NOW) if asked == "first" else day_of(motor.due_on).isoformat(),
        what_of(asked, None if last is None else last.keys),
        ", ".join(str(case.id) for case in view.open_cases.get(motor.tag, ())),
    )


def _cases(material: PlantMaterial) -> Iterator[Block]:
    """Yield the open cases with who decided what."""
    yield Heading(text=say(words.SECTION_CASES))
    if not material.cases:
        yield Paragraph(text=say(words.CASES_NONE))
        return
    yield Table(
        columns=_columns(
            (words.HEAD_CASE, 0.6),
            (words.HEAD_MOTOR, 1.35),
            (words.HEAD_SUSPICION, 1.7),
            (words.HEAD_OPENED, 1.5),
            (words.HEAD_DECIDED, 1.9),
            (words.HEAD_BY, 1.25),
            (words.HEAD_DUE, 1.4),
        ),
        rows=tuple(_case(each, material) for each in material.cases[:MOST]),
    )
    yield from _more(len(material.cases) - MOST)
    later = [
        say(words.LATER, case=each.case.id, motor=each.name, due=due, latest=latest)
        for each, due, latest in decided_later(material)
    ]
    if later:
        yield Items(items=tuple(later[:MOST]))


def _case(each: OpenCase, material: PlantMaterial) -> tuple[Cell, ...]:
    """Return one case of the table."""
    what = None if each.decided is None else each.decided.what
    decision = what if isinstance(what, Decision) else None
    return (
        str(each.case.id),
        each.name,
        each.case.title,
        each.case.opened_on.isoformat(),
        say(words.NOT_DECIDED) if decision is None else decision.action,
        "" if each.decided is None else each.decided.author,
        "" if decision is None else due_in_words(decision.due_on, material.day),
    )


def _overdue(material: PlantMaterial) -> Iterator[Block]:
    """Yield what is overdue, and a line of time with what is due."""
    late = overdue(material)
    yield Heading(text=say(words.SECTION_OVERDUE))
    if late:
        yield Table(
            columns=_columns(
                (words.HEAD_MOTOR, 1.0),
                (words.HEAD_WHAT, 3.2),
                (words.HEAD_SINCE, 0.9),
                (words.HEAD_DAYS, 0.5, True),
            ),
            rows=tuple(_late(due, material) for due in late[:MOST]),
        )
        yield from _more(len(late) - MOST)
    else:
        yield Paragraph(text=say(words.OVERDUE_NONE))
    yield from _drawn(material)


def _late(due: Due, material: PlantMaterial) -> tuple[Cell, ...]:
    """Return one row of what is overdue."""
    day = due.day or material.day
    return due.name, numbers.sentence(due.what), day.isoformat(), str((material.day - day).days)


def _drawn(material: PlantMaterial) -> Iterator[Block]:
    """Yield the line of time; nothing where too little is due to be drawn."""
    from cagewise.figures.due_line import DueLabels, DueThing, due_line
    from cagewise.figures.svg import svg_text

    things = [due for due in due_things(material) if due.day is not None][:MOST]
    if len(things) < 2:
        return
    figure = due_line(
        [DueThing(label=d.name, day=d.day, decided=d.decided) for d in things if d.day],
        material.day,
        sorted({m.next_outage for m in material.motors.values() if m.next_outage}),
        DueLabels(today=say(words.FIGURE_TODAY, day=material.day), outage=say(words.FIGURE_OUTAGE)),
    )
    late = sum(due.day is not None and due.day < material.day for due in things)
    yield Drawing(
        svg=svg_text(figure, "due").encode("utf-8"),
        alt=say(words.FIGURE_ALT, count=len(things), overdue=late, day=material.day),
        caption=say(words.FIGURE_CAPTION, day=material.day),
    )


def _calls(material: PlantMaterial) -> Iterator[Block]:
    """Yield our calls against what was found."""
    yield Heading(text=say(words.SECTION_CALLS))
    if not material.opened:
        yield Paragraph(text=say(words.CALLS_NONE))
        return
    latest = [_opened(each) for each in material.opened if each.event.day >= material.first]
    if latest:
        yield Items(items=tuple(latest[:MOST]))
    rows = [
        (
            say(wording.STATE[one.state]),
            str(one.found_defective.events),
            str(one.found_defective.cases),
        )
        for one in material.calls.report.by_state
        if one.found_defective.cases
    ]
    if rows:
        yield Table(
            columns=_columns(
                (words.HEAD_SAID, 2.0),
                (words.HEAD_FOUND_DEFECTIVE, 1.0, True),
                (words.HEAD_OF, 1.0, True),
            ),
            rows=tuple(rows),
        )
    if material.calls.without_call:
        yield Paragraph(text=say(words.CALLS_WITHOUT, count=material.calls.without_call))


def _opened(each: OpenedCall) -> str:
    """Return what became of a call."""
    verdict = say(words.NO_CALL) if each.call is None else judged(each.call.keys, each.outcome)
    return say(
        words.CALLS_MONTH,
        day=each.event.day,
        motor=each.motor.tag,
        verdict=numbers.sentence(verdict),
        found=found_in_words(each.outcome),
    )


def _next(material: PlantMaterial) -> Iterator[Block]:
    """Yield what to measure soon, with the hours that it takes."""
    yield Heading(text=say(words.SECTION_NEXT))
    wanted = [due for due in due_things(material) if due.is_measurement and _soon(due, material)]
    if not wanted:
        yield Paragraph(text=say(words.NEXT_NONE, days=SOON_DAYS))
        return
    hours = [due.hours for due in wanted if due.hours is not None]
    yield Table(
        columns=_columns(
            (words.HEAD_MOTOR, 1.0),
            (words.HEAD_WHAT, 3.0),
            (words.HEAD_DUE, 1.4),
            (words.HEAD_HOURS, 0.6, True),
        ),
        rows=tuple(_measurement(due, material) for due in wanted[:MOST]),
        caption=say(
            words.NEXT_CAPTION,
            days=SOON_DAYS,
            hours=f"{sum(hours):g}",
            unknown=len(wanted) - len(hours),
        ),
    )
    yield from _more(len(wanted) - MOST)


def _soon(due: Due, material: PlantMaterial) -> bool:
    """Return whether something is due soon, or was; what has no day is due now."""
    return due.day is None or (due.day - material.day).days <= SOON_DAYS


def _measurement(due: Due, material: PlantMaterial) -> tuple[Cell, ...]:
    """Return one measurement of the table."""
    return (
        due.name,
        numbers.sentence(due.what),
        say(words.NOW) if due.day is None else due_in_words(due.day, material.day),
        words.NONE if due.hours is None else decimal(f"{due.hours:g}"),
    )


def _costs(material: PlantMaterial) -> Iterator[Block]:
    """Yield what being wrong costs, where it is stated, of the motors of the greatest risk."""
    motors = [m for m in material.ranking.ranking.motors[:TOP] if m.tag in material.costs]
    if not motors:
        return
    yield Heading(text=say(words.SECTION_COSTS))
    yield Table(
        columns=_columns(
            (words.HEAD_MOTOR, 2.0),
            (words.HEAD_PULL, 1.0, True),
            (words.HEAD_MISS, 1.0, True),
            (words.HEAD_RISK, 1.0, True),
        ),
        rows=tuple(
            (
                motor.tag,
                _cost(material.costs[motor.tag].false_pull),
                _cost(material.costs[motor.tag].miss),
                cost_in_words(motor.expected_cost_per_month),
            )
            for motor in motors
        ),
        caption=say(words.COSTS_CAPTION),
    )


def _cost(value: float | None) -> str:
    return words.NONE if value is None else numbers.round_figure(value)


def _more(count: int) -> Iterator[Block]:
    """Yield how many are left out, if any are."""
    if count > 0:
        yield Paragraph(text=say(words.MORE, count=count), tone=Tone.NOTE)


def _columns(*heads: tuple[str, float] | tuple[str, float, bool]) -> tuple[Column, ...]:
    """Return columns from head, share of the width, and whether they hold numbers."""
    return tuple(Column(head=say(head[0]), share=head[1], numbers=len(head) == 3) for head in heads)
