"""Kalman filter and smoother of a level with a slope, for many sets of variances at once.

Readings are scalar; how one is read is handed in (docs/theory/trend.md, 4).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from cagewise.quantities import RealArray

BoolArray: TypeAlias = NDArray[np.bool_]

Reader: TypeAlias = Callable[[int, RealArray, RealArray], tuple[RealArray, RealArray]]
"""From the number of a point, mean a and variance F of what it sees, shapes (H,), to its push and
pull: the point adds ``P z' push`` to the mean and takes ``P z' z P pull`` from the covariance. For
a value y with variance R these are (y - a)/(F + R) and 1/(F + R)."""

Heirs: TypeAlias = Callable[[], NDArray[np.intp] | None]
"""Asked after each point: which run each run goes on from, shape (N,); None for itself."""


@dataclass(frozen=True)
class StateSpace:
    """A level and its slope, with constant further states (coefficients, offsets).

    Shapes: n points, d states (level, slope, constants), H sets of variances.
    """

    gaps: RealArray
    """Time from the point before, in the unit of the slope; 0 for the first, shape (n,)."""
    loadings: RealArray
    """What each point sees of the state, shape (n, d)."""
    start_mean: RealArray
    """State at the first point before it is read, shape (d,)."""
    start_covariance: RealArray
    """Shape (d, d)."""
    disturbance: RealArray
    """Covariance of what moves level and slope in the gap before each point, shape (n, H, 2, 2)."""

    @property
    def sets(self) -> int:
        """H."""
        return int(self.disturbance.shape[1])


@dataclass(frozen=True)
class Filtered:
    """States before each point, and how each point moved them."""

    model: StateSpace
    of_set: NDArray[np.intp]
    """Set of variances of each run, shape (N,); the runs are the H of the shapes below."""
    means: RealArray
    """Shape (n, H, d), before the point is read."""
    covariances: RealArray
    """Shape (n, H, d, d)."""
    push: RealArray
    """Shape (n, H), see :data:`Reader`."""
    pull: RealArray
    """Shape (n, H)."""
    end_mean: RealArray
    """After the last point, shape (H, d)."""
    end_covariance: RealArray
    """Shape (H, d, d)."""

    def only(self, keep: BoolArray | NDArray[np.intp]) -> Filtered:
        """Return some of the runs: which ones, or their numbers."""
        return Filtered(
            self.model,
            self.of_set[keep],
            self.means[:, keep],
            self.covariances[:, keep],
            self.push[:, keep],
            self.pull[:, keep],
            self.end_mean[keep],
            self.end_covariance[keep],
        )


def run_filter(
    model: StateSpace, read: Reader, heirs: Heirs | None = None, *, times: int = 1
) -> Filtered:
    """Return the states before each point and after the last one.

    Parameters
    ----------
    model
        Of H sets of variances.
    read
        How a point is read.
    heirs
        Which run goes on from which; each ends with the past and the set of the one it came from.
    times
        Runs of every set: N = H times this.
    """
    n, d = model.loadings.shape
    of_set = np.repeat(np.arange(model.sets), times)
    means = np.empty((n, of_set.size, d))
    covariances = np.empty((n, of_set.size, d, d))
    push, pull = np.empty((2, n, of_set.size))
    pasts: list[tuple[int, NDArray[np.intp]]] = []
    mean = np.tile(model.start_mean, (of_set.size, 1))
    covariance = np.broadcast_to(model.start_covariance, (of_set.size, d, d)).copy()
    for t in range(n):
        _advance(mean, covariance, float(model.gaps[t]), model.disturbance[t][of_set])
        means[t], covariances[t] = mean, covariance
        z = model.loadings[t]
        towards = covariance @ z
        seen, variance = mean @ z, towards @ z
        push[t], pull[t] = read(t, seen, variance)
        mean += towards * push[t][:, None]
        covariance -= towards[:, :, None] * (towards * pull[t][:, None])[:, None, :]
        chosen = heirs() if heirs else None
        if chosen is not None:
            mean, covariance, of_set = mean[chosen], covariance[chosen], of_set[chosen]
            pasts.append((t, chosen))
    _inherit((means, covariances, push, pull), pasts)
    return Filtered(model, of_set, means, covariances, push, pull, mean, covariance)


def _inherit(columns: tuple[RealArray, ...], pasts: Sequence[tuple[int, NDArray[np.intp]]]) -> None:
    """Put the pasts in the order of those who went on from them, in place."""
    if not pasts:
        return
    places = np.arange(columns[0].shape[1])
    left = list(pasts)
    for t in range(left[-1][0], -1, -1):
        if left and left[-1][0] == t:
            places = left.pop()[1][places]
        for column in columns:
            column[t] = column[t][places]


def _advance(mean: RealArray, covariance: RealArray, gap: float, disturbance: RealArray) -> None:
    """Carry state and covariance over a gap, in place: the level moves by the slope."""
    mean[:, 0] += gap * mean[:, 1]
    covariance[:, 0, :] += gap * covariance[:, 1, :]
    covariance[:, :, 0] += gap * covariance[:, :, 1]
    covariance[:, :2, :2] += disturbance


def advanced(
    mean: RealArray, covariance: RealArray, gap: float, disturbance: RealArray
) -> tuple[RealArray, RealArray]:
    """Return state and covariance a gap later, shapes (H, d) and (H, d, d)."""
    mean, covariance = mean.copy(), covariance.copy()
    _advance(mean, covariance, gap, disturbance)
    return mean, covariance


@dataclass(frozen=True)
class Smoothed:
    """States given all points: ``mean + P r`` and ``P - P N P`` of the filtered ones."""

    filtered: Filtered
    first: RealArray
    """r, shape (n, H, d)."""
    second: RealArray
    """N, shape (n, H, d, d)."""

    def seen(self, loadings: RealArray) -> tuple[RealArray, RealArray]:
        """Return mean and variance of ``loadings`` (n, d) times the state, shapes (n, H)."""
        towards = np.einsum("thde,te->thd", self.filtered.covariances, loadings)
        prior_mean = np.einsum("thd,td->th", self.filtered.means, loadings)
        prior_variance = np.einsum("thd,td->th", towards, loadings)
        mean = prior_mean + np.einsum("thd,thd->th", towards, self.first)
        taken = np.einsum("thd,thde,the->th", towards, self.second, towards)
        return mean, np.maximum(prior_variance - taken, 0.0)


def run_smoother(filtered: Filtered) -> Smoothed:
    """Return what all points together say of the state at each point (de Jong 1989)."""
    model = filtered.model
    first = np.empty_like(filtered.means)
    second = np.empty_like(filtered.covariances)
    n, sets, d = first.shape
    r, curvature = np.zeros((sets, d)), np.zeros((sets, d, d))
    for t in range(n - 1, -1, -1):
        z = model.loadings[t]
        pull = filtered.pull[t][:, None]
        towards = filtered.covariances[t] @ z
        r = r + z * (filtered.push[t] - pull[:, 0] * np.einsum("hd,hd->h", towards, r))[:, None]
        across = np.einsum("hde,he->hd", curvature, towards) * pull
        middle = np.einsum("hd,hd->h", across, towards) * pull[:, 0] + pull[:, 0]
        curvature = (
            curvature
            - across[:, :, None] * z
            - z[:, None] * across[:, None, :]
            + middle[:, None, None] * np.outer(z, z)
        )
        first[t], second[t] = r, curvature
        r, curvature = _back(r, curvature, float(model.gaps[t]))
    return Smoothed(filtered, first, second)


def _back(r: RealArray, curvature: RealArray, gap: float) -> tuple[RealArray, RealArray]:
    """Return both sums carried back over a gap: transposes of the step forward."""
    r, curvature = r.copy(), curvature.copy()
    r[:, 1] += gap * r[:, 0]
    curvature[:, 1, :] += gap * curvature[:, 0, :]
    curvature[:, :, 1] += gap * curvature[:, :, 0]
    return r, curvature
