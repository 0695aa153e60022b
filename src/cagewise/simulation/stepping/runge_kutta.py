"""Runge-Kutta steps of the coupled model in numpy: the readable twin of the compiled kernel.

State ``(theta, w, l_alpha, l_beta, x_1 ... x_N)``: rotor angle and speed (mechanical), stator flux
linkages (power-invariant), flux linkages of the cage's modes; behind an elastic shaft also
``(twist, w_load)``. With ``k = 1 + e cos theta``,
``d = k - 1``, ``Z = P(theta) B``, ``y = W' x`` and ``den = 1 / (1 + d s)``::

    [L_s(k) - k^2 Z diag(s den) Z'] i_s = l - k Z (den y)
    u = Z' i_s,   q = den (y - k s u),   a = x - W (k u + d q)
    dl/dt = v - R_s i_s,   dx/dt = -mu a,   J dw/dt = T - T_load,   dtheta/dt = w
    T = k p i_s' P_theta B q - e sin(theta) / 2 (L_gap i_s'i_s + q'q + 2 u'q)

With an elastic shaft ``J dw/dt = T - T_s``, ``J_load dw_load/dt = T_s - T_load(w_load)``,
``T_s = K twist + c (w - w_load)``, ``dtwist/dt = w - w_load``.
"""

from __future__ import annotations

import math
from typing import NamedTuple, Protocol

import numpy as np

from cagewise.quantities import RealArray
from cagewise.simulation.equations.model import CoupledModel
from cagewise.simulation.equations.shaped_gap import gap_operator
from cagewise.simulation.machine.saturation import bent_energy, is_bent, solve_bent
from cagewise.simulation.plant.load import FRICTION_SPEED_RAD_S

N_OBSERVED = 9
"""Columns of what is observed: i_alpha, i_beta, angle, speed, torque, rotor loss, energy, speed of
the load, torque that the rotor delivers to the shaft."""


class Advance(Protocol):
    """A stepper of the equations of motion."""

    def __call__(
        self,
        model: CoupledModel,
        drive: RealArray,
        step_s: float,
        state: RealArray,
        out: RealArray,
    ) -> None:
        """Advance ``state`` in place by (n_drive - 1) / 2 steps.

        ``drive`` holds the rows (v_alpha, v_beta, load torque) at every half step, shape
        (2 n_steps + 1, 3); ``out`` of shape (n_out, N_OBSERVED) receives a row at the start
        of every ``n_steps / n_out``-th step.
        """


class Evaluation(NamedTuple):
    """Everything that follows from one state."""

    stator_a: RealArray
    """i_alpha, i_beta drawn from the supply, power-invariant, shape (2,)."""
    modes: RealArray
    """a, shape (N,)."""
    torque_nm: float
    rotor_loss_w: float
    energy_j: float


def evaluate(model: CoupledModel, state: RealArray) -> Evaluation:
    """Return currents, torque, loss and stored energy of ``state``."""
    if model.permeance.size:
        return _evaluate_shaped(model, state)
    angle, flux, x = state[0], state[2:4], state[4 : 4 + model.decay_per_s.size]
    d = model.gap_ripple * math.cos(angle)
    k = 1.0 + d
    s = model.response
    den = 1.0 / (1.0 + d * s)
    axes, turned = _coupling(model, angle)
    z = axes @ model.waves
    y = model.coupling @ x
    own = model.stator_inductance_h + d * model.stator_order_inductance_h
    matrix = own * np.eye(2) - k**2 * (z * (s * den)) @ z.T
    stator, drawn = _stator_currents(model, matrix, flux - k * z @ (den * y), flux)
    u = z.T @ stator
    q = den * (y - k * s * u)
    modes = x - model.coupling.T @ (k * u + d * q)
    gap = model.stator_order_inductance_h * stator @ stator + q @ q + 2.0 * u @ q
    torque = k * stator @ turned @ (model.waves @ q)
    torque -= 0.5 * model.gap_ripple * math.sin(angle) * gap
    loss = model.decay_per_s @ modes**2
    energy = _energy(model, flux, drawn) + 0.5 * modes @ x
    return Evaluation(drawn, modes, float(torque), float(loss), float(energy))


def _evaluate_shaped(model: CoupledModel, state: RealArray) -> Evaluation:
    """Return the same in a shaped gap; ``equations.shaped_gap`` states the equations."""
    angle, flux, x = state[0], state[2:4], state[4 : 4 + model.decay_per_s.size]
    operator, slope = gap_operator(model, angle)
    axes, turned = _coupling(model, angle)
    s = model.cage_response
    one = np.eye(s.shape[0])
    driven = np.column_stack(((one - s) @ axes.T, model.coupling @ x))
    solved = np.linalg.solve(one + s @ (operator - one), driven)
    per_ampere, at_rest = solved[:, :2], solved[:, 2]
    linked = axes @ operator
    rest = model.stator_inductance_h - model.stator_order_inductance_h
    matrix = rest * np.eye(2) + linked @ per_ampere
    stator, drawn = _stator_currents(model, matrix, flux - linked @ at_rest, flux)
    mmf = per_ampere @ stator + at_rest
    modes = x - model.coupling.T @ (axes.T @ stator + operator @ mmf - mmf)
    torque = stator @ turned @ operator @ mmf + 0.5 * mmf @ slope @ mmf
    loss = model.decay_per_s @ modes**2
    energy = _energy(model, flux, drawn) + 0.5 * modes @ x
    return Evaluation(drawn, modes, float(torque), float(loss), float(energy))


def _stator_currents(
    model: CoupledModel, matrix: RealArray, rest: RealArray, flux: RealArray
) -> tuple[RealArray, RealArray]:
    """Return the current that acts on the gap and the one drawn from the supply, shape (2,) each.

    ``matrix @ current = rest`` without saturation.
    """
    if not is_bent(model.bends):
        current = np.asarray(np.linalg.solve(matrix, rest), dtype=np.float64)
        return current, current
    g_a, g_b, s_a, s_b = solve_bent(
        model.bends,
        (matrix[0, 0], matrix[0, 1], matrix[1, 1]),
        (rest[0], rest[1]),
        (flux[0], flux[1]),
    )
    return np.array([g_a, g_b]), np.array([s_a, s_b])


def _energy(model: CoupledModel, flux: RealArray, drawn: RealArray) -> float:
    """Return the stored energy but for half that of cage currents times cage fluxes."""
    if is_bent(model.bends):
        return bent_energy(model.bends, (flux[0], flux[1]), (drawn[0], drawn[1]))
    return float(0.5 * drawn @ flux)


def _coupling(model: CoupledModel, angle: float) -> tuple[RealArray, RealArray]:
    """Return P(theta) and its derivative in theta, shape (2, 2H) each."""
    argument = model.orders * model.pole_pairs * angle
    a, b = model.amplitude_h * np.cos(argument), model.amplitude_h * np.sin(argument)
    axes, turned = np.empty((2, 2 * a.size)), np.empty((2, 2 * a.size))
    axes[0, 0::2], axes[0, 1::2] = a, -b
    axes[1, 0::2], axes[1, 1::2] = model.sequence * b, model.sequence * a
    rate = model.orders * model.pole_pairs
    turned[0, 0::2], turned[0, 1::2] = -rate * b, -rate * a
    turned[1, 0::2], turned[1, 1::2] = model.sequence * rate * a, -model.sequence * rate * b
    return axes, turned


class Mechanics(NamedTuple):
    """The moving side of one state."""

    acceleration: float
    load_speed: float
    load_acceleration: float
    shaft_torque_nm: float
    """What the rotor delivers to the load, or to load and shaft."""


def mechanics(model: CoupledModel, state: RealArray, torque_nm: float, load_nm: float) -> Mechanics:
    """Return accelerations and shaft torque under the air-gap torque and the load of the time."""
    speed = state[1]
    elastic = model.load_inertia_kg_m2 > 0.0
    load_speed = state[-1] if elastic else speed
    braking = load_nm + load_speed * (model.viscous_nm_s + model.quadratic_nm_s2 * abs(load_speed))
    braking += model.friction_nm * math.tanh(load_speed / FRICTION_SPEED_RAD_S)
    if not elastic:
        rate = (torque_nm - braking) / model.inertia_kg_m2
        return Mechanics(rate, load_speed, rate, braking)
    shaft = model.stiffness_nm_per_rad * state[-2] + model.damping_nm_s * (speed - load_speed)
    return Mechanics(
        (torque_nm - shaft) / model.inertia_kg_m2,
        load_speed,
        (shaft - braking) / model.load_inertia_kg_m2,
        shaft,
    )


def derivative(
    model: CoupledModel, drive: RealArray, state: RealArray
) -> tuple[RealArray, Evaluation, Mechanics]:
    """Return d state / dt and what it rests on."""
    now = evaluate(model, state)
    moving = mechanics(model, state, now.torque_nm, drive[2])
    n_modes = model.decay_per_s.size
    rate = np.empty_like(state)
    rate[0], rate[1] = state[1], moving.acceleration
    rate[2:4] = drive[:2] - model.stator_resistance_ohm * now.stator_a
    rate[4 : 4 + n_modes] = -model.decay_per_s * now.modes
    if model.load_inertia_kg_m2 > 0.0:
        rate[-2], rate[-1] = state[1] - moving.load_speed, moving.load_acceleration
    return rate, now, moving


def advance(
    model: CoupledModel,
    drive: RealArray,
    step_s: float,
    state: RealArray,
    out: RealArray,
) -> None:
    """Advance ``state`` in place, see :class:`Advance`; numpy only."""
    n_steps = (drive.shape[0] - 1) // 2
    every = n_steps // out.shape[0]
    for step in range(n_steps):
        start, middle, end = drive[2 * step : 2 * step + 3]
        k1, now, moving = derivative(model, start, state)
        if step % every == 0:
            out[step // every] = (
                *now.stator_a, state[0], state[1], now.torque_nm, now.rotor_loss_w, now.energy_j,
                moving.load_speed, moving.shaft_torque_nm,
            )  # fmt: skip
        k2, *_ = derivative(model, middle, state + 0.5 * step_s * k1)
        k3, *_ = derivative(model, middle, state + 0.5 * step_s * k2)
        k4, *_ = derivative(model, end, state + step_s * k3)
        state += step_s / 6.0 * (k1 + 2.0 * (k2 + k3) + k4)


def fastest_advance() -> tuple[Advance, str]:
    """Return the compiled stepper if numba is installed, else this one, and its name."""
    try:
        from cagewise.simulation.stepping import compiled
    except ImportError:
        return advance, "numpy"
    return compiled.advance, "numba"
