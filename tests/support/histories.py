"""Histories of motors whose truth is known."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from cagewise.history.growth_model import DAYS_PER_YEAR
from cagewise.history.points import TrendPoint
from cagewise.indicators.reading import IndependenceClass
from cagewise.quantities import Estimate, RealArray

FLOOR_BARS = 0.1
NOISE_BARS = 0.05
"""Of one record, each quadrature."""
OWN_ERROR, COMMON_ERROR = 0.1, 0.17
"""Relative, of one visit and of all visits: a quarter and three quarters of the variance."""
SCATTER_DB = 1.5


def point(day: float, bars: Estimate, **more: object) -> TrendPoint:
    """Return a point; everything that is not named is alike."""
    known = {"reading": "direct_component"} | more
    return TrendPoint(
        day=day,
        bars=bars,
        independence_class=IndependenceClass.RUNNING_FUNDAMENTAL,
        **known,  # type: ignore[arg-type]  # a test names the fields it means
    )


def exact(days: Sequence[float], bars: Sequence[float], spread: float = 0.1) -> list[TrendPoint]:
    """Return points whose values are the truth, with intervals of a relative half width."""
    return [
        point(d, Estimate(n, n * (1.0 - spread), n * (1.0 + spread)))
        for d, n in zip(days, bars, strict=True)
    ]


def growing_bars(days: Sequence[float], start_bars: float, db_per_year: float) -> list[float]:
    """Return damage that grows at a steady pace on the scale of the trend."""
    return [
        (start_bars + FLOOR_BARS) * 10.0 ** (db_per_year * d / DAYS_PER_YEAR / 20.0) - FLOOR_BARS
        for d in days
    ]


def measured(days: RealArray, bars: RealArray, random: np.random.Generator) -> list[TrendPoint]:
    """Return what records would read of a true damage: an amplitude in noise, never below zero.

    A reading stands out when noise alone makes it once in a thousand.
    """
    common = float(np.exp(random.normal() * COMMON_ERROR))
    stands_out = NOISE_BARS * float(np.sqrt(2.0 * np.log(1e3)))
    points = []
    for day, true in zip(days.tolist(), bars.tolist(), strict=True):
        scatter = 10.0 ** (random.normal() * SCATTER_DB / 20.0)
        read = true * common * scatter * (1.0 + random.normal() * OWN_ERROR)
        noise = complex(random.normal(), random.normal()) * NOISE_BARS
        value = abs(read + noise)
        half = 1.96 * float(np.hypot(value * np.hypot(OWN_ERROR, COMMON_ERROR), NOISE_BARS))
        low = max(value - half, 1e-3) if value > stands_out else 0.0
        points.append(point(day, Estimate(value, low, value + half)))
    return points
