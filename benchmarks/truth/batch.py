"""Densities of many cases at once, for the fit: the sums of ``evidence/fusion`` over arrays.

The fusion takes one visit at a time and asks about every state of its cage. The fit asks about
thousands of visits, and only about the pattern that is true: over arrays that is some fifty times
faster. ``tests/unit/benchmarks/test_truth_fit.py`` holds the two against each other.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from cagewise.evidence.fusion.fuse import (
    AFFECTED,
    SHARED_NODES,
    SHARED_WEIGHTS,
    CommonCause,
    cause_probabilities,
    fuse,
)
from cagewise.evidence.fusion.heard import Heard, leading
from cagewise.evidence.fusion.likelihood import (
    LEAST_FLOOR_BARS,
    MOST_BARS,
    OTHER_KERNELS,
    SHARES_MOTOR_MODEL,
    SHOWS_SHAPE,
    outlier_bars,
    tailed,
)
from cagewise.evidence.fusion.parameters import FamilyModel, FusionParameters
from cagewise.evidence.fusion.patterns import (
    LOG_STEP,
    DamagePattern,
    Family,
    Prior,
    States,
    states_of,
)
from cagewise.indicators.reading import IndependenceClass
from cagewise.quantities import NORMAL_COVERAGE_FACTOR, RealArray
from truth.stored import Case


@dataclass(frozen=True, eq=False)
class _Readings:
    """Readings of one family, of cases with one true pattern; arrays of shape (n,)."""

    family: Family
    of_class: IndependenceClass
    case: NDArray[np.int64]
    """Place of the case of each among those of the pattern."""
    low: RealArray
    value: RealArray
    high: RealArray
    """In open bars."""
    limit: RealArray

    def likelihood(
        self, states: States, pattern: DamagePattern, parameters: FusionParameters
    ) -> tuple[RealArray, RealArray, RealArray]:
        """Return density over that of outliers, the same by shape, and the logarithm of that.

        Shapes (n, n_states of the pattern, n_nodes), (n, 1, n_nodes) and (n,); the logarithm is
        per open bar.
        """
        model = parameters.families[self.family]
        of_pattern = states.pattern == tuple(DamagePattern).index(pattern)
        shared = self.of_class in SHARES_MOTOR_MODEL
        factors = np.exp(model.bias + parameters.shared_sd * SHARED_NODES * shared)
        shown = states.expected[self.family][:, np.newaxis] * factors
        expected = shown[of_pattern]
        floor = np.maximum(parameters.floor_share * self.limit, LEAST_FLOOR_BARS)
        bars, weight = outlier_bars()
        outlier = self._density(bars, floor, model) @ weight
        inlier = self._density(expected.ravel(), floor, model) / outlier[:, np.newaxis]
        inlier = inlier.reshape(-1, *expected.shape)
        if self.family in OTHER_KERNELS and pattern is DamagePattern.SOUND:
            inlier = np.einsum("s,rsn->rn", states.weight[of_pattern], inlier)[:, np.newaxis]
        per_bar = outlier / (np.minimum(self.value, MOST_BARS) + floor)
        shaped = np.ones((self.value.size, 1, factors.size))
        if self.of_class is SHOWS_SHAPE:
            every = self._density(shown.ravel(), floor, model) / outlier[:, np.newaxis]
            every = every.reshape(-1, *shown.shape)
            shaped = np.einsum("s,rsn->rn", states.as_damaged, every)[:, np.newaxis]
        return model.outlier + (1.0 - model.outlier) * inlier, shaped, np.log(per_bar)

    def _density(self, expected: RealArray, floor: RealArray, model: FamilyModel) -> RealArray:
        """Return the density of every reading at every expected value, shape (n, n_expected)."""
        low, value, high = (np.log(bars + floor) for bars in (self.low, self.value, self.high))
        scale = model.inflation / NORMAL_COVERAGE_FACTOR
        below = np.maximum(scale * (value - low), LOG_STEP)[:, np.newaxis]
        above = np.maximum(scale * (high - value), LOG_STEP)[:, np.newaxis]
        heard = np.log(np.minimum(self.value, MOST_BARS) + floor)[:, np.newaxis]
        off = np.log(np.minimum(expected, MOST_BARS) + floor[:, np.newaxis]) - heard
        scaled = off / np.where(off > 0.0, above, below)
        return np.asarray(2.0 / (below + above) * tailed(scaled))


@dataclass(frozen=True, eq=False)
class _OfPattern:
    """Cases with one true pattern."""

    pattern: DamagePattern
    weight: RealArray
    readings: tuple[_Readings, ...]

    def told(self, states: States, parameters: FusionParameters) -> float:
        """Return the weighted sum of the logarithms of their densities."""
        of_pattern = states.pattern == tuple(DamagePattern).index(self.pattern)
        shape = (len(CommonCause), self.weight.size, int(of_pattern.sum()), SHARED_NODES.size)
        product, logs = np.ones(shape), np.zeros(self.weight.size)
        for readings in self.readings:
            mixed, shaped, log_outlier = readings.likelihood(states, self.pattern, parameters)
            logs[readings.case] += log_outlier
            for k, cause in enumerate(CommonCause):
                if readings.of_class not in AFFECTED[cause]:
                    product[k, readings.case] *= mixed
                elif cause is CommonCause.SHAPE:
                    product[k, readings.case] *= shaped
        mean = np.einsum(
            "k,kcsn,s,n->c",
            cause_probabilities(parameters),
            product,
            states.weight[of_pattern],
            SHARED_WEIGHTS,
            optimize=True,
        )
        return float(self.weight @ (logs + np.log(np.maximum(mean, 1e-300))))


class Batch:
    """The logarithm of the density of many cases under what is true of them."""

    def __init__(self, chosen: Sequence[Case]) -> None:
        spoken = [(case, leading(case.readings)) for case in chosen]
        plain = [(c, [r for (r,) in of]) for c, of in spoken if all(len(r) == 1 for r in of)]
        self._groups = tuple(_groups(plain))
        self._contradicting = [c for c, of in spoken if any(len(r) > 1 for r in of)]

    def told(self, parameters: FusionParameters) -> float:
        """Return the weighted sum of the logarithms of the densities of all cases."""
        states = states_of(parameters.natural_bars, parameters.mixed_share)
        prior = Prior()
        alone = sum(
            case.weight * fuse(case.readings, prior, parameters).log_density(case.pattern)
            for case in self._contradicting
        )
        return alone + sum(group.told(states, parameters) for group in self._groups)


def _groups(spoken: Sequence[tuple[Case, Sequence[Heard]]]) -> Iterator[_OfPattern]:
    """Yield the cases by their true pattern."""
    for pattern in DamagePattern:
        of = [(case, readings) for case, readings in spoken if case.pattern is pattern]
        placed = [(place, r) for place, (_, readings) in enumerate(of) for r in readings]
        families = [(f, [(k, r) for k, r in placed if r.family is f]) for f in Family]
        yield _OfPattern(
            pattern=pattern,
            weight=np.array([case.weight for case, _ in of]),
            readings=tuple(_array(family, own) for family, own in families if own),
        )


def _array(family: Family, placed: Sequence[tuple[int, Heard]]) -> _Readings:
    """Return readings of one family as arrays."""
    readings = [reading for _, reading in placed]
    return _Readings(
        family=family,
        of_class=readings[0].independence_class,
        case=np.array([place for place, _ in placed]),
        low=np.array([r.bars.low for r in readings]),
        value=np.array([r.bars.value for r in readings]),
        high=np.array([r.bars.high for r in readings]),
        limit=np.array([r.limit_bars for r in readings]),
    )
