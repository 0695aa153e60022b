"""Use case: a motor file to a recording that this motor would give, with its truth."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING

from cagewise.errors import InputError
from cagewise.machine.motor import Motor
from cagewise.machine.nameplate import Nameplate
from cagewise.measurement import (
    CURRENT_ROLES,
    LINE_VOLTAGE_ROLES,
    PHASE_VOLTAGE_ROLES,
    Recording,
    Role,
)

if TYPE_CHECKING:
    from cagewise.simulation import Sensors, Supply

_NO_CRACKS: Mapping[int, float] = MappingProxyType({})

UNBALANCE = 0.005
HARMONIC_RATIOS = {5: 0.011, 7: 0.007}
WANDER_RMS_HZ = 0.010
FLICKER_RMS = 0.0005
"""A quiet industrial supply; common practice, no source."""

TORQUE_NOISE = 0.006
"""Random torque of a centrifugal machine over rated torque, rms; common practice, no source."""

NOISE_LEVEL = 2e-4
"""Noise of a good clamp and recorder over the rated peak (-74 dB); common practice, no source."""

FULL_SCALE = 2.5
"""Full scale of the recorder over the rated peak."""

STATIC_ECCENTRICITY = 0.10
DYNAMIC_ECCENTRICITY = 0.05
"""Displacement of the rotor over the gap. No rotor is centred; together they make the lines at
f +- f_r that every real motor shows. Common practice, no source."""

LARGEST_LOAD = 10.0
"""Torque over rated torque above which a fraction and a per cent were probably mixed up."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SimulateOptions:
    """What is to be simulated, beside the motor."""

    open_bars: tuple[int, ...] = ()
    """Bars that carry no current, counted from 0 in the direction of rotation."""
    resistance_factors: Mapping[int, float] = field(default_factory=lambda: _NO_CRACKS)
    """Bar to the factor on its resistance: cracks."""
    load_fraction: float = 0.75
    """Torque at the shaft over the rated one."""
    duration_s: float = 60.0
    sampling_rate_hz: float = 5000.0
    supply: Supply | None = None
    """A quiet industrial supply at rated voltage if None."""
    sensors: Sensors | None = None
    """Good clamps and a 16-bit recorder if None."""
    torque_noise: float = TORQUE_NOISE
    """Random load torque over rated torque, rms."""
    oscillation: tuple[float, float] | None = None
    """Torque that comes and goes: amplitude over rated torque, and its frequency in Hz."""
    roles: tuple[Role, ...] = ()
    """Channels that are recorded; three currents and three line voltages if empty."""
    seed: int = 0


def simulate(motor_path: Path, options: SimulateOptions | None = None) -> Recording:
    """Return what the motor of a file would give.

    Raises
    ------
    MotorFileError
        If the motor file cannot be used.
    InputError, SimulationError
        As :func:`simulate_motor`.
    """
    from cagewise.machine.motor_file import load_motor

    return simulate_motor(load_motor(motor_path), options)


def simulate_motor(motor: Motor, options: SimulateOptions | None = None) -> Recording:
    """Return what a motor would give that meets the nameplate of ``motor``.

    Its truth holds, beside that of every simulation, ``load_fraction`` and ``seed``. Equal
    arguments give equal samples.

    Raises
    ------
    InputError
        If the cage is impossible (too few bars for poles or leakage, damage outside the cage), or
        load, duration or sampling rate are.
    SimulationError
        If the motor cannot carry the load.
    """
    from cagewise.simulation import Damage, Eccentricity, Load, Modulation, Setup
    from cagewise.simulation import simulate as run
    from cagewise.simulation.nameplate import machine_for_motor

    options = options or SimulateOptions()
    _check(options)
    sensors = options.sensors or plant_sensors(motor.nameplate)
    require_channels(sensors, options.roles)
    machine = machine_for_motor(motor, options.sampling_rate_hz)
    rated = machine.rated_torque_nm
    swing = () if options.oscillation is None else (options.oscillation,)
    setup = Setup(
        geometry=machine.geometry,
        supply=options.supply or plant_supply(motor.nameplate),
        load=Load(
            torque_nm=options.load_fraction * rated + machine.friction_nm,
            oscillations=tuple(
                Modulation(amplitude=share * rated, frequency_hz=hertz) for share, hertz in swing
            ),
            noise_rms_nm=options.torque_noise * rated,
        ),
        damage=Damage(
            open_bars=options.open_bars, resistance_factors=dict(options.resistance_factors)
        ),
        eccentricity=Eccentricity(static=STATIC_ECCENTRICITY, dynamic=DYNAMIC_ECCENTRICITY),
        sensors=sensors,
    )
    recording = run(
        setup,
        duration_s=options.duration_s,
        sampling_rate_hz=options.sampling_rate_hz,
        seed=options.seed,
    )
    stated = {"load_fraction": options.load_fraction, "seed": float(options.seed)}
    recording = replace(recording, truth=MappingProxyType({**recording.truth, **stated}))
    return only_channels(recording, options.roles)


def require_channels(sensors: Sensors, roles: tuple[Role, ...]) -> None:
    """Raise if one of the wanted channels is not recorded."""
    voltages = LINE_VOLTAGE_ROLES if sensors.line_voltages else PHASE_VOLTAGE_ROLES
    there = (*CURRENT_ROLES, *voltages)
    missing = [role.value for role in roles if role not in there]
    if missing:
        raise InputError(
            f"no channel {', '.join(missing)} is recorded",
            where="channels",
            remedy=f"There are: {', '.join(role.value for role in there)}.",
        )


def only_channels(recording: Recording, roles: tuple[Role, ...]) -> Recording:
    """Return the recording with the channels of these roles; with all of them if empty."""
    kept = tuple(c for c in recording.channels if not roles or c.role in roles)
    return replace(recording, channels=kept)


def _check(options: SimulateOptions) -> None:
    """Raise if load or sampling make no sense, all faults at once."""
    faults = []
    if not 0.0 <= options.load_fraction <= LARGEST_LOAD:
        faults.append(
            f"the load is a fraction of rated torque from 0 to {LARGEST_LOAD:g} (0.75 is 75 %), "
            f"got {options.load_fraction:g}"
        )
    if not options.duration_s > 0.0:
        faults.append(f"duration_s must be positive, got {options.duration_s}")
    if not options.sampling_rate_hz > 0.0:
        faults.append(f"sampling_rate_hz must be positive, got {options.sampling_rate_hz}")
    if not options.torque_noise >= 0.0:
        faults.append(f"torque_noise must not be negative, got {options.torque_noise}")
    if faults:
        raise InputError("; ".join(faults), where="simulation")


def plant_supply(plate: Nameplate) -> Supply:
    """Return a quiet industrial supply at rated voltage."""
    from cagewise.simulation import Harmonic, Supply

    return Supply(
        line_voltage_rms_v=plate.rated_voltage_v,
        frequency_hz=plate.rated_frequency_hz,
        unbalance=UNBALANCE,
        unbalance_phase_rad=1.1,
        harmonics=tuple(
            Harmonic(order=order, ratio=ratio, phase_rad=0.4 * order)
            for order, ratio in HARMONIC_RATIOS.items()
        ),
        wander_rms_hz=WANDER_RMS_HZ,
        flicker_rms=FLICKER_RMS,
    )


def plant_sensors(plate: Nameplate) -> Sensors:
    """Return good clamps, line voltages and a 16-bit recorder with ranges for this motor."""
    from cagewise.simulation import Sensors

    current = math.sqrt(2.0) * plate.rated_current_a
    voltage = math.sqrt(2.0) * plate.rated_voltage_v
    return Sensors(
        current_ratio_error=(0.002, -0.003, 0.001),
        current_phase_error_deg=(0.4, 0.3, 0.5),
        voltage_ratio_error=(0.001, -0.001, 0.0),
        current_noise_rms_a=NOISE_LEVEL * current,
        voltage_noise_rms_v=NOISE_LEVEL * voltage,
        bits=16,
        current_full_scale_a=FULL_SCALE * current,
        voltage_full_scale_v=FULL_SCALE * voltage,
    )
