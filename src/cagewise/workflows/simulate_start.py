"""Use case: a motor to a recording of its start, with its truth.

The machine is the one of :mod:`cagewise.workflows.simulate` with deep bars, at the temperature of
the day, behind a supply that sags. ``docs/theory/simulation-visit.md``.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import TYPE_CHECKING

import numpy as np

from cagewise.errors import InputError
from cagewise.machine.motor import Motor
from cagewise.machine.nameplate import Nameplate, Starting
from cagewise.measurement import Recording, Role
from cagewise.workflows.simulate import (
    DYNAMIC_ECCENTRICITY,
    FULL_SCALE,
    LARGEST_LOAD,
    STATIC_ECCENTRICITY,
    TORQUE_NOISE,
    only_channels,
    plant_sensors,
    plant_supply,
    require_channels,
)

if TYPE_CHECKING:
    from cagewise.simulation import Load, Sensors, Setup, Supply
    from cagewise.simulation.nameplate import NameplateMachine

_NO_CRACKS: Mapping[int, float] = MappingProxyType({})

CONSTANT_TORQUE = 0.08
"""Breakaway and dry friction of a pump or fan over rated torque; common practice, no source."""

SHORT_CIRCUIT_RATIO = 90.0
"""Short-circuit power of the supply over the motor's rated apparent power: a direct start then sags
by about 7 %. Common practice, no source."""

X_OVER_R = 8.0
"""Of a plant's supply; common practice, no source."""

START_RANGE = 16.0
"""Full scale over the rated peak current that holds a direct start with its offset."""

RAMP_S = 6.0
SOFT_INITIAL = 0.4
"""Ramp and initial voltage of a soft starter, ramp of a converter; common practice, no source."""

UNFILTERED_RATE_HZ = 5000.0
"""From this rate on the lines of the machine lie below half of it; slower recorders are given an
anti-alias filter."""

ANTI_ALIAS_SHARE = 0.3
"""Corner of that filter over the sampling rate."""

LONGEST_S = 120.0
"""A start is recorded no longer than this unless asked."""

_PREDICTION_MARGIN = 1.25
"""A start takes longer than under steady torques: sag, damage, braking harmonics."""

STALLED_S = 10.0
"""Length of the record of a motor that is expected to stall, after switching on."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StartOptions:
    """What start is to be simulated, beside the motor."""

    open_bars: tuple[int, ...] = ()
    """Bars that carry no current, counted from 0 in the direction of rotation."""
    resistance_factors: Mapping[int, float] = field(default_factory=lambda: _NO_CRACKS)
    """Bar to the factor on its resistance: cracks."""
    starting: Starting | None = None
    """How the voltage comes to the motor; as the motor file says if None."""
    ramp_s: float = RAMP_S
    """Ramp of soft starter or converter."""
    load_fraction: float = 0.75
    """Torque at the shaft at rated speed over the rated one; falls with the square of the speed."""
    constant_torque: float = CONSTANT_TORQUE
    """Part of the rated torque that acts at any speed, as dry friction does."""
    voltage: float = 1.0
    """Voltage of the unloaded supply over the rated one."""
    short_circuit_ratio: float | None = SHORT_CIRCUIT_RATIO
    """Short-circuit power over the motor's rated apparent power; None for a stiff supply."""
    temperature_degc: float | None = None
    """Of winding and cage when switched on; that of a hot motor if None."""
    switch_on_s: float = 0.5
    """Record before the contactor closes."""
    switch_on_phase_rad: float | None = None
    """Phase of v_a when it closes; by chance (from the seed) if None."""
    duration_s: float | None = None
    """Length of the record; the start and ``running_s`` after it if None."""
    running_s: float = 3.0
    sampling_rate_hz: float = 5000.0
    """Slower recorders than 5 kHz filter before they sample."""
    current_range: float = START_RANGE
    """Full scale of the current channels over the rated peak; what is larger clips."""
    roles: tuple[Role, ...] = ()
    """Channels that are recorded; three currents and three line voltages if empty."""
    supply: Supply | None = None
    """Replaces the quiet industrial supply with its sag; voltage, ratio and starter are then its
    own."""
    sensors: Sensors | None = None
    """Replaces clamps, recorder, range and filter."""
    torque_noise: float = TORQUE_NOISE
    """Random load torque over rated torque, rms."""
    seed: int = 0


def simulate_start_of(motor: Motor, options: StartOptions | None = None) -> Recording:
    """Return the recording of a start of a motor that meets the nameplate of ``motor``.

    Its truth holds, beside that of :func:`~cagewise.simulation.simulate_start`, ``load_fraction``,
    ``voltage``, ``temperature_degc``, ``predicted_time_to_speed_s``, ``clipped_samples`` and
    ``seed``. Equal arguments give equal samples.

    Raises
    ------
    InputError
        If the cage, the load, the record or the wanted channels are impossible.
    SimulationError
        If the step is too coarse for the machine.
    """
    from cagewise.simulation.machine.conductors import with_deep_bars
    from cagewise.simulation.nameplate import machine_for_motor

    options = options or StartOptions()
    machine = machine_for_motor(motor, _course_rate_hz(options))
    geometry = with_deep_bars(machine.geometry, motor.cage.construction)
    return start_of(replace(machine, geometry=geometry), motor, options)


def start_of(machine: NameplateMachine, motor: Motor, options: StartOptions) -> Recording:
    """Return the start of a machine whose dimensions are known; see :func:`simulate_start_of`."""
    from cagewise.simulation import Start, simulate_start
    from cagewise.simulation.runs.starting import run_up_time_s

    _check(options)
    setup = _setup(machine, motor, options)
    require_channels(setup.sensors, options.roles)
    predicted_s = run_up_time_s(setup)
    recording = simulate_start(
        setup,
        Start(switch_on_s=options.switch_on_s, phase_rad=_phase_rad(options)),
        duration_s=options.duration_s or _duration_s(setup, predicted_s, options),
        sampling_rate_hz=options.sampling_rate_hz,
        seed=options.seed,
    )
    recording = only_channels(recording, options.roles)
    clipped = sum(
        int(((c.raw == c.range_low) | (c.raw == c.range_high)).sum()) for c in recording.channels
    )
    stated = {
        "load_fraction": options.load_fraction,
        "voltage": options.voltage,
        "temperature_degc": _temperature_degc(options),
        "predicted_time_to_speed_s": predicted_s,
        "clipped_samples": float(clipped),
        "seed": float(options.seed),
    }
    return replace(recording, truth=MappingProxyType({**recording.truth, **stated}))


def _setup(machine: NameplateMachine, motor: Motor, options: StartOptions) -> Setup:
    """Return what is simulated."""
    from cagewise.simulation import Damage, Eccentricity, Setup
    from cagewise.simulation.machine.conductors import at_temperature

    return Setup(
        geometry=at_temperature(
            machine.geometry,
            _temperature_degc(options),
            conductor=motor.winding.conductor,
            construction=motor.cage.construction,
        ),
        supply=options.supply or start_supply(motor.nameplate, options),
        load=_load(machine, motor.nameplate, options),
        damage=Damage(
            open_bars=options.open_bars, resistance_factors=dict(options.resistance_factors)
        ),
        eccentricity=Eccentricity(static=STATIC_ECCENTRICITY, dynamic=DYNAMIC_ECCENTRICITY),
        sensors=options.sensors or start_sensors(motor.nameplate, options),
    )


def _load(machine: NameplateMachine, plate: Nameplate, options: StartOptions) -> Load:
    """Return dry friction and a torque that grows with the square of the speed."""
    from cagewise.simulation import Load

    rated = machine.rated_torque_nm
    speed = plate.rated_speed_rpm * math.pi / 30.0
    constant = min(options.constant_torque, options.load_fraction)
    return Load(
        friction_nm=constant * rated + machine.friction_nm,
        quadratic_nm_s2=(options.load_fraction - constant) * rated / speed**2,
        noise_rms_nm=options.torque_noise * rated,
    )


def start_supply(plate: Nameplate, options: StartOptions) -> Supply:
    """Return a quiet industrial supply that sags, and the starter between it and the motor.

    A converter decouples the motor from the supply: it has no sag, no unbalance and no harmonics.
    """
    from cagewise.simulation import FrequencyRamp, SoftStart, SourceImpedance, Supply

    starting = options.starting or plate.starting
    voltage = options.voltage * plate.rated_voltage_v
    if starting is Starting.CONVERTER:
        ramp = FrequencyRamp(ramp_s=options.ramp_s, start_s=options.switch_on_s)
        return Supply(line_voltage_rms_v=voltage, frequency_hz=plate.rated_frequency_hz, ramp=ramp)
    supply = replace(plant_supply(plate), line_voltage_rms_v=voltage)
    if options.short_circuit_ratio is not None:
        source = SourceImpedance.from_short_circuit(
            power_va=options.short_circuit_ratio * plate.rated_apparent_power_va,
            line_voltage_rms_v=plate.rated_voltage_v,
            frequency_hz=plate.rated_frequency_hz,
            x_over_r=X_OVER_R,
        )
        supply = replace(supply, source=source)
    if starting is Starting.SOFT_STARTER:
        soft = SoftStart(initial=SOFT_INITIAL, ramp_s=options.ramp_s, start_s=options.switch_on_s)
        supply = replace(supply, soft_start=soft)
    return supply


def start_sensors(plate: Nameplate, options: StartOptions) -> Sensors:
    """Return good clamps on a range that holds the start, and a recorder for the sampling rate.

    The noise of the current channels grows with their range.
    """
    wider = options.current_range / FULL_SCALE
    sensors = plant_sensors(plate)
    sensors = replace(
        sensors,
        current_noise_rms_a=wider * sensors.current_noise_rms_a,
        current_full_scale_a=wider * sensors.current_full_scale_a,
    )
    if options.sampling_rate_hz >= UNFILTERED_RATE_HZ:
        return sensors
    return replace(
        sensors,
        oversampling=_oversampling(options),
        anti_alias_hz=ANTI_ALIAS_SHARE * options.sampling_rate_hz,
    )


def _oversampling(options: StartOptions) -> int:
    """Return the samples of the course per recorded sample."""
    if options.sensors is not None:
        return options.sensors.oversampling
    return math.ceil(UNFILTERED_RATE_HZ / options.sampling_rate_hz)


def _course_rate_hz(options: StartOptions) -> float:
    """Return the rate at which the course is computed."""
    _check(options)
    return _oversampling(options) * options.sampling_rate_hz


def _temperature_degc(options: StartOptions) -> float:
    """Return the temperature of winding and cage."""
    from cagewise.simulation.machine.conductors import HOT_DEGC

    return HOT_DEGC if options.temperature_degc is None else options.temperature_degc


def _phase_rad(options: StartOptions) -> float:
    """Return the phase at which the contactor closes: nobody waits for it."""
    if options.switch_on_phase_rad is not None:
        return options.switch_on_phase_rad
    return float(np.random.default_rng([options.seed, 7]).uniform(0.0, 2.0 * math.pi))


def _duration_s(setup: Setup, predicted_s: float, options: StartOptions) -> float:
    """Return the length of a record that holds the start and what follows it.

    Damage and harmonics lengthen a start beyond the prediction; a starter adds its ramp.
    """
    supply = setup.supply
    ramp = 0.0 if supply.soft_start is None and supply.ramp is None else options.ramp_s
    start = STALLED_S if math.isinf(predicted_s) else _PREDICTION_MARGIN * predicted_s
    whole = options.switch_on_s + ramp + start + options.running_s
    return min(math.ceil(10.0 * whole) / 10.0, LONGEST_S)


_POSITIVE = (
    "voltage", "sampling_rate_hz", "current_range", "ramp_s", "duration_s", "short_circuit_ratio",
)  # fmt: skip
_NOT_NEGATIVE = ("constant_torque", "torque_noise", "switch_on_s", "running_s")


def _check(options: StartOptions) -> None:
    """Raise if load, voltage or record make no sense, all faults at once."""
    faults = []
    if not 0.0 <= options.load_fraction <= LARGEST_LOAD:
        faults.append(
            f"the load is a fraction of rated torque from 0 to {LARGEST_LOAD:g} (0.75 is 75 %), "
            f"got {options.load_fraction:g}"
        )
    faults += [
        f"{name} must be positive, got {getattr(options, name)}"
        for name in _POSITIVE
        if not 0.0 < (1.0 if getattr(options, name) is None else getattr(options, name)) < math.inf
    ]
    faults += [
        f"{name} must not be negative, got {getattr(options, name)}"
        for name in _NOT_NEGATIVE
        if not 0.0 <= getattr(options, name) < math.inf
    ]
    if faults:
        raise InputError("; ".join(faults), where="simulated start")
