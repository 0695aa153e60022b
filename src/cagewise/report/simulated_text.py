"""What is true of a simulated start or test sheet, on the terminal."""

from __future__ import annotations

import math
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from cagewise.machine.motor import Motor
from cagewise.report import numbers, sentences
from cagewise.report.page import STYLE_DIM, STYLE_HEADING, Page, page_on
from cagewise.report.symbols import Symbols

if TYPE_CHECKING:
    from rich.console import Console

TITLE = "SIMULATED: {where}"
START_NOTE = (
    "A made-up machine that meets this nameplate, with deep bars; dimensions, supply and the "
    "load of a fan are invented. It is linear, so its starting current is on the small side."
)
SHEET_NOTE = (
    "Impedances and winding resistance are those of a made-up machine that meets this nameplate. "
    "The insulation has no physics behind it: its curves are invented."
)
RUN_TIME = "Computed in {seconds} s."
NOT_REACHED = "not reached in this record"
STALLED = "stalled"
NONE = "none"
CLIPPED = "{count}: the range is too small"
OPEN_BARS = "Open bars"
MEAN_INDUCTANCE = "Mean inductance at {frequency} Hz"
_MEAN = "mean_inductance_h_"


def write_simulated_start(
    motor: Motor, where: Path, truth: Mapping[str, float], page_of: tuple[Console, Symbols]
) -> None:
    """Write what is true of a simulated start."""
    page = _headed(motor, where, page_of)
    start_a = truth["starting_current_rms_a"]
    times = start_a / motor.nameplate.rated_current_a
    page.fact_table(
        [
            (OPEN_BARS, f"{truth['open_bars']:.0f}"),
            ("Switched on at", f"{truth['switch_on_s']:.3f} s"),
            ("Time to 95 % speed", _time_to_speed(truth)),
            ("Under steady torques", _seconds(truth["predicted_time_to_speed_s"])),
            ("Starting current", f"{numbers.significant(start_a)} A, {times:.1f} of rated"),
            ("Peak current", f"{numbers.significant(truth['peak_current_a'])} A"),
            ("Slip when it runs", _slip(truth["steady_slip"])),
            ("Clipped samples", _clipped(truth["clipped_samples"])),
        ]
    )
    page.paragraph(START_NOTE, style=STYLE_DIM)


def write_simulated_sheet(
    motor: Motor, where: Path, truth: Mapping[str, float], page_of: tuple[Console, Symbols]
) -> None:
    """Write what is true of a simulated test sheet."""
    page = _headed(motor, where, page_of)
    inductances = [
        (
            MEAN_INDUCTANCE.format(frequency=name.removeprefix(_MEAN).removesuffix("_hz")),
            f"{numbers.significant(1e3 * value, 5)} mH",
        )
        for name, value in truth.items()
        if name.startswith(_MEAN)
    ]
    insulation = [
        ("Insulation, one minute", f"{numbers.significant(1e-6 * truth[name])} Mohm")
        for name in ("insulation_resistance_ohm",)
        if name in truth
    ]
    page.fact_table(
        [
            (OPEN_BARS, f"{truth['open_bars']:.0f}"),
            *inductances,
            (
                f"Winding at {truth['winding_temperature_degc']:g} degC",
                f"{numbers.significant(truth['phase_resistance_ohm'], 4)} ohm per phase",
            ),
            ("Bad joint", _or_none(truth["bad_joint_ohm"], "ohm in the line of phase b")),
            ("Stator asymmetry", _or_none(100.0 * truth["stator_asymmetry"], "% in phase a")),
            *insulation,
        ]
    )
    page.paragraph(SHEET_NOTE, style=STYLE_DIM)


def write_run_time(seconds: float, page_of: tuple[Console, Symbols]) -> None:
    """Write how long it took."""
    page_on(*page_of).paragraph(RUN_TIME.format(seconds=f"{seconds:.1f}"), style=STYLE_DIM)


def _headed(motor: Motor, where: Path, page_of: tuple[Console, Symbols]) -> Page:
    """Write the motor, a rule and the file."""
    page = page_on(*page_of)
    page.paragraph(sentences.motor_title(motor), indent=0)
    page.line(page.symbols.rule * page.width, STYLE_DIM)
    page.paragraph(TITLE.format(where=where.name), indent=0, style=STYLE_HEADING)
    return page


def _time_to_speed(truth: Mapping[str, float]) -> str:
    """Return the time, or why there is none."""
    if truth["stalled"]:
        return STALLED
    return _seconds(truth["time_to_speed_s"])


def _seconds(value: float) -> str:
    """Return a time; a load that holds the motor has none."""
    if math.isinf(value):
        return STALLED
    return NOT_REACHED if math.isnan(value) else f"{value:.3f} s"


def _slip(value: float) -> str:
    """Return a slip."""
    return STALLED if math.isnan(value) else f"{100.0 * value:.3f} %"


def _clipped(count: float) -> str:
    """Return how many samples lie at the end of the range."""
    return CLIPPED.format(count=f"{count:.0f}") if count else NONE


def _or_none(value: float, unit: str) -> str:
    """Return a value that is usually absent."""
    return f"{numbers.significant(value)} {unit}" if value else NONE
