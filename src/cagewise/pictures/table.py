"""A picture as a table: all its numbers, with units in the head."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from cagewise.pictures.level_series import LevelSeries
from cagewise.pictures.parts import Drawn
from cagewise.pictures.picture import Axis, Curve, Marker, Picture, Raster

Cell = str | float | None
Row = tuple[Cell, ...]


def table_of(shown: Drawn, low: float, high: float) -> Iterator[Row]:
    """Yield the head and all numbers of a picture; long curves bin by bin.

    Parameters
    ----------
    shown
        The picture.
    low, high
        Part of the axis x to which long curves are held.
    """
    picture = shown.picture
    yield _head(picture)
    for number, curve in enumerate(picture.curves):
        if number < len(shown.series):
            yield from _bins(curve, shown.series[number], low, high)
        else:
            yield from _points(curve)
    yield from map(_marker, picture.markers)
    if picture.raster is not None:
        yield from _image(picture.raster)


def _head(picture: Picture) -> Row:
    unit = "" if picture.raster is None else f" ({picture.raster.unit})"
    ends = "low 95 %", "high 95 %"
    places = _name(picture.x), _name(picture.y)
    return ("kind", "part", "group", "label", *places, *ends, "open bars", "order", f"level{unit}")


def _name(axis: Axis) -> str:
    return f"{axis.quantity} ({axis.unit or '1'})"


def _first(kind: str, curve: Curve) -> Row:
    return kind, curve.part.value, curve.group, curve.label


def _bins(curve: Curve, series: LevelSeries, low: float, high: float) -> Iterator[Row]:
    seen = series.window(low, high, series.values.size)
    head, bars = _first("curve", curve), curve.open_bars
    for x, y in zip(seen.x.tolist(), seen.y.tolist(), strict=True):
        yield (*head, x, y, None, None, bars, None, None)


def _points(curve: Curve) -> Iterator[Row]:
    none = np.full(curve.x.shape, np.nan)
    ends = (none if end is None else end for end in (curve.low, curve.high))
    columns = (column.tolist() for column in (curve.x, curve.y, *ends))
    for numbers in zip(*columns, strict=True):
        yield (*_first("curve", curve), *numbers, curve.open_bars, None, None)


def _marker(mark: Marker) -> Row:
    numbers = mark.x, mark.y, mark.low, mark.high, mark.open_bars, mark.order
    return ("marker", mark.part.value, "", mark.label, *numbers, None)


def _image(raster: Raster) -> Iterator[Row]:
    columns = raster.x.tolist()
    for y, levels in zip(raster.y.tolist(), raster.level.tolist(), strict=True):
        for x, level in zip(columns, levels, strict=True):
            yield ("image", "", "", "", x, y, None, None, None, None, level)
