"""Readings that only say "no more than": drawn again and again (docs/theory/trend.md, 3 and 4)."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import log_ndtr, ndtri_exp

from cagewise.history import mixture
from cagewise.history.kalman import Filtered, StateSpace, run_filter
from cagewise.quantities import RealArray

REPLICAS = 24
"""Draws of the readings behind the limits, for each set of variances. Each carries a whole normal
distribution: probabilities are met to three hundredths, ends of intervals near zero to a fifth."""
LEAST_SHARE = 0.25
"""Effective part of all draws below which the likely ones are multiplied and the others dropped:
below the usual half, for the grid of variances thins out with them."""
SEED = 17
"""Of the draws: the same history gives the same answer."""


@dataclass(frozen=True)
class Observations:
    """Readings in order of time."""

    values: RealArray
    """Reading, or the limit where it is one, shape (n,)."""
    variances: RealArray
    """Of the reading, for each set of variances, shape (n, H)."""
    side: NDArray[np.int8]
    """0 for a reading, -1 for "no more than", +1 for "no less than", shape (n,)."""


@dataclass(frozen=True)
class Forward:
    """One pass through the readings, limits drawn: N = H, or H times the replicas."""

    filtered: Filtered
    """Of N runs."""
    log_weight: RealArray
    """Of each run given all readings; their sum is the evidence, shape (N,)."""
    scores: RealArray
    """Each reading in the forecast from those before: standard normal; for a limit, the expected
    score of a reading on its side; shape (n,)."""
    tail: RealArray
    """Score of the limit itself: of a reading, its score again; shape (n,)."""


def run_forward(model: StateSpace, observations: Observations, log_weight: RealArray) -> Forward:
    """Return the model given the readings, ``log_weight`` of the sets before them, shape (H,).

    The reading behind a limit is drawn from its forecast within the limit and then filtered like
    any other; the draw is weighted with the probability of its side, and likely draws multiply.
    Exact without limits.
    """
    times = REPLICAS if observations.side.any() else 1
    reader = _Reader(observations, np.repeat(log_weight - math.log(times), times), times)
    filtered = run_filter(model, reader.read, reader.heirs, times=times)
    return Forward(filtered, reader.log_weight, np.array(reader.scores), np.array(reader.tails))


class _Reader:
    """Reads point by point, draws behind limits, keeps the weights."""

    def __init__(self, observations: Observations, log_weight: RealArray, times: int) -> None:
        self.values = observations.values
        self.side = observations.side
        self.variances = observations.variances
        self.log_weight = log_weight
        self.scores: list[float] = []
        self.tails: list[float] = []
        self._random = np.random.default_rng(SEED)
        self._times = times
        self._of_set = np.repeat(np.arange(log_weight.size // times), times)
        self._drew = False

    def read(self, t: int, seen: RealArray, variance: RealArray) -> tuple[RealArray, RealArray]:
        """Return push and pull of point t."""
        total = variance + self.variances[t][self._of_set]
        spread = np.sqrt(total)
        z = (self.values[t] - seen) / spread
        side = int(self.side[t])
        self._drew = side != 0
        raw = mixture.score(mixture.normalised(self.log_weight), z)
        self.tails.append(raw)
        self.scores.append(raw if side == 0 else side * _beyond(-side * raw))
        if side == 0:
            self.log_weight = self.log_weight - 0.5 * (z * z + mixture.LOG_TWO_PI) - np.log(spread)
        else:
            log_side = log_ndtr(-side * z)
            self.log_weight = self.log_weight + log_side
            z = -side * ndtri_exp(self._log_uniform() + log_side)
        return z / spread, 1.0 / total

    def heirs(self) -> NDArray[np.intp] | None:
        """Return which run each goes on from, where few are left that count after a draw."""
        if not self._drew:
            return None
        weights = mixture.normalised(self.log_weight)
        if 1.0 / float(weights @ weights) > LEAST_SHARE * weights.size:
            return None
        # layers of equal weight, one run from each
        layers = (np.arange(weights.size) + self._random.uniform()) / weights.size
        chosen: NDArray[np.intp] = np.searchsorted(weights.cumsum()[:-1], layers)
        mean = float(np.logaddexp.reduce(self.log_weight)) - math.log(weights.size)
        self.log_weight = np.full(weights.size, mean)
        self._of_set = self._of_set[chosen]
        return chosen

    def _log_uniform(self) -> RealArray:
        """Return logarithms of uniform draws, evenly spread over neighbours."""
        sets = self.log_weight.size // self._times
        places = self._random.permuted(np.tile(np.arange(self._times), (sets, 1)), axis=1)
        drawn: RealArray = np.log(
            (places.ravel() + self._random.uniform(size=self.log_weight.size)) / self._times
        )
        return drawn


def _beyond(z: float) -> float:
    """Return ``-E[Z; Z < z]`` of a standard normal variable Z."""
    return math.exp(-0.5 * (z * z + mixture.LOG_TWO_PI) - float(log_ndtr(z)))
