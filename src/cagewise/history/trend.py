"""The trend of one reading of one motor: level, slope, and what may be said (trend.md, 4 and 5)."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray
from scipy.special import bdtrc

from cagewise.history import mixture
from cagewise.history.censored import Forward, run_forward
from cagewise.history.growth_model import (
    DAYS_PER_YEAR,
    FLOOR_SOFTNESS_DB,
    LEVEL,
    GrowthModel,
    growing_variances,
    growth_model,
)
from cagewise.history.kalman import Filtered, advanced, run_smoother
from cagewise.history.limits import TrendLimits, trend_limits
from cagewise.history.points import Comparable, NoTrendGround, TrendPoint, comparable
from cagewise.history.scale import FloorScale
from cagewise.quantities import COVERAGE, NORMAL_COVERAGE_FACTOR, Estimate, RealArray

LEAST_WEIGHT = 1e-3
"""Weight of a set of variances over that of the likeliest below which it is left out: all of them
together move no second digit of a probability."""

MOST_SMOOTHED = 128
"""Sets and draws that are smoothed for the curve; of more, one from each layer of equal weight."""


class TrendCall(StrEnum):
    """What a trend amounts to."""

    GROWING = "growing"
    NOTHING_SEEN = "nothing seen"
    """Every point says only "no more than": there is nothing whose growth could be followed."""
    STEADY = "steady"
    CANNOT_TELL = "cannot tell"


@dataclass(frozen=True, slots=True, kw_only=True)
class GrowthPosterior:
    """Level and slope on one day given all points: a mixture of normal distributions."""

    day: float
    weights: RealArray
    """Of the sets of variances, sum to one, shape (H,)."""
    means: RealArray
    """Level (dB) and slope (dB/year), shape (H, 2)."""
    covariances: RealArray
    """Shape (H, 2, 2)."""
    noise_factor: RealArray
    """Scatter over the expected one, shape (H,)."""
    level_variance: RealArray
    """Random walk of the level, dB^2/year, shape (H,)."""
    slope_variance: RealArray
    """Random walk of the slope, dB^2/year^3, shape (H,)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CurvePoint:
    """The damage on one day, given all points."""

    day: float
    bars: Estimate


@dataclass(frozen=True, slots=True, kw_only=True)
class ForecastCheck:
    """How the points fell in the forecasts from those before them."""

    days: tuple[float, ...]
    """Of the points from the second on."""
    scores: tuple[float, ...]
    """Each point in its forecast, standard normal if the model is right."""
    outside: int
    """Points outside the 95 % interval of their forecast."""
    probability: float
    """Of so many or more, if the model is right."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Trend:
    """The trend of one reading of one motor."""

    reading: str
    """Name of the reading."""
    day: float
    """Day that level and slope belong to."""
    points: Comparable
    level_bars: Estimate
    """Damage on that day, open bars: median and 95 % interval."""
    slope_db_per_year: Estimate
    """Growth; 6 dB/year doubles the damage in a year."""
    probability_growing: float
    """Of a slope above the least that counts as growth."""
    probability_fast: float
    """Of a slope that rules out calling the cage steady."""
    call: TrendCall
    because: str
    """What the call rests on, or why there is none, as a clause."""
    curve: tuple[CurvePoint, ...]
    """At the days of the points."""
    check: ForecastCheck
    noise_factor: float
    """Scatter of the points over what was expected, posterior mean."""
    limits_only: bool
    """Whether every point says only "no more than"."""
    reference_load: float | None
    """Load the level belongs to; None where no load is known."""
    reference_temperature_degc: float | None
    posterior: GrowthPosterior
    """For forecasts."""

    @property
    def growth_factor_per_year(self) -> Estimate:
        """The slope as a factor of the damage per year, far above the floor."""
        slope = self.slope_db_per_year
        low, value, high = (10.0 ** (s / 20.0) for s in (slope.low, slope.value, slope.high))
        return Estimate(value, low, high)


@dataclass(frozen=True, slots=True, kw_only=True)
class NoTrend:
    """There is no trend; that is a result too, with its ground."""

    ground: NoTrendGround
    reason: str
    """Why, with its numbers, as a clause."""
    points: Comparable


def fit_trend(
    points: Iterable[TrendPoint],
    limits: TrendLimits | None = None,
    *,
    reading: str = "",
    since_day: float = -math.inf,
    day: float | None = None,
) -> Trend | NoTrend:
    """Return the trend of one motor.

    Parameters
    ----------
    points
        All that is known of the motor; what may not be compared is set aside and named.
    limits
        Those in force where None.
    reading
        Name of the reading; empty for the one with the most points.
    since_day
        Day of the last repair of the cage.
    day
        Day that level and slope shall belong to, not before the last point; None for that one.
    """
    limits = limits or trend_limits()
    chosen = comparable(points, reading=reading, since_day=since_day)
    refusal = chosen.refusal(limits)
    if refusal is not None:
        return NoTrend(ground=refusal.ground, reason=refusal.reason, points=chosen)
    model = growth_model(chosen.points, limits, growing_variances())
    forward = run_forward(model.space, model.observations, model.variances.log_weight)
    weights = mixture.normalised(forward.log_weight)
    likely = weights >= LEAST_WEIGHT * weights.max()
    last = chosen.points[-1].day
    now = last if day is None else max(day, last)
    fitted = _Fitted(
        filtered=forward.filtered.only(likely),
        weights=weights[likely] / weights[likely].sum(),
        number=forward.filtered.of_set[likely],
    )
    posterior = _posterior(model, fitted, (last, now))
    return _trend(chosen, model, fitted, posterior, limits, _check(chosen, model, forward))


@dataclass(frozen=True)
class _Fitted:
    """Those sets of variances and draws that count."""

    filtered: Filtered
    weights: RealArray
    """Shape (N,)."""
    number: NDArray[np.intp]
    """Of the set of variances, shape (N,)."""


def _trend(
    chosen: Comparable,
    model: GrowthModel,
    fitted: _Fitted,
    posterior: GrowthPosterior,
    limits: TrendLimits,
    check: ForecastCheck,
) -> Trend:
    """Return the trend from its posterior."""
    weights, deviations = posterior.weights, np.sqrt(_diagonal(posterior.covariances))
    low, middle, high = mixture.quantiles(
        weights, posterior.means[None, :, 1], deviations[None, :, 1]
    )[:, 0].tolist()
    slope_db = Estimate(middle, low, high)
    growing, fast = (
        mixture.probability_above(weights, posterior.means[:, 1], deviations[:, 1], value)
        for value in (limits.growing_from_db_per_year, limits.steady_below_db_per_year)
    )
    only = all(point.is_limit for point in chosen.points)
    call, because = _call(slope_db, growing, fast, limits, limits_only=only)
    return Trend(
        reading=chosen.points[0].reading,
        day=posterior.day,
        points=chosen,
        level_bars=_bars(model.scale, weights, posterior.means[None, :, 0], deviations[None, :, 0])[
            0
        ],
        slope_db_per_year=slope_db,
        probability_growing=growing,
        probability_fast=fast,
        call=call,
        because=because,
        curve=_curve(chosen, model, fitted),
        check=check,
        noise_factor=float(weights @ posterior.noise_factor),
        limits_only=only,
        reference_load=model.reference_load,
        reference_temperature_degc=model.reference_temperature_degc,
        posterior=posterior,
    )


def _call(
    slope: Estimate, growing: float, fast: float, limits: TrendLimits, *, limits_only: bool
) -> tuple[TrendCall, str]:
    """Return what may be said, and what it rests on."""
    if growing >= limits.call_probability:
        return TrendCall.GROWING, (
            f"a growth above {limits.growing_from_db_per_year:g} dB/year has {growing:.1%}"
        )
    if limits_only:
        return TrendCall.NOTHING_SEEN, 'every point says only "no more than"'
    if fast <= 1.0 - limits.call_probability:
        return TrendCall.STEADY, (
            f"a growth above {limits.steady_below_db_per_year:g} dB/year has {fast:.1%}"
        )
    return TrendCall.CANNOT_TELL, (
        f"slopes from {slope.low:.1f} to {slope.high:.1f} dB/year fit the points"
    )


def _posterior(model: GrowthModel, fitted: _Fitted, days: tuple[float, float]) -> GrowthPosterior:
    """Return level and slope on a day, given with the day of the last point before it."""
    gap_years = (days[1] - days[0]) / DAYS_PER_YEAR
    of_set = fitted.number
    mean, covariance = advanced(
        fitted.filtered.end_mean,
        fitted.filtered.end_covariance,
        gap_years,
        model.variances.disturbance(gap_years)[of_set],
    )
    return GrowthPosterior(
        day=days[1],
        weights=fitted.weights,
        means=mean[:, :2],
        covariances=covariance[:, :2, :2],
        noise_factor=model.variances.noise_factor[of_set],
        level_variance=model.variances.level_variance[of_set],
        slope_variance=model.variances.slope_variance[of_set],
    )


def _curve(chosen: Comparable, model: GrowthModel, fitted: _Fitted) -> tuple[CurvePoint, ...]:
    """Return the smoothed damage at the days of the points."""
    level = np.zeros_like(model.space.loadings)
    level[:, LEVEL] = 1.0
    weights, filtered = fitted.weights, fitted.filtered
    if weights.size > MOST_SMOOTHED:
        layers = (np.arange(MOST_SMOOTHED) + 0.5) / MOST_SMOOTHED
        filtered = filtered.only(np.searchsorted(weights.cumsum()[:-1], layers))
        weights = np.full(MOST_SMOOTHED, 1.0 / MOST_SMOOTHED)
    mean, variance = (part[model.visit] for part in run_smoother(filtered).seen(level))
    bars = _bars(model.scale, weights, mean, np.sqrt(variance))
    return tuple(
        CurvePoint(day=point.day, bars=one) for point, one in zip(chosen.points, bars, strict=True)
    )


def _check(chosen: Comparable, model: GrowthModel, forward: Forward) -> ForecastCheck:
    """Return how the points from the second on fell in their forecasts."""
    tail, limit = (part[model.visit][1:] for part in (forward.tail, model.observations.side != 0))
    far = np.where(limit, -tail, np.abs(tail)) > NORMAL_COVERAGE_FACTOR
    outside = int(np.count_nonzero(far))
    return ForecastCheck(
        days=tuple(point.day for point in chosen.points[1:]),
        scores=tuple(forward.scores[model.visit][1:].tolist()),
        outside=outside,
        probability=1.0 if outside == 0 else float(bdtrc(outside - 1, far.size, 1.0 - COVERAGE)),
    )


def _bars(
    scale: FloorScale, weights: RealArray, means: RealArray, deviations: RealArray
) -> tuple[Estimate, ...]:
    """Return levels in open bars, means and deviations of shape (n, H).

    There is no damage below zero: middle and upper end are those of a level not below it. Where the
    lower end is not told from zero by the softness of that, the interval reaches zero.
    """
    low = mixture.quantiles(weights, means, deviations)[0]
    low = np.where(low < scale.zero_db + 2.0 * FLOOR_SOFTNESS_DB, scale.zero_db, low)
    _, middle, high = mixture.quantiles(weights, means, deviations, least=scale.zero_db)
    ends = (scale.bars(level).tolist() for level in (middle, np.minimum(low, middle), high))
    return tuple(Estimate(*one) for one in zip(*ends, strict=True))


def _diagonal(matrices: RealArray) -> RealArray:
    """Return the diagonals of covariances, never negative, shape (H, 2)."""
    return np.maximum(np.diagonal(matrices, axis1=1, axis2=2), 0.0)
