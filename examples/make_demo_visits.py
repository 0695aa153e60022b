"""Make the whole visits of the built-in demo: ``python examples/make_demo_visits.py OUTDIR``.

Brannoch pulp mill on the river Elvarn is invented, and so are its two lime-kiln fans: alike, each
driven by a 500 kW motor for 6 kV with 44 bars. A visit has a record of the running motor, one of a
start and a test sheet; of fan 1 there are earlier starts and sheets, from when it was sound. All of
them come from one machine and its damage; what is true is written to ``visits.json``, which the
examination never reads. Equal code gives equal files. The package carries the result in
``src/cagewise/workflows/demo_data``.
"""

from __future__ import annotations

import argparse
import json
import math
import sys
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from pathlib import Path

import numpy as np

from cagewise.machine.motor import Motor
from cagewise.machine.motor_file import load_motor
from cagewise.measurement import Channel, Recording, Role, TestSheet
from cagewise.readers import write_recording
from cagewise.readers.test_sheet import write_test_sheet
from cagewise.simulation import (
    Damage,
    DeepBar,
    Eccentricity,
    Load,
    MachineGeometry,
    Setup,
    simulate,
)
from cagewise.simulation.nameplate import NameplateMachine
from cagewise.workflows.invented_insulation import Insulation
from cagewise.workflows.simulate import plant_sensors, plant_supply
from cagewise.workflows.simulate_standstill import SheetOptions, sheet_of
from cagewise.workflows.simulate_start import StartOptions, start_of

MOTOR_FILE = "kiln-fan.toml"
DATA = Path(__file__).resolve().parents[1] / "src" / "cagewise" / "workflows" / "demo_data"

ROTOR_BARS = 44
BAR_LENGTH_M, BAR_HEIGHT_M, BAR_WIDTH_M = 0.60, 0.036, 0.0105
RING_AREA_M2, RING_RADIUS_M = 1500e-6, 0.170
HOT_COPPER_OHM_M = 2.25e-8
ACTIVE_LENGTH_M = 0.50
TIP_PERMEANCE = 1.0
"""Permeance factor of the rotor slot above the bar."""

MACHINE = NameplateMachine(
    geometry=MachineGeometry(
        rotor_bars=ROTOR_BARS,
        pole_pairs=2,
        slots_per_pole_and_phase=5,
        coil_pitch=13.0 / 15.0,
        series_turns=220,
        radius_m=0.200,
        length_m=ACTIVE_LENGTH_M,
        gap_m=3.2e-3,  # 1.5 mm, slots 1.2, iron 1.8
        stator_resistance_ohm=0.86,
        stator_leakage_h=11.5e-3,
        bar_resistance_ohm=HOT_COPPER_OHM_M * BAR_LENGTH_M / (BAR_HEIGHT_M * BAR_WIDTH_M),
        bar_leakage_h=4e-7
        * math.pi
        * (BAR_LENGTH_M * BAR_HEIGHT_M / BAR_WIDTH_M / 3.0 + ACTIVE_LENGTH_M * TIP_PERMEANCE),
        ring_resistance_ohm=HOT_COPPER_OHM_M
        * 2.0
        * math.pi
        * RING_RADIUS_M
        / ROTOR_BARS
        / RING_AREA_M2,
        ring_leakage_h=1.6e-8,
        inertia_kg_m2=11.5 + 33.0,
        orders=(1, 5, 7, 11, 13, 23),
        bar=DeepBar(height_m=BAR_HEIGHT_M, conductivity_s_per_m=1.0 / HOT_COPPER_OHM_M),
    ),
    rated_torque_nm=3209.0,
    friction_nm=24.0,
)
"""A four-pole machine of shaft height 450, fabricated copper cage, hot; the fan's inertia included.
Its circuit is not the one that an examination estimates from the nameplate."""

NAMES = {
    Role.CURRENT_A: "I L1",
    Role.CURRENT_B: "I L2",
    Role.CURRENT_C: "I L3",
    Role.VOLTAGE_AB: "U L1-L2",
    Role.VOLTAGE_BC: "U L2-L3",
}
"""Recorded channels: three clamps behind current transformers, two line voltages."""

JOINT_SCATTER = 0.01
"""Standard deviation of the bar resistances of a sound cage, relative."""

CAGES = {"lime-kiln fan 1": 11, "lime-kiln fan 2": 12}
"""Fan to the seed of its cage."""

ECCENTRICITY = Eccentricity(static=0.12, dynamic=0.06)
RATE_HZ = 2500.0
TEST_FREQUENCIES_HZ = (10.0, 50.0)

OPEN_BAR, CRACKED_BAR, CRACK = 17, 18, 1.8
"""Damage of fan 1 on the day of its visit: a bar has opened and its neighbour carries a crack."""


@dataclass(frozen=True, kw_only=True)
class Occasion:
    """One day on which a motor was started, tested at rest, or both."""

    day: date
    damaged: bool = False
    voltage: float = 1.0
    """Of the supply before the start, over the rated one."""
    start_degc: float = 40.0
    """Winding and cage when the motor was started."""
    load: float = 0.78
    sheet_degc: float = 20.0
    """Winding and cage when it was tested."""
    air_degc: float = 18.0
    humidity: float = 0.5
    insulation: Insulation = Insulation()  # noqa: RUF009 - frozen
    seed: int


@dataclass(frozen=True, kw_only=True)
class Visit:
    """One case of the demo: files of a visit, and of earlier ones."""

    name: str
    fan: str
    story: str
    """What was known on the day, for the demo's text; not what is true."""
    state: str
    """What is true of the cage."""
    expected: str
    """What an examination may conclude about the cage."""
    damage: str
    """What is wrong, in few words."""
    now: Occasion
    running_s: float
    earlier: tuple[Occasion, ...] = ()


VISITS = (
    Visit(
        name="whole-visit",
        fan="lime-kiln fan 1",
        story="Side lines had been seen in March; before the outage everything was measured: "
        "running, one start, and the motor at rest. Starts and test sheets of earlier years are "
        "there.",
        state="defective",
        expected="defective",
        damage="1 bar open, 1 cracked",
        running_s=60.0,
        now=Occasion(
            day=date(2031, 4, 15),
            damaged=True,
            voltage=0.995,
            start_degc=38.0,
            insulation=Insulation(resistance_ohm=2.3e9, polarization_index=3.1, tip_up=0.0009),
            seed=41,
        ),
        earlier=(
            Occasion(
                day=date(2027, 5, 11),
                voltage=1.006,
                start_degc=35.0,
                sheet_degc=19.0,
                insulation=Insulation(resistance_ohm=3.1e9, polarization_index=3.4),
                seed=31,
            ),
            Occasion(
                day=date(2028, 5, 9),
                voltage=0.988,
                start_degc=46.0,
                load=0.80,
                sheet_degc=23.0,
                insulation=Insulation(resistance_ohm=2.6e9, polarization_index=3.3),
                seed=32,
            ),
            Occasion(
                day=date(2029, 5, 15),
                voltage=1.001,
                start_degc=41.0,
                load=0.77,
                sheet_degc=21.0,
                insulation=Insulation(resistance_ohm=2.5e9, polarization_index=3.2),
                seed=33,
            ),
        ),
    ),
    Visit(
        name="damp-motor",
        fan="lime-kiln fan 2",
        story="The same measurements at the sister fan, which had stood open to the weather for "
        "two weeks and was covered and aired since.",
        state="sound",
        expected="sound",
        damage="no open bar, damp winding",
        running_s=30.0,
        now=Occasion(
            day=date(2031, 4, 16),
            voltage=1.0,
            start_degc=22.0,
            sheet_degc=18.0,
            air_degc=14.0,
            humidity=0.78,
            insulation=Insulation(
                resistance_ohm=18e6, polarization_index=1.15, dissipation_factor=0.034, tip_up=0.004
            ),
            seed=51,
        ),
    ),
)


def cage(fan: str, occasion: Occasion) -> tuple[tuple[int, ...], dict[int, float]]:
    """Return open bars and resistance factors: brazed joints differ from bar to bar."""
    scatter = np.random.default_rng(CAGES[fan]).standard_normal(ROTOR_BARS)
    factors = {bar: 1.0 + JOINT_SCATTER * float(s) for bar, s in enumerate(scatter)}
    if not occasion.damaged:
        return (), factors
    del factors[OPEN_BAR]
    factors[CRACKED_BAR] *= CRACK
    return (OPEN_BAR,), factors


def running(visit: Visit, motor: Motor) -> Recording:
    """Return the record of the running motor, hot."""
    open_bars, factors = cage(visit.fan, visit.now)
    plate = motor.nameplate
    speed = plate.rated_speed_rpm * math.pi / 30.0
    shaft_nm = visit.now.load * MACHINE.rated_torque_nm
    setup = Setup(
        geometry=MACHINE.geometry,
        damage=Damage(open_bars=open_bars, resistance_factors=factors),
        eccentricity=ECCENTRICITY,
        supply=plant_supply(plate),
        load=Load(
            torque_nm=MACHINE.friction_nm,
            quadratic_nm_s2=shaft_nm / speed**2,
            noise_rms_nm=0.006 * MACHINE.rated_torque_nm,
        ),
        sensors=plant_sensors(plate),
    )
    recording = simulate(
        setup,
        duration_s=visit.running_s,
        sampling_rate_hz=RATE_HZ,
        seed=visit.now.seed,
        settling_s=4.0,
    )
    return finished(recording, datetime(*date_of(visit.now), 9, 20, tzinfo=UTC))


def start(visit: Visit, occasion: Occasion, motor: Motor) -> Recording:
    """Return the record of a start."""
    open_bars, factors = cage(visit.fan, occasion)
    options = StartOptions(
        open_bars=open_bars,
        resistance_factors=factors,
        load_fraction=occasion.load,
        voltage=occasion.voltage,
        temperature_degc=occasion.start_degc,
        running_s=2.0,
        sampling_rate_hz=RATE_HZ,
        roles=tuple(NAMES),
        seed=100 + occasion.seed,
    )
    recording = start_of(MACHINE, motor, options)
    return finished(recording, datetime(*date_of(occasion), 14, 5, tzinfo=UTC))


def sheet(visit: Visit, occasion: Occasion, motor: Motor) -> TestSheet:
    """Return the test sheet of an occasion."""
    open_bars, factors = cage(visit.fan, occasion)
    options = SheetOptions(
        measured_on=occasion.day,
        open_bars=open_bars,
        resistance_factors=factors,
        frequencies_hz=TEST_FREQUENCIES_HZ,
        winding_temperature_degc=occasion.sheet_degc,
        ambient_temperature_degc=occasion.air_degc,
        relative_humidity=occasion.humidity,
        insulation=occasion.insulation,
        seed=200 + occasion.seed,
    )
    return sheet_of(MACHINE, motor, options)


def date_of(occasion: Occasion) -> tuple[int, int, int]:
    """Return year, month and day."""
    return occasion.day.year, occasion.day.month, occasion.day.day


def finished(recording: Recording, at: datetime) -> Recording:
    """Return the recording as the recorder of the mill names it."""
    return replace(
        recording,
        channels=tuple(named(c) for c in recording.channels if c.role in NAMES),
        start_time=at,
        nominal_frequency_hz=50.0,
    )


def named(channel: Channel) -> Channel:
    """Return the channel under the name it has in the recorder."""
    return replace(channel, name=NAMES[channel.role])


def write_visit(visit: Visit, motor: Motor, folder: Path) -> dict[str, object]:
    """Write the files of a visit and return its entry in ``visits.json``."""
    truths: dict[str, dict[str, float]] = {}

    def keep(made: Recording | TestSheet, name: str) -> str:
        blind = replace(made, truth={})
        if isinstance(blind, Recording):
            write_recording(blind, folder / name, overwrite=True)
        else:
            write_test_sheet(blind, folder / name, overwrite=True)
        known = {key: value for key, value in made.truth.items() if math.isfinite(value)}
        truths[name] = {key: float(f"{value:.9g}") for key, value in known.items()}
        sys.stdout.write(f"{name}\n")
        return name

    files = [
        keep(running(visit, motor), f"{visit.name}.parquet"),
        keep(start(visit, visit.now, motor), f"{visit.name}-start.parquet"),
        keep(sheet(visit, visit.now, motor), f"{visit.name}.sheet.toml"),
    ]
    earlier = []
    for occasion in visit.earlier:
        stem = f"{visit.name}-{occasion.day.year}"
        earlier += [
            keep(start(visit, occasion, motor), f"{stem}-start.parquet"),
            keep(sheet(visit, occasion, motor), f"{stem}.sheet.toml"),
        ]
    return {
        "name": visit.name,
        "files": files,
        "earlier": earlier,
        "motor": MOTOR_FILE,
        "where": visit.fan,
        "story": visit.story,
        "state": visit.state,
        "expected": visit.expected,
        "damage": visit.damage,
        "open_bars": truths[files[0]]["open_bars"],
        "largest_resistance_factor": truths[files[0]]["largest_resistance_factor"],
        "truth": truths,
    }


def main(arguments: list[str]) -> int:
    """Write all visits and their truth into a folder."""
    parser = argparse.ArgumentParser(description="Make the whole visits of the demo.")
    parser.add_argument("folder", type=Path)
    folder = parser.parse_args(arguments).folder
    folder.mkdir(parents=True, exist_ok=True)
    motor = load_motor(DATA / MOTOR_FILE)
    entries = [write_visit(visit, motor, folder) for visit in VISITS]
    (folder / "visits.json").write_text(json.dumps(entries, indent=2) + "\n", encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
