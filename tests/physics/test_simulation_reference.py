"""The reference motor R3K against its reference tables, computed elsewhere by a bar-by-bar model.

Inductances to their printed digits; speeds to 0.2 rpm and currents to 0.3 % as the tables demand.
"""

from __future__ import annotations

import math

import pytest

from cagewise.simulation.machine import geometry as g
from cagewise.simulation.machine import reference
from cagewise.simulation.machine.reference import reference_motor_r3k
from support.r3k import r3k_recording

MOTOR = reference_motor_r3k()


def test_dimensions_give_the_printed_inductances() -> None:
    assert pytest.approx(9.3638e-6, abs=0.5e-10) == MOTOR.permeance_h
    self_inductance = g.stator_gap_inductance_h(MOTOR)
    mutual = g.stator_gap_inductance_h(MOTOR, 2.0 * math.pi / 3.0)
    assert self_inductance == pytest.approx(0.122593, abs=0.5e-6)
    assert mutual == pytest.approx(-0.051009, abs=0.5e-6)
    assert MOTOR.stator_leakage_h + self_inductance - mutual == pytest.approx(0.17832, abs=0.5e-5)
    assert g.mutual_amplitude_h(MOTOR, 1) == pytest.approx(113.28e-6, abs=0.5e-8)
    gap = g.rotor_gap_inductance_h(MOTOR)
    assert gap[5, 5] == pytest.approx(1.7811e-6, abs=0.5e-10)
    assert gap[5, 9] == pytest.approx(-57.46e-9, abs=0.5e-11)


@pytest.mark.parametrize(
    ("order", "turns", "factor"),
    [
        (1, 62.3245, 0.95980),
        (3, -14.4300, -0.66667),
        (5, 2.8256, 0.21757),
        (7, 1.6453, 0.17736),
    ],
)
def test_winding_orders(order: int, turns: float, factor: float) -> None:
    assert g.stator_winding_amplitude(MOTOR, order) == pytest.approx(turns, abs=0.5e-4)
    assert g.winding_factor(MOTOR, order) == pytest.approx(factor, abs=0.5e-5)


def test_bar_values_follow_from_the_slot() -> None:
    assert pytest.approx(108.5e-6, abs=0.05e-6) == MOTOR.bar_resistance_ohm
    assert pytest.approx(0.2568e-6, abs=0.5e-10) == MOTOR.bar_leakage_h


def test_effective_gap_is_carter_times_saturation() -> None:
    """Printed: 1.191 x 1.115 x 1.25 x 0.47 mm = 0.780 mm; slot pitches at the gap's radius."""
    gap = reference.MECHANICAL_GAP_M
    turn = 2.0 * math.pi * reference.RADIUS_M
    stator = g.carter_factor(reference.STATOR_OPENING_M, turn / reference.STATOR_SLOTS, gap)
    rotor = g.carter_factor(reference.ROTOR_OPENING_M, turn / reference.ROTOR_BARS, gap)
    assert stator == pytest.approx(1.191, abs=0.002)  # the printed pitch is at the bore
    assert rotor == pytest.approx(1.115, abs=0.002)
    effective = stator * rotor * reference.SATURATION_FACTOR * gap
    assert effective == pytest.approx(MOTOR.gap_m, rel=2e-3)


@pytest.mark.parametrize(
    ("torque_nm", "speed_rpm", "current_a"),
    [
        (0.0, 1500.0, 3.928),
        (2.02, 1494.05, 3.944),
        (5.05, 1484.92, 4.099),
        (10.1, 1469.00, 4.677),
        (15.15, 1452.04, 5.568),
        (20.2, 1433.76, 6.684),
        (25.0, 1414.88, 7.904),
    ],
)
def test_steady_table(torque_nm: float, speed_rpm: float, current_a: float) -> None:
    truth = r3k_recording(load_torque_nm=torque_nm, duration_s=0.5, settling_s=1.5).truth
    assert truth["speed_rpm"] == pytest.approx(speed_rpm, abs=0.2)
    assert truth["current_rms_a"] == pytest.approx(current_a, rel=3e-3)
