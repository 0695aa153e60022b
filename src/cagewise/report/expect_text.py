"""What open bars would show, and what was simulated, on the terminal."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from cagewise.decision.expect import LINE_NAMES, Expectation, ExpectedPoint
from cagewise.machine.motor import Motor
from cagewise.quantities import Estimate
from cagewise.report import expect_wording as words
from cagewise.report import numbers, sentences
from cagewise.report.page import STYLE_DIM, STYLE_HEADING, Page, page_on
from cagewise.report.plan_numbers import up_to
from cagewise.report.symbols import Symbols

if TYPE_CHECKING:
    from rich.console import Console


def write_expectation(expectation: Expectation, console: Console, symbols: Symbols) -> None:
    """Write two tables for every load: side lines and direct component, then harmonic lines."""
    page = page_on(console, symbols)
    _title(page, expectation.motor, words.TITLE)
    page.paragraph(words.INTRODUCTION, indent=0)
    for point in expectation.points:
        load = f"{100.0 * point.load_fraction:.0f}"
        pole_pass = numbers.significant(point.pole_pass_frequency_hz.value, 2)
        page.heading(words.LOAD.format(load=load, pole_pass=pole_pass))
        page.table(words.SIDE_HEADS, damage_rows(point, words.SIDE_HEADS))
        page.line()
        page.table(words.HARMONIC_HEADS, damage_rows(point, words.HARMONIC_HEADS))
    page.heading(words.READ)
    seconds = " to ".join(f"{s:.0f}" for s in _range_of_lengths(expectation))
    for note in words.NOTES:
        page.paragraph(note.format(seconds=seconds), first=f"{symbols.bullet} ")
    if expectation.motor.cage.rotor_bars is None:
        page.paragraph(words.BARS_UNKNOWN, first=f"{symbols.bullet} ")


def write_simulated(
    motor: Motor, where: Path, truth: Mapping[str, float], page_of: tuple[Console, Symbols]
) -> None:
    """Write what was simulated and what is true of it."""
    page = page_on(*page_of)
    _title(page, motor, words.SIMULATED.format(where=where.name))
    label = words.SIMULATED_FACTS
    page.fact_table(
        [
            (label["open_bars"], f"{truth['open_bars']:.0f}"),
            (label["speed"], f"{truth['speed_rpm']:.2f} r/min"),
            (label["slip"], f"{100.0 * truth['slip']:.4f} %"),
            (label["pole_pass"], f"{truth['pole_pass_frequency_hz']:.4f} Hz"),
            (label["current"], f"{numbers.significant(truth['current_rms_a'])} A"),
            (label["power"], numbers.power(truth["shaft_power_w"])),
        ]
    )
    page.paragraph(words.SIMULATED_NOTE, style=STYLE_DIM)


def _title(page: Page, motor: Motor, title: str) -> None:
    """Write the motor, a rule and what follows."""
    page.paragraph(sentences.motor_title(motor), indent=0)
    page.line(page.symbols.rule * page.width, STYLE_DIM)
    page.paragraph(title, indent=0, style=STYLE_HEADING)


def damage_rows(point: ExpectedPoint, heads: Sequence[str]) -> list[tuple[str, ...]]:
    """Return the cells of one table: a row for each number of bars, and the detection limits."""
    of_name = {name: line for line, name in LINE_NAMES.items()}
    rows = []
    for damage in point.damages:
        cells = [
            _level(damage.levels_dbc[of_name[head]])
            if head in of_name
            else numbers.bars_interval(damage.n_hat)
            for head in heads[1:]
        ]
        rows.append((str(damage.open_bars), *cells))
    limits = [
        point.detection.line_bars[of_name[head]] if head in of_name else point.detection.direct_bars
        for head in heads[1:]
    ]
    rows.append((words.LIMIT, *(up_to(limit) for limit in limits)))
    return rows


def _level(level: Estimate) -> str:
    """Return a level in whole decibels with its interval."""
    return words.LEVEL.format(
        value=f"{level.value:.0f}", low=f"{level.low:.0f}", high=f"{level.high:.0f}"
    )


def _range_of_lengths(expectation: Expectation) -> list[float]:
    """Return the shortest and longest record the limits stand for; one if they are equal."""
    lengths = [point.detection.record_s for point in expectation.points]
    return sorted({min(lengths), max(lengths)})
