"""Has a motor changed? Cumulative sums on the errors of the steady motor (trend.md, 7)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from cagewise.history.censored import run_forward
from cagewise.history.cusum import (
    CusumDesign,
    CusumPath,
    Delay,
    growth_delay,
    run_cusum,
    run_length,
)
from cagewise.history.growth_model import (
    DAYS_PER_YEAR,
    GrowthModel,
    growth_model,
    steady_variances,
)
from cagewise.history.limits import TrendLimits, trend_limits
from cagewise.history.trend import Trend
from cagewise.quantities import RealArray


@dataclass(frozen=True, slots=True, kw_only=True)
class GrowthDelay:
    """How soon a growth that began at the last visit would be noticed."""

    growth_db_per_year: float
    delay: Delay | None
    """None if hardly ever."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeSum:
    """One design of cumulative sums along a history, with what it is worth."""

    path: CusumPath
    false_alarm_visits: float
    """Mean number of visits between false alarms, both sides counted."""
    false_alarm_years: float
    """The same at the measuring interval of this motor."""
    delays: tuple[GrowthDelay, ...]
    signal_day: float | None
    """Day of the first signal upwards."""
    onset_day: float | None
    """Day of the first visit after which the sum did not return to zero before it."""
    fall_day: float | None
    """Day of the first signal downwards: a repair, another sensor, another load."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """Whether a motor has changed from what it was."""

    days: tuple[float, ...]
    """Of the visits from the second on."""
    errors: tuple[float, ...]
    """Of the forecasts of a motor that stays as it is, standardised."""
    sums: tuple[ChangeSum, ...]
    interval_days: float
    """Median time from visit to visit."""
    sigma_db: float
    """Scatter of one visit's reading."""
    false_alarm_visits: tuple[float, float]
    """Between false alarms of any of the designs: at least, at most."""

    @property
    def changed(self) -> bool:
        """Whether any sum gave a signal upwards."""
        return any(one.signal_day is not None for one in self.sums)

    @property
    def onset_day(self) -> float | None:
        """Where the change is put: by the sum that gave its signal first."""
        signals = [(s.signal_day, s.onset_day) for s in self.sums if s.signal_day is not None]
        return min(signals)[1] if signals else None


def find_change(trend: Trend, limits: TrendLimits | None = None) -> Change:
    """Return whether the motor of a trend has changed from what it was."""
    limits = limits or trend_limits()
    points = trend.points.points
    model = growth_model(points, limits, steady_variances(), steady=True)
    weights = _noise_weights(trend, model)
    with np.errstate(divide="ignore"):
        forward = run_forward(model.space, model.observations, np.log(weights))
    errors = forward.scores[model.visit][1:]
    days = tuple(point.day for point in points[1:])
    visiting = _Visiting(
        interval_days=_interval_days(np.array([point.day for point in points])),
        sigma_db=float(np.sqrt(np.median(model.observations.variances[model.visit] @ weights))),
        visits=len(points),
    )
    designs = (
        CusumDesign(
            reference_sigma=limits.quick_reference_sigma, decision_sigma=limits.quick_decision_sigma
        ),
        CusumDesign(
            reference_sigma=limits.slow_reference_sigma, decision_sigma=limits.slow_decision_sigma
        ),
    )
    growths = (limits.growth_fast_db_per_year, limits.growth_slow_db_per_year)
    sums = tuple(_sum(run_cusum(design, errors), days, visiting, growths) for design in designs)
    lengths = [one.false_alarm_visits for one in sums]
    return Change(
        days=days,
        errors=tuple(errors.tolist()),
        sums=sums,
        interval_days=visiting.interval_days,
        sigma_db=visiting.sigma_db,
        false_alarm_visits=(1.0 / sum(1.0 / length for length in lengths), min(lengths)),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Visiting:
    """How a motor is visited."""

    interval_days: float
    sigma_db: float
    visits: int


def _sum(
    path: CusumPath, days: tuple[float, ...], visiting: _Visiting, growths: tuple[float, ...]
) -> ChangeSum:
    """Return what one design says and what it is worth at the interval of this motor."""
    years = visiting.interval_days / DAYS_PER_YEAR
    length = run_length(path.design)
    delays = tuple(
        GrowthDelay(
            growth_db_per_year=growth,
            delay=growth_delay(
                path.design,
                growth,
                interval_years=years,
                sigma_db=visiting.sigma_db,
                visits_before=visiting.visits,
            ),
        )
        for growth in growths
    )
    return ChangeSum(
        path=path,
        false_alarm_visits=length,
        false_alarm_years=length * years,
        delays=delays,
        signal_day=None if path.signal is None else days[path.signal],
        onset_day=None if path.onset is None else days[path.onset],
        fall_day=None if path.signal_down is None else days[path.signal_down],
    )


def _interval_days(days: RealArray) -> float:
    """Return the median time between visits of different days."""
    gaps = np.diff(days)
    return float(np.median(gaps[gaps > 0.0]))


def _noise_weights(trend: Trend, model: GrowthModel) -> RealArray:
    """Return the weights of the scatters as the growing model has them, shape (H,)."""
    posterior = trend.posterior
    alike = posterior.noise_factor[None, :] == model.variances.noise_factor[:, None]
    weights: RealArray = alike @ posterior.weights
    return weights
