"""Harmonic solution of the cage against the bar-by-bar reference table of the 3 kW motor.

Reference values: dBc of a coupled-circuit time-domain model of the public 3 kW geometry (36/32
slots), computed independently of this code; printed to 0.1 dB.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from cagewise.machine.cage.model import CageModel, StatorWinding, signed_orders
from cagewise.machine.cage.solution import (
    FIFTH_FOUR,
    LOWER,
    SEVENTH_SIX,
    SUPPLY,
    UPPER,
    CageSolution,
    Damage,
    Line,
    OperatingCondition,
    solve_cage,
)
from cagewise.machine.circuit import EquivalentCircuit
from cagewise.quantities import decibel

VOLTAGE_V = 380.0 * math.sqrt(2.0 / 3.0)
OMEGA = 2.0 * math.pi * 50.0
INERTIA = 5.63e-3
FULL, HALF, QUARTER = 20.2, 10.1, 5.05


def reference_circuit() -> EquivalentCircuit:
    """Space-vector parameters of the reference motor, computed from its geometry."""
    return EquivalentCircuit.from_values(
        stator_resistance_ohm=2.2,
        rotor_resistance_ohm=1.6555,
        stator_leakage_h=0.17832 - 0.17140,
        rotor_leakage_h=0.17958 - 0.17140,
        magnetizing_inductance_h=0.17140,
    )


def reference_cage() -> CageModel:
    """The reference cage: bars 108.5 microohm, 0.2568 microhenry; ring 0.418 and 2.4 nH."""
    chord = 2.0 * (1.0 - math.cos(2.0 * 2.0 * math.pi / 32.0))
    ring_r, ring_l = 2.0 * 0.418, 2.0 * 2.4
    return CageModel.from_circuit(
        reference_circuit(),
        pole_pairs=2,
        rotor_bars=32,
        winding=StatorWinding(slots_per_pole_and_phase=3),
        skew_rad=2.0 * math.pi / 36.0,
        ring_resistance_share=ring_r / (ring_r + chord * 108.5),
        ring_leakage_share=ring_l / (ring_l + chord * 256.8),
    )


def solve_at_torque(damage: Damage, torque_nm: float, inertia_factor: float = 1.0) -> CageSolution:
    """Solve at the slip that gives this mean torque (bisection on the motoring branch)."""
    low, high = 1e-4, 0.08
    for _ in range(40):
        slip = 0.5 * (low + high)
        solution = solve_at_slip(damage, slip, inertia_factor)
        low, high = (slip, high) if solution.torque_nm[0] < torque_nm else (low, slip)
    return solution


def solve_at_slip(damage: Damage, slip: float, inertia_factor: float = 1.0) -> CageSolution:
    return solve_cage(
        reference_cage(),
        damage,
        OperatingCondition(
            slip=np.array(slip),
            frequency_rad_s=OMEGA,
            voltage_v=VOLTAGE_V,
            inertia_kg_m2=np.array(INERTIA * inertia_factor),
        ),
    )


def level_db(solution: CageSolution, line: Line) -> float:
    return decibel(float(np.abs(solution.relative(line)[0])))


OPEN = math.inf
ONE = Damage.adjacent_open(1)
TABLE: list[tuple[str, Damage, float, float, float, float, float]] = [
    # pattern, damage, torque, inertia factor, (1-2s)f, (1+2s)f, (5-4s)f in dBc
    ("one bar, full load", ONE, FULL, 1.0, -38.2, -37.8, -44.5),
    ("one bar, half load", ONE, HALF, 1.0, -41.2, -41.1, -46.4),
    ("one bar, quarter load", ONE, QUARTER, 1.0, -46.2, -46.2, -48.0),
    ("one bar, inertia x20", ONE, FULL, 20.0, -32.8, -41.3, -44.5),
    ("one bar, inertia x1000", ONE, FULL, 1000.0, -30.9, -74.3, -44.5),
    ("two adjacent", Damage.adjacent_open(2), FULL, 1.0, -31.4, -30.9, -40.0),
    ("three adjacent", Damage.adjacent_open(3), FULL, 1.0, -27.5, -26.7, -42.4),
    ("two at 90 electrical degrees", Damage((0, 4), (OPEN, OPEN)), FULL, 1.0, -55.5, -55.1, -38.5),
    ("two at 180 electrical degrees", Damage((0, 8), (OPEN, OPEN)), FULL, 1.0, -32.3, -31.8, -39.0),
    ("bar resistance doubled", Damage((0,), (1.0,)), FULL, 1.0, -44.9, -44.5, -58.7),
    ("bar resistance fivefold", Damage((0,), (4.0,)), FULL, 1.0, -40.4, -40.0, -54.3),
    ("bar resistance +50 %", Damage((0,), (0.5,)), FULL, 1.0, -48.7, -48.3, -62.3),
]


@pytest.mark.parametrize("row", TABLE, ids=[row[0] for row in TABLE])
def test_lines_of_the_reference_table(
    row: tuple[str, Damage, float, float, float, float, float],
) -> None:
    _, damage, torque, inertia, lower, upper, fifth = row
    solution = solve_at_torque(damage, torque, inertia)
    # 0.3 dB: the agreement asked of two independent models at the fundamental
    assert level_db(solution, LOWER) == pytest.approx(lower, abs=0.3)
    assert level_db(solution, UPPER) == pytest.approx(upper, abs=0.3)
    # 1 dB: the same at the fifth harmonic
    assert level_db(solution, FIFTH_FOUR) == pytest.approx(fifth, abs=1.0)


def test_healthy_machine_is_the_equivalent_circuit() -> None:
    slip = 0.04416
    solution = solve_at_slip(Damage((), ()), slip)
    circuit = reference_circuit().at(slip, OMEGA)
    current = circuit.stator_current(VOLTAGE_V)
    # slot coupling of orders 11 and 13 moves the fundamental by about 1e-3
    assert solution.stator[SUPPLY][0] == pytest.approx(complex(current), rel=3e-3)
    assert solution.torque_nm[0] == pytest.approx(
        float(circuit.electromagnetic_torque(VOLTAGE_V, 2)), rel=3e-3
    )
    for line in (LOWER, UPPER, FIFTH_FOUR):
        assert np.abs(solution.relative(line)[0]) < 1e-9


def test_speed_ripple_of_one_open_bar() -> None:
    """0.198 % peak at full load and the motor's own inertia (reference table)."""
    solution = solve_at_torque(ONE, FULL)
    slip = 1430.9
    slip = 1.0 - slip / 1500.0
    ripple = 2.0 * np.abs(solution.angle_ripple[0]) * 2.0 * slip / (1.0 - slip)
    assert ripple == pytest.approx(0.00198, rel=0.02)


def test_fifth_harmonic_line_does_not_know_the_inertia() -> None:
    levels = [level_db(solve_at_slip(ONE, 0.04, factor), FIFTH_FOUR) for factor in (1.0, 1000.0)]
    assert levels[0] == pytest.approx(levels[1], abs=0.3)


def test_turning_the_damage_along_the_rotor_turns_phases_only() -> None:
    first = solve_at_slip(Damage((0, 1), (OPEN, 1.0)), 0.03)
    moved = solve_at_slip(Damage((7, 8), (OPEN, 1.0)), 0.03)
    for line in (LOWER, UPPER, FIFTH_FOUR, SEVENTH_SIX):
        assert np.abs(moved.stator[line][0]) == pytest.approx(
            np.abs(first.stator[line][0]), rel=1e-9
        )


def test_ensemble_equals_single_solutions() -> None:
    slips = np.array([0.01, 0.02, 0.04])
    together = solve_cage(
        reference_cage(),
        ONE,
        OperatingCondition(
            slip=slips,
            frequency_rad_s=OMEGA,
            voltage_v=VOLTAGE_V,
            inertia_kg_m2=np.array(INERTIA),
        ),
    )
    for k, slip in enumerate(slips):
        alone = solve_at_slip(ONE, float(slip))
        assert together.stator[LOWER][k] == pytest.approx(complex(alone.stator[LOWER][0]), rel=1e-9)


def test_orders_are_signed_by_the_direction_of_their_field() -> None:
    assert signed_orders(13) == (1, -5, 7, -11, 13)
