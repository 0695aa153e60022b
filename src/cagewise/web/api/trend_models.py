"""A trend as an answer."""

from __future__ import annotations

from datetime import date

from pydantic import BaseModel, Field

from cagewise.history.points import TrendPoint
from cagewise.history.trend import Trend
from cagewise.quantities import Estimate, NotKnown
from cagewise.report.history_text import day_of
from cagewise.workflows.plant_trend_page import ToldTrend


class Quantity(BaseModel):
    """A value with its 95 % interval."""

    value: float
    low: float
    high: float

    @classmethod
    def of(cls, estimate: Estimate) -> Quantity:
        """Return an estimate."""
        return cls(value=estimate.value, low=estimate.low, high=estimate.high)


class PointAnswer(BaseModel):
    """One reading of one visit."""

    day: date
    examination_id: int | None
    reading: str
    open_bars: Quantity
    no_more_than: bool = Field(description="Whether the interval reaches zero.")
    load_fraction: float | None = Field(description="Shaft power over rated power.")
    level: Quantity | None = Field(description="What all points together give for that day.")
    set_aside: str = Field(description="Why it was not used; empty where it was.")


class ChangeAnswer(BaseModel):
    """Whether the motor changed from what it was."""

    changed: bool
    begun_about: date | None
    false_alarm_visits: tuple[float, float] = Field(
        description="Mean visits between false alarms: at least, at most."
    )


class LimitAnswer(BaseModel):
    """When the damage reaches a limit if it goes on like this."""

    limit_bars: float
    horizon_years: float
    p10_years: float | None = Field(description="Null: not within the horizon.")
    p50_years: float | None
    p90_years: float | None
    probability_never: float = Field(description="Of not reaching it within the horizon.")
    probability_now: float = Field(description="Of being beyond it already.")


class TrendAnswer(BaseModel):
    """The trend of one reading of a motor."""

    motor_id: int
    reading: str
    readings: list[str] = Field(description="Others that may be asked for, this one included.")
    call: str = Field(description="What it amounts to, or why there is no trend.")
    because: str
    since: date | None = Field(description="Last repair of the cage: the trend begins after it.")
    level_bars: Quantity | None
    slope_db_per_year: Quantity | None
    probability_growing: float | None
    change: ChangeAnswer | None
    time_to_limit: LimitAnswer | None
    points: list[PointAnswer] = Field(description="By day, those set aside included.")

    @classmethod
    def of(cls, told: ToldTrend) -> TrendAnswer:
        """Return a trend."""
        view, trend = told.view, told.view.trend
        known = trend if isinstance(trend, Trend) else None
        return cls(
            motor_id=view.motor.id,
            reading=told.reading,
            readings=list(told.readings),
            call=known.call.value if known else trend.ground.value,  # type: ignore[union-attr]
            because=known.because if known else trend.reason,  # type: ignore[union-attr]
            since=view.repaired_on,
            level_bars=Quantity.of(known.level_bars) if known else None,
            slope_db_per_year=Quantity.of(known.slope_db_per_year) if known else None,
            probability_growing=known.probability_growing if known else None,
            change=_change(told),
            time_to_limit=_limit(told),
            points=_points(told, known),
        )


def _points(told: ToldTrend, known: Trend | None) -> list[PointAnswer]:
    """Return all points, by day."""
    levels = {each.day: Quantity.of(each.bars) for each in known.curve} if known else {}
    points = [_point(each, levels.get(each.day), "") for each in told.view.points.points]
    points += [_point(each.point, None, each.reason) for each in told.view.points.set_aside]
    return sorted(points, key=lambda each: (each.day, each.reading))


def _point(point: TrendPoint, level: Quantity | None, why: str) -> PointAnswer:
    number = point.source.removeprefix("examination ")
    load = point.load_fraction
    return PointAnswer(
        day=day_of(point.day),
        examination_id=int(number) if number.isdecimal() else None,
        reading=point.reading,
        open_bars=Quantity.of(point.bars),
        no_more_than=point.is_limit,
        load_fraction=load.value if isinstance(load, Estimate) else None,
        level=level,
        set_aside=why,
    )


def _change(told: ToldTrend) -> ChangeAnswer | None:
    """Return whether the motor changed."""
    change = told.view.change
    if change is None:
        return None
    return ChangeAnswer(
        changed=change.changed,
        begun_about=None if change.onset_day is None else day_of(change.onset_day),
        false_alarm_visits=change.false_alarm_visits,
    )


def _limit(told: ToldTrend) -> LimitAnswer | None:
    """Return the time to the limit."""
    limit = told.view.limit
    if limit is None:
        return None
    years = [
        None if isinstance(each, NotKnown) else each
        for each in (limit.p10_years, limit.p50_years, limit.p90_years)
    ]
    return LimitAnswer(
        limit_bars=limit.limit_bars,
        horizon_years=limit.horizon_years,
        p10_years=years[0],
        p50_years=years[1],
        p90_years=years[2],
        probability_never=limit.probability_never,
        probability_now=limit.probability_now,
    )
