"""A time axis for pages that draw a history: places in percent, labels at ends of months."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

STEPS_MONTHS = (1, 2, 3, 6, 12, 24, 60, 120, 240, 1200, 6000, 24000)
"""From tick to tick."""
MOST_TICKS = 6
"""Labels that a phone has room for."""
LEAST_SPAN_DAYS = 60
"""A shorter history is drawn on an axis of that length."""
MARGIN = 0.03
"""Part of the span left free at both ends: marks are as wide."""
MONTHS_OF_YEAR = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class Tick:
    """A label of an axis."""

    x: float
    """Place, percent of the width."""
    label: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TimeAxis:
    """Days from left to right."""

    begin: date
    end: date

    @classmethod
    def over(cls, days: list[date]) -> TimeAxis:
        """Return an axis that shows all these days, one at least, with room at both ends."""
        first, last = min(days), max(days)
        span = max((last - first).days, LEAST_SPAN_DAYS)
        margin = max(2, round(MARGIN * span))
        short = span - (last - first).days
        begin = first.toordinal() - margin - short // 2
        end = last.toordinal() + margin + short - short // 2
        return cls(
            begin=date.fromordinal(max(begin, date.min.toordinal())),
            end=date.fromordinal(min(end, date.max.toordinal())),
        )

    def x(self, day: date) -> float:
        """Return the place of a day, percent of the width; days outside are at the ends."""
        part = (day - self.begin).days / (self.end - self.begin).days
        return round(100.0 * min(1.0, max(0.0, part)), 2)

    def ticks(self) -> tuple[Tick, ...]:
        """Return labelled firsts of months, a few of them."""
        first = self.begin.year * MONTHS_OF_YEAR + self.begin.month - 1
        last = self.end.year * MONTHS_OF_YEAR + self.end.month - 1
        step = next((s for s in STEPS_MONTHS if (last - first) / s <= MOST_TICKS), STEPS_MONTHS[-1])
        firsts = [
            date(month // MONTHS_OF_YEAR, month % MONTHS_OF_YEAR + 1, 1)
            for month in range(first, last + 1)
            if month % step == 0
        ]
        years = step % MONTHS_OF_YEAR == 0
        return tuple(
            Tick(x=self.x(day), label=f"{day.year}" if years else f"{day:%Y-%m}")
            for day in firsts
            if self.begin <= day <= self.end
        )
