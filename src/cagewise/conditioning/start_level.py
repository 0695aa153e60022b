"""The current of a start, cycle by cycle: a window of one cycle slides in quarters of a cycle.

In every window a constant, a slope and the sines of a few orders are fitted at once, so that the
direct offset of switching on does not enter the fundamental.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from cagewise.quantities import ComplexArray, RealArray

WINDOWS_PER_CYCLE = 4
"""Windows begin this often per cycle: the quarter is the resolution of every instant read."""
LARGEST_ORDER_PART = 0.45
"""Highest order fitted, in parts of the samples per cycle: beyond it sines of two orders are one
on the samples."""
_CHUNK = 4096
"""Windows fitted at a time, so that copies of overlapping samples stay small."""


@dataclass(frozen=True, slots=True)
class CycleFit:
    """Sines and rms of sliding windows of one cycle, for several channels."""

    centre: RealArray
    """Centre of every window in samples from the first one, shape (n_windows,)."""
    first: RealArray
    """First sample of every window, shape (n_windows,)."""
    hop: int
    """Samples between windows."""
    length: int
    """Samples of a window."""
    orders: tuple[int, ...]
    """Orders of the supply frequency fitted; those above half the sampling rate are left out."""
    phasors: ComplexArray
    """Peak phasors against ``exp(j 2 pi f t)`` of the order, shape (n_orders, n_channels, n)."""
    rms: RealArray
    """Root mean square about the window's mean, shape (n_channels, n_windows)."""

    @property
    def level(self) -> RealArray:
        """Rms about the mean, quadratic mean of the channels, shape (n_windows,)."""
        return np.asarray(np.sqrt(np.mean(self.rms**2, axis=0)))

    @property
    def fundamental_rms(self) -> RealArray:
        """Rms fundamental, quadratic mean of the channels, shape (n_windows,)."""
        return np.asarray(np.sqrt(np.mean(np.abs(self.phasors[0]) ** 2, axis=0) / 2.0))

    def harmonic_ratio(self, order: int) -> RealArray:
        """Return an order over the fundamental, all channels together; NaN if it is not fitted."""
        if order not in self.orders:
            return np.full(self.centre.size, np.nan)
        power = np.sum(np.abs(self.phasors[self.orders.index(order)]) ** 2, axis=0)
        whole = np.sum(np.abs(self.phasors[0]) ** 2, axis=0)
        return np.asarray(np.sqrt(power / np.maximum(whole, np.finfo(np.float64).tiny)))


def fit_cycles(channels: RealArray, cycle: float, orders: tuple[int, ...] = (1,)) -> CycleFit:
    """Return the fits of every window.

    Parameters
    ----------
    channels
        Shape (n_channels, n_samples); what is no number counts as zero.
    cycle
        Samples per supply cycle.
    orders
        The first is 1.
    """
    length = max(round(cycle), 1)
    hop = max(1, round(cycle / WINDOWS_PER_CYCLE))
    kept = (1, *(order for order in orders[1:] if order < LARGEST_ORDER_PART * cycle))
    values = np.nan_to_num(channels, nan=0.0, posinf=0.0, neginf=0.0)
    n = max((values.shape[1] - length) // hop + 1, 0)
    first = hop * np.arange(n, dtype=np.float64)
    weights = _weights(length, cycle, kept)
    fitted = np.stack([_project(row, weights, hop, n) for row in values])
    mean, power = fitted[..., -2], fitted[..., -1]
    angle = -2.0 * np.pi / cycle * (first + 0.5 * (length - 1))
    phasors = [
        (fitted[..., 2 * k] - 1j * fitted[..., 2 * k + 1]) * np.exp(1j * order * angle)
        for k, order in enumerate(kept)
    ]
    return CycleFit(
        centre=first + 0.5 * (length - 1),
        first=first,
        hop=hop,
        length=length,
        orders=kept,
        phasors=np.stack(phasors),
        rms=np.sqrt(np.maximum(power - mean**2, 0.0)),
    )


def _weights(length: int, cycle: float, orders: tuple[int, ...]) -> RealArray:
    """Return what turns the samples of a window into cosine and sine amplitudes and the mean.

    Shape (length, 2 n_orders + 1).
    """
    place = np.arange(length) - 0.5 * (length - 1)
    angle = 2.0 * np.pi / cycle * place
    waves = [wave(order * angle) for order in orders for wave in (np.cos, np.sin)]
    basis = np.column_stack([*waves, np.ones(length), place / length])
    fit = np.linalg.pinv(basis)[: 2 * len(orders)]
    return np.asarray(np.vstack([fit, np.full(length, 1.0 / length)]).T)


def _project(samples: RealArray, weights: RealArray, hop: int, n: int) -> RealArray:
    """Return the fit, the mean and the mean square of every window, (n, n_weights + 1)."""
    out = np.empty((n, weights.shape[1] + 1))
    if n == 0:
        return out
    windows = np.lib.stride_tricks.sliding_window_view(samples, weights.shape[0])[::hop][:n]
    for start, stop in pairwise([*range(0, n, _CHUNK), n]):
        part = np.ascontiguousarray(windows[start:stop])
        out[start:stop, :-1] = part @ weights
        out[start:stop, -1] = np.einsum("ij,ij->i", part, part) / weights.shape[0]
    return out


def smoothed(level: RealArray, count: int) -> RealArray:
    """Return the running median over ``count`` windows, ends repeated, same shape."""
    if level.size == 0:
        return level
    padded = np.pad(level, (count // 2, count - 1 - count // 2), mode="edge")
    return np.median(np.lib.stride_tricks.sliding_window_view(padded, count), axis=1)
