"""The coupled model in a gap of any shape: modified winding functions over a set of waves.

With ``f`` the mmf waves (cos and sin of every wave number), the gap holds the energy
``pi K f' M f / 2``, where ``M`` is multiplication by the permeance less the share of the field
without poles. In modes of the cage (uniform gap) and waves scaled by ``sqrt(pi K)``::

    f = u + W' a,  u = U(theta) i_s,  x = a + W (u + (M - 1) f),  l_s = L_rest i_s + U' M f

so ``(1 + S (M - 1)) f = (1 - S) u + W' x`` with ``S = W' W``. Derivation:
``docs/theory/simulation.md``.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from cagewise.quantities import ComplexArray, RealArray
from cagewise.simulation.equations.model import (
    CoupledModel,
    cage_modes,
    excited_modes,
    order_waves,
    stator_axis_inductance_h,
)
from cagewise.simulation.machine.damage import Damage, Eccentricity
from cagewise.simulation.machine.geometry import (
    MachineGeometry,
    mesh_winding_amplitude,
    skew_factor,
    stator_winding_amplitude,
)
from cagewise.simulation.machine.permeance import GapShape, wave_numbers


def assemble_shaped(
    geometry: MachineGeometry, damage: Damage, eccentricity: Eccentricity, shape: GapShape
) -> CoupledModel:
    """Return the coupled model of a machine in this gap."""
    damage.check(geometry.rotor_bars)
    mean, permeance = shape.series(eccentricity)
    geometry = replace(geometry, gap_m=geometry.gap_m / mean)
    p = geometry.pole_pairs
    winding = tuple(order * p for order in geometry.orders)
    numbers = wave_numbers(winding, shape.orders(eccentricity), shape.reach)
    orders = np.array(numbers) / p
    skew = np.array([skew_factor(geometry, order) for order in orders])
    root = math.sqrt(math.pi * geometry.permeance_h)
    stator = np.array([_stator_turns(geometry, wave) for wave in numbers])
    mesh = np.array([mesh_winding_amplitude(geometry, order) for order in orders])
    modes, decay = cage_modes(geometry, damage)
    of_cage = np.repeat(root * mesh * np.sign(skew) * np.sqrt(np.abs(skew)), 2)
    coupling = of_cage[:, None] * (order_waves(geometry, orders) @ modes)
    excited = excited_modes(coupling)
    coupling = np.ascontiguousarray(coupling[:, excited])
    response = coupling @ coupling.T
    amplitude = root * math.sqrt(1.5) * stator * np.sqrt(np.abs(skew))
    return CoupledModel(
        pole_pairs=float(p),
        stator_resistance_ohm=geometry.stator_resistance_ohm,
        stator_inductance_h=stator_axis_inductance_h(geometry),
        stator_order_inductance_h=float(amplitude @ amplitude),
        gap_ripple=0.0,
        inertia_kg_m2=geometry.inertia_kg_m2,
        orders=orders,
        sequence=np.array([1.0 if round(order) % 3 == 1 else -1.0 for order in orders]),
        amplitude_h=amplitude,
        waves=np.eye(2 * orders.size),
        response=np.ascontiguousarray(np.diag(response)),
        coupling=coupling,
        decay_per_s=np.ascontiguousarray(decay[excited]),
        wave_numbers=np.array(numbers, dtype=np.int64),
        permeance=permeance,
        cage_response=np.ascontiguousarray(response),
    )


def _stator_turns(geometry: MachineGeometry, wave: int) -> float:
    """Return the winding amplitude of a phase in this number of wave pairs; 0 if it has none."""
    order, rest = divmod(wave, geometry.pole_pairs)
    coupled = rest == 0 and order in geometry.orders
    return stator_winding_amplitude(geometry, order) if coupled else 0.0


def gap_operator(model: CoupledModel, angle: float) -> tuple[RealArray, RealArray]:
    """Return ``M`` at rotor ``angle`` and its derivative, shape (2V, 2V) each."""
    highest = (model.permeance.shape[1] - 1) // 2
    k = np.arange(-highest, highest + 1)
    turn = np.exp(1j * k * angle)
    beyond = 2 * int(model.wave_numbers.max()) + 1
    value, slope = np.zeros(beyond, dtype=complex), np.zeros(beyond, dtype=complex)
    n = min(beyond, model.permeance.shape[0])
    value[:n] = (model.permeance @ turn)[:n]
    slope[:n] = (model.permeance @ (1j * k * turn))[:n]
    poleless, poleless_slope = (_poleless(model, series) for series in (value, slope))
    mean, mean_slope = value[0].real, slope[0].real
    operator = _multiplication(model, value) - 2.0 / mean * np.outer(poleless, poleless)
    cross = np.outer(poleless_slope, poleless)
    derivative = _multiplication(model, slope) - 2.0 / mean * (cross + cross.T)
    derivative += 2.0 * mean_slope / mean**2 * np.outer(poleless, poleless)
    return operator, derivative


def _multiplication(model: CoupledModel, series: ComplexArray) -> RealArray:
    """Return multiplication by a series (orders 0, 1, ...) over the cos and sin waves."""
    number = model.wave_numbers
    difference = number[:, None] - number[None, :]
    apart = series[np.abs(difference)]
    apart = np.where(difference < 0, np.conj(apart), apart)
    together = series[number[:, None] + number[None, :]]
    matrix = np.empty((2 * number.size, 2 * number.size))
    matrix[0::2, 0::2] = apart.real + together.real
    matrix[1::2, 1::2] = apart.real - together.real
    matrix[0::2, 1::2] = apart.imag - together.imag
    matrix[1::2, 0::2] = -apart.imag - together.imag
    return matrix


def _poleless(model: CoupledModel, series: ComplexArray) -> RealArray:
    """Return the mean of series times each wave, over half its norm."""
    means = np.empty(2 * model.wave_numbers.size)
    means[0::2] = series[model.wave_numbers].real
    means[1::2] = -series[model.wave_numbers].imag
    return means
