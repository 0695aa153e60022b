"""Harmonic balance of the damaged machine: electrical and mechanical equations, term by term.

Unknowns are the stator lines ``I[k, m]`` and the slow ripple ``E_q`` of the rotor angle. Rotor
currents are eliminated by :class:`~cagewise.machine.cage.meshes.CageMeshes`. The turning
``exp(-j nu delta)`` of every winding order by the rotor's ripple is exact: it is formed on the grid
of both clocks. Derivation: ``docs/theory/cage-harmonic-solution.md``.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from cagewise.machine.cage.clocks import Clocks, Resolution, pair, unpair
from cagewise.machine.cage.damage import Damage
from cagewise.machine.cage.meshes import CageMeshes, per_draw
from cagewise.machine.cage.model import CageModel
from cagewise.quantities import ComplexArray, RealArray


@dataclass(frozen=True, slots=True, kw_only=True)
class OperatingCondition:
    """Supply, slip and inertia; arrays of shape () or (n_draws,)."""

    slip: RealArray
    """Mean slip; not zero."""
    frequency_rad_s: float
    """w = 2 pi f of the supply."""
    voltage_v: float
    """Peak phase-to-neutral voltage."""
    inertia_kg_m2: RealArray
    """Total inertia at the shaft; ``inf`` for constant speed."""


@dataclass(frozen=True, slots=True)
class Motion:
    """A state of the machine."""

    lines: ComplexArray
    """I[k, m] in A peak, shape (..., n_draws, 2 H, N)."""
    ripple: ComplexArray
    """E_q in rad, shape (..., n_draws, Q)."""
    fast_angle: RealArray | float = 0.0
    """Fast part of the rotor's ripple on the grid, rad."""

    def moved(self, lines: ComplexArray, ripple: ComplexArray) -> Motion:
        """Return the state a step further."""
        return replace(self, lines=self.lines + lines, ripple=self.ripple + ripple)

    def replaced(self, other: Motion, where: NDArray[np.bool_]) -> Motion:
        """Return the state with some draws, a mask of shape (n_draws,), taken from another."""
        if not where.any():
            return self
        return Motion(
            np.where(where[:, np.newaxis, np.newaxis], other.lines, self.lines),
            np.where(where[:, np.newaxis], other.ripple, self.ripple),
            np.where(where[:, np.newaxis], other.fast_angle, self.fast_angle),
        )


@dataclass(frozen=True, slots=True)
class Imbalance:
    """What is missing in the equations for a state."""

    voltage: ComplexArray
    """Of the stator lines in V, shape of the lines."""
    acceleration: ComplexArray
    """``(q g)^2 E_q + (p / J) T_q`` in rad/s^2, shape of the ripple."""
    torque: RealArray
    """Air-gap torque on the grid in N m, shape (..., n_draws, n_points)."""


class Balance:
    """The equations of one motor with one damage at one operating point, for all draws."""

    def __init__(
        self,
        model: CageModel,
        damage: Damage,
        condition: OperatingCondition,
        resolution: Resolution,
    ) -> None:
        self.model = model.with_order_pairs(resolution.order_pairs)
        self.clocks = Clocks(resolution)
        self._place(condition)
        self._mutual = _mutual(self.model, self.n_draws)
        self._answer = self._rotor_answer(damage)
        self._impedance = per_draw(self.model.stator_resistance_ohm, 3) + 1j * (
            self._sigma * per_draw(self.model.stator_inductance_h, 3)
        )
        self._admittance = np.linalg.inv(self._electrical())
        self._source = np.zeros(self._sigma.shape, dtype=np.complex128)
        self._source[:, self._half, self.model.orders.index(1)] = condition.voltage_v

    def _place(self, condition: OperatingCondition) -> None:
        """Set the frequencies of all terms, in rad/s."""
        w = condition.frequency_rad_s
        slip, inertia, _ = np.broadcast_arrays(
            np.atleast_1d(condition.slip),
            np.atleast_1d(condition.inertia_kg_m2),
            np.atleast_1d(self.model.stator_resistance_ohm),
        )
        self.n_draws = slip.size
        slow, fast = 2.0 * slip * w, 6.0 * (1.0 - slip) * w
        clocks = self.clocks
        terms = clocks.slow[:, np.newaxis] * per_draw(slow, 3) + clocks.fast * per_draw(fast, 3)
        self._half = clocks.slow.size // 2
        self._sigma = w + terms
        self._gamma = per_draw(slow / 2.0, 3) + terms[:, self._half :]
        self._ripple_rad_s = per_draw(slow, 2) * clocks.ripple
        self._fast_rad_s = terms
        self._mobility = self.model.pole_pairs / inertia

    # -- electrical ------------------------------------------------------------------------------

    def _rotor_answer(self, damage: Damage) -> ComplexArray:
        """Return waves of rotor current per wave of stator current, (n_draws, H, N, 2N, 2N)."""
        orders = self.model.orders
        meshes = CageMeshes(self.model, damage, (*orders, *(-v for v in orders)))
        volts = -1.5j * self._gamma[..., np.newaxis] * self._doubled_mutual(4)
        return np.asarray(meshes.response(self._gamma) * volts[..., np.newaxis, :])

    def _doubled_mutual(self, axes: int) -> RealArray:
        """Return M_nu for both directions, (n_draws, 1, ..., 2 N)."""
        both = np.concatenate([self._mutual, self._mutual], axis=-1)
        return both.reshape(both.shape[:1] + (1,) * (axes - 2) + both.shape[1:])

    def _electrical(self) -> ComplexArray:
        """Return the matrix of the stator lines at constant speed, (n_draws, H, 2N, 2N).

        Rows and columns: I[k, :] with k >= 0, then the conjugates of I[-1 - k, :].
        """
        n = self.clocks.fast.size
        reactance = _halves(np.asarray(1j * self._sigma, dtype=np.complex128))
        matrix = np.zeros((*reactance.shape, 2 * n), dtype=np.complex128)
        diagonal = np.arange(2 * n)
        matrix[..., diagonal, diagonal] = _halves(self._impedance)
        seen = 0.5 * self._doubled_mutual(4)[..., np.newaxis] * self._answer
        middle = n // 2
        for place, m in enumerate(self.clocks.fast):
            upper, lower = middle + m + self.clocks.fast, middle - m + self.clocks.fast
            line = np.concatenate([upper, np.where((lower >= 0) & (lower < n), lower + n, -1)])
            wave = np.flatnonzero((line >= 0) & (line < np.repeat([n, 2 * n], n)))
            rows, columns = line[wave][:, np.newaxis], line[wave]
            flux = seen[:, :, place][..., wave[:, np.newaxis], wave]
            matrix[..., rows, columns] += reactance[..., line[wave], np.newaxis] * flux
        return matrix

    def response(self, voltage: ComplexArray) -> ComplexArray:
        """Return the lines that a voltage at every line drives at constant speed."""
        driven = self._admittance @ _halves(voltage)[..., np.newaxis]
        n = self.clocks.fast.size
        front, mirror = driven[..., :n, 0], driven[..., ::-1, n:, 0].conj()
        return np.concatenate([mirror, front], axis=-2)

    def at_constant_speed(self) -> Motion:
        """Return the solution without ripple: the one linear case."""
        ripple = np.zeros((self.n_draws, self.clocks.ripple.size), dtype=np.complex128)
        return Motion(self.response(self._source), ripple)

    # -- everything ------------------------------------------------------------------------------

    def imbalance(self, motion: Motion) -> Imbalance:
        """Return what is missing in the electrical and mechanical equations."""
        clocks = self.clocks
        orders = np.array(self.model.orders, dtype=np.float64)[:, np.newaxis]
        turned = clocks.turned(clocks.slow_angle(motion.ripple) + motion.fast_angle)
        seen = clocks.to_grid(motion.lines)[..., np.newaxis, :] * turned
        waves = pair(clocks.to_terms(seen))
        answer = unpair((self._answer @ waves[..., np.newaxis])[..., 0])
        rotor = clocks.to_grid(answer)
        mutual = self._mutual[..., np.newaxis]
        flux = clocks.to_terms(np.sum(0.5 * mutual * turned.conj() * rotor, axis=-2))
        power = orders * mutual * (seen * rotor.conj()).imag
        torque = 0.75 * self.model.pole_pairs * np.sum(power, axis=-2)
        voltage = self._impedance * motion.lines + 1j * self._sigma * flux - self._source
        mobility = self._mobility[:, np.newaxis]
        spring = self._ripple_rad_s**2 * motion.ripple
        return Imbalance(voltage, spring + mobility * clocks.slow_terms(torque), torque)

    def fast_angle(self, torque: RealArray) -> RealArray:
        """Return the rotor's swing with the torque at 6 m w_r + 2 k s w, m > 0, on the grid."""
        terms = self.clocks.to_terms(torque.astype(np.complex128))
        upward = self.clocks.fast > 0
        terms[..., ~upward] = 0.0
        terms[..., upward] /= self._fast_rad_s[..., upward] ** 2
        swing = self.clocks.to_grid(-self._mobility[:, np.newaxis, np.newaxis] * terms)
        return np.asarray(2.0 * swing.real)


def _halves(terms: ComplexArray) -> ComplexArray:
    """Return terms k >= 0 beside the conjugates of those at -1 - k: (..., H, 2 N)."""
    half = terms.shape[-2] // 2
    mirror = terms[..., :half, :][..., ::-1, :].conj()
    return np.concatenate([terms[..., half:, :], mirror], axis=-1)


def _mutual(model: CageModel, n_draws: int) -> RealArray:
    """Return M_nu of every draw, (n_draws, N)."""
    mutual = np.atleast_2d(np.asarray(model.mutual_h, dtype=np.float64))
    return np.broadcast_to(mutual, (n_draws, mutual.shape[-1]))
