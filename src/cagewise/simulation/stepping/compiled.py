"""Runge-Kutta steps of the coupled model, compiled; :mod:`.runge_kutta` states the equations.

Imported only where numba is installed. The loops are written out because each is a few dozen long:
calling a library for them costs more than the arithmetic.

Which physics a kernel contains is decided by the type of its model when it is compiled: handing on
the arrays of another physics, even empty ones, would cost the plain machine a third of its speed.
"""

from __future__ import annotations

import math
from collections import namedtuple
from collections.abc import Callable
from pathlib import Path
from typing import Any, NamedTuple, cast

import numpy as np
from numba.extending import overload

from cagewise.quantities import RealArray
from cagewise.simulation.equations.model import CoupledModel
from cagewise.simulation.plant.load import FRICTION_SPEED_RAD_S
from cagewise.simulation.stepping.compiled_bent import solve_stator, stator_energy
from cagewise.simulation.stepping.compiled_shaped import GapWork, gap_work, shaped_currents
from cagewise.simulation.stepping.compiling import compiled, fingerprint, kept

_OF_A_SHAPED_GAP = ("wave_numbers", "permeance", "cage_response")
_PLAIN = tuple(name for name in CoupledModel._fields if name not in _OF_A_SHAPED_GAP)
PlainModel = namedtuple("PlainModel", _PLAIN)  # type: ignore[misc]  # noqa: PYI024  # computed
"""The model without what only a shaped gap needs."""


class ShapedWork(NamedTuple):
    """Space for one evaluation in a shaped gap."""

    current: RealArray
    """Currents of the modes, shape (N,)."""
    gap: GapWork


class Work(NamedTuple):
    """Space for the intermediate results of one evaluation."""

    axes: RealArray
    """P(theta) in cos and sin of each order, alpha then beta, shape (2, 2H)."""
    coupling: RealArray
    """P B, shape (2, 2H)."""
    linked: RealArray
    """W' x, then the waves' fluxes q, shape (2H,)."""
    current: RealArray
    """Currents of the modes, shape (N,)."""


@compiled
def _couple(model: CoupledModel, angle: float, work: Work) -> None:
    """Fill the coupling of the stator axes with the waves at rotor ``angle``."""
    electrical = model.pole_pairs * angle
    cosine, sine = math.cos(electrical), math.sin(electrical)
    c2, s2 = cosine * cosine - sine * sine, 2.0 * sine * cosine
    order = 1.0
    n_waves = 2 * model.orders.size
    for row in range(model.orders.size):
        while order < model.orders[row]:
            cosine, sine = cosine * c2 - sine * s2, sine * c2 + cosine * s2
            order += 2.0
        a, b = model.amplitude_h[row] * cosine, model.amplitude_h[row] * sine
        work.axes[0, 2 * row], work.axes[0, 2 * row + 1] = a, -b
        work.axes[1, 2 * row] = model.sequence[row] * b
        work.axes[1, 2 * row + 1] = model.sequence[row] * a
    for axis in range(2):
        for wave in range(n_waves):
            work.coupling[axis, wave] = 0.0
        for part in range(n_waves):
            value = work.axes[axis, part]
            for wave in range(n_waves):
                work.coupling[axis, wave] += value * model.waves[part, wave]


@compiled
def _stator_current(
    model: CoupledModel, state: RealArray, ripple: float, work: Work
) -> tuple[float, float, float, float]:
    """Solve for the stator currents (gap, drawn) and leave ``W' x`` in ``work.linked``."""
    factor = 1.0 + ripple
    own = model.stator_inductance_h + ripple * model.stator_order_inductance_h
    aa, ab, bb = own, 0.0, own
    a, b = state[2], state[3]
    for wave in range(model.response.size):
        total = 0.0
        for mode in range(model.decay_per_s.size):
            total += model.coupling[wave, mode] * state[4 + mode]
        work.linked[wave] = total
        share = factor / (1.0 + ripple * model.response[wave])
        za, zb = work.coupling[0, wave], work.coupling[1, wave]
        weight = factor * share * model.response[wave]
        aa -= weight * za * za
        ab -= weight * za * zb
        bb -= weight * zb * zb
        a -= share * za * total
        b -= share * zb * total
    return solve_stator(model.bends, (aa, ab, bb), (a, b), (state[2], state[3]))


@compiled
def _rotor_current(
    model: CoupledModel, state: RealArray, ripple: float, stator: tuple[float, float], work: Work
) -> None:
    """Fill the waves' linkages ``q`` and the currents of the modes."""
    factor = 1.0 + ripple
    for mode in range(model.decay_per_s.size):
        work.current[mode] = state[4 + mode]
    for wave in range(model.response.size):
        u = stator[0] * work.coupling[0, wave] + stator[1] * work.coupling[1, wave]
        s = model.response[wave]
        q = (work.linked[wave] - factor * s * u) / (1.0 + ripple * s)
        work.linked[wave] = q
        drive = factor * u + ripple * q
        for mode in range(model.decay_per_s.size):
            work.current[mode] -= model.coupling[wave, mode] * drive


@compiled
def _torque(model: CoupledModel, angle: float, stator: tuple[float, float], work: Work) -> float:
    """Return 1/2 i' dL/dtheta i."""
    ripple = model.gap_ripple * math.cos(angle)
    turning, gap = 0.0, 0.0
    for row in range(model.orders.size):
        q_cos, q_sin = 0.0, 0.0
        for wave in range(model.response.size):
            q_cos += model.waves[2 * row, wave] * work.linked[wave]
            q_sin += model.waves[2 * row + 1, wave] * work.linked[wave]
        cross = stator[0] * work.axes[0, 2 * row + 1] + stator[1] * work.axes[1, 2 * row + 1]
        along = stator[0] * work.axes[0, 2 * row] + stator[1] * work.axes[1, 2 * row]
        turning += model.orders[row] * (cross * q_cos - along * q_sin)
    turning *= model.pole_pairs * (1.0 + ripple)
    if model.gap_ripple == 0.0:
        return turning
    for wave in range(model.response.size):
        u = stator[0] * work.coupling[0, wave] + stator[1] * work.coupling[1, wave]
        gap += work.linked[wave] * (work.linked[wave] + 2.0 * u)
    gap += model.stator_order_inductance_h * (stator[0] ** 2 + stator[1] ** 2)
    return turning - 0.5 * model.gap_ripple * math.sin(angle) * gap


def _currents(model: CoupledModel, state: RealArray, work: Work) -> tuple[float, float, float]:
    """Fill the currents of the modes; return stator currents and torque."""
    raise NotImplementedError


@overload(_currents, strict=False)
def _currents_of(model: Any, state: Any, work: Any) -> Callable[..., Any]:  # noqa: ANN401, ARG001  # numba types
    """Return the evaluation that suits the type of the model."""

    def of_a_round_gap(
        model: CoupledModel, state: RealArray, work: Work
    ) -> tuple[float, float, float]:
        ripple = model.gap_ripple * math.cos(state[0])
        _couple(model, state[0], work)
        gap_a, gap_b, stator_a, stator_b = _stator_current(model, state, ripple, work)
        stator = (gap_a, gap_b)
        _rotor_current(model, state, ripple, stator, work)
        return stator_a, stator_b, _torque(model, state[0], stator, work)

    def of_a_shaped_gap(
        model: CoupledModel, state: RealArray, work: ShapedWork
    ) -> tuple[float, float, float]:
        return shaped_currents(model, state, work.current, work.gap)

    return of_a_shaped_gap if model.instance_class is CoupledModel else of_a_round_gap


def _work(model: CoupledModel) -> Work:
    """Return the space that the model needs."""
    raise NotImplementedError


@overload(_work, strict=False)
def _work_of(model: Any) -> Callable[..., Any]:  # noqa: ANN401  # a numba type
    """Return what makes the space that suits the type of the model."""

    def of_a_round_gap(model: CoupledModel) -> Work:
        n_waves, n_modes = model.response.size, model.decay_per_s.size
        axes, coupling = np.zeros((2, n_waves)), np.zeros((2, n_waves))
        return Work(axes, coupling, np.zeros(n_waves), np.zeros(n_modes))

    def of_a_shaped_gap(model: CoupledModel) -> ShapedWork:
        return ShapedWork(np.zeros(model.decay_per_s.size), gap_work(model))

    return of_a_shaped_gap if model.instance_class is CoupledModel else of_a_round_gap


@compiled
def _move(
    model: CoupledModel, state: RealArray, torque: float, load: float, rate: RealArray
) -> float:
    """Fill the accelerations (and the rate of twist); return the torque into the shaft."""
    speed, last = state[1], state.size - 1
    elastic = model.load_inertia_kg_m2 > 0.0
    load_speed: float = state[last] if elastic else speed
    braking = load + load_speed * (model.viscous_nm_s + model.quadratic_nm_s2 * abs(load_speed))
    if model.friction_nm != 0.0:
        braking += model.friction_nm * math.tanh(load_speed / FRICTION_SPEED_RAD_S)
    if not elastic:
        rate[1] = (torque - braking) / model.inertia_kg_m2
        return braking
    shaft: float = model.stiffness_nm_per_rad * state[last - 1]
    shaft += model.damping_nm_s * (speed - load_speed)
    rate[1] = (torque - shaft) / model.inertia_kg_m2
    rate[last - 1] = speed - load_speed
    rate[last] = (shaft - braking) / model.load_inertia_kg_m2
    return shaft


@compiled
def derivative(
    model: CoupledModel,
    drive: RealArray,
    state: RealArray,
    rate: RealArray,
    work: Work,
) -> tuple[float, float, float, float]:
    """Fill ``rate`` with d state / dt; return stator currents, torque and torque to the shaft."""
    stator_a, stator_b, torque = _currents(model, state, work)
    shaft = _move(model, state, torque, drive[2], rate)
    rate[0] = state[1]
    rate[2] = drive[0] - model.stator_resistance_ohm * stator_a
    rate[3] = drive[1] - model.stator_resistance_ohm * stator_b
    for mode in range(model.decay_per_s.size):
        rate[4 + mode] = -model.decay_per_s[mode] * work.current[mode]
    return stator_a, stator_b, torque, shaft


@compiled
def _observe(
    model: CoupledModel,
    state: RealArray,
    seen: tuple[float, float, float, float],
    work: Work,
    out: RealArray,
) -> None:
    """Write one row, see :data:`~cagewise.simulation.stepping.runge_kutta.N_OBSERVED`."""
    loss, energy = 0.0, 2.0 * stator_energy(model.bends, state, seen[0], seen[1])
    for mode in range(model.decay_per_s.size):
        loss += model.decay_per_s[mode] * work.current[mode] ** 2
        energy += work.current[mode] * state[4 + mode]
    out[0], out[1], out[2], out[3] = seen[0], seen[1], state[0], state[1]
    out[4], out[5], out[6] = seen[2], loss, 0.5 * energy
    out[7] = state[state.size - 1] if model.load_inertia_kg_m2 > 0.0 else state[1]
    out[8] = seen[3]


@compiled
def _step(
    model: CoupledModel,
    drive: RealArray,
    step_s: float,
    state: RealArray,
    rates: RealArray,
    work: Work,
) -> None:
    """Finish the step whose first rate is in ``rates[0]``; ``rates[4]`` holds the trial state."""
    trial = rates[4]
    for stage in range(1, 4):
        share = step_s if stage == 3 else 0.5 * step_s
        for k in range(state.size):
            trial[k] = state[k] + share * rates[stage - 1, k]
        derivative(model, drive[(stage + 1) // 2], trial, rates[stage], work)
    for k in range(state.size):
        total = rates[0, k] + 2.0 * (rates[1, k] + rates[2, k]) + rates[3, k]
        state[k] += step_s / 6.0 * total


def _kernel(sources: int) -> Callable[[CoupledModel, RealArray, float, RealArray, RealArray], int]:
    """Return the kernel, kept between runs under the fingerprint of its sources."""

    @kept
    def kernel(
        model: CoupledModel, drive: RealArray, step_s: float, state: RealArray, out: RealArray
    ) -> int:
        """Advance ``state``; return the fingerprint of what was compiled."""
        work = _work(model)
        rates = np.zeros((5, state.size))
        n_steps = (drive.shape[0] - 1) // 2
        every = n_steps // out.shape[0]
        for step in range(n_steps):
            now = drive[2 * step : 2 * step + 3]
            seen = derivative(model, now[0], state, rates[0], work)
            if step % every == 0:
                _observe(model, state, seen, work, out[step // every])
            _step(model, now, step_s, state, rates, work)
        return sources

    return kernel


SOURCES = Path(__file__).resolve().parents[1]
"""Folder of everything that the kernel contains: the simulation."""

_advance = _kernel(fingerprint(SOURCES))


def lean(model: CoupledModel) -> CoupledModel:
    """Return the model without the fields of a shaped gap, unless it has one."""
    if model.permeance.size:
        return model
    return cast("CoupledModel", PlainModel(*(getattr(model, name) for name in _PLAIN)))


def advance(
    model: CoupledModel,
    drive: RealArray,
    step_s: float,
    state: RealArray,
    out: RealArray,
) -> None:
    """Advance ``state`` in place; see :class:`cagewise.simulation.stepping.runge_kutta.Advance`."""
    _advance(lean(model), drive, step_s, state, out)
