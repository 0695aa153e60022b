"""Use case: a motor to the test sheet that its tests at rest would give, with its truth.

Impedance against position and the winding's resistance come from the machine of the nameplate, with
its damage and at the day's temperature. What the insulation shows has no machine behind it: its
curves are invented (:mod:`cagewise.workflows.invented_insulation`).
``docs/theory/simulation-visit.md``.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from types import MappingProxyType
from typing import TYPE_CHECKING

import numpy as np

from cagewise.errors import InputError
from cagewise.machine.motor import Motor
from cagewise.machine.positions import position_counts
from cagewise.measurement import (
    PositionSeries,
    Provenance,
    TerminalPair,
    TestSheet,
    WindingResistance,
)
from cagewise.quantities import ComplexArray, RealArray
from cagewise.workflows.invented_insulation import (
    Insulation,
    dissipation_test,
    insulation_test,
    shown,
    step_test,
    turn_test,
)
from cagewise.workflows.simulate import DYNAMIC_ECCENTRICITY, STATIC_ECCENTRICITY

if TYPE_CHECKING:
    from cagewise.simulation import Setup
    from cagewise.simulation.nameplate import NameplateMachine

_NO_CRACKS: Mapping[int, float] = MappingProxyType({})

REPEATABILITY = 0.0015
"""Scatter of a four-wire reading over itself, rms; common practice, no source."""

RESISTANCE_SCATTER = 0.0005
"""The same of a winding resistance."""

ANGLE_ERROR_DEG = 0.3
"""Mechanical error of a shaft set by hand against a paper scale, rms; common practice."""

DIGITS = 5
"""Significant digits of a reading; common practice, no source."""

FEWEST_POSITIONS = 3
"""Positions per pole pair below which nothing can be called a series."""

TEST_CURRENT_SHARE = 0.01
"""Test current over the rated one: that of an impedance meter; common practice, no source."""

_RATE_OF_THE_MODEL_HZ = 10e3
"""Names the winding orders of the machine; the test at rest takes all of them anyway."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetOptions:
    """What is tested and what is wrong, beside the motor."""

    measured_on: date
    """Date of the sheet."""
    open_bars: tuple[int, ...] = ()
    """Bars that carry no current, counted from 0 in the direction of rotation."""
    resistance_factors: Mapping[int, float] = field(default_factory=lambda: _NO_CRACKS)
    """Bar to the factor on its resistance: cracks."""
    frequencies_hz: tuple[float, ...] = ()
    """Of the impedance meter; the rated frequency if empty."""
    positions: int | None = None
    """Equidistant positions per pole pair, over as many pole pairs as usual; those of
    :func:`~cagewise.machine.positions.position_counts` if None. The reading at the first is
    repeated at the end."""
    shaft_angles_rad: tuple[float, ...] = ()
    """Mechanical angles, if they are not equidistant; they replace the field above."""
    modulus_only: bool = False
    """Write only |Z|: voltage and current were read."""
    repeatability: float = REPEATABILITY
    """Scatter of a reading over itself, rms."""
    angle_error_deg: float = ANGLE_ERROR_DEG
    """Mechanical, rms: the shaft stands beside the angle that is written down."""
    drift: float = 0.0
    """Growth of all readings of a series from its first to its last, relative."""
    stator_asymmetry: float = 0.0
    """Inductance of phase a that does not turn with the rotor, over the mean of a pair."""
    swapped: tuple[TerminalPair, TerminalPair] | None = None
    """Two pairs whose readings were written down under each other's name."""
    winding_temperature_degc: float = 20.0
    """Of winding and cage."""
    ambient_temperature_degc: float = 18.0
    relative_humidity: float = 0.5
    bad_joint_ohm: float = 0.0
    """Resistance of a joint in the line of phase b, seen by direct current."""
    insulation: Insulation = field(default_factory=Insulation)
    digits: int | None = DIGITS
    """Significant digits that the instruments show, and angles to a hundredth of a degree; all of
    them if None."""
    rotor_demagnetised: bool = True
    remark: str = ""
    seed: int = 0


def simulate_sheet(motor: Motor, options: SheetOptions) -> TestSheet:
    """Return the test sheet of a motor that meets the nameplate of ``motor``.

    Its truth holds ``open_bars``, ``rotor_bars``, ``largest_resistance_factor``, the mean
    inductance of a pair at each frequency, the resistance of the winding and what was done to the
    insulation. Equal arguments give equal readings.

    Raises
    ------
    InputError
        If cage, positions, frequencies or temperatures are impossible.
    """
    from cagewise.simulation.machine.conductors import with_deep_bars
    from cagewise.simulation.nameplate import machine_for_motor

    machine = machine_for_motor(motor, _RATE_OF_THE_MODEL_HZ)
    geometry = with_deep_bars(machine.geometry, motor.cage.construction)
    return sheet_of(replace(machine, geometry=geometry), motor, options)


def sheet_of(machine: NameplateMachine, motor: Motor, options: SheetOptions) -> TestSheet:
    """Return the sheet of a machine whose dimensions are known; see :func:`simulate_sheet`."""
    _check(options)
    setup = _setup(machine, motor, options)
    rng = np.random.default_rng([options.seed, 11])
    series, means = _series(setup, motor, options, rng)
    resistance = _resistance(setup, options, rng)
    plate = motor.nameplate
    insulation = options.insulation
    return TestSheet(
        motor_tag=motor.tag,
        measured_on=options.measured_on,
        provenance=Provenance(source="cagewise simulation", format_name="simulation"),
        winding_temperature_degc=options.winding_temperature_degc,
        ambient_temperature_degc=options.ambient_temperature_degc,
        relative_humidity=options.relative_humidity,
        rotor_demagnetised=options.rotor_demagnetised,
        resistance=resistance,
        positions=series,
        insulation=insulation_test(insulation, plate, rng),
        steps=step_test(insulation, plate, rng),
        dissipation=dissipation_test(insulation, plate, rng),
        turns=turn_test(insulation, plate, rng),
        remark=options.remark,
        truth=MappingProxyType(
            {
                "open_bars": float(len(set(options.open_bars))),
                "rotor_bars": float(setup.geometry.rotor_bars),
                "largest_resistance_factor": max((1.0, *options.resistance_factors.values())),
                "phase_resistance_ohm": setup.geometry.stator_resistance_ohm,
                "bad_joint_ohm": options.bad_joint_ohm,
                "stator_asymmetry": options.stator_asymmetry,
                "pairs_swapped": float(options.swapped is not None),
                "winding_temperature_degc": options.winding_temperature_degc,
                **means,
                **insulation.truth(plate),
                "seed": float(options.seed),
            }
        ),
    )


def shaft_angles(motor: Motor, options: SheetOptions) -> RealArray:
    """Return the angles at which the shaft is stopped, the first place again at the end."""
    if options.shaft_angles_rad:
        angles = np.asarray(options.shaft_angles_rad, dtype=np.float64)
        return np.concatenate((angles, angles[:1]))
    pole_pairs = motor.nameplate.pole_pairs
    advice = position_counts(motor)
    count = options.positions or advice.positions_per_pole_pair
    step = 2.0 * math.pi / (pole_pairs * count)
    back = math.radians(advice.return_angle_deg)
    angles = np.append(step * np.arange(count * advice.pole_pairs), back)
    return angles if options.digits is None else np.radians(np.round(np.degrees(angles), 2))


def _setup(machine: NameplateMachine, motor: Motor, options: SheetOptions) -> Setup:
    """Return the machine at rest; its supply is of no account."""
    from cagewise.simulation import Damage, Eccentricity, Setup, Supply
    from cagewise.simulation.machine.conductors import at_temperature

    plate = motor.nameplate
    return Setup(
        geometry=at_temperature(
            machine.geometry,
            options.winding_temperature_degc,
            conductor=motor.winding.conductor,
            construction=motor.cage.construction,
        ),
        supply=Supply(
            line_voltage_rms_v=plate.rated_voltage_v, frequency_hz=plate.rated_frequency_hz
        ),
        damage=Damage(
            open_bars=options.open_bars, resistance_factors=dict(options.resistance_factors)
        ),
        eccentricity=Eccentricity(static=STATIC_ECCENTRICITY, dynamic=DYNAMIC_ECCENTRICITY),
    )


def _series(
    setup: Setup, motor: Motor, options: SheetOptions, rng: np.random.Generator
) -> tuple[tuple[PositionSeries, ...], dict[str, float]]:
    """Return the readings of three pairs at every frequency, and the true mean inductances."""
    plate = motor.nameplate
    angles = shaft_angles(motor, options)
    series: list[PositionSeries] = []
    means: dict[str, float] = {}
    for frequency in options.frequencies_hz or (plate.rated_frequency_hz,):
        stood = angles + np.radians(options.angle_error_deg) * rng.standard_normal(angles.size)
        true = _true_impedances(setup, stood, frequency, options.stator_asymmetry)
        mean = np.mean([values[:-1].imag for values in true.values()])
        means[f"mean_inductance_h_{frequency:g}_hz"] = float(mean) / (2.0 * math.pi * frequency)
        for pair in TerminalPair:
            read = _as_read(true[_read_as(pair, options)], options, rng)
            inductance = shown(read.imag / (2.0 * math.pi * frequency), options.digits)
            only = options.modulus_only
            series.append(
                PositionSeries(
                    pair=pair,
                    frequency_hz=frequency,
                    shaft_angle_rad=angles.copy(),
                    resistance_ohm=None if only else shown(read.real, options.digits),
                    inductance_h=None if only else inductance,
                    impedance_ohm=shown(np.abs(read), options.digits) if only else None,
                    test_current_rms_a=TEST_CURRENT_SHARE * plate.rated_current_a,
                )
            )
    return tuple(series), means


def _read_as(pair: TerminalPair, options: SheetOptions) -> TerminalPair:
    """Return the pair that was really connected when ``pair`` was written down."""
    if options.swapped is None or pair not in options.swapped:
        return pair
    first, second = options.swapped
    return second if pair is first else first


def _true_impedances(
    setup: Setup, angles: RealArray, frequency_hz: float, asymmetry: float
) -> dict[TerminalPair, ComplexArray]:
    """Return the impedance of every pair at the angles; phase a has some more that stands still."""
    from cagewise.simulation.standstill import Connection, standstill_impedances

    connections = {
        TerminalPair.AB: Connection.A_B,
        TerminalPair.BC: Connection.B_C,
        TerminalPair.CA: Connection.C_A,
    }
    found = standstill_impedances(setup, angles, frequency_hz, tuple(connections.values()))
    pairs = dict(zip(connections, (one.impedance_ohm for one in found), strict=True))
    extra = 1j * asymmetry * float(np.mean([values[:-1].imag for values in pairs.values()]))
    for pair in (TerminalPair.AB, TerminalPair.CA):
        pairs[pair] = pairs[pair] + extra
    return pairs


def _as_read(true: ComplexArray, options: SheetOptions, rng: np.random.Generator) -> ComplexArray:
    """Return the readings of one series: R and X scatter each for itself."""
    grown = true * (1.0 + options.drift * np.linspace(0.0, 1.0, true.size))
    resistance, reactance = (
        part * (1.0 + options.repeatability * rng.standard_normal(true.size))
        for part in (grown.real, grown.imag)
    )
    return np.asarray(resistance + 1j * reactance)


def _resistance(setup: Setup, options: SheetOptions, rng: np.random.Generator) -> WindingResistance:
    """Return the resistances between lines: of the star equivalent, whatever the connection."""
    phase = np.full(3, setup.geometry.stator_resistance_ohm)
    phase[1] += options.bad_joint_ohm
    lines = phase + np.roll(phase, -1)
    lines = shown(lines * (1.0 + RESISTANCE_SCATTER * rng.standard_normal(3)), options.digits)
    return WindingResistance(
        line_resistance_ohm=MappingProxyType(
            {pair: float(value) for pair, value in zip(TerminalPair, lines, strict=True)}
        )
    )


def _check(options: SheetOptions) -> None:
    """Raise if the tests make no sense, all faults at once."""
    faults = [
        f"{name} must not be negative, got {getattr(options, name)}"
        for name in ("repeatability", "angle_error_deg", "bad_joint_ohm")
        if not 0.0 <= getattr(options, name) < math.inf
    ]
    if not _positive(options.frequencies_hz):
        faults.append(f"test frequencies must be positive, got {options.frequencies_hz}")
    if options.positions is not None and options.positions < FEWEST_POSITIONS:
        faults.append(
            f"at least {FEWEST_POSITIONS} positions per pole pair are needed, got "
            f"{options.positions}"
        )
    if not 0.0 <= options.relative_humidity <= 1.0:
        faults.append(f"relative humidity is a fraction, got {options.relative_humidity}")
    if faults:
        raise InputError("; ".join(faults), where="simulated test sheet")


def _positive(values: Sequence[float]) -> bool:
    """Return whether all values are positive and finite."""
    return all(0.0 < value < math.inf for value in values)
