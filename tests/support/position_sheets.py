"""Test sheets of impedance against rotor position: made up, or read on the simulated R3K."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from functools import cache

import numpy as np

from cagewise.machine.circuit import EquivalentCircuit
from cagewise.machine.estimate import circuit_ensemble
from cagewise.machine.motor import Cage, Motor
from cagewise.machine.nameplate import Nameplate
from cagewise.measurement import Provenance
from cagewise.measurement.test_sheet import PositionSeries, TerminalPair, TestSheet
from cagewise.quantities import ComplexArray, RealArray
from cagewise.simulation import Load, Setup, Supply, reference_motor_r3k
from cagewise.simulation.standstill import Connection, standstill_impedance
from support.r3k import FAULTS

SOURCE = Provenance(source="made up", format_name="none")
PAIRS = tuple(TerminalPair)
CONNECTIONS = dict(zip(PAIRS, (Connection.A_B, Connection.B_C, Connection.C_A), strict=True))
HIGHEST_ORDER = 37
"""Winding orders that give the reference table to its digits."""

R3K = Motor(
    tag="R3K",
    nameplate=Nameplate(
        rated_power_w=3000.0,
        rated_voltage_v=380.0,
        rated_frequency_hz=50.0,
        rated_speed_rpm=1420.0,
        rated_current_a=6.7,
        poles=4,
    ),
    cage=Cage(rotor_bars=32, stator_slots=36),
)
SETUP = Setup(
    geometry=reference_motor_r3k(),
    supply=Supply(line_voltage_rms_v=381.05, frequency_hz=50.0),
    load=Load(),
)


@cache
def r3k_circuit() -> EquivalentCircuit:
    """Return the ensemble that the nameplate of R3K leaves possible."""
    return circuit_ensemble(R3K)


def shaft_angles(pole_pairs: int, per_pole_pair: int, covered: int = 2) -> RealArray:
    """Return equally spaced mechanical angles without the return reading."""
    turn = 2.0 * math.pi / pole_pairs
    return np.asarray(turn / per_pole_pair * np.arange(per_pole_pair * covered))


@cache
def r3k_impedance(
    fault: str, pair: TerminalPair, per_pole_pair: int, frequency_hz: float
) -> ComplexArray:
    """Return the simulated impedance over one pole pair (the next one repeats it)."""
    return standstill_impedance(
        replace(SETUP, damage=FAULTS[fault]),
        shaft_angles(2, per_pole_pair, 1),
        frequency_hz,
        CONNECTIONS[pair],
        highest_order=HIGHEST_ORDER,
    ).impedance_ohm


@dataclass(frozen=True, kw_only=True)
class Test:
    """How a sheet is read."""

    __test__ = False

    per_pole_pair: int = 24
    covered: int = 2
    frequency_hz: float = 50.0
    noise: float = 0.001
    """Repeatability of R and of L each: standard deviation over the mean."""
    seed: int = 0
    quantities: str = "RL"
    """Letters of R, L, Z."""
    pairs: Sequence[TerminalPair] = PAIRS
    returned: bool = True
    factors: Mapping[TerminalPair, float] = field(default_factory=dict)
    """Position-independent factor on a pair: an unlike stator phase."""


def series_of(pair: TerminalPair, angles: RealArray, z: ComplexArray, test: Test) -> PositionSeries:
    """Return readings of these impedances with noise, and the return reading."""
    rng = np.random.default_rng([test.seed, PAIRS.index(pair)])
    if test.returned:
        angles, z = np.append(angles, angles[0]), np.append(z, z[0])
    z = z * test.factors.get(pair, 1.0)
    resistance = z.real * (1.0 + test.noise * rng.standard_normal(z.size))
    reactance = z.imag * (1.0 + test.noise * rng.standard_normal(z.size))
    return PositionSeries(
        pair=pair,
        frequency_hz=test.frequency_hz,
        shaft_angle_rad=angles,
        resistance_ohm=resistance if "R" in test.quantities else None,
        inductance_h=reactance / (2.0 * math.pi * test.frequency_hz)
        if "L" in test.quantities
        else None,
        impedance_ohm=np.hypot(resistance, reactance) if "Z" in test.quantities else None,
    )


def sheet_of(*series: PositionSeries, **changes: object) -> TestSheet:
    """Return a sheet with these series."""
    base = TestSheet(
        motor_tag="R3K", measured_on=date(2026, 3, 2), provenance=SOURCE, positions=series
    )
    return replace(base, **changes)  # type: ignore[arg-type]  # fields of TestSheet


def r3k_sheet(fault: str = "healthy", test: Test | None = None, **how: object) -> TestSheet:
    """Return what a bridge reads on the simulated R3K; ``how`` are fields of :class:`Test`."""
    test = replace(test or Test(), **how)  # type: ignore[arg-type]  # checked by replace
    angles = shaft_angles(2, test.per_pole_pair, test.covered)
    return sheet_of(
        *(
            series_of(
                pair,
                angles,
                np.tile(
                    r3k_impedance(fault, pair, test.per_pole_pair, test.frequency_hz), test.covered
                ),
                test,
            )
            for pair in test.pairs
        )
    )


def wave_sheet(
    second: float = 0.0,
    movement: int = 1,
    ripple: float = 0.0,
    test: Test | None = None,
    **how: object,
) -> TestSheet:
    """Return a made-up sheet: 7.5 + 9.3j ohm with waves of order 2 and 16 over the mean.

    ``movement`` is 1 where the waves move with the rotor, 0 where they stay, -1 backwards.
    """
    test = replace(test or Test(), **how)  # type: ignore[arg-type]  # checked by replace
    angles = shaft_angles(2, test.per_pole_pair, test.covered)
    series = []
    for place, pair in enumerate(PAIRS):
        if pair not in test.pairs:
            continue
        late = 2.0 * angles - movement * place * 2.0 * math.pi / 3.0
        wave = 1.0 + second * np.cos(2.0 * late - 0.7) + ripple * np.cos(16.0 * late - 0.2)
        impedance = np.asarray((7.5 + 9.3j) * wave, dtype=np.complex128)
        series.append(series_of(pair, angles, impedance, test))
    return sheet_of(*series)
