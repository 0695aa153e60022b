"""The plan on the terminal: what to record, and what it will show."""

from __future__ import annotations

from typing import TYPE_CHECKING

from cagewise.decision.plan import LoadPlan, Plan
from cagewise.quantities import Estimate
from cagewise.report import numbers, sentences, wording
from cagewise.report.facts import Fact
from cagewise.report.page import STYLE_DIM, STYLE_HEADING, Page, page_on
from cagewise.report.symbols import Symbols

if TYPE_CHECKING:
    from rich.console import Console


def write_plan(plan: Plan, console: Console, symbols: Symbols) -> None:
    """Write what to record, what it will show, and the cautions."""
    page = page_on(console, symbols)
    page.paragraph(sentences.motor_title(plan.motor), indent=0)
    page.line(symbols.rule * page.width, STYLE_DIM)
    page.paragraph(wording.PLAN_TITLE.upper(), indent=0, style=STYLE_HEADING)
    page.paragraph(wording.PLAN_CHANNELS, indent=0)
    page.line()
    page.fact_table(_facts(plan))
    _what_it_shows(page, plan)
    if plan.motor.warnings:
        page.heading(wording.SECTION["motor_file"])
        for warning in plan.motor.warnings:
            page.paragraph(warning, first=f"{symbols.bullet} ")
    page.heading(wording.PLAN_ASK)
    for question in wording.PLAN_QUESTIONS:
        page.paragraph(question, first=f"{symbols.bullet} ")
    page.heading(wording.SECTION["cautions"])
    for caution in wording.CAUTIONS:
        page.paragraph(caution, first=f"{symbols.bullet} ")


def _facts(plan: Plan) -> list[Fact]:
    """Return what to record, labelled."""
    record, label = plan.record, wording.PLAN_FACTS
    rate = wording.PLAN_RATE.format(rate=f"{record.sampling_rate_hz:g}")
    load = wording.PLAN_LOAD.format(
        good=f"{100.0 * record.load_fraction_good:.0f}",
        least=f"{100.0 * record.load_fraction_min:.0f}",
    )
    current = wording.PLAN_CURRENT.format(peak=numbers.round_figure(record.current_range_peak_a))
    voltage = wording.PLAN_VOLTAGE.format(peak=numbers.round_figure(record.voltage_range_peak_v))
    facts = [
        (label["rate"], rate),
        (label["bits"], wording.PLAN_BITS.format(bits=record.bits)),
        (label["length"], wording.PLAN_LENGTH.format(seconds=f"{record.record_s:.0f}")),
        (label["load"], load),
        (label["current"], current),
        (label["voltage"], voltage),
    ]
    if record.start_range_peak_a is not None:
        peak = numbers.round_figure(record.start_range_peak_a)
        facts.append((label["start"], wording.PLAN_START.format(peak=peak)))
    return facts


def _what_it_shows(page: Page, plan: Plan) -> None:
    """Write the table of the smallest damage, by load."""
    page.heading(wording.PLAN_SEES)
    rows = [_row(at) for at in plan.loads]
    page.table(wording.PLAN_HEADS, rows)
    for note in _notes(plan):
        page.paragraph(note, style=STYLE_DIM)


def _notes(plan: Plan) -> list[str]:
    """Return how to read the table."""
    assumed = plan.limits.plan
    notes = [
        wording.PLAN_EXPLAINED.format(
            noise=f"{assumed.sensor_noise_db:g}", load=f"{assumed.load_noise_db:g}"
        ),
        wording.PLAN_NATURAL.format(
            spread=f"{100.0 * assumed.natural_bar_spread:g}",
            natural=numbers.bars_up(plan.natural_bars),
        ),
        wording.PLAN_SWING,
    ]
    if plan.motor.cage.rotor_bars is None:
        notes.append(wording.PLAN_BARS_UNKNOWN)
    return notes


def _row(at: LoadPlan) -> tuple[str, ...]:
    """Return the table row of one load."""
    return (
        f"{100.0 * at.load_fraction:.0f} %",
        f"{numbers.significant(100.0 * at.slip.value, 2)} %",
        f"{numbers.significant(at.pole_pass_frequency_hz.value, 2)} Hz",
        f"{at.record_s:.0f} s",
        up_to(at.direct_bars),
        up_to(at.side_line_bars),
        up_to(at.harmonic_bars),
    )


def up_to(bars: Estimate) -> str:
    """Return the middle of an estimate and the upper end of its interval."""
    return wording.PLAN_UP_TO.format(
        value=numbers.bars_up(bars.value), high=numbers.bars_up(bars.high)
    )
