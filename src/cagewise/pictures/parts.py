"""What several pictures have in common."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from cagewise.indicators.reading import Reading
from cagewise.pictures.level_series import LevelSeries
from cagewise.pictures.picture import Axis, Curve, Marker, Part, Picture
from cagewise.quantities import Estimate, RealArray

FIRST_COLUMNS = 700
"""Columns of the first view of a long curve: those of a figure of a page's width."""
FLOOR_POINTS = 300
"""Points of a floor, which changes slowly."""
BARS = ("no open bar", "1 open bar", "2 open bars", "3 open bars")
"""Names of the expected damages, by adjacent open bars."""
NOTHING = Axis(quantity="")


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """A picture, and the long rows behind its first curves."""

    picture: Picture
    series: tuple[LevelSeries, ...] = ()
    """The first curves of the picture in full, in their order."""

    @property
    def nbytes(self) -> int:
        """Memory that it takes, nearly."""
        picture, size = self.picture, sum(series.nbytes for series in self.series)
        for curve in picture.curves:
            size += sum(
                a.nbytes for a in (curve.x, curve.y, curve.low, curve.high) if a is not None
            )
        return size + (0 if picture.raster is None else picture.raster.level.nbytes)


def absent(name: str, title: str, reason: str, readings: Sequence[str] = ()) -> Drawn:
    """Return a picture in which there is nothing to be seen."""
    picture = Picture(
        name=name, title=title, x=NOTHING, y=NOTHING, reason=reason, readings=tuple(readings)
    )
    return Drawn(picture=picture)


def first_view(series: LevelSeries, label: str) -> Curve:
    """Return the whole of a series as a curve."""
    shown = series.window(series.first, series.last, FIRST_COLUMNS)
    return Curve(label=label, part=Part.MEASURED, x=shown.x, y=shown.y)


def series_of(x: RealArray, values: RealArray) -> LevelSeries:
    """Return values at evenly spaced places as a series; half the precision is plenty."""
    step = float(x[-1] - x[0]) / (x.size - 1) if x.size > 1 else 1.0
    return LevelSeries(float(x[0]), step, values.astype(np.float32))


def floor_curve(x: RealArray, floor: RealArray) -> Curve:
    """Return a floor with few points."""
    at = np.unique(np.linspace(0, x.size - 1, min(x.size, FLOOR_POINTS)).round().astype(np.intp))
    return Curve(label="noise floor", part=Part.FLOOR, x=x[at], y=floor[at])


def expected_marker(
    label: str, open_bars: int, x: float, level: Estimate, order: float | None
) -> Marker:
    """Return the marker of what a number of open bars would show."""
    return Marker(
        label=f"{BARS[open_bars]}: {label}",
        part=Part.EXPECTED,
        x=x,
        y=level.value,
        low=level.low,
        high=level.high,
        open_bars=float(open_bars),
        order=order,
    )


def read_marker(label: str, x: float, value: Estimate, order: float | None = None) -> Marker:
    """Return the marker of something that was read."""
    low, high = (end if math.isfinite(end) else None for end in (value.low, value.high))
    return Marker(
        label=label, part=Part.MEASURED, x=x, y=value.value, low=low, high=high, order=order
    )


def limit_markers(
    details: Mapping[str, float], key: str, x: float, label: str, order: float | None = None
) -> Iterator[Marker]:
    """Yield the marker of a limit that the details of a reading hold."""
    value = details.get(key)
    if value is not None and math.isfinite(value):
        yield Marker(label=label, part=Part.LIMIT, x=x, y=value, order=order)


def why_not(readings: Mapping[str, Reading], name: str) -> str:
    """Return why a reading is not there or not valid, as a clause; empty if it is."""
    reading = readings.get(name)
    if reading is None:
        return "it was not read"
    return "" if reading.valid else reading.reason
