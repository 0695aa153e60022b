"""The two clocks of a damaged machine, and how finely they are read.

In steady state every quantity of the machine, once its own carrier is taken off, is periodic in two
angles: ``phi = 2 s w t``, the pole-pass clock, and ``psi = 6 w_r t``, the clock of the winding
harmonics. A stator line at ``a s w + b w_r`` has ``a = 1 + 2 k`` and ``b = 1 + 6 m``: it is the
term ``exp(j (k phi + m psi))`` of the current. Products are formed point by point on a grid of both
angles, differential equations are solved term by term.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from cagewise.quantities import ComplexArray, RealArray

_GRID = 4
"""Grid points per kept term: three would do for products of two sums, one is kept in reserve."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Resolution:
    """How many terms are kept, and when the solution is good enough."""

    order_pairs: int = 2
    """M: winding orders and stator lines 1 + 6 m, m = -M .. M."""
    slip_pairs: int = 3
    """H: rotor frequencies +-s w, +-3 s w, ... +-(2 H - 1) s w."""
    ripple_harmonics: int = 2
    """Q: harmonics of 2 s w in the rotor angle; ``H - 1`` is as many as the currents can follow."""
    fast_ripple: bool = True
    """Whether the rotor angle also swings with the torque at 6 w_r and its side lines."""
    largest_change: float = 1e-5
    """Change of any line in the last pass, relative to the supply current; the error that is left
    is about a tenth of it."""


FULL = Resolution()
"""For single solutions: lines above -75 dBc within 0.1 dB of more terms."""
QUICK = Resolution(
    order_pairs=1, slip_pairs=2, ripple_harmonics=1, fast_ripple=False, largest_change=2e-4
)
"""For ensembles: within 0.5 dB, far below what an unknown cage leaves open."""


class Clocks:
    """Terms of both clocks, and the way between terms and grid points."""

    def __init__(self, resolution: Resolution) -> None:
        self.slow = np.arange(-resolution.slip_pairs, resolution.slip_pairs)
        """k, shape (2 H,)."""
        self.fast = np.arange(-resolution.order_pairs, resolution.order_pairs + 1)
        """m, and also mu of the winding orders 1 + 6 mu, shape (N,)."""
        self.ripple = np.arange(1, resolution.ripple_harmonics + 1)
        """q, shape (Q,)."""
        phi, psi = np.meshgrid(
            _angles(_GRID * resolution.slip_pairs), _angles(_GRID * resolution.order_pairs)
        )
        k, m = np.meshgrid(self.slow, self.fast, indexing="ij")
        self._waves = np.exp(
            1j * (np.outer(k.ravel(), phi.ravel()) + np.outer(m.ravel(), psi.ravel()))
        )
        self._back = self._waves.conj().T / phi.size
        self._ripple_waves = np.exp(1j * np.outer(self.ripple, phi.ravel()))
        self._shift: ComplexArray = np.exp(-1j * np.outer(self.fast, psi.ravel()))

    def to_grid(self, terms: ComplexArray) -> ComplexArray:
        """Return values on the grid, (..., n_points), of terms (..., 2 H, N)."""
        flat = terms.reshape((*terms.shape[:-2], self._waves.shape[0]))
        return np.asarray(flat @ self._waves)

    def to_terms(self, grid: ComplexArray) -> ComplexArray:
        """Return terms (..., 2 H, N) of values on the grid."""
        flat = np.asarray(grid @ self._back)
        return flat.reshape((*grid.shape[:-1], self.slow.size, self.fast.size))

    def turned(self, angle: RealArray) -> ComplexArray:
        """Return ``exp(-j (nu delta + mu psi))`` of every winding order nu = 1 + 6 mu.

        ``angle`` is delta on the grid, shape (..., n_points); the result (..., N, n_points). Steps
        of six orders are products: that is several times faster than as many exponentials.
        """
        base = np.exp(-1j * angle)
        sixth = (base * base * base) ** 2
        up, down = [base], [base]
        for _ in range(self.fast.size // 2):
            up.append(up[-1] * sixth)
            down.append(down[-1] * sixth.conj())
        return np.stack([*down[:0:-1], *up], axis=-2) * self._shift

    def slow_angle(self, ripple: ComplexArray) -> RealArray:
        """Return ``2 Re sum_q E_q exp(j q phi)`` on the grid, for E of shape (..., Q)."""
        return np.asarray(2.0 * (ripple @ self._ripple_waves).real)

    def slow_terms(self, grid: RealArray) -> ComplexArray:
        """Return the terms of ``exp(j q phi)``, shape (..., Q), of a real quantity."""
        return np.asarray(grid @ self._ripple_waves.conj().T / grid.shape[-1])


def _angles(points: int) -> RealArray:
    """Return equidistant angles over one turn."""
    return 2.0 * np.pi * np.arange(points) / points


def pair(terms: ComplexArray) -> ComplexArray:
    """Return terms k >= 0 beside the conjugates of their mirror images, (..., H, N, 2 N_nu).

    ``terms`` has the shape (..., N_nu, 2 H, N). A real rotor quantity has the phasor at
    ``(-1 - k, -m)`` conjugate to that at ``(k, m)``; what acts on it comes from both places.
    """
    half = terms.shape[-2] // 2
    mirror = terms[..., :half, :][..., ::-1, ::-1].conj()
    both = np.concatenate([terms[..., half:, :], mirror], axis=-3)
    return np.moveaxis(both, -3, -1)


def unpair(paired: ComplexArray) -> ComplexArray:
    """Undo :func:`pair`."""
    n = paired.shape[-1] // 2
    by_order = np.moveaxis(paired, -1, -3)
    mirror = by_order[..., n:, ::-1, ::-1].conj()
    return np.concatenate([mirror, by_order[..., :n, :, :]], axis=-2)
