"""Currents and torque in a shaped gap, compiled; ``equations.shaped_gap`` states them."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from cagewise.quantities import RealArray
from cagewise.simulation.equations.model import CoupledModel
from cagewise.simulation.stepping.compiled_bent import solve_stator
from cagewise.simulation.stepping.compiling import compiled


class GapWork(NamedTuple):
    """Space for the intermediate results of one evaluation; V numbers of wave pairs."""

    series: RealArray
    """Real and imaginary part of the permeance's orders, then of their slopes, shape (4, M)."""
    poleless: RealArray
    """Means of permeance times wave, and of their slopes, shape (2, 2V)."""
    operator: RealArray
    """M - 1, shape (2V, 2V)."""
    axes: RealArray
    """U transposed: both stator axes, then their slopes, shape (4, 2V)."""
    driven: RealArray
    """Right-hand sides: two axes and the cage, shape (2V, 3)."""
    mmf: RealArray
    """f, shape (2V,)."""


@compiled
def gap_work(model: CoupledModel) -> GapWork:
    """Return the space that a model needs; next to nothing without a shaped gap."""
    n = model.wave_numbers.size
    highest = 1
    for k in range(n):
        highest = max(highest, 2 * model.wave_numbers[k] + 1)
    return GapWork(
        np.zeros((4, highest)),
        np.zeros((2, 2 * n)),
        np.zeros((2 * n, 2 * n)),
        np.zeros((4, 2 * n)),
        np.zeros((2 * n, 3)),
        np.zeros(2 * n),
    )


@compiled
def _fill_series(model: CoupledModel, angle: float, work: GapWork) -> None:
    """Fill the orders of the permeance at this angle, their slopes, and the poleless means."""
    highest = (model.permeance.shape[1] - 1) // 2
    work.series[:, :] = 0.0
    n_orders = min(model.permeance.shape[0], work.series.shape[1])
    for column in range(model.permeance.shape[1]):
        k = column - highest
        turn = complex(math.cos(k * angle), math.sin(k * angle))
        for m in range(n_orders):
            part = model.permeance[m, column] * turn
            work.series[0, m] += part.real
            work.series[1, m] += part.imag
            work.series[2, m] -= k * part.imag
            work.series[3, m] += k * part.real
    for row in range(model.wave_numbers.size):
        m = model.wave_numbers[row]
        for slope in range(2):
            work.poleless[slope, 2 * row] = work.series[2 * slope, m]
            work.poleless[slope, 2 * row + 1] = -work.series[2 * slope + 1, m]


@compiled
def _fill_operator(model: CoupledModel, work: GapWork) -> None:
    """Fill M - 1: multiplication by the permeance less its poleless share."""
    series = work.series
    for a in range(model.wave_numbers.size):
        for b in range(model.wave_numbers.size):
            difference = model.wave_numbers[a] - model.wave_numbers[b]
            sign = 1.0 if difference >= 0 else -1.0
            apart_re, apart_im = series[0, abs(difference)], sign * series[1, abs(difference)]
            m = model.wave_numbers[a] + model.wave_numbers[b]
            work.operator[2 * a, 2 * b] = apart_re + series[0, m]
            work.operator[2 * a + 1, 2 * b + 1] = apart_re - series[0, m]
            work.operator[2 * a, 2 * b + 1] = apart_im - series[1, m]
            work.operator[2 * a + 1, 2 * b] = -apart_im - series[1, m]
    weight = 2.0 / series[0, 0]
    for a in range(work.mmf.size):
        work.operator[a, a] -= 1.0
        for b in range(work.mmf.size):
            work.operator[a, b] -= weight * work.poleless[0, a] * work.poleless[0, b]


@compiled
def _fill_axes(model: CoupledModel, angle: float, work: GapWork) -> None:
    """Fill U and its slope in the angle."""
    for row in range(model.wave_numbers.size):
        number = float(model.wave_numbers[row])
        a = model.amplitude_h[row] * math.cos(number * angle)
        b = model.amplitude_h[row] * math.sin(number * angle)
        sequence = model.sequence[row]
        work.axes[0, 2 * row], work.axes[0, 2 * row + 1] = a, -b
        work.axes[1, 2 * row], work.axes[1, 2 * row + 1] = sequence * b, sequence * a
        work.axes[2, 2 * row], work.axes[2, 2 * row + 1] = -number * b, -number * a
        work.axes[3, 2 * row] = sequence * number * a
        work.axes[3, 2 * row + 1] = -sequence * number * b


@compiled
def _fill_driven(model: CoupledModel, state: RealArray, work: GapWork) -> None:
    """Fill (1 - S) U and W' x."""
    n = work.mmf.size
    for a in range(n):
        for axis in range(2):
            total = work.axes[axis, a]
            for b in range(n):
                total -= model.cage_response[a, b] * work.axes[axis, b]
            work.driven[a, axis] = total
        linked = 0.0
        for mode in range(model.decay_per_s.size):
            linked += model.coupling[a, mode] * state[4 + mode]
        work.driven[a, 2] = linked


@compiled
def _stator_currents(
    model: CoupledModel, state: RealArray, solved: RealArray, work: GapWork
) -> tuple[float, float, float, float]:
    """Solve for the stator currents (gap, drawn) from the mmf waves per ampere and without."""
    rest = model.stator_inductance_h - model.stator_order_inductance_h
    aa, ab, bb = rest, 0.0, rest
    a, b = state[2], state[3]
    n = work.mmf.size
    for row in range(n):
        linked_a, linked_b = work.axes[0, row], work.axes[1, row]
        for wave in range(n):
            linked_a += work.axes[0, wave] * work.operator[wave, row]
            linked_b += work.axes[1, wave] * work.operator[wave, row]
        aa += linked_a * solved[row, 0]
        ab += linked_a * solved[row, 1]
        bb += linked_b * solved[row, 1]
        a -= linked_a * solved[row, 2]
        b -= linked_b * solved[row, 2]
    return solve_stator(model.bends, (aa, ab, bb), (a, b), (state[2], state[3]))


@compiled
def _slope_form(model: CoupledModel, work: GapWork) -> float:
    """Return f' (dM/dtheta) f."""
    series, mmf = work.series, work.mmf
    total, poleless, poleless_slope = 0.0, 0.0, 0.0
    for a in range(model.wave_numbers.size):
        ca, sa = mmf[2 * a], mmf[2 * a + 1]
        for b in range(model.wave_numbers.size):
            cb, sb = mmf[2 * b], mmf[2 * b + 1]
            difference = model.wave_numbers[a] - model.wave_numbers[b]
            sign = 1.0 if difference >= 0 else -1.0
            apart_re, apart_im = series[2, abs(difference)], sign * series[3, abs(difference)]
            m = model.wave_numbers[a] + model.wave_numbers[b]
            total += apart_re * (ca * cb + sa * sb) + apart_im * (ca * sb - sa * cb)
            total += series[2, m] * (ca * cb - sa * sb) - series[3, m] * (ca * sb + sa * cb)
    for a in range(mmf.size):
        poleless += work.poleless[0, a] * mmf[a]
        poleless_slope += work.poleless[1, a] * mmf[a]
    total -= 4.0 / series[0, 0] * poleless * poleless_slope
    of_mean = 2.0 * series[2, 0] / series[0, 0] ** 2 * poleless**2
    result: float = total + of_mean
    return result


@compiled
def shaped_currents(
    model: CoupledModel, state: RealArray, current: RealArray, work: GapWork
) -> tuple[float, float, float]:
    """Fill the currents of the modes; return stator currents and torque."""
    angle, n = state[0], work.mmf.size
    _fill_series(model, angle, work)
    _fill_operator(model, work)
    _fill_axes(model, angle, work)
    _fill_driven(model, state, work)
    matrix = np.dot(model.cage_response, work.operator)
    for a in range(n):
        matrix[a, a] += 1.0
    solved: RealArray = np.linalg.solve(matrix, work.driven)  # type: ignore[assignment]  # float64
    i_a, i_b, drawn_a, drawn_b = _stator_currents(model, state, solved, work)
    for mode in range(current.size):
        current[mode] = state[4 + mode]
    for a in range(n):
        work.mmf[a] = solved[a, 0] * i_a + solved[a, 1] * i_b + solved[a, 2]
    torque = 0.5 * _slope_form(model, work)
    for a in range(n):
        drive = work.axes[0, a] * i_a + work.axes[1, a] * i_b
        flux = work.mmf[a]
        for b in range(n):
            flux += work.operator[a, b] * work.mmf[b]
        torque += (work.axes[2, a] * i_a + work.axes[3, a] * i_b) * flux
        drive += flux - work.mmf[a]
        for mode in range(current.size):
            current[mode] -= model.coupling[a, mode] * drive
    return drawn_a, drawn_b, torque
