"""A picture as JSON: long rows of numbers as base64, everything else in plain words."""

from __future__ import annotations

import base64
import math
from collections.abc import Sequence
from typing import Literal

import numpy as np
from pydantic import BaseModel

from cagewise.pictures.parts import Drawn
from cagewise.pictures.picture import Axis, Curve, Marker, Raster
from cagewise.quantities import RealArray
from cagewise.workflows.pictures import WindowCurve

LEVELS = 255
"""Steps of the levels of an image; a step is a third of a decibel."""


class PackedArray(BaseModel):
    """Numbers in a row; NaN stands where there is none."""

    dtype: Literal["f4", "f8", "u1"]
    """32 or 64 bit floating point, or 8 bit whole numbers; little-endian."""
    shape: list[int]
    data: str
    """The bytes, base64."""
    scale: float = 1.0
    """Value of a step of whole numbers."""
    offset: float = 0.0
    """Value of zero of whole numbers."""


class PackedAxis(BaseModel):
    """An axis."""

    quantity: str
    unit: str
    logarithmic: bool
    falling: bool
    ticks: list[tuple[float, str]]
    """Places with a name; empty where numbers say more."""


class PackedCurve(BaseModel):
    """A line or a row of points."""

    label: str
    part: str
    """What it is: measured, floor, fitted, expected, earlier, limit or residual."""
    x: PackedArray
    y: PackedArray
    low: PackedArray | None
    """Lower end of the 95 % interval."""
    high: PackedArray | None
    joined: bool
    open_bars: float | None
    group: str
    """Panel to which it belongs."""
    long: bool
    """Whether there is more of it than is here: ask for windows."""


class PackedMarker(BaseModel):
    """A place to look at."""

    label: str
    part: str
    x: float
    y: float | None
    low: float | None
    high: float | None
    open_bars: float | None
    order: float | None


class PackedRaster(BaseModel):
    """An image: a level over two axes."""

    x: PackedArray
    y: PackedArray
    level: PackedArray
    unit: str
    lowest: float
    highest: float


class PackedScale(BaseModel):
    """What a place on a frequency axis means."""

    centre_hz: float
    supply_hz: float
    slip: float | None


class PackedPicture(BaseModel):
    """What one reading, or a group of them, looks like."""

    name: str
    title: str
    x: PackedAxis
    y: PackedAxis
    curves: list[PackedCurve]
    markers: list[PackedMarker]
    raster: PackedRaster | None
    frequency: PackedScale | None
    plane: bool
    """Both axes have one scale."""
    readings: list[str]
    meaning: str
    reason: str
    """Why there is nothing to be seen; empty where there is."""


class PackedWindowCurve(BaseModel):
    """A long curve, seen through a window."""

    label: str
    x: PackedArray
    y: PackedArray
    exact: bool
    """Whether every value of the window is there; else extremes of the columns of pixels."""


class PackedWindow(BaseModel):
    """The long curves of a picture, seen through a window."""

    low: float
    high: float
    curves: list[PackedWindowCurve]


def packed(drawn: Drawn) -> PackedPicture:
    """Return a picture for JSON."""
    picture = drawn.picture
    scale = picture.frequency
    return PackedPicture(
        name=picture.name,
        title=picture.title,
        x=_axis(picture.x),
        y=_axis(picture.y),
        curves=[_curve(c, long=n < len(drawn.series)) for n, c in enumerate(picture.curves)],
        markers=[_marker(marker) for marker in picture.markers],
        raster=None if picture.raster is None else _raster(picture.raster),
        frequency=None
        if scale is None
        else PackedScale(centre_hz=scale.centre_hz, supply_hz=scale.supply_hz, slip=scale.slip),
        plane=picture.plane,
        readings=list(picture.readings),
        meaning=picture.meaning,
        reason=picture.reason,
    )


def packed_window(low: float, high: float, curves: Sequence[WindowCurve]) -> PackedWindow:
    """Return a window for JSON."""
    rows = [
        PackedWindowCurve(label=c.label, x=_wide(c.x), y=_narrow(c.y), exact=c.exact)
        for c in curves
    ]
    return PackedWindow(low=low, high=high, curves=rows)


def _axis(axis: Axis) -> PackedAxis:
    return PackedAxis(
        quantity=axis.quantity,
        unit=axis.unit,
        logarithmic=axis.logarithmic,
        falling=axis.falling,
        ticks=list(axis.ticks),
    )


def _curve(curve: Curve, *, long: bool) -> PackedCurve:
    return PackedCurve(
        label=curve.label,
        part=curve.part.value,
        x=_wide(curve.x),
        y=_narrow(curve.y),
        low=None if curve.low is None else _narrow(curve.low),
        high=None if curve.high is None else _narrow(curve.high),
        joined=curve.joined,
        open_bars=curve.open_bars,
        group=curve.group,
        long=long,
    )


def _marker(marker: Marker) -> PackedMarker:
    return PackedMarker(
        label=marker.label,
        part=marker.part.value,
        x=marker.x,
        y=_finite(marker.y),
        low=_finite(marker.low),
        high=_finite(marker.high),
        open_bars=marker.open_bars,
        order=_finite(marker.order),
    )


def _raster(raster: Raster) -> PackedRaster:
    step = (raster.highest - raster.lowest) / LEVELS
    level = np.clip((raster.level - raster.lowest) / step, 0.0, LEVELS).round().astype(np.uint8)
    return PackedRaster(
        x=_wide(raster.x),
        y=_wide(raster.y),
        level=PackedArray(
            dtype="u1",
            shape=list(level.shape),
            data=_text(level),
            scale=step,
            offset=raster.lowest,
        ),
        unit=raster.unit,
        lowest=raster.lowest,
        highest=raster.highest,
    )


def _finite(value: float | None) -> float | None:
    return value if value is not None and math.isfinite(value) else None


def _wide(values: RealArray) -> PackedArray:
    """Return places in full precision: a long record has fine ones far from zero."""
    return PackedArray(dtype="f8", shape=list(values.shape), data=_text(values.astype("<f8")))


def _narrow(values: RealArray) -> PackedArray:
    """Return values in single precision: seven digits are more than any axis shows."""
    return PackedArray(dtype="f4", shape=list(values.shape), data=_text(values.astype("<f4")))


def _text(values: np.ndarray) -> str:
    return base64.b64encode(np.ascontiguousarray(values).tobytes()).decode("ascii")
