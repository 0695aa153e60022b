"""The cage's answer in closed form against plain matrices, mesh by mesh."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from cagewise.machine.cage.clocks import Clocks, Resolution, pair, unpair
from cagewise.machine.cage.damage import Damage
from cagewise.machine.cage.meshes import CageMeshes
from cagewise.machine.cage.model import CageModel, StatorWinding
from cagewise.machine.circuit import EquivalentCircuit
from cagewise.quantities import ComplexArray

ORDERS = (-5, 1, 7, 5, -1, -7)
GAMMA = np.array([[12.0, -1500.0, 300.0]])


def cage(bars: int = 28, pole_pairs: int = 2) -> CageModel:
    circuit = EquivalentCircuit.from_values(
        stator_resistance_ohm=0.5,
        rotor_resistance_ohm=0.4,
        stator_leakage_h=3e-3,
        rotor_leakage_h=4e-3,
        magnetizing_inductance_h=0.12,
    )
    return CageModel.from_circuit(
        circuit,
        pole_pairs=pole_pairs,
        rotor_bars=bars,
        winding=StatorWinding(slots_per_pole_and_phase=4, coil_pitch=5.0 / 6.0),
        skew_rad=0.1,
        ring_resistance_share=0.2,
        ring_leakage_share=0.1,
        order_pairs=1,
    )


def dense_response(model: CageModel, damage: Damage, gamma: float) -> ComplexArray:
    """Solve n meshes and the ring loop with Lagrange multipliers for what is cut."""
    n = model.rotor_bars
    bar = model.bar_resistance_ohm + 1j * gamma * model.bar_inductance_h
    ring = model.ring_resistance_ohm + 1j * gamma * model.ring_inductance_h
    incidence = np.zeros((n, n + 1))
    incidence[np.arange(n), np.arange(n)] = 1.0
    incidence[np.arange(n), (np.arange(n) - 1) % n] = -1.0
    bars = np.full(n, complex(bar))
    for number, extra in zip(damage.bars, damage.extra_resistance, strict=True):
        bars[number] += 0.0 if math.isinf(extra) else extra * float(model.bar_resistance_ohm)
    near = np.hstack([np.eye(n), -np.ones((n, 1))])
    far = np.hstack([np.eye(n), np.zeros((n, 1))])
    matrix = incidence.T @ np.diag(bars) @ incidence + complex(ring) * (near.T @ near + far.T @ far)
    gap = np.eye(n) - np.full((n, n), 1.0 / n)
    matrix[:n, :n] += 1j * gamma * float(model.gap_inductance_h) * gap
    open_bars = [
        k for k, x in zip(damage.bars, damage.extra_resistance, strict=True) if math.isinf(x)
    ]
    held = np.vstack([incidence[open_bars], near[list(damage.cut_ring_segments)]])
    size = n + 1 + len(held)
    full = np.zeros((size, size), dtype=np.complex128)
    full[: n + 1, : n + 1] = matrix
    full[n + 1 :, : n + 1] = held
    full[: n + 1, n + 1 :] = held.T
    centres = (np.arange(n) + 0.5) * model.bar_angle_rad * model.pole_pairs
    waves = np.exp(1j * np.outer(ORDERS, centres))
    right = np.zeros((size, len(ORDERS)), dtype=np.complex128)
    right[:n] = waves.conj().T
    # least squares: a condition named twice makes the matrix singular, not the currents
    currents = np.linalg.lstsq(full, right, rcond=None)[0][:n]
    return np.asarray(waves @ currents)


@pytest.mark.parametrize(
    "damage",
    [
        Damage(),
        Damage.adjacent_open(1),
        Damage.adjacent_open(4),
        Damage.open_bars((27, 0, 9)),
        Damage.cracked({3: 1.5, 4: 5.0}),
        Damage((2, 3, 11), (math.inf, 0.7, 2.0)),
        Damage(cut_ring_segments=(6,)),
        Damage((5,), (1.0,), (6, 20)),
        Damage((6, 9), (math.inf, math.inf), (5, 6, 7)),
    ],
    ids=str,
)
@pytest.mark.parametrize("bars", [28, 33])
def test_response_equals_the_dense_solution(damage: Damage, bars: int) -> None:
    model = cage(bars)
    found = CageMeshes(model, damage, ORDERS).response(GAMMA)[0]
    for answer, gamma in zip(found, GAMMA[0], strict=True):
        expected = dense_response(model, damage, float(gamma))
        scale = np.abs(expected).max()
        assert np.abs(answer - expected).max() < 1e-9 * scale


def test_response_of_draws_is_that_of_each() -> None:
    model = cage()
    factors = np.array([0.8, 1.0, 1.3])
    draws = replace(model, bar_resistance_ohm=model.bar_resistance_ohm * factors)
    damage = Damage((1, 2), (math.inf, 1.0))
    together = CageMeshes(draws, damage, ORDERS).response(np.repeat(GAMMA, 3, axis=0))
    for row, factor in zip(together, factors, strict=True):
        one = replace(model, bar_resistance_ohm=model.bar_resistance_ohm * factor)
        assert row == pytest.approx(CageMeshes(one, damage, ORDERS).response(GAMMA)[0], rel=1e-12)


def test_conditions_leave_out_what_is_said_twice() -> None:
    """A bar between two cut segments carries no current; a crack in it says nothing."""
    isolated = Damage((6, 8), (2.0, math.inf), (5, 6)).conditions(20)
    assert isolated.in_ring.tolist() == [True, True, False]
    assert isolated.conductance.tolist() == [0.0, 0.0, 0.0]
    assert isolated.meshes[2].nonzero()[0].tolist() == [7, 8]


def test_sound_cage_has_no_conditions() -> None:
    assert Damage().is_sound
    assert Damage().conditions(20).meshes.shape == (0, 20)


def test_cage_from_a_circuit_has_this_circuit() -> None:
    circuit = cage().circuit()
    assert float(circuit.rotor_resistance_ohm) == pytest.approx(0.4, rel=1e-12)
    assert float(circuit.rotor_leakage_h) == pytest.approx(4e-3, rel=1e-9)
    assert float(circuit.stator_leakage_h) == pytest.approx(3e-3, rel=1e-9)


def test_fewer_orders_are_the_middle_ones() -> None:
    model = cage()
    assert model.with_order_pairs(0).orders == (1,)
    assert float(model.with_order_pairs(0).mutual_h[0]) == float(model.mutual_h[1])
    assert model.with_order_pairs(3) is model


def test_grid_and_terms_are_inverse() -> None:
    clocks = Clocks(Resolution())
    rng = np.random.default_rng(1)
    terms = rng.standard_normal((2, 6, 5)) + 1j * rng.standard_normal((2, 6, 5))
    assert clocks.to_terms(clocks.to_grid(terms)) == pytest.approx(terms, abs=1e-12)


def test_pairs_of_a_real_quantity_are_alike() -> None:
    """Terms of a real rotor quantity: those at (k, m) are conjugate to those at (-1 - k, -m)."""
    rng = np.random.default_rng(2)
    half = rng.standard_normal((3, 2, 5)) + 1j * rng.standard_normal((3, 2, 5))
    full = np.concatenate([half[:, ::-1, ::-1].conj(), half], axis=1)
    paired = pair(full)
    assert paired[..., :3] == pytest.approx(paired[..., 3:])
    assert unpair(paired) == pytest.approx(full)


def test_turning_of_every_order_is_exact() -> None:
    clocks = Clocks(Resolution(order_pairs=2))
    angle = clocks.slow_angle(np.array([0.2 + 0.1j, 0.05]))
    turned = clocks.turned(angle)
    still = clocks.turned(np.zeros_like(angle))
    for row, order in enumerate((-11, -5, 1, 7, 13)):
        assert turned[row] / still[row] == pytest.approx(np.exp(-1j * order * angle), rel=1e-12)
