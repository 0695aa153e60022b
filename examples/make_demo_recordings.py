"""Make the recordings of the built-in demo: ``python examples/make_demo_recordings.py OUTDIR``.

Brannoch pulp mill on the river Elvarn is invented, and so are its white-water pumps: alike, each
driven by a 315 kW motor with 40 bars. Every recording is computed from the machine below; what is
true of it is written to ``truth.json``, which the examination never reads. Equal code gives equal
files. The package carries the result in ``src/cagewise/workflows/demo_data``.
"""

from __future__ import annotations

import argparse
import json
import math
import sys
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np

from cagewise.measurement import Channel, Recording, Role
from cagewise.readers import write_recording
from cagewise.simulation import (
    Damage,
    Eccentricity,
    Harmonic,
    Load,
    MachineGeometry,
    Modulation,
    Sensors,
    Setup,
    Supply,
    simulate,
)

STATOR_SLOTS = 48
ROTOR_BARS = 40
BAR_LENGTH_M = 0.52
BAR_AREA_M2 = 300e-6
RING_AREA_M2 = 1100e-6
RING_RADIUS_M = 0.150
HOT_COPPER_OHM_M = 2.35e-8
ACTIVE_LENGTH_M = 0.44
SLOT_PERMEANCE = 2.4
"""Slot and tip permeance factors of the rotor slot."""

MOTOR = MachineGeometry(
    rotor_bars=ROTOR_BARS,
    pole_pairs=2,
    slots_per_pole_and_phase=4,
    coil_pitch=11.0 / 12.0,
    series_turns=32,
    radius_m=0.1695,
    length_m=ACTIVE_LENGTH_M,
    gap_m=2.75e-3,  # 1.3 mm, slots 1.25, iron 1.7
    skew_rad=2.0 * math.pi / STATOR_SLOTS,
    stator_resistance_ohm=0.0150,
    stator_leakage_h=0.26e-3,
    bar_resistance_ohm=HOT_COPPER_OHM_M * BAR_LENGTH_M / BAR_AREA_M2,
    bar_leakage_h=4e-7 * math.pi * ACTIVE_LENGTH_M * SLOT_PERMEANCE,
    ring_resistance_ohm=HOT_COPPER_OHM_M
    * 2.0
    * math.pi
    * RING_RADIUS_M
    / ROTOR_BARS
    / RING_AREA_M2,
    ring_leakage_h=1.0e-8,
    inertia_kg_m2=5.4 + 3.2,
)
"""A four-pole machine of shaft height 355, fabricated copper cage; the pump's inertia included."""

RATED_TORQUE_NM = 2027.0
RATED_SPEED_RAD_S = 155.4
FRICTION_NM = 15.0
"""Bearings and fan of the motor: they load the shaft but do not reach the pump."""

NAMES = {
    Role.CURRENT_A: "I L1",
    Role.CURRENT_B: "I L2",
    Role.CURRENT_C: "I L3",
    Role.VOLTAGE_AB: "U L1-L2",
    Role.VOLTAGE_BC: "U L2-L3",
}
"""Recorded channels: three clamps, two line voltages."""

SENSORS = Sensors(
    current_ratio_error=(0.002, -0.003, 0.001),
    current_phase_error_deg=(0.4, 0.3, 0.5),
    voltage_ratio_error=(0.001, -0.001, 0.0),
    current_noise_rms_a=0.055,  # 72 dB below the current at three quarters of the load
    voltage_noise_rms_v=0.16,  # 73 dB below the line voltage
    bits=16,
    current_full_scale_a=1000.0,
    voltage_full_scale_v=1500.0,
)

JOINT_SCATTER = 0.01
"""Standard deviation of the bar resistances of a sound cage, relative."""

CAGES = {"white-water pump 1": 1, "white-water pump 2": 2, "white-water pump 3": 3}
"""Pump to the seed of its cage."""

ECCENTRICITY = Eccentricity(static=0.12, dynamic=0.06)


@dataclass(frozen=True, kw_only=True)
class Case:
    """One recording of the demo."""

    name: str
    file_name: str
    pump: str
    story: str
    """What was known on the day, for the demo's text; not what is true."""
    state: str
    """What is true of the cage: ``sound`` or ``defective``."""
    expected: str
    """What an examination may conclude from this record."""
    start: datetime
    load: float
    """Torque as a fraction of the rated one."""
    duration_s: float = 60.0
    sampling_rate_hz: float = 2500.0
    open_bars: tuple[int, ...] = ()
    oscillation: float = 0.0
    """Amplitude of a torque oscillation at exactly twice the slip frequency, of rated torque."""
    seed: int


CASES = (
    Case(
        name="cracked",
        file_name="cracked.parquet",
        pump="white-water pump 3",
        story="Recorded after operators reported a slow beat in the ammeter.",
        state="defective",
        expected="defective",
        start=datetime(2031, 3, 4, 9, 12, tzinfo=UTC),
        load=0.75,
        open_bars=(11, 12),
        seed=21,
    ),
    Case(
        name="oscillating-load",
        file_name="oscillating-load.parquet",
        pump="white-water pump 1",
        story="The same beat in the ammeter; the level control of the pit hunts.",
        state="sound",
        expected="sound",
        start=datetime(2031, 3, 4, 10, 3, tzinfo=UTC),
        load=0.78,
        oscillation=0.05,
        seed=22,
    ),
    Case(
        name="sound",
        file_name="sound.parquet",
        pump="white-water pump 2",
        story="Routine visit.",
        state="sound",
        expected="sound",
        start=datetime(2031, 3, 4, 10, 41, tzinfo=UTC),
        load=0.72,
        seed=23,
    ),
    Case(
        name="idle",
        file_name="idle.cfg",
        pump="white-water pump 3",
        story="The feeder's recorder, triggered while the pump turned empty.",
        state="defective",
        expected="not decidable",
        start=datetime(2031, 3, 3, 22, 47, tzinfo=UTC),
        load=0.08,
        duration_s=10.0,
        sampling_rate_hz=5000.0,
        open_bars=(11, 12),
        seed=24,
    ),
)


def cage(case: Case) -> Damage:
    """Return the cage of a pump's motor: brazed joints differ from bar to bar."""
    factors = 1.0 + JOINT_SCATTER * np.random.default_rng(CAGES[case.pump]).standard_normal(
        ROTOR_BARS
    )
    sound = [bar for bar in range(ROTOR_BARS) if bar not in case.open_bars]
    return Damage(
        open_bars=case.open_bars, resistance_factors={bar: float(factors[bar]) for bar in sound}
    )


def setup(case: Case, oscillation_hz: float) -> Setup:
    """Return what is simulated; an oscillation of the load turns at ``oscillation_hz``."""
    pump = (case.load * RATED_TORQUE_NM - FRICTION_NM) / RATED_SPEED_RAD_S**2
    beat = Modulation(amplitude=case.oscillation * RATED_TORQUE_NM, frequency_hz=oscillation_hz)
    return Setup(
        geometry=MOTOR,
        damage=cage(case),
        eccentricity=ECCENTRICITY,
        supply=Supply(
            line_voltage_rms_v=692.0,
            frequency_hz=49.99,
            unbalance=0.005,
            unbalance_phase_rad=1.1,
            harmonics=(
                Harmonic(order=5, ratio=0.011, phase_rad=0.6),
                Harmonic(order=7, ratio=0.007, phase_rad=-1.9),
            ),
            wander_rms_hz=0.010,
            flicker_rms=0.0005,
        ),
        load=Load(
            torque_nm=FRICTION_NM,
            quadratic_nm_s2=pump,
            oscillations=(beat,) if case.oscillation else (),
            noise_rms_nm=0.006 * RATED_TORQUE_NM,
        ),
        sensors=SENSORS,
    )


def record(case: Case) -> Recording:
    """Simulate a case; a beat is moved until it meets twice the slip frequency of its own run."""
    oscillation_hz = 1.0
    for _ in range(4 if case.oscillation else 1):
        recording = simulate(
            setup(case, oscillation_hz),
            duration_s=case.duration_s,
            sampling_rate_hz=case.sampling_rate_hz,
            seed=case.seed,
            settling_s=4.0,
        )
        missed_hz = recording.truth["pole_pass_frequency_hz"] - oscillation_hz
        oscillation_hz += missed_hz
    channels = tuple(named(channel) for channel in recording.channels if channel.role in NAMES)
    truth = dict(recording.truth)
    if case.oscillation:
        truth |= {"oscillation_hz": oscillation_hz - missed_hz, "oscillation_missed_hz": missed_hz}
    return replace(
        recording,
        channels=channels,
        start_time=case.start,
        nominal_frequency_hz=50.0,
        truth=truth,
    )


def named(channel: Channel) -> Channel:
    """Return the channel under the name it has in the recorder."""
    return replace(channel, name=NAMES[channel.role])


def described(case: Case, recording: Recording) -> dict[str, object]:
    """Return the entry of a case in ``truth.json``."""
    about = {
        "name": case.name,
        "file": case.file_name,
        "motor": "motor.toml",
        "where": case.pump,
        "story": case.story,
        "state": case.state,
        "expected": case.expected,
    }
    return about | {key: float(f"{value:.9g}") for key, value in recording.truth.items()}


def main(arguments: list[str]) -> int:
    """Write all recordings and their truth into a folder."""
    parser = argparse.ArgumentParser(description="Make the recordings of the demo.")
    parser.add_argument("folder", type=Path)
    folder = parser.parse_args(arguments).folder
    folder.mkdir(parents=True, exist_ok=True)
    entries = []
    for case in CASES:
        recording = record(case)
        blind = replace(recording, truth={})
        write_recording(blind, folder / case.file_name, overwrite=True)
        entries.append(described(case, recording))
        sys.stdout.write(f"{case.file_name}: slip {recording.truth['slip']:.5f}\n")
    (folder / "truth.json").write_text(json.dumps(entries, indent=2) + "\n", encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
