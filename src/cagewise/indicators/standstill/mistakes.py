"""One reading that does not belong, or two that stand in each other's row: named, not averaged."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from cagewise.indicators.standstill.fit import PairFit
from cagewise.quantities import RealArray


@dataclass(frozen=True, slots=True, kw_only=True)
class _Suspect:
    """Readings whose correction would take most of the residual away."""

    places: tuple[int, ...]
    remaining: float
    """Sum of squares that would be left, over the present one."""
    probability: float
    """That noise alone does as well somewhere in the series."""


def writing_mistake(fit: PairFit, largest_probability: float) -> str:
    """Return which readings are out of line, in one clause; empty when none is.

    An exchange of two readings is reported where it explains as much as one wrong reading does.
    """
    projector = _projector(fit)
    swap, single = _best_swap(fit, projector), _best_single(fit, projector)
    found = [s for s in (swap, single) if s.probability < largest_probability]
    if not found:
        return ""
    best = min(found, key=lambda suspect: suspect.remaining)
    where = f"{fit.quantity} of terminals {fit.readings.name}"
    angles = [math.degrees(fit.readings.shaft_angle_rad[k]) for k in best.places]
    if len(best.places) == 2:
        first, second = (k + 1 for k in best.places)
        return (
            f"readings {first} and {second} of the {where} (at {angles[0]:.4g} and "
            f"{angles[1]:.4g} degrees) fit the others only when they are exchanged"
        )
    return (
        f"reading {best.places[0] + 1} of the {where} (at {angles[0]:.4g} degrees) does not fit "
        "the others: read it again"
    )


def _projector(fit: PairFit) -> RealArray:
    """Return the matrix that takes readings to residuals, shape (n, n)."""
    q, _ = np.linalg.qr(fit.sampling.design)
    return np.asarray(np.eye(q.shape[0]) - q @ q.T)


def _best_single(fit: PairFit, projector: RealArray) -> _Suspect:
    """Return the reading whose removal takes most."""
    leverage = np.maximum(np.diag(projector), 1e-12)
    remaining = 1.0 - fit.residual**2 / leverage / fit.sum_of_squares
    place = int(np.argmin(remaining))
    return _suspect(fit, (place,), float(remaining[place]), fit.residual.size)


def _best_swap(fit: PairFit, projector: RealArray) -> _Suspect:
    """Return the two readings whose exchange takes most."""
    values = fit.readings.values[fit.quantity] / fit.mean
    step = values[np.newaxis, :] - values[:, np.newaxis]
    along = fit.residual[:, np.newaxis] - fit.residual[np.newaxis, :]
    own = np.diag(projector)
    curvature = own[:, np.newaxis] + own[np.newaxis, :] - 2.0 * projector
    remaining = 1.0 + (2.0 * step * along + step**2 * curvature) / fit.sum_of_squares
    remaining[np.tril_indices_from(remaining)] = np.inf
    first, second = (int(k) for k in np.unravel_index(np.argmin(remaining), remaining.shape))
    n = fit.residual.size
    return _suspect(fit, (first, second), float(remaining[first, second]), n * (n - 1) // 2)


def _suspect(fit: PairFit, places: tuple[int, ...], remaining: float, tries: int) -> _Suspect:
    """Return the suspect with the probability of an F test of one degree, all tries counted."""
    from scipy.special import fdtrc

    freedom = fit.sampling.freedom - 1
    remaining = min(max(remaining, 1e-12), 1.0)
    ratio = (1.0 - remaining) / remaining * freedom
    return _Suspect(
        places=places,
        remaining=remaining,
        probability=min(1.0, tries * float(fdtrc(1, freedom, ratio))),
    )
