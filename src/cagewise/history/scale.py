"""The scale of a trend: decibels over one open bar, with a floor (docs/theory/trend.md, 2)."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from cagewise.quantities import RealArray

MOST_DB = 6000.0
"""Level beyond which no power of ten is finite."""


@dataclass(frozen=True, slots=True)
class FloorScale:
    """``y = 20 log10(n + f)``: logarithmic far above the floor, linear far below it."""

    floor_bars: float
    """f, open bars."""

    @property
    def zero_db(self) -> float:
        """Level of zero open bars."""
        return 20.0 * math.log10(self.floor_bars)

    def level_db(self, bars: RealArray | float) -> RealArray:
        """Return the level of open-bar equivalents; negative ones count as zero."""
        above: RealArray = np.maximum(np.asarray(bars, dtype=float), 0.0) + self.floor_bars
        level: RealArray = 20.0 * np.log10(above)
        return level

    def bars(self, level_db: RealArray | float) -> RealArray:
        """Return the open-bar equivalents of levels; below the level of zero bars, zero."""
        level = np.minimum(np.asarray(level_db, dtype=float), MOST_DB)
        bars: RealArray = np.maximum(10.0 ** (level / 20.0) - self.floor_bars, 0.0)
        return bars
