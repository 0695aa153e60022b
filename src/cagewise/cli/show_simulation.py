"""The command "simulate": options to a recording or a test sheet on disk, and its truth."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass, fields
from datetime import date, datetime
from pathlib import Path
from typing import Any

from cagewise.cli.options import (
    PageOptions,
    SimulatedSheetOptions,
    SimulatedStartOptions,
    SimulationOptions,
)
from cagewise.cli.render import console_of
from cagewise.cli.streams import Streams
from cagewise.errors import UsageError
from cagewise.machine.motor import Motor
from cagewise.machine.motor_file import load_motor
from cagewise.machine.nameplate import Starting
from cagewise.measurement import Role, TerminalPair
from cagewise.report.expect_text import write_simulated
from cagewise.report.simulated_text import (
    write_run_time,
    write_simulated_sheet,
    write_simulated_start,
)

SHEET_ENDINGS = (".toml", ".xlsx")
"""Endings that only a test sheet can have."""

RUNNING_S = 60.0
"""Length of the record of a running motor if nobody says otherwise."""


@dataclass(frozen=True, slots=True)
class Wishes:
    """The groups of options of the command."""

    general: SimulationOptions
    start: SimulatedStartOptions
    sheet: SimulatedSheetOptions


def show_simulation(
    motor_path: Path, out: Path, wishes: Wishes, page: PageOptions, streams: Streams
) -> None:
    """Simulate, write the file and show its truth.

    An existing file was refused before, or is to be replaced.
    """
    _require_one_kind(out, wishes)
    motor = load_motor(motor_path)
    console = console_of(page, streams)
    began = time.perf_counter()
    if wishes.general.standstill:
        truth = _sheet(motor, out, wishes)
        write_simulated_sheet(motor, out, truth, console)
    elif wishes.general.start:
        truth = _start(motor, out, wishes)
        write_simulated_start(motor, out, truth, console)
    else:
        truth = _running(motor, out, wishes.general)
        write_simulated(motor, out, truth, console)
    write_run_time(time.perf_counter() - began, console)


def _require_one_kind(out: Path, wishes: Wishes) -> None:
    """Raise if it is not clear what is wanted, or options belong to something else."""
    general = wishes.general
    if general.start and general.standstill:
        raise UsageError(
            "a start and a test at rest are two files",
            where="--start, --standstill",
            remedy="Run the command once for each.",
        )
    if not general.standstill and out.suffix.lower() in SHEET_ENDINGS:
        raise UsageError(
            "this is the ending of a test sheet",
            where=str(out),
            remedy="Add --standstill, or name a recording, as in made.parquet.",
        )
    for asked, flag, given in (
        (general.start, "--start", wishes.start),
        (general.standstill, "--standstill", wishes.sheet),
    ):
        changed = _changed(given)
        if changed and not asked:
            raise UsageError(f"belongs to {flag}", where=changed[0], remedy=f"Add {flag}.")


def _changed(options: Any) -> list[str]:  # noqa: ANN401 - any of the groups
    """Return the options of a group that differ from their defaults, as they are written."""
    plain = type(options)()
    return [
        "--" + f.name.replace("_", "-")
        for f in fields(options)
        if getattr(options, f.name) != getattr(plain, f.name)
    ]


def _running(motor: Motor, out: Path, options: SimulationOptions) -> dict[str, float]:
    """Write a recording of the running motor."""
    from cagewise.readers import write_recording
    from cagewise.workflows.simulate import SimulateOptions, simulate_motor

    recording = simulate_motor(
        motor,
        SimulateOptions(
            open_bars=_bars(options.open_bars),
            resistance_factors=dict(_factor(text) for text in options.cracked),
            load_fraction=options.load,
            duration_s=RUNNING_S if options.seconds is None else options.seconds,
            sampling_rate_hz=options.rate,
            roles=_roles(options.channels),
            seed=options.seed,
        ),
    )
    write_recording(recording, out, overwrite=True)
    return dict(recording.truth)


def _start(motor: Motor, out: Path, wishes: Wishes) -> dict[str, float]:
    """Write a recording of a start."""
    from cagewise.readers import write_recording
    from cagewise.workflows.simulate_start import StartOptions, simulate_start_of

    options, start = wishes.general, wishes.start
    starting = None if start.starting is None else Starting(start.starting.replace("-", " "))
    recording = simulate_start_of(
        motor,
        StartOptions(
            open_bars=_bars(options.open_bars),
            resistance_factors=dict(_factor(text) for text in options.cracked),
            load_fraction=options.load,
            duration_s=options.seconds,
            sampling_rate_hz=options.rate,
            roles=_roles(options.channels),
            seed=options.seed,
            starting=starting,
            ramp_s=start.ramp,
            voltage=start.voltage,
            short_circuit_ratio=start.short_circuit or None,
            temperature_degc=start.temperature,
            switch_on_s=start.before,
            current_range=start.range,
        ),
    )
    write_recording(recording, out, overwrite=True)
    return dict(recording.truth)


def _sheet(motor: Motor, out: Path, wishes: Wishes) -> dict[str, float]:
    """Write a test sheet."""
    from cagewise.readers.test_sheet import write_test_sheet
    from cagewise.workflows.invented_insulation import Insulation
    from cagewise.workflows.simulate_standstill import SheetOptions, simulate_sheet

    options, sheet = wishes.general, wishes.sheet
    made = simulate_sheet(
        motor,
        SheetOptions(
            measured_on=_date(sheet.date),
            open_bars=_bars(options.open_bars),
            resistance_factors=dict(_factor(text) for text in options.cracked),
            frequencies_hz=tuple(sheet.frequency),
            positions=sheet.positions,
            winding_temperature_degc=sheet.winding_temperature,
            stator_asymmetry=sheet.asymmetry,
            swapped=_pairs(sheet.swap),
            bad_joint_ohm=sheet.bad_joint,
            insulation=Insulation(
                resistance_ohm=1e6 * sheet.insulation,
                polarization_index=sheet.polarization,
                knee_v=sheet.knee,
                turn_short=sheet.turn_short,
            ),
            seed=options.seed,
        ),
    )
    write_test_sheet(made, out, overwrite=True)
    return dict(made.truth)


def _bars(text: str) -> tuple[int, ...]:
    """Return bar numbers separated by commas."""
    try:
        return tuple(int(part) for part in _parts(text))
    except ValueError as error:
        raise UsageError(
            f"bar numbers separated by commas are needed, got {text!r}",
            where="--open-bars",
            remedy="As in --open-bars 0,1.",
        ) from error


def _factor(text: str) -> tuple[int, float]:
    """Return a bar and the factor on its resistance."""
    bar, _, factor = text.partition("=")
    try:
        return int(bar), float(factor)
    except ValueError as error:
        raise UsageError(
            f"a bar and a factor are needed, got {text!r}",
            where="--cracked",
            remedy="As in --cracked 7=2.0.",
        ) from error


def _roles(text: str) -> tuple[Role, ...]:
    """Return roles separated by commas."""
    try:
        return tuple(Role(part) for part in _parts(text))
    except ValueError as error:
        raise UsageError(
            f"channels separated by commas are needed, got {text!r}",
            where="--channels",
            remedy="As in --channels i_a,i_b,i_c,v_ab,v_bc.",
        ) from error


def _pairs(text: str) -> tuple[TerminalPair, TerminalPair] | None:
    """Return two pairs of terminals."""
    if not text.strip():
        return None
    try:
        first, second = (TerminalPair(part) for part in _parts(text))
    except ValueError as error:
        raise UsageError(
            f"two pairs of terminals are needed, got {text!r}",
            where="--swap",
            remedy="As in --swap ab,ca.",
        ) from error
    return first, second


def _date(text: str) -> date:
    """Return the date of the sheet."""
    if not text:
        return datetime.now().astimezone().date()
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise UsageError(
            f"a date is needed, got {text!r}", where="--date", remedy="As in --date 2031-05-17."
        ) from error


def _parts(text: str) -> Sequence[str]:
    """Return what stands between commas."""
    return [part.strip() for part in text.split(",") if part.strip()]
