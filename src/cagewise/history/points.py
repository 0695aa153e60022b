"""The points of a trend, and which of them may be compared (docs/theory/trend.md, 3 and 5)."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

from cagewise.history.limits import TrendLimits
from cagewise.indicators.reading import IndependenceClass
from cagewise.quantities import Estimate, NotKnown

NOT_GIVEN = NotKnown("not measured")
"""Of a load or a temperature that nobody wrote down."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TrendPoint:
    """One reading of one visit, in open bars."""

    day: float
    """Days from any fixed day (``date.toordinal()``); the time of day may be a fraction."""
    bars: Estimate
    """Open-bar equivalent; an interval that reaches zero says "no more than"."""
    reading: str
    """Name of the reading ("direct_component")."""
    independence_class: IndependenceClass
    load_fraction: Estimate | NotKnown = NOT_GIVEN
    """Shaft power over rated power."""
    winding_temperature_degc: Estimate | NotKnown = NOT_GIVEN
    nameplate_version: str = ""
    """Which version of the motor's data the equivalent was computed with."""
    sensors: str = ""
    """Which set of sensors was used."""
    source: str = ""
    """Where it came from, for messages."""

    @property
    def version(self) -> tuple[str, str]:
        """Points of one version share the error of circuit and sensors."""
        return self.nameplate_version, self.sensors

    @property
    def is_limit(self) -> bool:
        """Whether the interval reaches zero: "no more than"."""
        return self.bars.low <= 0.0


@dataclass(frozen=True, slots=True)
class SetAsidePoint:
    """A point that was not used."""

    point: TrendPoint
    reason: str
    """Why, as a clause."""


class NoTrendGround(StrEnum):
    """Why there is no trend."""

    TOO_FEW_POINTS = "too few points"
    TOO_SHORT = "too short a time"
    NOT_COMPARABLE = "points not comparable"


class Refusal(NamedTuple):
    """Why there is no trend."""

    ground: NoTrendGround
    reason: str
    """With its numbers, as a clause."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparable:
    """Points that may be compared, in order of time, and those that may not."""

    points: tuple[TrendPoint, ...]
    set_aside: tuple[SetAsidePoint, ...]

    @property
    def versions(self) -> tuple[tuple[str, str], ...]:
        """Versions of nameplate and sensors, in order of their first point."""
        return tuple(dict.fromkeys(point.version for point in self.points))

    @property
    def span_days(self) -> float:
        """Time from the first to the last point."""
        return self.points[-1].day - self.points[0].day if self.points else 0.0

    def refusal(self, limits: TrendLimits) -> Refusal | None:
        """Return why there is no trend, None when there can be one."""
        count = len(self.points)
        if count < limits.least_points:
            why = f": {self._reasons()}" if self.set_aside else ""
            said = f"too few points: {count} comparable of at least {limits.least_points}{why}"
            return Refusal(NoTrendGround.TOO_FEW_POINTS, said)
        if self.span_days < limits.least_span_days:
            said = (
                f"too short: the points span {self.span_days:.0f} of at least "
                f"{limits.least_span_days:.0f} days"
            )
            return Refusal(NoTrendGround.TOO_SHORT, said)
        if len(self.versions) >= count:
            said = "points not comparable: nameplate or sensors differ between any two of them"
            return Refusal(NoTrendGround.NOT_COMPARABLE, said)
        return None

    def _reasons(self) -> str:
        """Return why points were set aside, the commonest first."""
        counts = Counter(aside.reason for aside in self.set_aside)
        return "; ".join(f"{count} {reason}" for reason, count in counts.most_common())


def comparable(
    points: Iterable[TrendPoint], *, reading: str = "", since_day: float = -math.inf
) -> Comparable:
    """Part the points of one motor that may be compared from the rest.

    Parameters
    ----------
    points
        In any order.
    reading
        Name of the reading whose trend is asked; empty for the one with the most points, of equals
        the one with the tighter intervals.
    since_day
        Day of the last repair of the cage: what was measured before it was another cage.
    """
    ordered = sorted(points, key=lambda point: (point.day, point.source, point.reading))
    wanted = reading or _commonest([p for p in ordered if not _fault(p, since_day)])
    used: list[TrendPoint] = []
    aside: list[SetAsidePoint] = []
    for point in ordered:
        reason = _fault(point, since_day)
        if not reason and point.reading != wanted:
            reason = f"of another reading, which sees other damage ({point.reading})"
        if reason:
            aside.append(SetAsidePoint(point, reason))
        else:
            used.append(point)
    return Comparable(points=tuple(used), set_aside=tuple(aside))


def _commonest(points: Sequence[TrendPoint]) -> str:
    """Return the reading with the most points, of equals the one with the tighter intervals."""
    names = dict.fromkeys(point.reading for point in points)

    def worth(name: str) -> tuple[int, float]:
        mine = [point.bars for point in points if point.reading == name]
        return len(mine), -math.fsum(bars.high - bars.low for bars in mine)

    return max(names, key=worth, default="")


def _fault(point: TrendPoint, since_day: float) -> str:
    """Return why a point belongs into no trend; empty when it may."""
    bars = point.bars
    if not all(map(math.isfinite, (point.day, bars.low, bars.value, bars.high))):
        return "without a finite day, value and interval"
    if bars.high <= 0.0:
        return "with an interval that does not reach above zero"
    if point.day < since_day:
        return "from before the repair"
    return ""
