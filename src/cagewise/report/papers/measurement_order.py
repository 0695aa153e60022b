"""The measurement order: one page from a plan, to be carried to the motor."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date

from cagewise.decision.plan import Plan
from cagewise.decision.test_levels import TestLevel
from cagewise.machine.nameplate import Starting
from cagewise.measurement.cautions import (
    DISCHARGE_FACTOR,
    ON_LINE,
    Caution,
    TestKind,
    cautions_for,
)
from cagewise.quantities import NotKnown
from cagewise.report import numbers, sentences
from cagewise.report.language import current, retell, say
from cagewise.report.papers import measurement_order_wording as words
from cagewise.report.papers.paper import (
    Blank,
    Block,
    Box,
    Column,
    Paper,
    PaperSize,
    Table,
    Tone,
)
from cagewise.report.plan_numbers import up_to
from cagewise.report.plan_text import planned_tests

MOST_ANGLES = 60
"""Angles that are listed; more are given as a step."""
FEW_LEVELS = 2
"""Test voltages beside which the page has room for a list of angles."""
ALWAYS = "local_rules"
"""Caution that stands by itself."""
BLANK_ROWS = (
    words.DAY_AND_TIME,
    words.SPEED,
    words.LOAD,
    words.SUPPLY,
    words.TEMPERATURE,
    words.FILE,
    words.WHO,
)
_NOT_AT_REST = frozenset({words.SPEED, words.LOAD, words.SUPPLY})


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderFacts:
    """What a measurement order is written from."""

    day: date
    plan: Plan
    program_version: str


def measurement_order(facts: OrderFacts, size: PaperSize = PaperSize.A4) -> Paper:
    """Return the paper, in the language of the moment: one page."""
    motor = facts.plan.motor
    return Paper(
        title=say(words.TITLE),
        subtitle=sentences.motor_title(motor),
        day=facts.day,
        blocks=tuple(_blocks(facts.plan)),
        foot=say(words.FOOT, tag=motor.tag, day=facts.day, version=facts.program_version),
        language=current(),
        size=size,
        compact=True,
        keywords=tuple(say(each) for each in words.KEYWORDS),
    )


def _blocks(plan: Plan) -> Iterator[Block]:
    """Yield the page: what hurts first."""
    yield Box(title=say(words.CAUTIONS_TITLE), items=tuple(_cautions(plan)), tone=Tone.DANGER)
    yield _connections(plan)
    yield _table(words.WHAT, words.WHAT_HEADS, (1.95, 7.4, 0.8), _measurements(plan))
    least = f"{100.0 * plan.record.load_fraction_min:.0f}"
    yield Box(
        title=say(words.WORTHLESS),
        items=tuple(say(each, least=least) for each in words.WORTHLESS_ITEMS),
    )
    rows = (
        (
            say(row),
            Blank.LINE,
            Blank.LINE,
            say(words.NONE) if row in _NOT_AT_REST else Blank.LINE,
        )
        for row in BLANK_ROWS
    )
    yield _table(words.OBSERVED, words.OBSERVED_HEADS, (3.9, 1.8, 1.8, 1.8), rows)


def _table(
    caption: str,
    heads: tuple[str, ...],
    shares: tuple[float, ...],
    rows: Iterable[tuple[str | Blank, ...]],
) -> Table:
    return Table(
        columns=tuple(
            Column(head=say(head), share=share) for head, share in zip(heads, shares, strict=True)
        ),
        rows=tuple(rows),
        caption=say(caption),
    )


def all_tests(plan: Plan) -> tuple[TestKind, ...]:
    """Return every measurement that the order asks for."""
    return tuple(test for tests in planned_tests(plan).values() for test in tests)


def _cautions(plan: Plan) -> Iterator[str]:
    """Yield what hurts: live, at rest, always."""
    tests = all_tests(plan)
    live = _said(test for test in tests if test in ON_LINE)
    at_rest = _said(test for test in tests if test not in ON_LINE)
    yield say(words.LIVE, cautions=live)
    yield say(words.AT_REST, cautions=at_rest)
    yield say(words.ALWAYS, cautions=say(words.CAUTION[ALWAYS]))


def _said(tests: Iterable[TestKind]) -> str:
    """Return the cautions of these tests in few words, each once."""
    every: dict[str, Caution] = {c.id: c for test in tests for c in cautions_for(test)}
    texts = (say(words.CAUTION[name], factor=DISCHARGE_FACTOR) for name in every if name != ALWAYS)
    return f"{' '.join(texts).rstrip(';.')}."


def _connections(plan: Plan) -> Table:
    """Return where to connect what."""
    record, converter = plan.record, plan.motor.nameplate.starting is Starting.CONVERTER
    running = numbers.round_figure(record.current_range_peak_a)
    currents = say(words.CURRENTS_RANGE, running=running)
    voltage = numbers.round_figure(record.voltage_range_peak_v)
    peak_v = say(words.VOLTAGES_RANGE, peak=voltage)
    at = words.VOLTAGES_AT_CONVERTER if converter else words.VOLTAGES_AT
    rows = [
        (say(words.CURRENT, number=number), say(where), currents, Blank.LINE)
        for number, where in enumerate(words.CURRENTS_AT, start=1)
    ]
    rows += [
        (say(words.VOLTAGE, number=number), say(where), peak_v, Blank.LINE)
        for number, where in zip(words.VOLTAGE_NUMBERS, at, strict=True)
    ]
    return _table(words.CONNECT, words.CONNECT_HEADS, (1.25, 5.3, 1.75, 1.5), rows)


def _measurements(plan: Plan) -> Iterator[tuple[str | Blank, ...]]:
    """Yield what to measure, with a box to tick."""
    record = plan.record
    running = say(
        words.RUNNING_HOW,
        seconds=f"{record.record_s:.0f}",
        good=f"{100.0 * record.load_fraction_good:.0f}",
        least=f"{100.0 * record.load_fraction_min:.0f}",
        rate=f"{record.sampling_rate_hz:g}",
        bits=record.bits,
        bars=up_to(plan.aimed.direct_bars),
    )
    yield say(words.RUNNING), running, Blank.BOX
    refused = isinstance(plan.start.record, NotKnown)
    yield say(words.START), _start(plan), say(words.NONE) if refused else Blank.BOX
    yield say(words.RESISTANCE), say(words.RESISTANCE_HOW), Blank.BOX
    yield say(words.STANDSTILL), _standstill(plan), Blank.BOX
    yield say(words.INSULATION), _insulation(plan.winding.levels), Blank.BOX


def _start(plan: Plan) -> str:
    """Return what to record of the next start."""
    start = plan.start.record
    if isinstance(start, NotKnown):
        return say(words.START_REFUSED, reason=say(start.reason))
    return say(
        words.START_HOW,
        seconds=f"{start.record_s:.0f}",
        before=f"{start.pre_trigger_s:g}",
        rate=f"{start.sampling_rate_hz:g}",
        bits=start.bits,
        peak=numbers.round_figure(start.current_range_peak_a),
    )


def _standstill(plan: Plan) -> str:
    """Return the position test."""
    advice = plan.standstill.advice
    every = advice.shaft_angles_deg
    first, second = (f"{frequency:g}" for frequency in plan.standstill.frequencies_hz)
    if len(every) <= MOST_ANGLES and len(plan.winding.levels) <= FEW_LEVELS:
        angles = "; ".join(f"{angle:.1f}".removesuffix(".0") for angle in every)
    else:
        step, last = numbers.significant(advice.step_deg, 4), f"{every[-1]:.1f}"
        angles = say(words.STANDSTILL_STEPS, step=step, last=last)
    return say(
        words.STANDSTILL_HOW,
        first=first,
        second=second,
        count=len(every),
        angles=angles,
        back=f"{advice.return_angle_deg:g}",
        tolerance=numbers.significant(advice.tolerable_angle_deg, 2),
    )


def _insulation(levels: Iterable[TestLevel]) -> str:
    """Return the test voltages, the forms of one test together."""
    together: dict[str, list[str]] = {}
    for level in levels:
        together.setdefault(_test(level), []).append(_level(level))
    said = [
        say(words.LEVELS, title=title, levels=say(words.LEVEL_OR).join(each))
        for title, each in together.items()
    ]
    if len(said) > 1:
        said.append(say(words.LEVELS_AGREED))
    return " ".join(said)


def _test(level: TestLevel) -> str:
    """Return the name of a test with the kind of its voltage."""
    title, kind = say(level.title), say(level.kind.value)
    if level.kind.value not in level.title:
        title = say(words.TITLE_KIND, title=title, kind=kind)
    return f"{title[:1].upper()}{title[1:]}"


def _level(level: TestLevel) -> str:
    """Return one voltage with its form."""
    low, high = f"{level.low_v:.0f}", f"{level.high_v:.0f}"
    template = words.LEVEL_ONE if low == high else words.LEVEL_SPAN
    return say(template, low=low, high=high, form=retell(level.form))
