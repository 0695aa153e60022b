"""The side line of simulated starts of known truth: ``python benchmarks/start_track.py``.

Starts of the 3 kW reference motor and of three larger machines with plain and with deep bars, each
under a load, a supply and instruments of its own. The motor file holds the nameplate, the bars and
the slots, never the circuit. ``--once`` takes three starts; ``--starts N`` sets their number;
``--currents`` leaves the voltages out. It fails when a sound cage is called damaged.
"""

from __future__ import annotations

import argparse
import contextlib
import math
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from cagewise.conditioning.starts import MotorStart, StartKind
from cagewise.errors import CagewiseError, InputError
from cagewise.indicators.start.side_line_track import StartTrack, read_side_line_track
from cagewise.machine.estimate import circuit_ensemble
from cagewise.machine.motor import Cage, Motor
from cagewise.machine.nameplate import Nameplate
from cagewise.measurement import CURRENT_ROLES, Recording
from cagewise.simulation import (
    Damage,
    Harmonic,
    Load,
    Sensors,
    Setup,
    Start,
    Supply,
    reference_motor_r3k,
    simulate_start,
)
from cagewise.simulation.machine.bars import DeepBar
from cagewise.simulation.machine.geometry import MachineGeometry
from cagewise.simulation.nameplate import machine_for_motor

RATE_HZ = 5000.0
SWITCH_ON_S = 0.1
SETTLED_PART = 1.04
"""Settled over the time to 95 % of synchronous speed: the current has fallen then."""
ORDERS = (1, 5, 7)
FALSE_ALARM = 1e-3
SMALL_W = 10e3
"""Below: the reference motor."""


@dataclass(frozen=True, kw_only=True)
class Plate:
    """A nameplate: kW, V, A, rpm, poles, bars, slots."""

    values: tuple[float, float, float, float, int, int, int]

    def motor(self) -> Motor:
        """Return the motor as an engineer knows it."""
        kilowatt, volt, ampere, rpm, poles, bars, slots = self.values
        plate = Nameplate(
            rated_power_w=1e3 * kilowatt,
            rated_voltage_v=volt,
            rated_frequency_hz=50.0,
            rated_speed_rpm=rpm,
            rated_current_a=ampere,
            poles=poles,
        )
        return Motor(
            tag=f"{kilowatt:g} kW", nameplate=plate, cage=Cage(rotor_bars=bars, stator_slots=slots)
        )


REFERENCE = Plate(values=(3.0, 380.0, 6.7, 1420.0, 4, 32, 36))
LARGER = (
    Plate(values=(132.0, 400.0, 232.0, 1487.0, 4, 40, 48)),
    Plate(values=(400.0, 6000.0, 48.0, 989.0, 6, 58, 72)),
    Plate(values=(90.0, 400.0, 157.0, 2970.0, 2, 28, 36)),
)


@dataclass(frozen=True, kw_only=True)
class Scene:
    """One start."""

    motor: Motor
    setup: Setup
    bars: int
    phase_rad: float
    duration_s: float
    seed: int

    def recording(self) -> Recording:
        """Simulate."""
        return simulate_start(
            self.setup,
            Start(switch_on_s=SWITCH_ON_S, phase_rad=self.phase_rad),
            duration_s=self.duration_s,
            sampling_rate_hz=RATE_HZ,
            seed=self.seed,
        )


def scenes(count: int) -> Iterator[Scene]:
    """Yield random starts; every second cage is sound."""
    for seed in range(count):
        rng = np.random.default_rng([11, seed])
        plate = REFERENCE if seed % 3 else LARGER[seed // 3 % len(LARGER)]
        motor = plate.motor()
        geometry, torque_nm = _machine(motor, rng)
        bars = 0 if seed % 2 == 0 else int(rng.integers(1, 4))
        yield Scene(
            motor=motor,
            setup=_setup(motor, geometry, torque_nm, bars, rng),
            bars=bars,
            phase_rad=rng.uniform(0.0, 2.0 * math.pi),
            duration_s=2.5 if plate is REFERENCE else 5.0,
            seed=seed,
        )


def _machine(motor: Motor, rng: np.random.Generator) -> tuple[MachineGeometry, float]:
    """Return a machine and its rated torque."""
    if motor.nameplate.rated_power_w < SMALL_W:
        factor = float(np.exp(rng.uniform(math.log(16.0), math.log(80.0))))
        return reference_motor_r3k(inertia_factor=factor, orders=ORDERS), 20.2
    made = machine_for_motor(motor, RATE_HZ)
    geometry = replace(made.geometry, orders=ORDERS)
    height_m = rng.choice([0.0, 0.02, 0.03])
    if height_m:
        with contextlib.suppress(InputError):  # too deep for this leakage: plain bars
            bar = DeepBar(height_m=height_m, conductivity_s_per_m=45e6)
            geometry = replace(geometry, bar=bar)
    return geometry, made.rated_torque_nm


def _setup(
    motor: Motor, geometry: MachineGeometry, torque_nm: float, bars: int, rng: np.random.Generator
) -> Setup:
    """Return the machine with a load, a supply and instruments."""
    plate = motor.nameplate
    speed = math.pi * plate.synchronous_speed_rpm / 30.0
    shares = rng.dirichlet([1.0, 1.0, 1.0]) * torque_nm * rng.uniform(0.05, 0.6)
    if plate.rated_power_w > SMALL_W:
        shares[0] = min(shares[0], 0.2 * torque_nm)  # plain bars start weakly
    volt = 220.0 * math.sqrt(3.0) if plate.rated_power_w < SMALL_W else plate.rated_voltage_v
    return Setup(
        geometry=geometry,
        damage=Damage(open_bars=tuple(range(bars))),
        supply=Supply(
            line_voltage_rms_v=volt,
            frequency_hz=50.0,
            unbalance=rng.uniform(0.0, 0.012),
            unbalance_phase_rad=rng.uniform(0.0, 6.0),
            harmonics=(
                Harmonic(order=5, ratio=rng.uniform(0.0, 0.03)),
                Harmonic(order=7, ratio=rng.uniform(0.0, 0.02), phase_rad=rng.uniform(0.0, 6.0)),
            ),
            wander_rms_hz=0.01,
            flicker_rms=0.002,
        ),
        load=Load(
            friction_nm=shares[0],
            viscous_nm_s=shares[1] / speed,
            quadratic_nm_s2=shares[2] / speed**2,
            noise_rms_nm=0.01 * torque_nm,
        ),
        sensors=Sensors(
            current_noise_rms_a=6e-3 * plate.rated_current_a,
            voltage_noise_rms_v=1e-3 * plate.rated_voltage_v,
            current_ratio_error=_three(rng, 0.01),
            current_phase_error_deg=_three(rng, 0.5),
        ),
    )


def _three(rng: np.random.Generator, largest: float) -> tuple[float, float, float]:
    first, second, third = rng.uniform(-largest, largest, 3)
    return float(first), float(second), float(third)


def read(scene: Scene, recording: Recording, *, currents_only: bool) -> StartTrack:
    """Read one start with what is known of the motor."""
    seconds = recording.truth["time_to_speed_s"]
    begin = round(SWITCH_ON_S * RATE_HZ)
    start = MotorStart(
        switched_on=begin,
        settled=begin + round(SETTLED_PART * seconds * RATE_HZ) if seconds > 0.0 else None,
        stop=recording.n_samples,
        kind=StartKind.DIRECT,
    )
    if currents_only:
        channels = tuple(c for c in recording.channels if c.role in CURRENT_ROLES)
        recording = replace(recording, channels=channels)
    return read_side_line_track(recording, start, scene.motor, circuit_ensemble(scene.motor))


@dataclass(kw_only=True)
class Tally:
    """What came out."""

    sound: int = 0
    alarms: int = 0
    damaged: int = 0
    found: int = 0
    held: int = 0
    refused: int = 0
    seconds: float = 0.0

    def add(self, bars: int, track: StartTrack) -> None:
        """Count one start."""
        reading = track.reading
        if not reading.valid:
            self.refused += 1
            return
        chance, counted = reading.false_alarm_probability, reading.open_bar_equivalent
        called = chance is not None and chance <= FALSE_ALARM
        if bars == 0:
            self.sound += 1
            self.alarms += called
            return
        self.damaged += 1
        self.found += called
        self.held += counted is not None and counted.low <= bars <= counted.high

    def told(self) -> str:
        """Return the sums in a line."""
        return (
            f"sound {self.sound}, called damaged {self.alarms}; damaged {self.damaged}, found "
            f"{self.found}, interval holds {self.held}; refused {self.refused}; "
            f"{self.seconds:.2f} s per start"
        )


def _row(scene: Scene, recording: Recording, track: StartTrack) -> str:
    reading = track.reading
    seconds = recording.truth["time_to_speed_s"]
    begin = f"{scene.seed:4d}  {scene.motor.tag:8s} {seconds:5.2f} s  {scene.bars} bars: "
    bars, level = reading.open_bar_equivalent, reading.value
    if bars is None or level is None:
        return begin + reading.reason
    return begin + (
        f"{bars.value:5.2f} ({bars.low:.2f} to {bars.high:.2f}), limit "
        f"{reading.detection_limit_bars:.2f}, {level.value:6.1f} dB, chance "
        f"{reading.false_alarm_probability:.0e}"
    )


def main() -> int:
    """Print a row per start and the sums."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--once", action="store_true")
    parser.add_argument("--starts", type=int, default=60)
    parser.add_argument("--currents", action="store_true")
    options = parser.parse_args()
    tally, read_ones = Tally(), 0
    for scene in scenes(3 if options.once else options.starts):
        try:
            recording = scene.recording()
        except CagewiseError as error:
            print(f"{scene.seed:4d}  {scene.motor.tag:8s} no machine: {error}")
            continue
        begin = time.perf_counter()
        track = read(scene, recording, currents_only=options.currents)
        tally.seconds += time.perf_counter() - begin
        read_ones += 1
        tally.add(scene.bars, track)
        print(_row(scene, recording, track), flush=True)
    tally.seconds /= max(read_ones, 1)
    print(tally.told())
    return 1 if tally.alarms else 0


if __name__ == "__main__":
    sys.exit(main())
