"""Records with a start: simulated ones kept for a whole run, and currents drawn by hand.

Drawn currents have the shapes of circuits that the simulation does not build: changes of
connection, thyristors that leave gaps, rising frequency.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from functools import cache

import numpy as np

from cagewise.measurement import CURRENT_ROLES, Channel, Provenance, Recording, Role
from cagewise.quantities import RealArray
from cagewise.simulation import Load, Sensors, Setup, Start, Supply, reference_motor_r3k
from cagewise.simulation import simulate_start as _simulate_start
from support.r3k import FAULTS, FULL_LOAD_NM

FREQUENCY_HZ = 50.0
RATE_HZ = 5000.0
SWITCH_ON_S = 0.1
SYNCHRONOUS_RAD_S = 50.0 * math.pi
VOLTAGE_V = 220.0 * math.sqrt(3.0)
NO_LOAD = Load(friction_nm=1.0)
LIGHT = Load(torque_nm=2.02)
FAN = Load(quadratic_nm_s2=FULL_LOAD_NM / SYNCHRONOUS_RAD_S**2)


@dataclass(frozen=True, kw_only=True)
class Scene:
    """One simulated start of R3K."""

    inertia_factor: float = 30.0
    load: Load = FAN
    fault: str = "healthy"
    voltage_v: float = VOLTAGE_V
    duration_s: float = 1.4
    sampling_rate_hz: float = RATE_HZ
    sensors: Sensors = field(default_factory=Sensors)
    phase_rad: float = 0.0
    supply: Supply | None = None

    def setup(self) -> Setup:
        """Return what is simulated."""
        supply = Supply(line_voltage_rms_v=self.voltage_v, frequency_hz=FREQUENCY_HZ)
        return Setup(
            geometry=reference_motor_r3k(inertia_factor=self.inertia_factor, orders=(1, 5, 7)),
            supply=self.supply or supply,
            load=self.load,
            damage=FAULTS[self.fault],
            sensors=self.sensors,
        )


@cache
def simulated(scene: Scene) -> Recording:
    """Return the record of a simulated start."""
    return _simulate_start(
        scene.setup(),
        Start(switch_on_s=SWITCH_ON_S, phase_rad=scene.phase_rad),
        duration_s=scene.duration_s,
        sampling_rate_hz=scene.sampling_rate_hz,
    )


def with_only(recording: Recording, *roles: Role) -> Recording:
    """Return the recording with these channels alone."""
    kept = tuple(channel for channel in recording.channels if channel.role in roles)
    return replace(recording, channels=kept)


def currents_only(recording: Recording) -> Recording:
    """Return the recording without voltages."""
    return with_only(recording, *CURRENT_ROLES)


def thinned(recording: Recording, step: int) -> Recording:
    """Return every ``step``-th sample, as a relay with a low rate stores it."""
    channels = tuple(replace(c, raw=c.raw[::step].copy()) for c in recording.channels)
    return replace(recording, channels=channels, sampling_rate_hz=recording.sampling_rate_hz / step)


def joined(*recordings: Recording) -> Recording:
    """Return recordings of the same channels one after the other."""
    columns = zip(*(recording.channels for recording in recordings), strict=True)
    channels = tuple(
        replace(same[0], raw=np.concatenate([channel.raw for channel in same])) for same in columns
    )
    return replace(recordings[0], channels=channels)


def silence(like: Recording, duration_s: float) -> Recording:
    """Return a record of zeros with the channels of another."""
    n = round(duration_s * like.sampling_rate_hz)
    channels = tuple(replace(c, raw=np.zeros(n, dtype=c.raw.dtype)) for c in like.channels)
    return replace(like, channels=channels)


def drawn(
    level_a: RealArray,
    *,
    frequency_hz: RealArray | float = FREQUENCY_HZ,
    cut_rad: RealArray | float = 0.0,
    noise_a: float = 0.0,
    rate_hz: float = RATE_HZ,
) -> Recording:
    """Return three currents of a given rms level and frequency, sample by sample.

    ``cut_rad`` of the beginning of every half wave is without current.
    """
    n = level_a.size
    rng = np.random.default_rng(5)
    turns = np.cumsum(np.broadcast_to(frequency_hz, (n,))) / rate_hz
    channels = []
    for k, role in enumerate(CURRENT_ROLES):
        phase = 2.0 * np.pi * (turns - k / 3.0)
        wave = math.sqrt(2.0) * level_a * np.sin(phase)
        wave[phase % np.pi < np.broadcast_to(cut_rad, (n,))] = 0.0
        wave += noise_a * rng.standard_normal(n)
        channels.append(Channel(name=role.value, raw=wave, unit="A", role=role))
    return Recording(
        channels=tuple(channels),
        sampling_rate_hz=rate_hz,
        provenance=Provenance(source="drawn currents", format_name="simulation"),
    )


def levels(*pieces: tuple[float, float, float], rate_hz: float = RATE_HZ) -> RealArray:
    """Return a level made of straight pieces: length in s, first and last level."""
    return np.concatenate(
        [np.linspace(first, last, round(length * rate_hz)) for length, first, last in pieces]
    )


DIRECT = ((0.2, 0.0, 0.0), (0.9, 60.0, 54.0), (0.15, 54.0, 11.0), (1.0, 10.0, 10.0))
"""Pieces of a drawn direct start: 1.05 s from 60 A to 10 A."""
