"""An upright axis of open bars for pages that draw a history: places in percent from the top."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from cagewise.quantities import Estimate
from cagewise.report.language import decimal
from cagewise.report.numbers import LARGEST_BARS

LEAST_TOP_BARS = 0.5
"""A smaller axis would show noise."""
STEPS_BARS = (0.1, 0.25, 0.5, 1.0, 2.0, 5.0)
MOST_STEPS = 5
WILD = 3.0
"""An interval that reaches so many times beyond the largest reading may run off the axis."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BarsAxis:
    """Open bars from the bottom up."""

    top: float
    step: float

    @classmethod
    def over(cls, shown: Sequence[Estimate]) -> BarsAxis:
        """Return an axis on which all intervals fit, but for wild ones."""
        usual = max((each.value for each in shown), default=0.0)
        highs = [min(each.high, WILD * usual) for each in shown]
        highest = min(max(LEAST_TOP_BARS, *highs, 0.0), LARGEST_BARS)
        step = next((s for s in STEPS_BARS if highest / s <= MOST_STEPS), STEPS_BARS[-1])
        return cls(top=math.ceil(1.02 * highest / step) * step, step=step)

    def y(self, bars: float) -> float:
        """Return the place of a number of bars, percent of the height from the top."""
        return round(100.0 * (1.0 - min(1.0, max(0.0, bars / self.top))), 2)

    def ticks(self) -> tuple[tuple[float, str], ...]:
        """Return places and labels."""
        count = round(self.top / self.step)
        return tuple(
            (self.y(k * self.step), decimal(f"{k * self.step:g}")) for k in range(count + 1)
        )
