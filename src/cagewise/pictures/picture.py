"""The common form of a picture: numbers with axes and units, ready to be drawn by anything.

A picture is computed once and drawn by the pages, by the report and by whoever takes its numbers.
It says nothing that the reading beside it does not say; it shows why.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from cagewise.quantities import RealArray


class Part(StrEnum):
    """What a curve or a marker of a picture is."""

    MEASURED = "measured"
    FLOOR = "floor"
    """Local noise: below it nothing can be read."""
    FITTED = "fitted"
    EXPECTED = "expected"
    """What damage would show on this motor."""
    EARLIER = "earlier"
    """The same on an earlier occasion."""
    LIMIT = "limit"
    """A published value, or one of ours."""
    RESIDUAL = "residual"
    """What a fit leaves of the readings."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Axis:
    """An axis of a picture."""

    quantity: str
    """What it shows, in words and without the unit ("line level, relative to the fundamental")."""
    unit: str = ""
    logarithmic: bool = False
    falling: bool = False
    """Whether values fall from left to right (slip during a start)."""
    ticks: tuple[tuple[float, str], ...] = ()
    """Places with a name, where the axis shows things and not numbers (pairs of terminals)."""
    span: tuple[float, float] | None = None
    """The part that is looked at; everything if None."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve:
    """One line or row of points."""

    label: str
    part: Part
    x: RealArray
    """Shape (n,), not falling but in a plane (:attr:`Picture.plane`)."""
    y: RealArray
    """Shape (n,); NaN where there is nothing."""
    low: RealArray | None = None
    """Lower end of the 95 % interval, shape (n,)."""
    high: RealArray | None = None
    joined: bool = True
    """Whether points are joined by a line."""
    open_bars: float | None = None
    """Adjacent fully open bars that would give it, where it stands for damage."""
    group: str = ""
    """Panel to which it belongs, where a picture has several (a pair of terminals)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Marker:
    """A place to look at: an expected or a found line, an event."""

    label: str
    part: Part
    x: float
    y: float | None = None
    """None for a place on the axis without a height."""
    low: float | None = None
    """Lower end of the 95 % interval of :attr:`y`."""
    high: float | None = None
    open_bars: float | None = None
    """Adjacent fully open bars that would give it, where it stands for damage."""
    order: float | None = None
    """Frequency as a multiple of the supply frequency, where the axis is a frequency."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Raster:
    """An image: a level over two axes."""

    x: RealArray
    """Centres of columns, shape (n_x,), rising."""
    y: RealArray
    """Centres of rows, shape (n_y,), rising."""
    level: RealArray
    """Shape (n_y, n_x)."""
    unit: str
    lowest: float
    """Smaller levels are drawn like this one."""
    highest: float


@dataclass(frozen=True, slots=True, kw_only=True)
class FrequencyScale:
    """What a place on a frequency axis means on this motor."""

    centre_hz: float
    """Frequency of the current space vector at x = 0; the fifth harmonic turns backwards."""
    supply_hz: float
    slip: float | None
    """Per unit, None where it is not known."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """What one reading, or a group of them, looks like."""

    name: str
    """Stable identifier, snake_case."""
    title: str
    x: Axis
    y: Axis
    curves: tuple[Curve, ...] = ()
    markers: tuple[Marker, ...] = ()
    raster: Raster | None = None
    frequency: FrequencyScale | None = None
    """Where the axis x is a frequency."""
    plane: bool = False
    """Both axes have one scale: the picture shows lengths and angles."""
    readings: tuple[str, ...] = ()
    """Names of the readings that it shows."""
    meaning: str = ""
    """What to look for, in one or two sentences."""
    reason: str = ""
    """Why there is nothing to be seen, as a clause; empty where there is."""
