"""Lines in a whitened spectrum, sharp or smeared by a slip that wanders.

A line is tested at several widths w: with E the energy of w cells and w' their independent number,
``nats = w' (E/w - 1 - ln(E/w))`` is the log-likelihood ratio of excess energy against noise
(docs/theory/slip.md). The width that explains the line best is kept; broader boxes that contain it
and narrower ones inside it are dropped.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, fields
from typing import Self

import numpy as np
from numpy.typing import NDArray

from cagewise.quantities import RealArray

WIDTHS = (3, 7, 15, 31, 63, 127, 255)
"""Box widths in cells; 3 holds a sharp line in a Hann window."""
POWER_CORRELATION = (4.0 / 9.0, 1.0 / 36.0)
"""Correlation of the power of neighbouring cells and next neighbours under a Hann window."""
HANN_SPREAD_SQUARED = 1.0 / 3.0
"""Second moment of the power of a sharp line under a Hann window, in cells squared."""
LEAST_ERROR_CELLS = 0.03
"""Smallest standard deviation credited to a line's place: leakage of neighbours, numerics."""
SMEAR_ERROR = 0.05
"""Standard deviation of a smeared line's place in units of its width: the window weighs the middle
of the record, and lines of different families are smeared by different parts of the motion."""
GROWTH_SHARE = 0.05
"""A box about a line grows while that adds more than this part of the line's energy..."""
GROWTH_DEVIATIONS = 4.0
"""...and more than this many standard deviations of the noise."""
SKIRT_CELLS = 4.0
"""A weaker line is taken for the skirt of a stronger one when it lies below its Hann skirt,
``(SKIRT_CELLS / distance)**6`` of its energy: the skirt itself with a margin of 13 dB."""


@dataclass(frozen=True, slots=True)
class LineTable:
    """Lines found in one band or several; all arrays share the shape (n_lines,)."""

    position: RealArray
    """Centroid; cells, Hz or orders, as the maker says."""
    deviation: RealArray
    """Standard deviation of the position, same unit."""
    width: RealArray
    """Standard deviation of the smear, that of the window taken off, same unit."""
    nats: RealArray
    """Log-likelihood ratio against noise."""

    @classmethod
    def empty(cls) -> Self:
        """Return a table without lines."""
        return cls(*(np.empty(0) for _ in range(4)))

    @classmethod
    def joined(cls, tables: list[LineTable]) -> Self:
        """Return all lines of several tables."""
        if not tables:
            return cls.empty()
        return cls(*(np.concatenate([getattr(t, f.name) for t in tables]) for f in fields(cls)))

    def chosen(self, keep: NDArray[np.bool_] | NDArray[np.intp]) -> LineTable:
        """Return some of the lines."""
        return LineTable(*(getattr(self, f.name)[keep] for f in fields(self)))

    def mapped(self, origin: float, unit: float) -> LineTable:
        """Return positions ``origin + unit * position``; widths and deviations in that unit."""
        scale = abs(unit)
        return LineTable(
            origin + unit * self.position, scale * self.deviation, scale * self.width, self.nats
        )


def find_lines(
    power: RealArray, floor: RealArray, least_nats: float, widest: float = math.inf
) -> LineTable:
    """Return the lines of a spectrum, positions in cells.

    Parameters
    ----------
    power
        Power per cell, shape (n_channels, n_cells): channels on a common axis (the mirrored
        partners of a pair, or one spectrum alone); their evidence is added.
    floor
        Mean noise power of each cell, same shape.
    least_nats
        Weakest line to report.
    widest
        Cells that a line of a wandering slip can fill; the smallest box is always tried.
    """
    widths = [w for w in WIDTHS if w <= max(widest, WIDTHS[0]) and w < power.shape[1] // 3]
    energy = power / floor
    total = np.concatenate([np.zeros((len(energy), 1)), np.cumsum(energy, axis=1)], axis=1)
    found = [_peaks(total, width, least_nats) for width in widths]
    if not found:
        return LineTable.empty()
    cells, nats, boxes = (np.concatenate(part) for part in zip(*found, strict=True))
    order = np.lexsort((-nats, boxes))
    candidates = list(zip(cells[order], boxes[order], nats[order], strict=True))
    boxes_of_lines = _separate(energy, total, candidates, max(widths))
    return _measured(power, floor, boxes_of_lines)


def _independent_cells(width: int) -> float:
    """Return the number of independent cells with the same variance of the mean power."""
    near, next_near = POWER_CORRELATION
    return width**2 / (width + 2.0 * ((width - 1) * near + (width - 2) * next_near))


def _peaks(
    total: RealArray, width: int, least_nats: float
) -> tuple[NDArray[np.intp], RealArray, NDArray[np.intp]]:
    """Return centre cells, nats and widths of the local maxima at one box width."""
    mean = (total[:, width:] - total[:, :-width]) / width
    excess = np.maximum(mean, 1.0)
    nats = _independent_cells(width) * np.sum(excess - 1.0 - np.log(excess), axis=0)
    inner = nats[1:-1]
    peak = (inner >= least_nats) & (inner > nats[:-2]) & (inner >= nats[2:])
    at = np.flatnonzero(peak) + 1
    return at + width // 2, nats[at], np.full(at.size, width)


def _separate(
    energy: RealArray,
    total: RealArray,
    candidates: list[tuple[int, int, float]],
    widest: int,
) -> list[tuple[int, int, float]]:
    """Return centre, box and evidence of the lines that stand for themselves.

    ``candidates`` are centre cell, box width and evidence: narrow boxes first, so that two lines in
    one broad box stay two, and in each width the strongest first.
    """
    chosen: list[tuple[int, int, float]] = []
    kept = np.empty((3, 0))
    for cell, width, evidence in candidates:
        distance = np.abs(kept[0] - cell)
        beyond = np.maximum(distance - kept[1] / 2.0, 1.0)
        overlaps = distance < (kept[1] + width) / 2.0
        in_skirt = evidence < kept[2] * np.minimum((SKIRT_CELLS / beyond) ** 6, 1.0)
        if np.any(overlaps | in_skirt):
            continue
        centre, box = _grown(energy, total, (int(cell), int(width)), widest)
        if np.any(np.abs(kept[0] - centre) < (kept[1] + box) / 4.0):
            continue
        kept = np.column_stack([kept, [centre, box, evidence]])
        chosen.append((centre, box, max(evidence, _nats(total, centre, box))))
    return chosen


def _grown(
    energy: RealArray, total: RealArray, start: tuple[int, int], widest: int
) -> tuple[int, int]:
    """Return centre and width of the box that holds the whole of a smeared line.

    A slip that wanders slowly makes a ragged line, and its highest tooth alone would be a biased
    reading. The box grows while that adds a good part of the line and more than noise would; it
    looks one width beyond a gap.
    """
    n, (cell, box) = energy.shape[1], start
    excess, gaps = _excess(total, cell, box), 0
    for wider in (w for w in WIDTHS if box < w <= widest):
        low = min(max(cell - wider // 2, 0), n - wider)
        power = np.sum(energy[:, low : low + wider] - 1.0, axis=0)
        more = float(np.sum(power))
        noise = GROWTH_DEVIATIONS * np.sqrt(len(energy) * 2.0 * (wider - box))
        if more - excess < max(GROWTH_SHARE * excess, noise):
            gaps += 1
            if gaps > 1:
                break
            continue
        gaps = 0
        offset = np.arange(wider, dtype=np.float64)
        cell = low + int(np.clip(round(float(offset @ power) / more), 0, wider - 1))
        box, excess = wider, max(_excess(total, cell, wider), more)
    return cell, box


def _nats(total: RealArray, cell: int, box: int) -> float:
    """Return the evidence of one box."""
    n = total.shape[1] - 1
    low, high = max(cell - box // 2, 0), min(cell + box // 2 + 1, n)
    mean = np.maximum((total[:, high] - total[:, low]) / (high - low), 1.0)
    return float(_independent_cells(box) * np.sum(mean - 1.0 - np.log(mean)))


def _excess(total: RealArray, cell: int, box: int) -> float:
    """Return the energy of a box above that of noise."""
    n = total.shape[1] - 1
    low, high = max(cell - box // 2, 0), min(cell + box // 2 + 1, n)
    inside = float(np.sum(total[:, high] - total[:, low]))
    return inside - float(len(total) * (high - low))


def _measured(power: RealArray, floor: RealArray, boxes: list[tuple[int, int, float]]) -> LineTable:
    """Return the lines of the boxes."""
    if not boxes:
        return LineTable.empty()
    rows = [(*_centroid(power, floor, cell, box), nats) for cell, box, nats in boxes]
    return LineTable(*(np.array(column) for column in zip(*rows, strict=True)))


def _centroid(
    power: RealArray, floor: RealArray, cell: int, box: int
) -> tuple[float, float, float]:
    """Return centroid, its standard deviation and the smear width of one line, in cells.

    The centroid of the power of a windowed record is the mean frequency. It is taken of the power
    itself, not of the whitened energy: the far tails of a strong smeared line lift the floor
    beside it, and dividing by that would push the centroid. Each cell of a line of power S in unit
    noise has variance ``1 + 2 S``; neighbouring cells are correlated.
    """
    half = box // 2 + 2
    low, high = max(cell - half, 0), min(cell + half + 1, power.shape[1])
    offset = np.arange(low, high) - float(cell)
    unit = np.mean(floor[:, cell])
    excess = np.sum(power[:, low:high] - floor[:, low:high], axis=0) / unit
    whole = float(np.maximum(np.sum(excess), 1.0))
    shift = float(np.clip(np.sum(offset * excess) / whole, -box / 2.0, box / 2.0))
    arm = (offset - shift) ** 2
    variance = np.sum(arm * (power.shape[0] + 2.0 * np.maximum(excess, 0.0))) / whole**2
    spread = float(np.clip(np.sum(arm * excess) / whole, 0.0, (box / 2.0) ** 2))
    width = float(np.sqrt(max(spread - HANN_SPREAD_SQUARED, 0.0)))
    correlation = 1.0 + 2.0 * sum(POWER_CORRELATION)
    smear = SMEAR_ERROR * width
    deviation = np.sqrt(variance * correlation + LEAST_ERROR_CELLS**2 + smear**2)
    return cell + shift, float(deviation), width
