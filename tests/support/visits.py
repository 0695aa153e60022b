"""Small whole visits for end-to-end tests: one motor file, running record, start and test sheet.

Everything is simulated once per process and kept; tests write the files they need.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from functools import cache
from pathlib import Path

from cagewise.machine.motor import Motor
from cagewise.machine.motor_file import motor_from_mapping
from cagewise.measurement import Recording, Role, TestSheet
from cagewise.readers import write_recording
from cagewise.readers.test_sheet import write_test_sheet
from cagewise.workflows.invented_insulation import Insulation
from cagewise.workflows.simulate import SimulateOptions, simulate_motor
from cagewise.workflows.simulate_standstill import SheetOptions, simulate_sheet
from cagewise.workflows.simulate_start import StartOptions, simulate_start_of

MOTOR_TEXT = """\
[motor]
tag = "V-12"
description = "cooling fan motor"
rated_power_kw = 132
rated_voltage_v = 690
rated_frequency_hz = 50
rated_speed_rpm = 1482
rated_current_a = 134
poles = 4
rotor_bars = 44
stator_slots = 60
cage = "fabricated"
connection = "wye"
thermal_class = "F"

[winding]
construction = "random"
built_year = 2012

[criticality]
level = "normal"
spare = true

[drive_train]
load_inertia_kg_m2 = 7.5
rotor_inertia_kg_m2 = 2.2
"""

ROLES = (Role.CURRENT_A, Role.CURRENT_B, Role.CURRENT_C, Role.VOLTAGE_AB, Role.VOLTAGE_BC)
RATE_HZ = 2500.0
DAY = date(2031, 3, 4)
DAMP = Insulation(resistance_ohm=0.8e6, polarization_index=1.1)


@dataclass(frozen=True)
class Visit:
    """What was measured on one day."""

    running: Recording
    start: Recording
    sheet: TestSheet


@dataclass(frozen=True)
class VisitFiles:
    """Files of a visit and of earlier ones."""

    motor: Path
    running: Path
    start: Path
    sheet: Path
    earlier: tuple[Path, ...]

    @property
    def paths(self) -> tuple[Path, Path, Path]:
        """Files of the visit itself."""
        return self.running, self.start, self.sheet


@cache
def small_visit(open_bars: tuple[int, ...] = (), *, damp: bool = False, year: int = 2031) -> Visit:
    """Return a visit to the motor of :data:`MOTOR_TEXT`; some seconds the first time.

    Other years give other noise, supply voltage and temperature.
    """
    motor = _motor()
    seed = year - 2000
    running = simulate_motor(
        motor,
        SimulateOptions(
            open_bars=open_bars,
            load_fraction=0.75,
            duration_s=30.0,
            sampling_rate_hz=RATE_HZ,
            roles=ROLES,
            seed=seed,
        ),
    )
    start, sheet = small_start(open_bars, year=year), _sheet(open_bars, damp, year)
    return Visit(_on(running, year, 9), start, sheet)


@cache
def small_start(open_bars: tuple[int, ...] = (), *, year: int = 2031) -> Recording:
    """Return the start of that visit alone."""
    options = StartOptions(
        open_bars=open_bars,
        voltage=1.0 + 0.004 * (year % 3 - 1),
        temperature_degc=38.0 + 4.0 * (year % 3),
        sampling_rate_hz=RATE_HZ,
        running_s=2.0,
        roles=ROLES,
        seed=year - 2000,
    )
    return _on(simulate_start_of(_motor(), options), year, 14)


def write_visit(
    folder: Path, open_bars: tuple[int, ...] = (), *, damp: bool = False, earlier: int = 0
) -> VisitFiles:
    """Write a visit, with the starts and sheets of so many earlier years of the sound motor."""
    motor = folder / "motor.toml"
    motor.write_text(MOTOR_TEXT, encoding="utf-8")
    visit = small_visit(open_bars, damp=damp)
    files = VisitFiles(
        motor=motor,
        running=folder / "running.parquet",
        start=folder / "start.parquet",
        sheet=folder / "sheet.toml",
        earlier=tuple(
            path for k in range(earlier) for path in _write_earlier(folder, DAY.year - 1 - k)
        ),
    )
    write_recording(_blind(visit.running), files.running)
    write_recording(_blind(visit.start), files.start)
    write_test_sheet(replace(visit.sheet, truth={}), files.sheet)
    return files


def _write_earlier(folder: Path, year: int) -> tuple[Path, Path]:
    """Write start and sheet of the sound motor in an earlier year."""
    start, sheet = folder / f"start-{year}.parquet", folder / f"sheet-{year}.toml"
    write_recording(_blind(small_start(year=year)), start)
    write_test_sheet(replace(_sheet((), False, year), truth={}), sheet)
    return start, sheet


@cache
def _motor() -> Motor:
    return motor_from_mapping(tomllib.loads(MOTOR_TEXT))


@cache
def _sheet(open_bars: tuple[int, ...], damp: bool, year: int) -> TestSheet:  # noqa: FBT001 - cached
    options = SheetOptions(
        measured_on=DAY.replace(year=year),
        open_bars=open_bars,
        winding_temperature_degc=18.0 + 2.0 * (year % 3),
        insulation=DAMP if damp else Insulation(resistance_ohm=4e8, polarization_index=2.6),
        seed=year - 2000,
    )
    return simulate_sheet(_motor(), options)


def _on(recording: Recording, year: int, hour: int) -> Recording:
    """Return the recording with the time of its beginning."""
    at = datetime(year, DAY.month, DAY.day, hour, 20, tzinfo=UTC)
    return replace(recording, start_time=at)


def _blind(recording: Recording) -> Recording:
    """Return the recording without its truth."""
    return replace(recording, truth={})
