"""How the plan writes open bars: the middle of what the motor may be, and the upper end."""

from __future__ import annotations

from cagewise.quantities import Estimate
from cagewise.report import numbers
from cagewise.report import plan_running_wording as running
from cagewise.report.language import say


def up_to(bars: Estimate) -> str:
    """Return the middle of an estimate and the upper end of its interval."""
    return say(running.UP_TO, value=numbers.bars_up(bars.value), high=numbers.bars_up(bars.high))
