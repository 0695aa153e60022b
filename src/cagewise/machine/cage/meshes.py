"""How a damaged cage answers: mesh currents for mesh voltages at one rotor frequency.

The healthy cage is the same in every mesh, so its equations are a chain
``alpha i_k + Z_b (2 i_k - i_(k-1) - i_(k+1)) = u_k`` with ``alpha = 2 Z_e + j gamma K a_r``. It is
diagonal in the patterns ``exp(j m a_r k)``, and its answer to a voltage in one mesh decays with the
distance like ``q^d``, where ``q + 1/q = 2 + alpha / Z_b``. Damage adds as many unknown voltages as
there are damaged elements. Derivation: ``docs/theory/cage-harmonic-solution.md``.
"""

from __future__ import annotations

import numpy as np

from cagewise.machine.cage.damage import Conditions, Damage
from cagewise.machine.cage.model import CageModel
from cagewise.quantities import ComplexArray, RealArray


def per_draw(values: RealArray | float, axes: int) -> RealArray:
    """Return values of shape () or (n_draws,) with ``axes`` axes, the first one the draws."""
    flat = np.atleast_1d(np.asarray(values, dtype=np.float64))
    return flat.reshape(flat.shape + (1,) * (axes - 1))


class CageMeshes:
    """The meshes of a damaged cage, seen through waves ``exp(j nu p alpha_k)`` of signed orders."""

    def __init__(self, model: CageModel, damage: Damage, orders: tuple[int, ...]) -> None:
        self._model = model
        self._conditions = damage.conditions(model.rotor_bars)
        self._harmonics = np.array(orders) * model.pole_pairs
        self._alias = _aliases(self._harmonics, model.rotor_bars)
        self._chord = 2.0 * (1.0 - np.cos(self._harmonics * model.bar_angle_rad))
        centres = (np.arange(model.rotor_bars) + 0.5) * model.bar_angle_rad
        waves = np.exp(1j * np.outer(self._harmonics, centres))
        waves[self._harmonics % model.rotor_bars == 0] = 0.0
        self._seen = waves @ self._conditions.meshes.T
        self._distances = _Distances(self._conditions)

    def response(self, gamma: RealArray) -> ComplexArray:
        """Return what each wave collects of the currents that each wave of voltage drives.

        Parameters
        ----------
        gamma
            Rotor frequency in rad/s, shape (n_draws, ...); not zero.

        Returns
        -------
        ComplexArray
            ``sum_k exp(j nu p alpha_k) i_k`` for unit voltages ``exp(-j nu' p alpha_k)``, in
            siemens, shape (n_draws, ..., n_orders, n_orders).
        """
        bar, chain = self._impedances(gamma)
        admittance = 1.0 / (chain[..., np.newaxis] + self._chord * bar[..., np.newaxis])
        healthy = self._alias * admittance[..., np.newaxis, :]
        if not self._seen.shape[1]:
            return np.asarray(healthy)
        seen = admittance[..., np.newaxis] * self._seen
        driven = admittance[..., np.newaxis] * self._seen.conj()
        voltages = np.linalg.solve(self._elements(gamma, bar, chain), driven.swapaxes(-1, -2))
        return np.asarray(healthy - seen @ voltages)

    def _impedances(self, gamma: RealArray) -> tuple[ComplexArray, ComplexArray]:
        """Return Z_b and alpha, shape of ``gamma``."""
        m, axes = self._model, gamma.ndim
        bar = per_draw(m.bar_resistance_ohm, axes) + 1j * gamma * per_draw(m.bar_inductance_h, axes)
        ring = per_draw(m.ring_resistance_ohm, axes)
        ring = ring + 1j * gamma * per_draw(m.ring_inductance_h, axes)
        gap = 1j * gamma * per_draw(m.gap_inductance_h, axes)
        return np.asarray(bar), np.asarray(2.0 * ring + gap)

    def _elements(self, gamma: RealArray, bar: ComplexArray, chain: ComplexArray) -> ComplexArray:
        """Return the matrix between currents and voltages of the damaged elements."""
        m, conditions, axes = self._model, self._conditions, gamma.ndim
        n = m.rotor_bars
        matrix = self._distances.between_elements(_decay(bar, chain, n, self._distances.values))
        if conditions.in_ring.any():
            ring = 0.5 * (chain - 1j * gamma * per_draw(m.gap_inductance_h, axes))
            loop = (1.0 / ring - 1.0 / chain) / n
            both = np.outer(conditions.in_ring, conditions.in_ring)
            matrix = matrix + both * loop[..., np.newaxis, np.newaxis]
        extra = np.diag(conditions.conductance)
        return np.asarray(matrix + extra / per_draw(m.bar_resistance_ohm, axes + 2))


class _Distances:
    """Which meshes the damaged elements touch, and how far these are apart."""

    def __init__(self, conditions: Conditions) -> None:
        n = conditions.meshes.shape[1]
        touched = np.flatnonzero(np.any(conditions.meshes != 0.0, axis=0))
        apart = np.abs(np.subtract.outer(touched, touched))
        self.values, self._which = np.unique(np.minimum(apart, n - apart), return_inverse=True)
        self._share = conditions.meshes[:, touched]

    def between_elements(self, answers: ComplexArray) -> ComplexArray:
        """Return the matrix of elements from answers at each distance, shape (..., n_values)."""
        between_meshes = answers[..., self._which.reshape(2 * (self._share.shape[1],))]
        return np.asarray(self._share @ between_meshes @ self._share.T)


def _decay(bar: ComplexArray, chain: ComplexArray, n: int, distances: RealArray) -> ComplexArray:
    """Return the current at some distances from a unit voltage in one mesh of a ring of n."""
    half = chain / (2.0 * bar)
    # the principal root lies within 90 degrees of 1 + half, so |q| < 1
    inner = 1.0 / (1.0 + half + np.sqrt(half * (half + 2.0)))
    logarithm = np.log(inner)[..., np.newaxis]
    forth = np.exp(logarithm * distances)
    back = np.exp(logarithm * (n - distances))
    around = 1.0 - np.exp(n * np.log(inner))
    scale = bar * (1.0 / inner - inner) * around
    return np.asarray((forth + back) / scale[..., np.newaxis])


def _aliases(harmonics: np.ndarray, bars: int) -> RealArray:
    """Return ``sum_k exp(j (h - h') alpha_k)`` over the meshes, ``alpha_k = (k + 1/2) a_r``."""
    turns, rest = np.divmod(np.subtract.outer(harmonics, harmonics), bars)
    return np.where(rest == 0, bars * (-1.0) ** turns, 0.0)
