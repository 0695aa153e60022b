"""When the damage reaches a limit, if it goes on like this (docs/theory/trend.md, 8)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from cagewise.history.kalman import BoolArray
from cagewise.history.limits import TrendLimits, trend_limits
from cagewise.history.scale import FloorScale
from cagewise.history.trend import GrowthPosterior, Trend
from cagewise.quantities import NotKnown, RealArray

DRAWS = 4096
"""Continuations of a history: a probability of one half is met to 1.6 %, two standard errors."""
STEPS = 60
"""Steps to the horizon; crossings between them are counted by the bridge."""
LEAST_SPREAD_DB2 = 1e-9
"""Variance of a step below which it is a straight line; keeps the bridge finite."""
SEED = 9
"""Of the draws: the same history gives the same answer."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TimeToLimit:
    """First passage of the damage over a limit, from the day of the trend on."""

    limit_bars: float
    """The limit, open bars."""
    horizon_years: float
    """How far ahead was looked."""
    from_day: float
    """Day from which time counts."""
    p10_years: float | NotKnown
    """One in ten such motors has passed the limit by then."""
    p50_years: float | NotKnown
    p90_years: float | NotKnown
    probability_never: float
    """Of not passing it within the horizon."""
    probability_now: float
    """Of being beyond it already."""


def time_to_limit(
    trend: Trend,
    limits: TrendLimits | None = None,
    *,
    limit_bars: float | None = None,
    horizon_years: float | None = None,
) -> TimeToLimit:
    """Return when the damage of a trend reaches a limit; limits in force where None."""
    limits = limits or trend_limits()
    bars = limits.limit_bars if limit_bars is None else limit_bars
    horizon = limits.horizon_years if horizon_years is None else horizon_years
    level_db = float(FloorScale(limits.floor_bars).level_db(bars))
    times = first_passages(trend.posterior, level_db, horizon)
    p10, p50, p90 = (_quantile(times, share, horizon) for share in (0.1, 0.5, 0.9))
    return TimeToLimit(
        limit_bars=bars,
        horizon_years=horizon,
        from_day=trend.day,
        p10_years=p10,
        p50_years=p50,
        p90_years=p90,
        probability_never=float(np.mean(np.isinf(times))),
        probability_now=float(np.mean(times == 0.0)),
    )


def first_passages(posterior: GrowthPosterior, level_db: float, horizon_years: float) -> RealArray:
    """Return drawn times to the first passage of a level, infinite beyond the horizon, in years.

    Shape (DRAWS,). Zero where the damage is beyond it already.
    """
    random = np.random.default_rng(SEED)
    chosen = random.choice(posterior.weights.size, size=DRAWS, p=posterior.weights)
    level, slope = _starts(posterior, chosen, random)
    step = horizon_years / STEPS
    level_step = posterior.level_variance[chosen] * step
    slope_deviation = np.sqrt(posterior.slope_variance[chosen] * step)
    times = np.where(level >= level_db, 0.0, np.inf)
    for number in range(STEPS):
        bend, noise, wiggle = random.normal(size=(3, DRAWS))
        bend *= slope_deviation
        # integral of the slope's random walk given its end: half the step, and a twelfth of it
        drift = (slope + 0.5 * bend + slope_deviation * wiggle / np.sqrt(12.0)) * step
        after = level + drift + np.sqrt(level_step) * noise
        crossed = _crossed(level_db - level, level_db - after, level_step, random)
        part = _part(level_db - level, level_db - after)
        times = np.where(np.isinf(times) & crossed, (number + part) * step, times)
        level, slope = after, slope + bend
    return times


def _starts(
    posterior: GrowthPosterior, chosen: NDArray[np.intp], random: np.random.Generator
) -> tuple[RealArray, RealArray]:
    """Return drawn levels and slopes, shape (DRAWS,)."""
    first, second = random.normal(size=(2, DRAWS))
    covariance = posterior.covariances[chosen]
    level_deviation = np.sqrt(np.maximum(covariance[:, 0, 0], 0.0))
    shared = covariance[:, 0, 1] / np.maximum(level_deviation, np.finfo(float).tiny)
    left = np.sqrt(np.maximum(covariance[:, 1, 1] - shared**2, 0.0))
    means = posterior.means[chosen]
    return means[:, 0] + level_deviation * first, means[:, 1] + shared * first + left * second


def _crossed(
    before: RealArray, after: RealArray, level_step: RealArray, random: np.random.Generator
) -> BoolArray:
    """Return whether a path passed the limit in a step, from the room below it at both ends."""
    room = np.maximum(before, 0.0) * np.maximum(after, 0.0)
    chance = np.exp(-2.0 * room / np.maximum(level_step, LEAST_SPREAD_DB2))
    # room of zero is a path at or beyond the limit: its chance is one
    drawn: BoolArray = random.uniform(size=DRAWS) < chance
    return drawn


def _part(before: RealArray, after: RealArray) -> RealArray:
    """Return when within a step a path passed, from the room below the limit at both ends.

    On the straight line to the end, or to its mirror image where the path came back.
    """
    room, way = np.maximum(before, 0.0), np.maximum(before, 0.0) + np.abs(after)
    part: RealArray = np.divide(room, way, out=np.zeros_like(room), where=way > 0.0)
    return part


def _quantile(times: RealArray, share: float, horizon_years: float) -> float | NotKnown:
    """Return a quantile of the times, or that it lies beyond the horizon."""
    value = float(np.quantile(times, share, method="inverted_cdf"))
    if np.isinf(value):
        return NotKnown(f"not within {horizon_years:g} years")
    return value
