"""The off-line test: impedance of a pair of terminals against the position of the rotor at rest.

At rest every winding harmonic meets the cage at the test frequency, so the impedance is a quadratic
form in the waves of the winding, ``Z = 2 (R_s + j w L_s) + w^2 c(theta)' Y c(theta)``, and its
Fourier series in the rotor angle is known in closed form. Derivation:
``docs/theory/cage-standstill.md``.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from cagewise.machine.cage.damage import Damage
from cagewise.machine.cage.meshes import CageMeshes, per_draw
from cagewise.machine.cage.model import CageModel
from cagewise.quantities import ComplexArray, RealArray

SHIFT_OF_THE_NEXT_PAIR_RAD = 2.0 * math.pi / 3.0
"""Terminals b-c show the pattern of a-b a third of a pole pair later, c-a two thirds."""
_CURRENT_VECTOR = 2.0 / math.sqrt(3.0) * complex(math.cos(-math.pi / 6.0), math.sin(-math.pi / 6.0))
"""Space vector of a unit current in at terminal a and out at b."""


@dataclass(frozen=True, slots=True)
class PositionPattern:
    """Impedance of terminals a-b against the electrical rotor angle, as a Fourier series.

    ``Z(theta) = sum_q Z_q exp(j q theta)``; q is even. Shapes (n_draws, ...).
    """

    frequency_hz: float
    """Of the test."""
    orders: NDArray[np.int64]
    """q, ascending and symmetrical about 0, shape (n_orders,)."""
    terms_ohm: ComplexArray
    """Z_q, shape (n_draws, n_orders)."""

    @property
    def mean_ohm(self) -> ComplexArray:
        """Mean over a turn of the rotor, shape (n_draws,)."""
        return self.terms_ohm[:, self.orders.size // 2]

    @property
    def mean_inductance_h(self) -> RealArray:
        """Mean inductance of the pair of terminals, shape (n_draws,)."""
        return np.asarray(self.mean_ohm.imag / (2.0 * math.pi * self.frequency_hz))

    def at(self, angle_rad: RealArray) -> ComplexArray:
        """Return Z at electrical angles (n_angles,), shape (n_draws, n_angles)."""
        waves = np.exp(1j * np.outer(self.orders, np.asarray(angle_rad, dtype=np.float64)))
        return np.asarray(self.terms_ohm @ waves)

    def resistance_amplitude_ohm(self, order: int) -> RealArray:
        """Return the amplitude of one order in R(theta), shape (n_draws,)."""
        up, down = self._both(order)
        return np.abs(up + down.conj())

    def inductance_amplitude_h(self, order: int) -> RealArray:
        """Return the amplitude of one order in L(theta), shape (n_draws,)."""
        up, down = self._both(order)
        return np.asarray(np.abs(up - down.conj()) / (2.0 * math.pi * self.frequency_hz))

    def _both(self, order: int) -> tuple[ComplexArray, ComplexArray]:
        """Return Z_q and Z_-q; zero where no such order exists."""
        where = np.flatnonzero(self.orders == abs(order))
        if not where.size:
            nothing = np.zeros(self.terms_ohm.shape[0], dtype=np.complex128)
            return nothing, nothing
        place = int(where[0])
        return self.terms_ohm[:, place], self.terms_ohm[:, -1 - place]


def position_pattern(model: CageModel, damage: Damage, frequency_hz: float) -> PositionPattern:
    """Return the impedance of two terminals of the machine at rest.

    Parameters
    ----------
    model
        Its winding orders decide which slot ripple is seen (order n/p needs n/p - 1 or n/p + 1).
    damage
        Of the cage.
    frequency_hz
        Of the test voltage; bars without skin effect are assumed.

    Raises
    ------
    InputError
        If the damage does not fit the cage.
    """
    omega = 2.0 * math.pi * frequency_hz
    orders = np.array((*model.orders, *(-v for v in model.orders)))
    half = 0.75 * np.atleast_2d(np.asarray(model.mutual_h, dtype=np.float64))
    waves = np.concatenate([half * _CURRENT_VECTOR, half * _CURRENT_VECTOR.conjugate()], axis=-1)
    draws = np.broadcast_arrays(
        np.atleast_1d(model.stator_resistance_ohm), np.atleast_1d(model.bar_resistance_ohm)
    )[0].size
    meshes = CageMeshes(model, damage, tuple(int(v) for v in orders))
    answer = meshes.response(np.full(draws, omega))
    # what is collected as exp(+j nu p alpha) belongs to the wave of order -nu: the conjugate one
    products = omega**2 * waves.conj()[..., :, np.newaxis] * answer * waves[..., np.newaxis, :]
    reactance = 1j * omega * per_draw(model.stator_inductance_h, 1)
    own = 2.0 * (per_draw(model.stator_resistance_ohm, 1) + reactance).astype(np.complex128)
    return _series(products, np.subtract.outer(orders, orders), own, frequency_hz)


def _series(
    products: ComplexArray, order: NDArray[np.int64], own: ComplexArray, frequency_hz: float
) -> PositionPattern:
    """Return the series: products of equal order added, the stator's own part in the mean."""
    highest = int(order.max())
    orders = np.arange(-highest, highest + 1, 2)
    belongs = (order.ravel()[:, np.newaxis] == orders).astype(np.float64)
    terms = products.reshape((products.shape[0], -1)) @ belongs
    terms[:, orders.size // 2] += own
    return PositionPattern(frequency_hz, orders, terms)
