"""Quantiles and probabilities of mixtures of normal distributions."""

from __future__ import annotations

import math

import numpy as np
from scipy.special import ndtr, ndtri

from cagewise.quantities import COVERAGE, RealArray

LOG_TWO_PI = math.log(2.0 * math.pi)
"""For normal densities."""
REACH = 9.0
"""Standard deviations from the outermost mean within which quantiles are sought."""
LEAST_SPREAD = 1e-9
"""Least standard deviation, in the unit of the values: a point has none."""
HALVINGS = 44
"""Halvings of that range: its 1e-13th part is left."""
LEAST_TAIL = 1e-300
"""Least probability of a tail: a score of 37 is as far as floating point goes."""
TAILS = ((1.0 - COVERAGE) / 2.0, 0.5, (1.0 + COVERAGE) / 2.0)
"""Probabilities of the ends and the middle of an interval."""


def quantiles(
    weights: RealArray,
    means: RealArray,
    deviations: RealArray,
    *,
    least: float = -math.inf,
    probabilities: tuple[float, ...] = TAILS,
) -> RealArray:
    """Return quantiles of n mixtures of H parts, given that the value is not below ``least``.

    Parameters
    ----------
    weights
        Sum to one, shape (H,).
    means, deviations
        Of the parts, shape (n, H).
    least
        Value below which there is nothing; far above the means the upper tail is what is left.
    probabilities
        Of the quantiles, q of them.

    Returns
    -------
    Shape (q, n).
    """
    spread = np.maximum(deviations, LEAST_SPREAD)
    reach = REACH * spread
    low = np.tile(np.maximum((means - reach).min(axis=1), least), (len(probabilities), 1))
    high = low + (np.maximum(means, low[0][:, None]) + reach).max(axis=1) - low
    left = ndtr((means - low[0][:, None]) / spread) @ weights
    wanted = (1.0 - np.array(probabilities))[:, None] * left
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        below = ndtr((means - middle[..., None]) / spread) @ weights > wanted
        low, high = np.where(below, middle, low), np.where(below, high, middle)
    found: RealArray = 0.5 * (low + high)
    return found


def probability_above(
    weights: RealArray, means: RealArray, deviations: RealArray, value: float
) -> float:
    """Return the probability of more than ``value``; all shapes (H,)."""
    spread = np.maximum(deviations, LEAST_SPREAD)
    return float(np.clip(weights @ ndtr((means - value) / spread), 0.0, 1.0))


def normalised(log_weights: RealArray) -> RealArray:
    """Return weights that sum to one along the last axis."""
    weights = np.exp(log_weights - log_weights.max(axis=-1, keepdims=True))
    total: RealArray = weights / weights.sum(axis=-1, keepdims=True)
    return total


def score(weights: RealArray, z: RealArray) -> float:
    """Return the standard normal score of a mixture, exact in both tails; shapes (H,)."""
    lower, upper = float(weights @ ndtr(z)), float(weights @ ndtr(-z))
    if lower <= upper:
        return float(ndtri(max(lower, LEAST_TAIL)))
    return -float(ndtri(max(upper, LEAST_TAIL)))
