"""What one more reading would tell: expected information before it is taken.

Every outcome of the reading is weighed by its probability under what is known now, and the entropy
of "is the cage defective?" that would be left after it is subtracted from the entropy now
(docs/theory/fusion.md, section 8).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import chain, combinations

import numpy as np

from cagewise.evidence.fusion.fuse import (
    AFFECTED,
    SHARED_NODES,
    SHARED_WEIGHTS,
    CommonCause,
    cause_probabilities,
)
from cagewise.evidence.fusion.heard import Heard, leading
from cagewise.evidence.fusion.likelihood import (
    LEAST_FLOOR_BARS,
    MOST_BARS,
    SHOWS_SHAPE,
    TAIL_SD,
    ClassLikelihood,
    class_likelihood,
    outlier_bars,
)
from cagewise.evidence.fusion.parameters import FusionParameters
from cagewise.evidence.fusion.patterns import Family, Prior, States, states_of
from cagewise.indicators.reading import IndependenceClass
from cagewise.quantities import RealArray

OUTCOMES = 28
"""Cells into which the outcome of one reading is divided."""
AXIS_FLOOR = 0.5
"""Where the axis of outcomes changes from even to logarithmic, in detection limits: below, noise is
nearly normal on it. Any monotone axis gives the same information."""
LIMIT_IN_SD = 3.3
"""Detection limit over the standard deviation of the noise: 95 % detection at one false alarm in
twenty, ``2 x 1.645`` (docs/theory/plan.md)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Prospect:
    """A reading that could be taken."""

    family: Family
    independence_class: IndependenceClass
    limit_bars: float
    """Smallest damage it will show."""
    same_faults: bool
    """Whether it would repeat what a reading of its class that was heard may be wrong about."""
    immune: frozenset[CommonCause] = frozenset()
    """Common causes that it is not open to."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Worth:
    """What prospects would tell together."""

    bits: float
    """Expected information on whether the cage is defective."""
    entropy_bits: float
    """What is not known now."""
    change_probability: float
    """Probability that it moves the probability of a defect across one half."""


@dataclass(frozen=True, slots=True)
class _World:
    """A common cause, and which heard classes have an outlier that would repeat itself."""

    cause: CommonCause
    wrong: frozenset[IndependenceClass]
    weight: RealArray
    """Posterior weight of every state, shape (n_states,); all worlds sum to 1."""
    imitated: RealArray
    """Probability of every state as what the shape of a sound rotor looks like, after what was
    heard: a repeat finds the same again."""


def worth_of(
    prospects: Sequence[Prospect],
    readings: Iterable[Heard],
    prior: Prior,
    parameters: FusionParameters,
) -> Worth:
    """Return what one or two readings, taken together, are expected to tell.

    Parameters
    ----------
    prospects
        The readings that one measurement gives; their errors are independent given the cage.
    readings
        What was heard so far.
    prior, parameters
        As the fusion takes them.
    """
    states = states_of(parameters.natural_bars, parameters.mixed_share)
    again = frozenset(p.independence_class for p in prospects if p.same_faults)
    worlds = _worlds(tuple(readings), again, states, prior, parameters)
    damaged = np.zeros(1)
    sound = np.zeros(1)
    tables = [_Outcomes.of(p, states, parameters) for p in prospects]
    joint: RealArray | None = None
    for world in worlds:
        likelihood = np.ones((1, states.bars.size))
        for table in tables:
            each = table.under(world)
            likelihood = (likelihood[:, np.newaxis, :] * each).reshape(-1, states.bars.size)
        weighed = np.stack(
            [likelihood @ (world.weight * part) for part in (states.sound, ~states.sound)]
        )
        joint = weighed if joint is None else joint + weighed
    if joint is not None:
        sound, damaged = joint
    return _worth(sound, damaged)


def _worth(sound: RealArray, damaged: RealArray) -> Worth:
    """Return the worth from joint probabilities of outcome and truth, shape (n_outcomes,)."""
    now = float(damaged.sum() / (damaged.sum() + sound.sum()))
    each = damaged + sound
    after = damaged / np.maximum(each, 1e-300)
    left = float(each @ _entropy(after))
    before = float(_entropy(np.array([now]))[0])
    crosses = (after > 0.5) != (now > 0.5)
    return Worth(
        bits=max(0.0, before - left),
        entropy_bits=before,
        change_probability=float(each[crosses].sum()),
    )


def _entropy(probability: RealArray) -> RealArray:
    """Return the entropy of a yes or no in bits."""
    p = np.clip(probability, 1e-12, 1.0 - 1e-12)
    return np.asarray(-(p * np.log2(p) + (1.0 - p) * np.log2(1.0 - p)))


def _worlds(
    readings: tuple[Heard, ...],
    again: frozenset[IndependenceClass],
    states: States,
    prior: Prior,
    parameters: FusionParameters,
) -> list[_World]:
    """Return the weights of all states, causes and repeated outliers after what was heard."""
    nodes = parameters.shared_sd * SHARED_NODES
    classes = {
        speakers[0].independence_class: class_likelihood(speakers, states, nodes, parameters)
        for speakers in leading(readings)
    }
    heard_again = again & classes.keys()
    imitated = states.as_damaged
    if SHOWS_SHAPE in classes:
        imitated = imitated * (classes[SHOWS_SHAPE].inlier @ SHARED_WEIGHTS)
    imitated = imitated / max(float(imitated.sum()), 1e-300)
    worlds = [
        _World(cause, wrong, chance * _density(cause, wrong, heard_again, classes), imitated)
        for cause, chance in zip(CommonCause, cause_probabilities(parameters), strict=True)
        for wrong in _subsets(heard_again - AFFECTED[cause])
    ]
    weights = [world.weight * states.prior(prior) for world in worlds]
    total = float(sum(weight.sum() for weight in weights))
    return [
        _World(world.cause, world.wrong, weight / total, imitated)
        for world, weight in zip(worlds, weights, strict=True)
    ]


def _density(
    cause: CommonCause,
    wrong: frozenset[IndependenceClass],
    again: frozenset[IndependenceClass],
    classes: dict[IndependenceClass, ClassLikelihood],
) -> RealArray:
    """Return the density of what was heard in a world, over that of outliers."""
    product: RealArray = np.ones((1, SHARED_NODES.size))
    for independence_class, likelihood in classes.items():
        if independence_class in AFFECTED[cause]:
            product = product * (likelihood.shaped if cause is CommonCause.SHAPE else 1.0)
        elif independence_class not in again:
            product = product * likelihood.mixed
        elif independence_class in wrong:
            product = product * likelihood.outlier_share
        else:
            product = product * (1.0 - likelihood.outlier_share) * likelihood.inlier
    return np.asarray(product @ SHARED_WEIGHTS)


def _subsets(
    classes: frozenset[IndependenceClass],
) -> Iterator[frozenset[IndependenceClass]]:
    """Yield all subsets, the empty one first."""
    members = sorted(classes)
    sizes = range(len(members) + 1)
    for chosen in chain.from_iterable(combinations(members, size) for size in sizes):
        yield frozenset(chosen)


@dataclass(frozen=True, slots=True)
class _Outcomes:
    """Probabilities of the outcomes of one prospect."""

    prospect: Prospect
    inlier: RealArray
    """If it comes from the cage, shape (n_outcomes, n_states)."""
    outlier: RealArray
    """If it does not, shape (n_outcomes, 1)."""
    outlier_share: float

    @classmethod
    def of(cls, prospect: Prospect, states: States, parameters: FusionParameters) -> _Outcomes:
        """Return the outcomes of a prospect with the errors usual for its family."""
        model = parameters.families[prospect.family]
        floor = max(AXIS_FLOOR * prospect.limit_bars, LEAST_FLOOR_BARS)
        own = TAIL_SD * model.inflation * model.typical_sd
        relative = float(np.hypot(own, parameters.shared_sd))
        bars, weight = outlier_bars()

        def table(expected: RealArray) -> RealArray:
            return _cells(np.minimum(expected, MOST_BARS), relative, prospect.limit_bars, floor)

        shown = states.expected[prospect.family] * np.exp(model.bias)
        return cls(prospect, table(shown), (table(bars) @ weight)[:, np.newaxis], model.outlier)

    def under(self, world: _World) -> RealArray:
        """Return the probability of every outcome in a world, (n_outcomes, n_states or 1)."""
        prospect, cause = self.prospect, world.cause
        open_to_it = cause not in prospect.immune
        if open_to_it and prospect.independence_class in AFFECTED[cause]:
            if cause is CommonCause.SHAPE and prospect.independence_class is SHOWS_SHAPE:
                return (self.inlier @ world.imitated)[:, np.newaxis]
            return self.outlier
        if prospect.same_faults and prospect.independence_class in world.wrong:
            return self.outlier
        return self.outlier_share * self.outlier + (1.0 - self.outlier_share) * self.inlier


def _cells(expected: RealArray, relative: float, limit: float, floor: float) -> RealArray:
    """Return the probability of every cell of ``y = ln(x + floor)``, (n_outcomes, n_expected)."""
    from scipy.special import ndtr

    middle = np.log(expected + floor)
    spread = np.hypot(relative * expected, limit / LIMIT_IN_SD) / (expected + floor)
    edges = np.linspace(np.log(0.5 * floor), np.log(1.5 * MOST_BARS + floor), OUTCOMES - 1)
    below = ndtr((edges[:, np.newaxis] - middle) / spread)
    ends = np.concatenate([np.zeros((1, middle.size)), below, np.ones((1, middle.size))])
    return np.asarray(np.diff(ends, axis=0))
