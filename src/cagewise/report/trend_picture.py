"""A trend laid out to be drawn: places in percent of a time axis and of an axis of open bars."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from cagewise.history.points import TrendPoint
from cagewise.history.trend import CurvePoint, Trend
from cagewise.quantities import Estimate
from cagewise.report.bars_axis import BarsAxis
from cagewise.report.history_strip import Moment, Span, moment_of, span_of
from cagewise.report.history_text import day_of
from cagewise.report.history_views import TrendView
from cagewise.report.language import retell
from cagewise.report.numbers import bars_interval, percent_of
from cagewise.report.time_axis import Tick, TimeAxis
from cagewise.store import Event, Outcome, Repair

CANVAS = 1000.0
"""Width and height of the drawing in which the level is a curve."""
LEAST_LOAD = 1.0
"""The axis of loads shows rated load at least."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PointRow:
    """One visit of a trend."""

    day: date
    examination_id: int | None
    x: float
    span: Span
    is_limit: bool
    """"No more than"."""
    used: bool
    why: str
    """Why it was set aside; empty where it was used."""
    bars: str
    level: str
    load: str
    load_y: float | None
    """Percent of the height from the top; None where it is not known."""
    version: int
    """Which nameplate and sensors, counted from the first."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TrendPicture:
    """A trend, ready to be drawn."""

    rows: tuple[PointRow, ...]
    moments: tuple[Moment, ...]
    ticks: tuple[Tick, ...]
    bars: tuple[tuple[float, str], ...]
    band: str
    """Outline of the interval of the level, places on the canvas; empty where there is none."""
    line: str
    """The level, likewise."""
    limit_y: float | None
    """Place of the limit; None where it lies above the axis."""
    loads: tuple[tuple[float, str], ...]
    """Axis of the loads; empty where none is known."""


def picture_of(
    view: TrendView, events: Sequence[Event], *, limit_bars: float, reading: str
) -> TrendPicture | None:
    """Return the picture of a trend; None where there is nothing to draw.

    Parameters
    ----------
    view
        The trend, or why there is none.
    events
        What happened to the motor: repairs and what was found are drawn.
    limit_bars
        Damage that is drawn as a line.
    reading
        Whose points are drawn; of other readings none.
    """
    aside = [(a.point, a.reason) for a in view.points.set_aside if a.point.reading == reading]
    points = sorted([*((p, "") for p in view.points.points), *aside], key=lambda each: each[0].day)
    if not points:
        return None
    told = [each for each in events if isinstance(each.what, Repair | Outcome)]
    days = [day_of(point.day) for point, _ in points]
    time = TimeAxis.over([*days, *(each.day for each in told)])
    curve = view.trend.curve if isinstance(view.trend, Trend) else ()
    bars = BarsAxis.over([point.bars for point, _ in points])
    loads = [p.load_fraction.value for p, _ in points if isinstance(p.load_fraction, Estimate)]
    page = _Axes(time=time, bars=bars, top_load=max([LEAST_LOAD, *loads]))
    levels = {each.day: each for each in curve}
    versions = list(dict.fromkeys(point.version for point, _ in points))
    return TrendPicture(
        rows=tuple(
            page.row(point, why, levels.get(point.day), versions.index(point.version) + 1)
            for point, why in points
        ),
        moments=tuple(moment_of(each, time) for each in told),
        ticks=time.ticks(),
        bars=bars.ticks(),
        band=page.band(curve),
        line=page.line(curve),
        limit_y=bars.y(limit_bars) if limit_bars <= bars.top else None,
        loads=page.loads() if loads else (),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Axes:
    """The axes of the picture."""

    time: TimeAxis
    bars: BarsAxis
    top_load: float

    def row(self, point: TrendPoint, why: str, level: CurvePoint | None, version: int) -> PointRow:
        """Return one visit."""
        load = point.load_fraction if isinstance(point.load_fraction, Estimate) else None
        number = point.source.removeprefix("examination ")
        return PointRow(
            day=day_of(point.day),
            examination_id=int(number) if number.isdecimal() else None,
            x=self.time.x(day_of(point.day)),
            span=span_of(point.bars, self.bars),
            is_limit=point.is_limit,
            used=not why,
            why=retell(why),
            bars=bars_interval(point.bars),
            level="" if level is None else bars_interval(level.bars),
            load="" if load is None else percent_of(f"{100.0 * load.value:.0f}"),
            load_y=None if load is None else self.load_y(load.value),
            version=version,
        )

    def load_y(self, load: float) -> float:
        """Return the place of a load, percent of the height from the top."""
        return round(100.0 * (1.0 - load / self.top_load), 2)

    def loads(self) -> tuple[tuple[float, str], ...]:
        """Return the labels of the axis of loads."""
        return tuple(
            (self.load_y(load), percent_of(f"{100.0 * load:.0f}")) for load in (0.0, 0.5, 1.0)
        )

    def line(self, curve: Sequence[CurvePoint]) -> str:
        """Return the places of the level."""
        return " ".join(self._place(each.day, each.bars.value) for each in curve)

    def band(self, curve: Sequence[CurvePoint]) -> str:
        """Return the outline of the interval of the level."""
        above = [self._place(each.day, each.bars.high) for each in curve]
        below = [self._place(each.day, each.bars.low) for each in reversed(curve)]
        return " ".join([*above, *below])

    def _place(self, day: float, bars: float) -> str:
        x, y = self.time.x(day_of(day)), self.bars.y(bars)
        return f"{x * CANVAS / 100.0:.1f},{y * CANVAS / 100.0:.1f}"
