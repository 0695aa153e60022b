"""Merging meshes is the limit of a very large resistance."""

from __future__ import annotations

import numpy as np
import pytest

from cagewise.errors import InputError
from cagewise.quantities import ComplexArray, RealArray
from cagewise.simulation import Damage, Eccentricity, reference_motor_r3k
from cagewise.simulation.machine import geometry as g
from cagewise.simulation.machine.damage import constraint

MOTOR = reference_motor_r3k()
N = MOTOR.rotor_bars
OPEN_OHM = 1e4
"""Resistance that stands for an open bar: 1e8 times a sound one."""


def _currents(resistance: RealArray, merge: RealArray) -> ComplexArray:
    """Return loop currents at 2 Hz in a two-wave field under this resistance matrix."""
    inductance = g.cage_matrix(np.full(N, MOTOR.bar_leakage_h), MOTOR.ring_leakage_h)
    inductance[:N, :N] += g.rotor_gap_inductance_h(MOTOR)
    drive = np.zeros(N + 1, dtype=np.complex128)
    drive[:N] = np.exp(2j * 2.0 * np.pi * np.arange(N) / N) + 0.3
    impedance = resistance + 2j * np.pi * 2.0 * inductance
    free = np.linalg.solve(merge.T @ impedance @ merge, merge.T @ drive)
    return np.asarray(merge @ free)


@pytest.mark.parametrize("bars", [(0,), (0, 1), (31, 0, 1), (3, 11)])
def test_open_bars_are_the_limit_of_a_large_resistance(bars: tuple[int, ...]) -> None:
    values = np.full(N, MOTOR.bar_resistance_ohm)
    sound = g.cage_matrix(values, MOTOR.ring_resistance_ohm)
    merged = _currents(sound, constraint(Damage(open_bars=bars), N))
    values[list(bars)] = OPEN_OHM
    limit = _currents(g.cage_matrix(values, MOTOR.ring_resistance_ohm), np.eye(N + 1))
    assert np.abs(merged - limit).max() < 1e-6 * np.abs(limit).max()
    through = (merged - np.roll(merged[:N], 1)[[*range(N), 0]])[list(bars)]
    assert np.abs(through).max() == 0.0


def test_cut_ring_segment_is_the_limit_of_a_large_resistance() -> None:
    sound = g.cage_matrix(np.full(N, MOTOR.bar_resistance_ohm), MOTOR.ring_resistance_ohm)
    merged = _currents(sound, constraint(Damage(cut_ring_segments=(5,)), N))
    cut = sound.copy()
    cut[5, 5] += OPEN_OHM
    cut[N, N] += OPEN_OHM
    cut[5, N] -= OPEN_OHM
    cut[N, 5] -= OPEN_OHM
    limit = _currents(cut, np.eye(N + 1))
    assert np.abs(merged - limit).max() < 1e-6 * np.abs(limit).max()
    assert merged[5] == merged[N]


def test_open_bars_and_cut_segments_together_leave_the_right_number_of_currents() -> None:
    assert constraint(Damage(open_bars=(4, 5), cut_ring_segments=(4, 20)), N).shape == (
        N + 1,
        N - 3,
    )


@pytest.mark.parametrize(
    ("damage", "word"),
    [
        (Damage(open_bars=(32,)), "open_bars must lie between 0 and 31"),
        (Damage(cut_ring_segments=(-1,)), "cut_ring_segments"),
        (Damage(resistance_factors={0: 0.0}), "must be positive"),
        (Damage(open_bars=tuple(range(30))), "fewer than three bars"),
    ],
)
def test_damage_that_does_not_fit_is_refused(damage: Damage, word: str) -> None:
    with pytest.raises(InputError, match=word):
        damage.check(N)


def test_order_zero_permeance_is_the_mean_over_the_circumference() -> None:
    """Mean of 1/(1 - e_s cos(phi) - e_d cos(phi - theta)); the next terms are of fourth order."""
    eccentricity = Eccentricity(static=0.10, dynamic=0.05)
    phi = 2.0 * np.pi * np.arange(4000) / 4000
    angles = 2.0 * np.pi * np.arange(16) / 16
    exact = [np.mean(1.0 / (1.0 - 0.10 * np.cos(phi) - 0.05 * np.cos(phi - t))) for t in angles]
    model = eccentricity.mean_factor * (1.0 + eccentricity.ripple * np.cos(angles))
    fourth_order = 3.0 / 8.0 * 0.15**4
    assert np.abs(model - exact).max() < 1.2 * fourth_order
    assert np.ptp(exact) > 20 * fourth_order


def test_rotor_may_not_touch_the_stator() -> None:
    with pytest.raises(InputError, match=r"less than 0\.8"):
        Eccentricity(static=0.5, dynamic=0.4)
