"""Harmonic solution of the cage against the bar-by-bar reference table of the 3 kW motor.

Reference values: dBc of a coupled-circuit time-domain model of the public 3 kW geometry (36/32
slots), computed independently of this code; printed to 0.1 dB. The table was made at 220 V per
phase (docs/theory/simulation.md).
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from cagewise.errors import InputError
from cagewise.machine.cage.balance import OperatingCondition
from cagewise.machine.cage.clocks import FULL, QUICK, Resolution
from cagewise.machine.cage.damage import Damage
from cagewise.machine.cage.loading import slip_at_torque
from cagewise.machine.cage.model import winding_orders
from cagewise.machine.cage.solution import (
    FIFTH_FOUR,
    FIFTH_SIX,
    LOWER,
    SEVENTH_EIGHT,
    SEVENTH_SIX,
    SUPPLY,
    UPPER,
    CageSolution,
    Line,
    solve_cage,
)
from cagewise.quantities import decibel
from support.cage_models import reference_cage

VOLTAGE_V = 220.0 * math.sqrt(2.0)
OMEGA = 2.0 * math.pi * 50.0
INERTIA = 5.63e-3
FULL_LOAD, HALF, QUARTER = 20.2, 10.1, 5.05
LINES = (LOWER, UPPER, FIFTH_FOUR, FIFTH_SIX, SEVENTH_SIX, SEVENTH_EIGHT)
ONE = Damage.adjacent_open(1)
NONE = math.nan
"""Not in the table."""

TABLE: list[tuple[str, Damage, float, float, tuple[float, ...], float]] = [
    # pattern, damage, torque, inertia factor, levels of LINES in dBc, speed ripple in % peak
    ("1 bar", ONE, FULL_LOAD, 1, (-38.2, -37.8, -44.5, -54.0, -50.7, -51.7), 0.198),
    ("1 bar, half", ONE, HALF, 1, (-41.2, -41.1, -46.4, -54.3, -49.8, -53.1), 0.080),
    ("1 bar, quarter", ONE, QUARTER, 1, (-46.2, -46.2, -48.0, -54.5, -49.3, -54.2), 0.036),
    ("1 bar, J x20", ONE, FULL_LOAD, 20, (-32.8, -41.3, -44.5, -55.4, -50.5, -52.1), 0.131),
    ("1 bar, J x1000", ONE, FULL_LOAD, 1000, (-30.9, -74.3, -44.5, NONE, NONE, NONE), 0.003),
    ("2 adjacent", Damage.adjacent_open(2), FULL_LOAD, 1,
     (-31.4, -30.9, -40.0, -51.0, -47.1, -59.6), 0.475),
    ("3 adjacent", Damage.adjacent_open(3), FULL_LOAD, 1,
     (-27.5, -26.7, -42.4, -60.6, -59.1, -51.4), 0.859),
    ("2 at 90", Damage.open_bars((0, 4)), FULL_LOAD, 1,
     (-55.5, -55.1, -38.5, -67.8, -80.6, -46.1), 0.029),
    ("2 at 180", Damage.open_bars((0, 8)), FULL_LOAD, 1,
     (-32.3, -31.8, -39.0, -47.2, -45.4, -45.9), 0.411),
    ("2 at 45", Damage.open_bars((0, 2)), FULL_LOAD, 1,
     (-33.7, -33.2, -68.3, -51.9, -47.7, -45.5), 0.359),
    ("bar x2", Damage.cracked({0: 2.0}), FULL_LOAD, 1,
     (-44.9, -44.5, -58.7, NONE, NONE, NONE), 0.088),
    ("bar x5", Damage.cracked({0: 5.0}), FULL_LOAD, 1,
     (-40.4, -40.0, -54.3, NONE, NONE, NONE), 0.151),
    ("bar x1.5", Damage.cracked({0: 1.5}), FULL_LOAD, 1,
     (-48.7, -48.3, -62.3, NONE, NONE, NONE), 0.057),
]  # fmt: skip


def condition(slip: float, inertia_factor: float = 1.0) -> OperatingCondition:
    return OperatingCondition(
        slip=np.array(slip),
        frequency_rad_s=OMEGA,
        voltage_v=VOLTAGE_V,
        inertia_kg_m2=np.array(INERTIA * inertia_factor),
    )


def solve_at_slip(
    damage: Damage, slip: float, inertia_factor: float = 1.0, resolution: Resolution = FULL
) -> CageSolution:
    return solve_cage(reference_cage(), damage, condition(slip, inertia_factor), resolution)


def level_db(solution: CageSolution, line: Line) -> float:
    return decibel(float(np.abs(solution.relative(line)[0])))


@pytest.mark.parametrize("row", TABLE, ids=[row[0] for row in TABLE])
def test_reference_table(row: tuple[str, Damage, float, float, tuple[float, ...], float]) -> None:
    pattern, damage, torque, inertia, levels, ripple = row
    slip = float(slip_at_torque(reference_cage(), damage, torque, condition(0.04), FULL)[0])
    solution = solve_at_slip(damage, slip, inertia)
    # half the last printed digit and what two independent models differed by: 0.05 dB; the table
    # itself is 0.1 to 0.2 dB off for two adjacent bars (docs/theory/simulation.md)
    tolerance = 0.25 if pattern == "2 adjacent" else 0.1
    for line, level in zip(LINES, levels, strict=True):
        if not math.isnan(level):
            assert level_db(solution, line) == pytest.approx(level, abs=tolerance), line
    peak = 2.0 * abs(solution.angle_ripple[0]) * 2.0 * slip / (1.0 - slip)
    # half the last printed digit and 1 %
    assert 100.0 * peak == pytest.approx(ripple, abs=0.0005 + 0.01 * ripple)


def test_healthy_machine_is_the_equivalent_circuit() -> None:
    slip = 0.04416
    solution = solve_at_slip(Damage(), slip)
    state = reference_cage().circuit().at(slip, OMEGA)
    # orders 5 to 13 and slot coupling move the fundamental by about 1e-3
    assert solution.stator[SUPPLY][0] == pytest.approx(
        complex(state.stator_current(VOLTAGE_V)), rel=3e-3
    )
    assert solution.torque_nm[0] == pytest.approx(
        float(state.electromagnetic_torque(VOLTAGE_V, 2)), rel=3e-3
    )
    for line in LINES:
        assert np.abs(solution.relative(line)[0]) < 1e-12


def test_circuit_of_the_reference_geometry() -> None:
    """Printed: L_s 0.17832, L_m 0.17140, L_r' 0.17958 H, R_r' 1.6555 ohm (bars: 108.5 uohm)."""
    circuit = reference_cage().circuit()
    assert float(circuit.stator_inductance_h) == pytest.approx(0.17832, abs=6e-6)
    assert float(circuit.magnetizing_inductance_h) == pytest.approx(0.17140, abs=6e-6)
    assert float(circuit.rotor_inductance_h) == pytest.approx(0.17958, abs=6e-6)
    assert float(circuit.rotor_resistance_ohm) == pytest.approx(1.6555, rel=5e-4)


def test_direct_component_does_not_know_the_inertia() -> None:
    ratios = [solve_at_slip(ONE, 0.0458, factor).direct_ratio[0] for factor in (1.0, 30.0, 1e6)]
    assert ratios == pytest.approx([ratios[-1]] * 3, rel=0.01)


N_HAT = [
    # open bars, torque, printed n |d| / |I_r|
    (1, 2.02, 0.98), (1, QUARTER, 1.01), (1, HALF, 1.04), (1, FULL_LOAD, 1.11),
    (2, 2.02, 1.92), (2, QUARTER, 2.04), (2, HALF, 2.17), (2, FULL_LOAD, 2.39),
    (3, 2.02, 2.70), (3, QUARTER, 2.96), (3, HALF, 3.25), (3, FULL_LOAD, 3.69),
]  # fmt: skip


@pytest.mark.parametrize(("count", "torque", "printed"), N_HAT)
def test_direct_component_of_the_reference_table(count: int, torque: float, printed: float) -> None:
    """The table takes rho and I_r at the current of the SOUND machine at this voltage and slip.

    With the measured current, as the indicators have it, n |d| / |I_r| is 2 % larger for one bar
    and 6 % for three at full load: the damaged machine draws less current at the same slip.
    """
    damage = Damage.adjacent_open(count)
    slip = float(slip_at_torque(reference_cage(), damage, torque, condition(0.04), FULL)[0])
    solution = solve_at_slip(damage, slip)
    state = reference_cage().circuit().at(slip, OMEGA)
    sound = state.stator_current(VOLTAGE_V)
    rho = state.ripple_ratio(2.0 * slip * OMEGA, sound)
    direct = abs(solution.stator[LOWER][0] - rho * np.conj(solution.stator[UPPER][0]))
    # half the last printed digit, and as much for the digits of the table's circuit
    assert 32.0 * direct / abs(state.rotor_current(sound)) == pytest.approx(printed, abs=0.01)
    assert 32.0 * solution.direct_ratio[0] == pytest.approx(printed, rel=0.06)


def test_fifth_harmonic_line_hardly_knows_the_inertia() -> None:
    levels = [level_db(solve_at_slip(ONE, 0.04, factor), FIFTH_FOUR) for factor in (1.0, 1000.0)]
    assert levels[0] == pytest.approx(levels[1], abs=0.1)


def test_turning_the_damage_along_the_rotor_turns_phases_only() -> None:
    first = solve_at_slip(Damage((0, 1), (math.inf, 1.0), (3,)), 0.03)
    moved = solve_at_slip(Damage((25, 26), (math.inf, 1.0), (28,)), 0.03)
    for line in LINES:
        assert np.abs(moved.stator[line][0]) == pytest.approx(
            np.abs(first.stator[line][0]), rel=1e-6
        )


def test_damage_may_lie_across_the_end_of_the_numbering() -> None:
    first = solve_at_slip(Damage.adjacent_open(3), 0.03)
    across = solve_at_slip(Damage.open_bars((31, 0, 1)), 0.03)
    for line in LINES:
        assert np.abs(across.stator[line][0]) == pytest.approx(
            np.abs(first.stator[line][0]), rel=1e-6
        )


def test_lines_follow_the_voltage() -> None:
    """A linear machine with inertia: twice the voltage at four times the inertia is the same."""
    base = solve_at_slip(ONE, 0.03)
    doubled = solve_cage(
        reference_cage(), ONE, replace(condition(0.03, 4.0), voltage_v=2.0 * VOLTAGE_V)
    )
    for line in LINES:
        assert doubled.stator[line][0] == pytest.approx(2.0 * base.stator[line][0], rel=1e-9)


def test_huge_resistance_is_an_open_bar() -> None:
    cracked = solve_at_slip(Damage.cracked({0: 1e9}), 0.03)
    for line in LINES:
        assert cracked.stator[line][0] == pytest.approx(
            solve_at_slip(ONE, 0.03).stator[line][0], rel=1e-5
        )


def test_ensemble_equals_single_solutions() -> None:
    slips = np.array([0.01, 0.02, 0.04])
    together = solve_cage(reference_cage(), ONE, replace(condition(0.0), slip=slips))
    for k, slip in enumerate(slips):
        alone = solve_at_slip(ONE, float(slip))
        # both stop when the next pass would change less than 1e-6
        assert together.stator[LOWER][k] == pytest.approx(
            complex(alone.stator[LOWER][0]), abs=1e-5 * abs(alone.stator[SUPPLY][0])
        )


@pytest.mark.parametrize("row", TABLE, ids=[row[0] for row in TABLE])
def test_quick_solution_is_within_half_a_decibel(
    row: tuple[str, Damage, float, float, tuple[float, ...], float],
) -> None:
    """For lines above -65 dBc; unknown winding and rings of a plant motor are worth far more."""
    _, damage, torque, inertia, _, _ = row
    slip = float(slip_at_torque(reference_cage(), damage, torque, condition(0.04))[0])
    full = solve_at_slip(damage, slip, inertia)
    quick = solve_at_slip(damage, slip, inertia, QUICK)
    for line in LINES:
        if level_db(full, line) > -65.0:
            assert level_db(quick, line) == pytest.approx(level_db(full, line), abs=0.5)


def test_more_terms_change_nothing() -> None:
    """Three adjacent bars on the light rotor: the largest ripple of the table."""
    more = Resolution(order_pairs=3, slip_pairs=4, ripple_harmonics=3)
    slip = 0.0512
    finer = solve_cage(reference_cage(3), Damage.adjacent_open(3), condition(slip), more)
    usual = solve_at_slip(Damage.adjacent_open(3), slip)
    for line in LINES:
        assert level_db(usual, line) == pytest.approx(level_db(finer, line), abs=0.05)


def test_impossible_load_has_no_slip() -> None:
    slips = slip_at_torque(reference_cage(), ONE, np.array([20.0, 200.0]), condition(0.03))
    assert slips[0] == pytest.approx(0.0453, abs=1e-3)
    assert math.isnan(slips[1])


@pytest.mark.parametrize(
    ("damage", "said"),
    [
        (Damage((32,), (1.0,)), "between 0 and 31"),
        (Damage((3, 3), (1.0, 2.0)), "named twice"),
        (Damage((3,), (0.0,)), "positive"),
        (Damage((3,), (1.0, 2.0)), "one extra resistance"),
        (Damage(cut_ring_segments=(40,)), "ring segments"),
        (Damage.adjacent_open(30), "fewer than three"),
    ],
)
def test_impossible_damage_is_refused(damage: Damage, said: str) -> None:
    with pytest.raises(InputError, match=said):
        solve_at_slip(damage, 0.03)


def test_orders_are_signed_by_the_direction_of_their_field() -> None:
    assert winding_orders(2) == (-11, -5, 1, 7, 13)
