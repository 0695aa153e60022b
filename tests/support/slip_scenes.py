"""Random plants for the slip: a motor that shows some of its lines, and whatever else hums."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from cagewise.machine.circuit import EquivalentCircuit
from cagewise.machine.motor import Cage, Motor
from cagewise.machine.nameplate import Nameplate
from support.slip_motor import Cast, SlipMotor, Stray

BARS = {1: (28, 38), 2: (32, 44), 3: (58, 68)}
RATED_SLIP = {1: 0.012, 2: 0.03, 3: 0.02}
VOLTAGE_PEAK_V = 326.6
RATED_CURRENT_PEAK_A = 10.0


@dataclass(frozen=True)
class Scene:
    """One record with everything that is needed to examine it."""

    record: SlipMotor
    motor: Motor
    circuit: EquivalentCircuit
    shown: tuple[bool, bool, bool]
    """Whether slot, eccentricity and pole-pass lines are in the record at all."""

    @property
    def blind_to_bars(self) -> Motor:
        """The motor of a user who never counted the bars."""
        return replace(self.motor, cage=Cage())


def circuit_for(frequency_hz: float, rated_slip: float) -> EquivalentCircuit:
    """Return a plausible circuit with this rated slip and about rated current."""
    omega = 2.0 * math.pi * frequency_hz
    base_ohm = VOLTAGE_PEAK_V / RATED_CURRENT_PEAK_A
    return EquivalentCircuit.from_values(
        stator_resistance_ohm=0.03 * base_ohm,
        rotor_resistance_ohm=base_ohm * rated_slip,
        stator_leakage_h=0.09 * base_ohm / omega,
        rotor_leakage_h=0.09 * base_ohm / omega,
        magnetizing_inductance_h=2.3 * base_ohm / omega,
    )


def motor_for(frequency_hz: float, pole_pairs: int, rated_slip: float, bars: int | None) -> Motor:
    """Return the motor of a scene."""
    plate = Nameplate(
        rated_power_w=4000.0,
        rated_voltage_v=400.0,
        rated_frequency_hz=frequency_hz,
        rated_speed_rpm=60.0 * frequency_hz / pole_pairs * (1.0 - rated_slip),
        rated_current_a=RATED_CURRENT_PEAK_A / math.sqrt(2.0),
        poles=2 * pole_pairs,
    )
    return Motor(tag="scene", nameplate=plate, cage=Cage(rotor_bars=bars))


def at_its_slip(record: SlipMotor, circuit: EquivalentCircuit) -> SlipMotor:
    """Return the record with the fundamental that the circuit takes at its slip."""
    state = circuit.at(record.cast.slip, 2.0 * math.pi * record.frequency_hz)
    current = complex(state.stator_current(record.voltage_peak_v))
    lag = -math.atan2(current.imag, current.real)
    return replace(record, current_peak_a=abs(current), lag_rad=lag)


def scene(seed: int, strays_rate: float, duration_s: float | None = None) -> Scene:
    """Return a random plant; ``strays_rate`` is the mean number of load lines near f_r.

    As many load lines stand within 8 Hz of the supply line and four times as many interharmonics
    about the slot lines, all at levels from just above the noise to above the motor's own.
    """
    rng = np.random.default_rng(seed)
    pole_pairs, frequency = int(rng.integers(1, 4)), float(rng.choice([50.0, 60.0]))
    bars = int(rng.choice(BARS[pole_pairs]))
    rated = RATED_SLIP[pole_pairs]
    shown = tuple(bool(x) for x in rng.random(3) < (0.85, 0.8, 0.6))
    record = SlipMotor(
        cast=_cast(rng, rated * rng.uniform(0.2, 1.1), bars, pole_pairs, shown),
        pole_pairs=pole_pairs,
        frequency_hz=frequency,
        duration_s=duration_s or float(rng.choice([10.0, 20.0, 60.0])),
        sampling_rate_hz=8000.0 if pole_pairs == 1 else 4000.0,
        slip_wander=float(rng.choice([0.0, 0.005, 0.02])),
        slip_wander_time_s=float(rng.choice([0.3, 2.0, 10.0])),
        frequency_wander_hz=float(rng.choice([0.0, 0.01])),
        noise_db=float(rng.uniform(-80.0, -50.0)),
        strays=_strays(rng, strays_rate, frequency, pole_pairs, bars / pole_pairs * rated),
        seed=seed,
    )
    circuit = circuit_for(frequency, rated)
    motor = motor_for(frequency, pole_pairs, rated, bars)
    return Scene(at_its_slip(record, circuit), motor, circuit, (shown[0], shown[1], shown[2]))


def _cast(
    rng: np.random.Generator, slip: float, bars: int, pole_pairs: int, shown: tuple[bool, ...]
) -> Cast:
    """Return the lines of the motor under test."""
    slot, eccentric, pole_pass = shown
    key = _slot_key(rng, bars, pole_pairs)
    levels = rng.uniform((-85, -85, -85, -85, -85), (-50, -60, -60, -45, -50))
    return Cast(
        slip=slip,
        rotor_bars=bars,
        slot={key: float(levels[0])} if slot else {},
        eccentric=(float(levels[1]), float(levels[2])) if eccentric else (None, None),
        pole_pass=(float(levels[3]), float(levels[4])) if pole_pass else (None, None),
    )


def _slot_key(rng: np.random.Generator, bars: int, pole_pairs: int) -> tuple[int, int, int]:
    """Return (k, nu, sign): four times in five where the winding rule expects the line."""
    expected = []
    for nu in (1, -1):
        field = (1 + nu * (bars // pole_pairs)) % 6
        if bars % pole_pairs == 0 and field in (1, 5):
            expected.append((1, nu, nu if field == 1 else -nu))
    if expected and rng.random() < 0.8:
        return expected[int(rng.integers(len(expected)))]
    return (1, int(rng.choice([-1, 1])), int(rng.choice([-1, 1])))


def _strays(
    rng: np.random.Generator,
    rate: float,
    frequency: float,
    pole_pairs: int,
    slot_span: float,
) -> tuple[Stray, ...]:
    """Return load lines in pairs about the supply line and interharmonics about the slot lines."""
    shaft, rated = frequency / pole_pairs, RATED_SLIP[pole_pairs]
    strays: list[Stray] = []
    offsets = [
        *shaft * (1.0 - rng.uniform(0.0, 2.0 * rated, rng.poisson(rate))),
        *rng.uniform(0.2, 8.0, rng.poisson(rate)),
    ]
    for offset in offsets:
        level = float(rng.uniform(-85.0, -45.0))
        strays.append(Stray(frequency_hz=frequency - offset, level_dbc=level))
        strays.append(Stray(frequency_hz=frequency + offset, level_dbc=level - 3.0))
    ratio = slot_span / rated
    for _ in range(rng.poisson(4.0 * rate)):
        slip = rated * rng.uniform(-1.0, 2.5)
        order = ratio * (1.0 - slip) + rng.choice([-1.0, 1.0])
        sign = rng.choice([-1.0, 1.0])
        strays.append(
            Stray(
                frequency_hz=float(sign * order * frequency),
                level_dbc=float(rng.uniform(-90.0, -45.0)),
            )
        )
    return tuple(strays)
