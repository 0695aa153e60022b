"""The fast model against the machine written out loop by loop, and its two steppers."""

from __future__ import annotations

import sys

import numpy as np
import pytest

from cagewise.quantities import RealArray
from cagewise.simulation import Damage, Eccentricity, reference_motor_r3k, stepping
from cagewise.simulation.equations.model import CoupledModel, assemble
from cagewise.simulation.stepping.runge_kutta import N_OBSERVED, advance, evaluate, fastest_advance
from support.dense_machine import DenseMachine, dense_start

MOTOR = reference_motor_r3k(orders=(1, 5, 7, 17))
STEP_S = 5e-5
CASES = [
    (Damage(), Eccentricity()),
    (Damage(open_bars=(3, 4), resistance_factors={10: 2.0}), Eccentricity()),
    (Damage(open_bars=(7,)), Eccentricity(static=0.3, dynamic=0.2)),
]


def _drive(n_steps: int) -> RealArray:
    """Return a hard switch-on against a load of 5 N m, power-invariant."""
    angle = 2.0 * np.pi * 50.0 * 0.5 * STEP_S * np.arange(2 * n_steps + 1) + 0.7
    peak = 380.0
    return np.column_stack((peak * np.cos(angle), peak * np.sin(angle), np.full(angle.size, 5.0)))


def _start(model: CoupledModel, drive: RealArray) -> tuple[RealArray, RealArray]:
    """Return observations and final state of a start from rest, step by step."""
    n_steps = (len(drive) - 1) // 2
    state, out = np.zeros(4 + model.decay_per_s.size), np.empty((n_steps, N_OBSERVED))
    advance(model, drive, STEP_S, state, out)
    return out, state


@pytest.mark.parametrize(("damage", "eccentricity"), CASES)
def test_modes_give_the_currents_of_the_loops(damage: Damage, eccentricity: Eccentricity) -> None:
    """Exact twin: what differs is rounding and the difference quotient of the torque (1e-10)."""
    drive = _drive(60)
    fast, _ = _start(assemble(MOTOR, damage, eccentricity), drive)
    slow = dense_start(DenseMachine(MOTOR, damage, eccentricity), drive, STEP_S, 5.0)
    for column in range(5):
        scale = np.abs(slow[:, column]).max()
        assert np.abs(fast[:, column] - slow[:, column]).max() < 1e-8 * scale


@pytest.mark.parametrize(("damage", "eccentricity"), CASES)
def test_torque_is_the_slope_of_the_energy_at_constant_flux(
    damage: Damage, eccentricity: Eccentricity
) -> None:
    """T = -dW/dtheta at constant linkages, whatever the state; five-point difference."""
    model = assemble(MOTOR, damage, eccentricity)
    rng = np.random.default_rng(5)
    state = np.concatenate(([0.3, 150.0, 0.5, -0.7], 0.02 * rng.standard_normal(
        model.decay_per_s.size)))  # fmt: skip
    h = 1e-4

    def energy(angle: float) -> float:
        return evaluate(model, np.concatenate(([angle], state[1:]))).energy_j

    slope = 8.0 * (energy(0.3 + h) - energy(0.3 - h)) - (energy(0.3 + 2 * h) - energy(0.3 - 2 * h))
    assert evaluate(model, state).torque_nm == pytest.approx(-slope / (12.0 * h), rel=1e-7)


@pytest.mark.parametrize(("damage", "eccentricity"), CASES)
def test_compiled_steps_equal_numpy_steps(damage: Damage, eccentricity: Eccentricity) -> None:
    """The same arithmetic in another order: 200 steps from rest agree to 1e-10 of their range."""
    pytest.importorskip("numba")
    model = assemble(MOTOR, damage, eccentricity)
    drive = _drive(200)
    slow, end = _start(model, drive)
    compiled, name = fastest_advance()
    state, out = np.zeros_like(end), np.empty_like(slow)
    compiled(model, drive, STEP_S, state, out)
    assert name == "numba"
    assert np.abs(out - slow).max(axis=0) == pytest.approx(0.0, abs=1e-10 * np.abs(slow).max())
    assert state == pytest.approx(end, rel=1e-9, abs=1e-10)


def test_energy_is_conserved() -> None:
    """Electrical input = losses + work + stored energy; the trapezoid rule errs by 1e-5."""
    model = assemble(MOTOR, *CASES[2])
    drive = _drive(400)
    out, _ = _start(model, drive)
    volts = drive[0:-1:2, :2]
    current, speed, torque, loss, stored = out[:, :2], out[:, 3], out[:, 4], out[:, 5], out[:, 6]
    power_in = np.sum(volts * current, axis=1)
    used = model.stator_resistance_ohm * np.sum(current**2, axis=1) + loss + torque * speed
    supplied = np.trapezoid(power_in, dx=STEP_S)
    assert supplied == pytest.approx(
        np.trapezoid(used, dx=STEP_S) + stored[-1] - stored[0], rel=2e-5
    )
    assert stored[-1] > 1000 * 2e-5 * supplied  # the balance would notice a wrong store


def test_the_steps_are_of_fourth_order() -> None:
    """Halving the step divides the error by 16, to leading order (a fifth)."""
    model = assemble(MOTOR, *CASES[1])
    reference = _end_of_start(model, 1.25e-5)
    errors = [
        np.abs(_end_of_start(model, step_s) - reference)[2:].max() for step_s in (2e-4, 1e-4, 5e-5)
    ]
    assert errors[0] / errors[1] == pytest.approx(16.0, rel=0.2)
    assert errors[1] / errors[2] == pytest.approx(16.0, rel=0.2)


def _end_of_start(model: CoupledModel, step_s: float) -> RealArray:
    """Return the state 20 ms after switching on at 150 rad/s."""
    stepper, _ = fastest_advance()
    n_steps = round(0.02 / step_s)
    angle = 2.0 * np.pi * 50.0 * 0.5 * step_s * np.arange(2 * n_steps + 1)
    drive = np.column_stack((380.0 * np.cos(angle), 380.0 * np.sin(angle), 0.0 * angle))
    state = np.zeros(4 + model.decay_per_s.size)
    state[1] = 150.0
    stepper(model, drive, step_s, state, np.empty((1, N_OBSERVED)))
    return state


def test_without_numba_the_numpy_stepper_is_used(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delattr(stepping, "compiled", raising=False)
    monkeypatch.setitem(sys.modules, "cagewise.simulation.stepping.compiled", None)
    stepper, name = fastest_advance()
    assert stepper is advance
    assert name == "numpy"
