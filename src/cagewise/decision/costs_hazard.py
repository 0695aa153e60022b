"""How long a cage that is defective runs before it fails (docs/theory/decision-costs.md, 3)."""

from __future__ import annotations

import math
from dataclasses import dataclass

DAYS_PER_MONTH = 365.25 / 12.0
"""Mean length of a month."""
LARGEST_DOUBLINGS = 500.0
"""Doublings after which no motor is left; keeps the power of two finite."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Hazard:
    """Failures in service of a defective cage: a rate that doubles at a steady pace (Gompertz)."""

    rate_per_month: float
    """Failures per month on the day of the measurement, at the usual number of starts."""
    doubling_months: float
    """Time in which the rate doubles, at the usual number of starts."""
    pace: float = 1.0
    """How much faster than usual the cage ages, from the number of its starts."""

    def survival(self, days: float) -> float:
        """Return the probability that a defective cage has not failed after ``days``.

        ``S = exp(-h tau / ln 2 (2^(pace t / tau) - 1))``.
        """
        doublings = self.pace * days / DAYS_PER_MONTH / self.doubling_months
        grown = math.expm1(min(doublings, LARGEST_DOUBLINGS) * math.log(2.0))
        return math.exp(-self.rate_per_month * self.doubling_months / math.log(2.0) * grown)


def ageing_pace(starts_per_month: float, usual_per_month: float, starts_share: float) -> float:
    """Return how much faster than usual a cage ages: one part with starts, one with hours."""
    return (1.0 - starts_share) + starts_share * starts_per_month / usual_per_month
