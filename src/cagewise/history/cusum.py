"""Cumulative sums and how long they run to a signal (docs/theory/trend.md, 6)."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr

from cagewise.history.mixture import LOG_TWO_PI
from cagewise.quantities import RealArray

NODES = 64
"""Nodes of the quadrature over the sum; digits stand still from 24 on."""
MOST_VISITS = 4000
"""Visits after which a delay is no longer followed."""
NOBODY_LEFT = 1e-9
"""Probability of no signal yet at which the run-length distribution is complete."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CusumDesign:
    """A pair of cumulative sums, upwards and downwards."""

    reference_sigma: float
    """k, in standard deviations."""
    decision_sigma: float
    """h, in standard deviations."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CusumPath:
    """Both sums along a history."""

    design: CusumDesign
    upper: tuple[float, ...]
    """C+ after each visit; grows where readings lie above their forecasts."""
    lower: tuple[float, ...]
    """C- after each visit."""
    signal: int | None
    """Number of the first visit with a signal upwards, from 0."""
    onset: int | None
    """Number of the first visit after the last zero before that signal."""
    signal_down: int | None
    """Number of the first visit with a signal downwards."""


def run_cusum(design: CusumDesign, scores: RealArray) -> CusumPath:
    """Return both sums over standardised errors, shape (n,)."""
    upper, lower = _sums(design, scores), _sums(design, -scores)
    signal = _first(upper, design)
    onset = None
    if signal is not None:
        onset = max((i + 1 for i in range(signal) if upper[i] == 0.0), default=0)
    return CusumPath(
        design=design,
        upper=tuple(upper),
        lower=tuple(lower),
        signal=signal,
        onset=onset,
        signal_down=_first(lower, design),
    )


def _sums(design: CusumDesign, scores: RealArray) -> list[float]:
    """Return the one-sided sum after each visit; it goes on after a signal."""
    total, sums = 0.0, []
    for score in scores.tolist():
        total = max(0.0, total + score - design.reference_sigma)
        sums.append(total)
    return sums


def _first(sums: list[float], design: CusumDesign) -> int | None:
    """Return the number of the first visit beyond the decision interval."""
    return next((i for i, total in enumerate(sums) if total > design.decision_sigma), None)


def one_sided_run_length(design: CusumDesign, shift_sigma: float = 0.0) -> float:
    """Return the mean number of visits to a signal upwards, from a sum of zero.

    Integral equation of Page 1954 (eq. 4 of the theory page) by Gauss-Legendre quadrature.
    """
    starts, weights = _nodes(design)
    matrix = np.empty((NODES + 1, NODES + 1))
    matrix[:, 0] = _to_zero(design, starts, shift_sigma)
    matrix[:, 1:] = _density(design, starts, shift_sigma) * weights
    lengths = np.linalg.solve(np.eye(NODES + 1) - matrix, np.ones(NODES + 1))
    return float(lengths[0])


def run_length(design: CusumDesign, shift_sigma: float = 0.0) -> float:
    """Return the mean number of visits to a signal on either side: ``1/L = 1/L+ + 1/L-``."""
    return 1.0 / (
        1.0 / one_sided_run_length(design, shift_sigma)
        + 1.0 / one_sided_run_length(design, -shift_sigma)
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Delay:
    """How long a growth goes unnoticed; the sum upwards, from zero."""

    median_visits: int
    """First visit by which half of such motors have given a signal."""
    mean_visits: float
    years: float
    """The median in years."""
    grown_db: float
    """Growth by then."""


def growth_delay(
    design: CusumDesign,
    growth_db_per_year: float,
    *,
    interval_years: float,
    sigma_db: float,
    visits_before: int | None = None,
) -> Delay | None:
    """Return the delay of a steady growth that begins at the last visit.

    Parameters
    ----------
    design
        Of the sums.
    growth_db_per_year
        The growth.
    interval_years
        From visit to visit.
    sigma_db
        Standard deviation of one visit's reading.
    visits_before
        Visits from which the level is known (self-starting); None where it is known without error.

    Returns
    -------
    None if half of such motors give no signal within :data:`MOST_VISITS` visits.
    """
    step = growth_db_per_year * interval_years / sigma_db

    def shift(visit: int) -> float:
        if visits_before is None:
            return step * visit
        known = visits_before + visit - 1
        learned = visit * (visit - 1) / 2.0 / known
        return step * (visit - learned) * math.sqrt(known / (known + 1.0))

    left = survival(design, shift)
    if left[-1] > 0.5:
        return None
    median = int(np.argmax(left <= 0.5))
    return Delay(
        median_visits=median,
        mean_visits=float(left[:-1].sum()),
        years=median * interval_years,
        grown_db=median * interval_years * growth_db_per_year,
    )


def survival(design: CusumDesign, shift_sigma: Callable[[int], float]) -> RealArray:
    """Return the probability of no signal upwards after 0, 1, 2 ... visits.

    ``shift_sigma`` gives the mean of the standardised error at visit 1, 2 ...; the density of the
    sum is carried forward from visit to visit.
    """
    starts, weights = _nodes(design)
    mass = np.zeros(NODES + 1)
    mass[0] = 1.0
    left = [1.0]
    for visit in range(1, MOST_VISITS + 1):
        shift = shift_sigma(visit)
        at_zero = mass @ _to_zero(design, starts, shift)
        mass = np.append(at_zero, (mass @ _density(design, starts, shift)) * weights)
        left.append(float(mass.sum()))
        if left[-1] < NOBODY_LEFT:
            break
    return np.array(left)


def _nodes(design: CusumDesign) -> tuple[RealArray, RealArray]:
    """Return zero and the nodes between zero and h, and the weights of the nodes."""
    places, weights = np.polynomial.legendre.leggauss(NODES)
    half = 0.5 * design.decision_sigma
    return np.append(0.0, half * (places + 1.0)), half * weights


def _to_zero(design: CusumDesign, starts: RealArray, shift: float) -> RealArray:
    """Return the probability that the sum falls to zero, by its start."""
    total: RealArray = ndtr(design.reference_sigma - starts - shift)
    return total


def _density(design: CusumDesign, starts: RealArray, shift: float) -> RealArray:
    """Return the density of the next sum at the nodes, by its start, shape (nodes + 1, nodes)."""
    z = starts[None, 1:] - starts[:, None] + design.reference_sigma - shift
    return np.exp(-0.5 * (z * z + LOG_TWO_PI))
