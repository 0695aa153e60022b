"""What an indicator can see of broken bars: the kernel of their positions.

A bar that is open at electrical angle alpha (``p`` times its mechanical angle) adds to a line the
phasor ``exp(j m alpha)`` of its own, with an order m that belongs to the indicator. Several bars
add as ``K_m = |sum_k w_k exp(j m alpha_k)|``: indicators with the same m see the same thing and
are one vote. Derivation and table: ``docs/theory/kernels.md``.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from cagewise.quantities import RealArray

KERNEL_ORDERS = {
    "mean impedance, starting time, slip at given power": 0,
    "side lines of the supply frequency, demodulated current, direct component": 2,
    "left side line of the start-up": 2,
    "impedance against rotor position, 2nd harmonic": 2,
    "impedance against rotor position, 4th harmonic": 4,
    "5-4s": 4,
    "5-6s": 6,
    "7-6s": 6,
    "7-8s": 8,
    "11-10s": 10,
    "11-12s": 12,
    "13-12s": 12,
    "13-14s": 14,
}
"""Indicator, or name of a cage line, to the order m of its kernel."""


def kernel(
    angles_rad: Sequence[float] | RealArray,
    order: int,
    weights: Sequence[float] | RealArray | None = None,
) -> float:
    """Return K_m of bars at electrical angles.

    Parameters
    ----------
    angles_rad
        Electrical angles of the damaged bars in rad, shape (n_damaged,).
    order
        m.
    weights
        Damage of each bar in fully open bars; 1 when left out. Damage that is not small changes
        the currents of its neighbours: then the kernel is only the weak-fault limit.
    """
    turns = np.exp(1j * order * np.asarray(angles_rad, dtype=np.float64))
    return float(np.abs(np.sum(turns if weights is None else turns * np.asarray(weights))))


def bar_angles_rad(bars: Sequence[int], rotor_bars: int, pole_pairs: int) -> RealArray:
    """Return the electrical angles of bars counted from 0, shape (n,), in [0, 2 pi)."""
    angles = 2.0 * np.pi * pole_pairs * np.asarray(bars, dtype=np.float64) / rotor_bars
    return np.asarray(angles % (2.0 * np.pi))


def hidden_spacings_rad(order: int) -> RealArray:
    """Return the electrical spacings in (0, pi] at which two equal bars cancel in K_m.

    Order 2: 90 degrees. Order 4: 45 and 135 degrees. Order 0: none.
    """
    if order == 0:
        return np.empty(0)
    odd = np.arange(1, 2 * order, 2)
    spacings = np.pi * odd / order
    return np.asarray(spacings[spacings <= np.pi + 1e-12])
