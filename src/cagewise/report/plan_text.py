"""The plan on the terminal: what to record, and what it will show."""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from typing import TYPE_CHECKING

from cagewise.decision.cautions import TestKind
from cagewise.decision.plan import LoadPlan, Plan
from cagewise.quantities import NotKnown
from cagewise.report import numbers, sentences, wording
from cagewise.report import plan_running_wording as running
from cagewise.report import plan_wording as words
from cagewise.report.cautions_text import write_cautions
from cagewise.report.facts import Fact
from cagewise.report.language import retell, say, say_each
from cagewise.report.page import STYLE_DIM, STYLE_HEADING, Page, page_on
from cagewise.report.plan_numbers import up_to
from cagewise.report.plan_standstill_text import write_standstill
from cagewise.report.plan_start_text import write_start
from cagewise.report.plan_winding_text import write_winding
from cagewise.report.symbols import Symbols

if TYPE_CHECKING:
    from rich.console import Console


class Occasion(StrEnum):
    """When something is measured."""

    RUNNING = "running"
    START = "start"
    STANDSTILL = "standstill"
    WINDING = "winding"


def write_plan(
    plan: Plan, console: Console, symbols: Symbols, only: Occasion | None = None
) -> None:
    """Write what to record and to test, occasion by occasion, what it will show, and the cautions.

    The first dozen lines hold the essentials of all occasions; ``only`` leaves the others out.
    """
    page = page_on(console, symbols)
    asked = tuple(Occasion) if only is None else (only,)
    page.paragraph(sentences.motor_title(plan.motor), indent=0)
    page.line(symbols.rule * page.width, STYLE_DIM)
    page.paragraph(say(running.TITLE).upper(), indent=0, style=STYLE_HEADING)
    page.fact_table([(say(words.IN_SHORT[at.value]), in_short(plan)[at]) for at in asked])
    if {Occasion.RUNNING, Occasion.STANDSTILL} & set(asked):
        page.paragraph(say(words.SHORT_NOTE), style=STYLE_DIM)
    if plan.motor.warnings:
        page.heading(say(wording.SECTION["motor_file"]))
        for warning in plan.motor.warnings:
            page.paragraph(retell(warning), first=f"{symbols.bullet} ")
    for at in asked:
        write_section(page, plan, at)
    tests = planned_tests(plan)
    write_cautions(page, [test for at in asked for test in tests[at]])


def write_section(page: Page, plan: Plan, occasion: Occasion) -> None:
    """Write the section of one occasion."""
    if occasion is Occasion.RUNNING:
        _running(page, plan)
    elif occasion is Occasion.START:
        write_start(page, plan.start)
    elif occasion is Occasion.STANDSTILL:
        write_standstill(page, plan.standstill)
    else:
        write_winding(page, plan.winding)


def planned_tests(plan: Plan) -> Mapping[Occasion, tuple[TestKind, ...]]:
    """Return the measurements that the page asks for on each occasion."""
    refused = isinstance(plan.start.record, NotKnown)
    return {
        Occasion.RUNNING: (TestKind.RUNNING_RECORD,),
        Occasion.START: () if refused else (TestKind.START_RECORD,),
        Occasion.STANDSTILL: (TestKind.POSITION,),
        Occasion.WINDING: plan.winding.tests,
    }


def in_short(plan: Plan) -> Mapping[Occasion, str]:
    """Return one line for each occasion."""
    record, start, stop = plan.record, plan.start.record, plan.standstill
    running = say(
        words.SHORT_RUNNING,
        seconds=f"{record.record_s:.0f}",
        load=f"{100.0 * record.load_fraction_good:.0f}",
        rate=f"{record.sampling_rate_hz:g}",
        bars=up_to(plan.aimed.direct_bars),
    )
    if isinstance(start, NotKnown):
        starting = say(words.SHORT_START_REFUSED)
    else:
        starting = say(
            words.SHORT_START,
            seconds=f"{start.record_s:.0f}",
            rate=f"{start.sampling_rate_hz:g}",
            peak=numbers.round_figure(start.current_range_peak_a),
        )
    standing = say(
        words.SHORT_STANDSTILL,
        positions=len(stop.advice.shaft_angles_deg),
        first=f"{stop.frequencies_hz[0]:g}",
        second=f"{stop.frequencies_hz[1]:g}",
        bars=up_to(stop.bars),
    )
    tests = ", ".join(say(words.CAUTION_FOR[test]) for test in plan.winding.tests)
    return {
        Occasion.RUNNING: running,
        Occasion.START: starting,
        Occasion.STANDSTILL: standing,
        Occasion.WINDING: say(words.SHORT_WINDING, tests=tests),
    }


def _running(page: Page, plan: Plan) -> None:
    """Write the section of the running record."""
    page.heading(say(words.RUNNING_TITLE))
    page.paragraph(say(running.CHANNELS))
    page.fact_table(_facts(plan))
    _what_it_shows(page, plan)
    page.heading(say(running.ASK))
    for question in say_each(running.QUESTIONS):
        page.paragraph(question, first=f"{page.symbols.bullet} ")


def _facts(plan: Plan) -> list[Fact]:
    """Return what to record, labelled."""
    record, label = plan.record, running.FACTS
    rate = say(running.RATE, rate=f"{record.sampling_rate_hz:g}")
    load = say(
        running.LOAD,
        good=f"{100.0 * record.load_fraction_good:.0f}",
        least=f"{100.0 * record.load_fraction_min:.0f}",
    )
    current = say(running.CURRENT, peak=numbers.round_figure(record.current_range_peak_a))
    voltage = say(running.VOLTAGE, peak=numbers.round_figure(record.voltage_range_peak_v))
    return [
        (say(label["rate"]), rate),
        (say(label["bits"]), say(running.BITS, bits=record.bits)),
        (say(label["length"]), say(running.LENGTH, seconds=f"{record.record_s:.0f}")),
        (say(label["load"]), load),
        (say(label["current"]), current),
        (say(label["voltage"]), voltage),
    ]


def _what_it_shows(page: Page, plan: Plan) -> None:
    """Write the table of the smallest damage, by load."""
    page.heading(say(running.SEES))
    rows = [_row(at) for at in plan.loads]
    page.table(say_each(running.HEADS), rows)
    for note in _notes(plan):
        page.paragraph(note, style=STYLE_DIM)


def _notes(plan: Plan) -> list[str]:
    """Return how to read the table."""
    assumed = plan.limits.plan
    notes = [
        say(
            running.EXPLAINED,
            noise=f"{assumed.sensor_noise_db:g}",
            load=f"{assumed.load_noise_db:g}",
        ),
        say(
            running.NATURAL,
            spread=f"{100.0 * assumed.natural_bar_spread:g}",
            natural=numbers.bars_up(plan.natural_bars),
        ),
        say(running.SWING),
    ]
    if plan.motor.cage.rotor_bars is None:
        notes.append(say(running.BARS_UNKNOWN))
    return notes


def _row(at: LoadPlan) -> tuple[str, ...]:
    """Return the table row of one load."""
    return (
        numbers.percent_of(f"{100.0 * at.load_fraction:.0f}"),
        numbers.percent_of(numbers.significant(100.0 * at.slip.value, 2)),
        f"{numbers.significant(at.pole_pass_frequency_hz.value, 2)} Hz",
        f"{at.record_s:.0f} s",
        up_to(at.direct_bars),
        up_to(at.side_line_bars),
        up_to(at.harmonic_bars),
    )
