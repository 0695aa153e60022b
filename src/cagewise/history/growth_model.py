"""The growth of damage as a state-space model: priors, variances, versions (trend.md, 3 and 4)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product
from math import prod
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from cagewise.history.censored import Observations
from cagewise.history.kalman import BoolArray, StateSpace
from cagewise.history.limits import TrendLimits
from cagewise.history.points import TrendPoint
from cagewise.history.scale import FloorScale
from cagewise.quantities import NORMAL_COVERAGE_FACTOR, Estimate, NotKnown, RealArray

DAYS_PER_YEAR = 365.25
"""Mean length of a year."""

NOISE_FACTORS = ((0.35, 0.1), (0.6, 0.2), (1.0, 0.35), (1.7, 0.2), (3.0, 0.1), (5.0, 0.05))
"""Scatter over the expected one, rho, with prior weights: our judgement, centred on 1; steps of a
factor of 1.7, finer than what a dozen points can tell apart."""
LEVEL_NOISES = ((0.0, 0.5), (1.5, 0.3), (5.0, 0.2))
"""Random walk of the level, dB per root of a year, with prior weights: our judgement; the largest
lets half a year step by 3.5 dB."""
FLOOR_SOFTNESS_DB = 1.0
"""Standard deviation with which the level is held above that of zero damage: soft, so that draws do
not crowd at an edge; a hundredth of an open bar there."""
HOLD_YEARS = 0.25
"""Least time between two holds: a level of no damage does not sink far in a quarter."""
SLOPE_NOISES = ((0.0, 0.5), (2.0, 0.3), (6.0, 0.2))
"""Random walk of the slope, dB/year per root of a year, with prior weights: our judgement."""

LEVEL, SLOPE, LOAD, TEMPERATURE = range(4)
"""Places in the state; the offsets of the versions follow."""


@dataclass(frozen=True)
class Variances:
    """The grid of variances over which a trend is marginalised, shapes (H,)."""

    noise_factor: RealArray
    """rho."""
    level_variance: RealArray
    """eta squared, dB^2/year."""
    slope_variance: RealArray
    """zeta squared, dB^2/year^3."""
    log_weight: RealArray
    """Of the prior."""

    def disturbance(self, gap_years: float) -> RealArray:
        """Return the covariance of what moves level and slope in a gap, shape (H, 2, 2)."""
        both = np.empty((self.noise_factor.size, 2, 2))
        both[:, 0, 0] = self.slope_variance * gap_years**3 / 3.0 + self.level_variance * gap_years
        both[:, 0, 1] = both[:, 1, 0] = self.slope_variance * gap_years**2 / 2.0
        both[:, 1, 1] = self.slope_variance * gap_years
        return both


def growing_variances() -> Variances:
    """Return the grid for a cage that may grow."""
    return _grid(LEVEL_NOISES, SLOPE_NOISES)


def steady_variances() -> Variances:
    """Return the grid for a cage that stays as it is: only the scatter is open."""
    return _grid(((0.0, 1.0),), ((0.0, 1.0),))


def _grid(
    level_noises: Sequence[tuple[float, float]], slope_noises: Sequence[tuple[float, float]]
) -> Variances:
    """Return all combinations."""
    combinations = list(product(NOISE_FACTORS, level_noises, slope_noises))
    values = np.array([[value for value, _ in one] for one in combinations])
    weights = np.array([prod(weight for _, weight in one) for one in combinations])
    return Variances(
        noise_factor=values[:, 0],
        level_variance=values[:, 1] ** 2,
        slope_variance=values[:, 2] ** 2,
        log_weight=np.log(weights / weights.sum()),
    )


@dataclass(frozen=True)
class GrowthModel:
    """Model and readings of one history."""

    space: StateSpace
    observations: Observations
    variances: Variances
    visit: BoolArray
    """Which entries are readings; the others say that damage is not below zero, shape (n,)."""
    scale: FloorScale
    reference_load: float | None
    """Load that the level belongs to; None where no load is known."""
    reference_temperature_degc: float | None


def growth_model(
    points: Sequence[TrendPoint], limits: TrendLimits, variances: Variances, *, steady: bool = False
) -> GrowthModel:
    """Return the model of points in order of time; ``steady`` fixes the slope at zero."""
    scale = FloorScale(limits.floor_bars)
    levels, variance, limit = _levels(points, scale)
    load, load_variance, load_0 = _covariate(
        [point.load_fraction for point in points], limits.load_spread
    )
    kelvin, kelvin_variance, kelvin_0 = _covariate(
        [point.winding_temperature_degc for point in points], limits.temperature_spread_k
    )
    versions = list(dict.fromkeys(point.version for point in points))
    version = np.array([versions.index(point.version) for point in points])
    own = np.where(limit, 1.0, 1.0 - limits.common_share) * variance
    scatter = limits.visit_scatter_db**2 + own
    added = (
        limits.load_residual_db**2 * load_variance
        + limits.temperature_residual_db_per_k**2 * kelvin_variance
    )
    common = [
        _median((variance - own)[(version == v) & ~limit], limits) for v in range(len(versions))
    ]
    gaps = np.diff([point.day for point in points], prepend=points[0].day) / DAYS_PER_YEAR
    loadings = np.column_stack(
        [np.ones_like(load), np.zeros_like(load), load, kelvin, np.eye(len(versions))[version]]
    )
    noise = (scatter + added)[:, None] * variances.noise_factor**2
    history = _History(gaps, loadings, levels, noise, -limit.astype(np.int8))
    held, visit = _held_above_zero(history, scale)
    space = StateSpace(
        gaps=held.gaps,
        loadings=held.loadings,
        start_mean=np.array([limits.start_level_db, 0.0, 0.0, 0.0, *np.zeros(len(versions))]),
        start_covariance=_start_covariance(limits, common, steady=steady),
        disturbance=np.stack([variances.disturbance(float(gap)) for gap in held.gaps]),
    )
    return GrowthModel(
        space,
        Observations(held.levels, held.noise, held.side),
        variances,
        visit,
        scale,
        load_0,
        kelvin_0,
    )


class _History(NamedTuple):
    """Arrays of one row per entry."""

    gaps: RealArray
    loadings: RealArray
    levels: RealArray
    noise: RealArray
    side: NDArray[np.int8]


def _held_above_zero(history: _History, scale: FloorScale) -> tuple[_History, BoolArray]:
    """Return the history with "no less than zero" after limits, and which entries are readings.

    A reading that stands out holds the level up by itself.
    """
    places = np.array(_hold_after(history), dtype=int) + 1
    nothing = history.loadings[:1] * 0.0
    nothing[0, LEVEL] = 1.0
    held = _History(
        np.insert(history.gaps, places, 0.0),
        np.insert(history.loadings, places, nothing, axis=0),
        np.insert(history.levels, places, scale.zero_db),
        np.insert(history.noise, places, FLOOR_SOFTNESS_DB**2, axis=0),
        np.insert(history.side, places, 1),
    )
    return held, held.side <= 0


def _hold_after(history: _History) -> list[int]:
    """Return the limits after which the level is held: the last one, and not all too often."""
    limits = np.flatnonzero(history.side)
    years = np.cumsum(history.gaps)
    chosen: list[int] = []
    for place in limits[::-1].tolist():
        if not chosen or years[chosen[-1]] - years[place] >= HOLD_YEARS:
            chosen.append(place)
    return chosen[::-1]


def _start_covariance(limits: TrendLimits, common: Sequence[float], *, steady: bool) -> RealArray:
    """Return the prior covariance of the state."""
    slope = 0.0 if steady else limits.slope_spread_db_per_year**2
    return np.diag(
        [
            limits.start_spread_db**2,
            slope,
            limits.load_residual_db**2,
            limits.temperature_residual_db_per_k**2,
            *common,
        ]
    )


def _median(common_variances: RealArray, limits: TrendLimits) -> float:
    """Return the variance of the offset of a version; one with limits only has that of scatter."""
    if common_variances.size == 0:
        return limits.visit_scatter_db**2
    return float(np.median(common_variances))


def _levels(
    points: Sequence[TrendPoint], scale: FloorScale
) -> tuple[RealArray, RealArray, BoolArray]:
    """Return levels and variances by the intervals, in dB, and which are limits; shapes (n,).

    Of a limit the level is that from which the reading would have stood out; damage twice as large
    would have stood out in 97.5 % of such records.
    """
    low, value, high = np.array([[p.bars.low, p.bars.value, p.bars.high] for p in points]).T
    limit = np.array([point.is_limit for point in points])
    threshold = np.maximum(value, high - value)
    reads = scale.level_db(np.where(limit, threshold, value))
    below = np.where(limit, reads, scale.level_db(low))
    above = scale.level_db(np.where(limit, 2.0 * threshold, high))
    half_width = np.where(limit, above - below, 0.5 * (above - below))
    return reads, (half_width / NORMAL_COVERAGE_FACTOR) ** 2, limit


def _covariate(
    values: Sequence[Estimate | NotKnown], spread: float
) -> tuple[RealArray, RealArray, float | None]:
    """Return a covariate about its median, its variances, shapes (n,), and the median.

    Where a value is not known it stands at the median with the variance of what it may have been.
    """
    known = [v.value for v in values if isinstance(v, Estimate)]
    if not known:
        # unknown throughout: it may have differed between any two visits
        return np.zeros(len(values)), np.full(len(values), spread**2), None
    middle = float(np.median(known))
    offsets = [v.value - middle if isinstance(v, Estimate) else 0.0 for v in values]
    widths = [
        (v.high - v.low) / (2.0 * NORMAL_COVERAGE_FACTOR) if isinstance(v, Estimate) else spread
        for v in values
    ]
    return np.array(offsets), np.array(widths) ** 2, middle
