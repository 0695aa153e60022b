"""Inductances in closed form against the winding functions integrated numerically."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from cagewise.errors import InputError
from cagewise.quantities import RealArray
from cagewise.simulation.machine import geometry as g
from cagewise.simulation.machine.reference import reference_motor_r3k

MOTOR = reference_motor_r3k()
N_POINTS = 2 * 36 * 32 * 40
CIRCUMFERENCE = (np.arange(N_POINTS) + 0.5) * 2.0 * math.pi / N_POINTS


def _phase_a() -> RealArray:
    """Return the stepped winding function of phase a, its axis at angle zero."""
    turns = MOTOR.series_turns / (2 * MOTOR.pole_pairs)  # per pole and phase
    per_slot = turns / MOTOR.slots_per_pole_and_phase
    electrical = (MOTOR.pole_pairs * CIRCUMFERENCE) % (2.0 * math.pi)
    slots = math.pi / 2.0 + math.pi / 9.0 * np.array([-1.0, 0.0, 1.0])
    function = np.full(N_POINTS, turns)
    for slot in slots:
        inside = (electrical > slot) & (electrical < 2.0 * math.pi - slot)
        function -= 2.0 * per_slot * inside
    return np.asarray(function - function.mean())


def test_phase_inductance_is_the_integral_of_the_squared_winding_function() -> None:
    """To 1e-5 with orders to 19 999; the orders above 99, left out, hold 0.17 % (slot orders)."""
    function = _phase_a()
    integral = MOTOR.permeance_h * np.sum(function**2) * 2.0 * math.pi / N_POINTS
    squares = sum(g.stator_winding_amplitude(MOTOR, h) ** 2 for h in range(1, 20_000, 2))
    assert math.pi * MOTOR.permeance_h * squares == pytest.approx(integral, rel=1e-5)
    assert g.stator_gap_inductance_h(MOTOR) / integral == pytest.approx(1 - 0.0017, abs=1e-4)


def test_mutual_inductance_is_the_integral_over_the_mesh() -> None:
    """A mesh one bar pitch wide, no skew; orders above 19 999 hold 3e-5 of the peak."""
    straight = replace(MOTOR, skew_rad=0.0)
    function, pitch = _phase_a(), straight.bar_pitch_rad
    for mesh in (0, 3, 9):
        inside = (mesh * pitch <= CIRCUMFERENCE) & ((mesh + 1) * pitch > CIRCUMFERENCE)
        integral = straight.permeance_h * np.sum(function[inside]) * 2.0 * math.pi / N_POINTS
        series = sum(
            g.mutual_amplitude_h(straight, h) * math.cos(h * 2 * (mesh + 0.5) * pitch)
            for h in range(1, 20_000, 2)
        )
        assert series == pytest.approx(integral, abs=5e-5 * g.mutual_amplitude_h(straight, 1))


def test_mesh_inductances_contain_every_order() -> None:
    """The orders of a mesh, all integers of the circumference, sum to its gap inductance."""
    n, pitch = MOTOR.rotor_bars, MOTOR.bar_pitch_rad
    orders = np.arange(1, 200_001)
    amplitude = 2.0 / (math.pi * orders) * np.sin(orders * pitch / 2.0)
    gap = g.rotor_gap_inductance_h(MOTOR)
    for distance in (0, 1, n // 2):
        series = math.pi * MOTOR.permeance_h * np.sum(
            amplitude**2 * np.cos(orders * distance * pitch)
        )  # fmt: skip
        assert gap[0, distance] == pytest.approx(series, abs=1e-4 * gap[0, 0])


def test_skew_factor_of_the_slot_order_vanishes_over_one_slot_pitch() -> None:
    """One stator slot pitch is one wave length of order 18 (pole pairs): sin(pi) / pi."""
    assert g.skew_factor(MOTOR, 18) == pytest.approx(0.0, abs=1e-15)
    assert g.skew_factor(replace(MOTOR, skew_rad=0.0), 17) == 1.0


def test_ring_and_bar_values_enter_the_mesh_matrix() -> None:
    """Kirchhoff: mesh currents i give bar and ring losses; the matrix must give their sum."""
    bars = np.array([1.0, 2.0, 4.0, 8.0, 16.0])
    matrix = g.cage_matrix(bars, 0.5)
    current = np.array([0.3, -1.0, 2.0, 0.7, -0.2, 0.4])
    mesh, ring = current[:5], current[5]
    loss = np.sum(bars * (mesh - np.roll(mesh, 1)) ** 2)
    loss += 0.5 * (np.sum(mesh**2) + np.sum((mesh - ring) ** 2))
    assert current @ matrix @ current == pytest.approx(loss, rel=1e-14)


@pytest.mark.parametrize(
    ("field", "value", "word"),
    [
        ("gap_m", 0.0, "gap_m must be positive"),
        ("skew_rad", -0.1, "skew_rad must not be negative"),
        ("rotor_bars", 4, "exceed the number of poles"),
        ("orders", (5, 7), "from 1"),
        ("orders", (1, 3), "multiples of three"),
    ],
)
def test_impossible_dimensions_are_refused(field: str, value: object, word: str) -> None:
    with pytest.raises(InputError, match=word):
        replace(MOTOR, **{field: value})  # type: ignore[arg-type]  # wrong on purpose
