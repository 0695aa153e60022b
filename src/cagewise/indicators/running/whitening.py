"""Spectra and their own local noise floor.

A Hann window keeps the skirts of strong lines short (they fall by 18 dB per octave) at a line
width of four cells. The floor is the median of the power in short blocks, divided by ln 2: in
noise, the power of a cell is exponentially distributed and the median of that is ln 2 times its
mean. Lines that fill less than half of a block leave the floor alone.
"""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from cagewise.quantities import ComplexArray, RealArray

BLOCK_HZ = 8.0
"""Width over which the floor is taken as constant. A slot line of a motor whose slip wanders is
itself 1 to 2 Hz wide and must not fill half of a block."""
SKIRT_BLOCK_HZ = 3.0
"""The same near the supply line, where the floor changes faster and cage lines are narrow."""
LEAST_BLOCK_CELLS = 41
"""Fewest cells of a block: the median of 41 cells is known to 0.7 dB (one deviation)."""
LOWEST_FLOOR_DBC = -115.0
"""Floor below which nothing is believed: no clamp, transformer or converter is straighter. Without
it the leakage of a record without noise would be searched for lines."""
LEAST_SKIRT_CELLS = 11
"""Fewest cells of a block in the steep skirt of the supply line."""


def hann_power(samples: ComplexArray) -> RealArray:
    """Return the two-sided power of each cell, zero frequency in the middle, along the last axis.

    The window has unit energy: white noise of variance v has mean power v in every cell.
    """
    n = samples.shape[-1]
    window = np.hanning(n + 1)[:n]
    window /= math.sqrt(float(window @ window))
    spectrum = np.asarray(fft.fftshift(fft.fft(samples * window, axis=-1), axes=-1))
    return np.asarray(spectrum.real**2 + spectrum.imag**2)


def cell_offsets_hz(n_cells: int, rate_hz: float) -> RealArray:
    """Return the frequency of each cell of :func:`hann_power`, shape (n_cells,)."""
    return np.asarray((np.arange(n_cells) - n_cells // 2) * (rate_hz / n_cells), dtype=np.float64)


def lowest_power(fundamental_a: float, n_cells: int) -> float:
    """Return the power of a cell at :data:`LOWEST_FLOOR_DBC`.

    A line of amplitude A has the power ``2/3 A^2 n`` in its cell under a Hann window.
    """
    return float(fundamental_a**2 * 10.0 ** (LOWEST_FLOOR_DBC / 10.0) * n_cells / 1.5)


def level_floor(power: RealArray, resolution_hz: float, lowest: float) -> RealArray:
    """Return the mean noise power of each cell, along the last axis.

    For bands without a steep skirt: blocks of equal width. ``lowest`` is the least floor.
    """
    n = power.shape[-1]
    block = min(max(LEAST_BLOCK_CELLS, round(BLOCK_HZ / resolution_hz)), n)
    n_blocks = n // block
    used = power[..., : n_blocks * block].reshape(*power.shape[:-1], n_blocks, block)
    level = np.log(np.maximum(np.median(used, axis=-1) / math.log(2.0), lowest))
    centres = (np.arange(n_blocks) + 0.5) * block - 0.5
    return np.asarray(np.exp(_interpolated(np.arange(n, dtype=np.float64), centres, level)))


def skirt_floor(power: RealArray, resolution_hz: float, lowest: float) -> RealArray:
    """Return the mean noise power of each cell on the skirt of a line at cell zero.

    ``power`` runs away from the line, shape (n_cells,). Blocks grow in proportion to the distance
    from the line, because that is how fast the skirt changes.
    """
    largest = max(LEAST_BLOCK_CELLS, round(SKIRT_BLOCK_HZ / resolution_hz))
    edges = _growing_edges(power.size, largest)
    pairs = list(pairwise(edges))
    floor = [float(np.median(power[i:j])) / math.log(2.0) for i, j in pairs]
    level = np.log(np.maximum(floor, lowest))
    centres = np.array([math.sqrt((i + 1.0) * j) for i, j in pairs])
    axis = np.log(np.arange(power.size) + 1.0)
    return np.asarray(np.exp(np.interp(axis, np.log(centres), level)))


def _growing_edges(n_cells: int, largest: int) -> list[int]:
    """Return block edges: octaves of distance, within limits."""
    edges = [0]
    while edges[-1] < n_cells:
        length = min(max(LEAST_SKIRT_CELLS, edges[-1]), largest)
        edges.append(edges[-1] + length)
    edges[-1] = n_cells
    if len(edges) > 2 and edges[-1] - edges[-2] < LEAST_SKIRT_CELLS:
        del edges[-2]
    return edges


def _interpolated(at: RealArray, points: RealArray, values: RealArray) -> RealArray:
    """Return linear interpolation along the last axis of ``values``, constant outside."""
    if points.size == 1:
        return np.asarray(np.broadcast_to(values, (*values.shape[:-1], at.size)))
    right = np.clip(np.searchsorted(points, at), 1, points.size - 1)
    left: NDArray[np.intp] = right - 1
    share = np.clip((at - points[left]) / (points[right] - points[left]), 0.0, 1.0)
    return np.asarray(values[..., left] * (1.0 - share) + values[..., right] * share)
