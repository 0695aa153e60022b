"""Use case: the trend of a motor with what happened to it meanwhile, and its other readings."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from cagewise.history.trend import Trend
from cagewise.report.history_views import TrendView
from cagewise.store import Event, MotorEntry, Plant
from cagewise.workflows.plant_history import trend_of
from cagewise.workflows.plant_points import standing, trend_points


@dataclass(frozen=True, slots=True, kw_only=True)
class ToldTrend:
    """A trend and what belongs beside it."""

    view: TrendView
    reading: str
    """Whose trend it is; empty where there is none of any."""
    readings: tuple[str, ...]
    """Every reading in open bars that the motor has."""
    events: tuple[Event, ...]
    """What happened, by day; what was put right is left out."""


def told_trend(
    plant: Plant,
    motor: MotorEntry,
    *,
    reading: str = "",
    limit_bars: float | None = None,
    today: date | None = None,
) -> ToldTrend:
    """Return the trend of a motor with what happened to it.

    Parameters
    ----------
    plant
        Open.
    motor
        The motor.
    reading
        Name of the reading; the one with the most points if it is empty or the motor has none so
        called.
    limit_bars
        Damage whose time is forecast, in open bars; the limit in force if None.
    today
        Day on which it is asked; by the plant's calendar if None.
    """
    readings = tuple(dict.fromkeys(point.reading for point in trend_points(plant, motor)))
    wanted = reading if reading in readings else ""
    view = trend_of(plant, motor, reading=wanted, limit_bars=limit_bars, today=today)
    points = view.points.points
    if isinstance(view.trend, Trend):
        wanted = view.trend.reading
    elif points:
        wanted = points[0].reading
    return ToldTrend(
        view=view,
        reading=wanted or next(iter(readings), ""),
        readings=readings,
        events=standing(plant.cases.events(motor)),
    )
