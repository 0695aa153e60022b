"""A long row of values, seen through a window: what a screen of so many columns can show of it.

Every column of pixels shows the smallest and the largest value of its bins, so no line is ever
lost, however narrow; where there are no more bins than columns, every bin is given. A pyramid of
places of extremes makes the time of a window independent of the length of the row
(docs/theory/pictures.md).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from cagewise.quantities import RealArray

PlaceArray = NDArray[np.intp]
Values = NDArray[np.floating[Any]]
"""Of single or double precision."""
Extreme = Callable[..., Any]
"""``numpy.argmin`` or ``numpy.argmax``."""

FACTOR = 8
"""Bins per block of the first level, and blocks per block of every further one: the pyramid takes a
seventh more places than there are bins, twice."""
BLOCKS_PER_COLUMN = 8
"""Blocks that a column holds at least: its ends are moved by an eighth of its width at most."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """What a window shows."""

    x: RealArray
    """Where the values stand, exactly, shape (n,), rising or equal."""
    y: RealArray
    """Values of single bins, shape (n,)."""
    edges: PlaceArray
    """First bins of the columns and the end of the last, shape (n_columns + 1,)."""
    exact: bool
    """Whether every bin of the window is there."""


class LevelSeries:
    """Values at evenly spaced places.

    Parameters
    ----------
    first
        Place of the first value.
    step
        From one value to the next, positive.
    values
        Shape (n,), n >= 1; no NaN.
    """

    def __init__(self, first: float, step: float, values: Values) -> None:
        if not (step > 0.0 and values.ndim == 1 and values.size):
            message = "a series needs a positive step and at least one value"
            raise ValueError(message)
        self.first, self.step = first, step
        self.values = values
        self._lowest, self._highest = _pyramid(values, np.argmin), _pyramid(values, np.argmax)

    @property
    def last(self) -> float:
        """Place of the last value."""
        return self.first + self.step * (self.values.size - 1)

    @property
    def nbytes(self) -> int:
        """Memory that it takes."""
        return self.values.nbytes + sum(level.nbytes for level in (*self._lowest, *self._highest))

    def window(self, low: float, high: float, columns: int) -> Window:
        """Return what a window shows.

        Parameters
        ----------
        low, high
            Ends of the window; what lies outside the series is left out.
        columns
            Columns of the screen; a column gives two points at most.
        """
        start, stop = self._bins(low, high)
        if stop - start <= 2 * columns:
            places = np.arange(start, stop)
            return Window(
                x=self._x(places),
                y=np.asarray(self.values[start:stop], dtype=np.float64),
                edges=np.arange(start, stop + 1),
                exact=True,
            )
        return self._reduced(start, stop, columns)

    def _bins(self, low: float, high: float) -> tuple[int, int]:
        """Return the first bin of a window and the end of its bins; at least one bin."""
        n = self.values.size
        # a place on a bin belongs to the window although it was rounded
        start = math.ceil(_held((low - self.first) / self.step - 1e-9, n))
        stop = math.floor(_held((high - self.first) / self.step + 1e-9, n)) + 1
        start = min(max(start, 0), n - 1)
        return start, min(max(stop, start + 1), n)

    def _x(self, places: PlaceArray) -> RealArray:
        return np.asarray(self.first + self.step * places.astype(np.float64))

    def _reduced(self, start: int, stop: int, columns: int) -> Window:
        """Return extremes of columns, in the order of their places."""
        level = max(0, math.floor(math.log((stop - start) / columns / BLOCKS_PER_COLUMN, FACTOR)))
        level = min(level, len(self._lowest))
        block = FACTOR**level
        inside = np.round(np.linspace(start, stop, columns + 1)[1:-1] / block)
        edges = np.unique([start // block, *inside.astype(np.intp), -(-stop // block)])
        lowest = self._extremes(self._lowest, level, edges, np.argmin)
        highest = self._extremes(self._highest, level, edges, np.argmax)
        both = np.sort(np.stack([lowest, highest], axis=1), axis=1).ravel()
        both = both[np.concatenate([[True], np.diff(both) > 0])]
        return Window(
            x=self._x(both),
            y=np.asarray(self.values[both], dtype=np.float64),
            edges=np.minimum(edges * block, self.values.size),
            exact=False,
        )

    def _extremes(
        self,
        pyramid: tuple[PlaceArray, ...],
        level: int,
        edges: PlaceArray,
        extreme: Extreme,
    ) -> PlaceArray:
        """Return the places of the extremes between edges, in blocks of a level."""
        places = pyramid[level - 1] if level else None
        widest = int(np.diff(edges).max())
        blocks = np.minimum(edges[:-1, np.newaxis] + np.arange(widest), edges[1:, np.newaxis] - 1)
        if places is None:
            bins = np.minimum(blocks, self.values.size - 1)
        else:
            bins = places[np.minimum(blocks, places.size - 1)]
        chosen = extreme(self.values[bins], axis=1)
        return np.asarray(np.take_along_axis(bins, chosen[:, np.newaxis], axis=1)[:, 0])


def _held(place: float, n: int) -> float:
    """Return a place held within reach of the series; one that is not a number is its beginning."""
    return min(max(place, -1.0), float(n)) if math.isfinite(place) else math.copysign(n, place)


def _pyramid(values: Values, extreme: Extreme) -> tuple[PlaceArray, ...]:
    """Return the places of the extremes of blocks, level by level, until few are left."""
    levels: list[PlaceArray] = []
    places = np.arange(values.size)
    while places.size > FACTOR:
        whole = places.size // FACTOR * FACTOR
        rows = places[:whole].reshape(-1, FACTOR)
        chosen = extreme(values[rows], axis=1)
        above = np.take_along_axis(rows, chosen[:, np.newaxis], axis=1)[:, 0]
        if whole < places.size:
            rest = places[whole:]
            above = np.append(above, rest[extreme(values[rest])])
        levels.append(np.asarray(above, dtype=np.intp))
        places = above
    return tuple(levels)
