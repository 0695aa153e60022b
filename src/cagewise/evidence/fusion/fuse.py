"""Readings of all classes together: what the cage is, and how sure that is."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from cagewise.evidence.fusion.heard import Heard, leading
from cagewise.evidence.fusion.likelihood import ClassLikelihood, class_likelihood
from cagewise.evidence.fusion.parameters import FusionParameters
from cagewise.evidence.fusion.patterns import DamagePattern, Prior, States, states_of
from cagewise.indicators.reading import IndependenceClass
from cagewise.quantities import COVERAGE, Estimate, RealArray

SHARED_NODES = np.array([-2.8569700138728, -1.3556261799743, 0.0, 1.3556261799743, 2.8569700138728])
SHARED_WEIGHTS = np.array(
    [0.0112574113277, 0.2220759220056, 0.5333333333333, 0.2220759220056, 0.0112574113277]
)
"""Gauss-Hermite nodes and weights for the mean over a standard normal variable, five points."""


LEAST_GUARD = 1e-3
"""No probability comes nearer to 0 or 1 than this: no study of thousands supports more."""


class CommonCause(StrEnum):
    """What makes readings of several classes err together."""

    NONE = "none"
    RECORD = "record"
    """Wrong slip, a bad sensor: both classes of the running record."""
    SHAPE = "shape"
    """Ducts, spider arms, flats: what the shape of a rotor moves."""


AFFECTED: Mapping[CommonCause, frozenset[IndependenceClass]] = {
    CommonCause.NONE: frozenset(),
    CommonCause.RECORD: frozenset(
        {IndependenceClass.RUNNING_FUNDAMENTAL, IndependenceClass.RUNNING_HARMONIC}
    ),
    CommonCause.SHAPE: frozenset(
        {
            IndependenceClass.RUNNING_FUNDAMENTAL,
            IndependenceClass.STANDSTILL_PATTERN,
            IndependenceClass.STANDSTILL_MEAN,
        }
    ),
}
"""Classes that a common cause makes outliers."""


@dataclass(frozen=True, slots=True)
class Fused:
    """Weights of all states and common causes after the readings."""

    states: States
    weights: RealArray
    """Posterior probability, shape (n_causes, n_states); sums to 1."""
    likelihoods: RealArray
    """Density of the readings and probability of the cause, over the density of outliers; the same
    shape."""
    log_outliers: float
    """Logarithm of the density that outliers would have, per open bar of every reading."""
    heard: tuple[tuple[Heard, ...], ...]
    """Who spoke for every class."""

    @property
    def by_state(self) -> RealArray:
        """Posterior probability of every state, shape (n_states,)."""
        return np.asarray(self.weights.sum(axis=0))

    @property
    def defect(self) -> float:
        """Probability of a defect, without the guard."""
        return float(self.by_state[~self.states.sound].sum())

    def by_pattern(self) -> dict[DamagePattern, float]:
        """Return the probability of every pattern, without the guard."""
        sums = np.bincount(self.states.pattern, weights=self.by_state, minlength=len(DamagePattern))
        return {p: float(x) for p, x in zip(DamagePattern, sums, strict=True)}

    def log_density(self, pattern: DamagePattern) -> float:
        """Return the logarithm of the density of the readings under a pattern."""
        of_pattern = self.states.pattern == tuple(DamagePattern).index(pattern)
        mean = float((self.likelihoods @ np.where(of_pattern, self.states.weight, 0.0)).sum())
        return self.log_outliers + float(np.log(max(mean, 1e-300)))


def fuse(readings: Iterable[Heard], prior: Prior, parameters: FusionParameters) -> Fused:
    """Return what the cage may be after all readings; their order does not matter."""
    speakers = leading(readings)
    states = states_of(parameters.natural_bars, parameters.mixed_share)
    nodes = parameters.shared_sd * SHARED_NODES
    classes = {
        of_class[0].independence_class: class_likelihood(of_class, states, nodes, parameters)
        for of_class in speakers
    }
    under = np.stack([_under(cause, classes, states) for cause in CommonCause])
    likelihoods = cause_probabilities(parameters)[:, np.newaxis] * under
    weights = states.prior(prior) * likelihoods
    return Fused(
        states=states,
        weights=weights / weights.sum(),
        likelihoods=likelihoods,
        log_outliers=sum(likelihood.log_outlier for likelihood in classes.values()),
        heard=speakers,
    )


def cause_probabilities(parameters: FusionParameters) -> RealArray:
    """Return the probability of every common cause, in the order of :class:`CommonCause`."""
    record, shape = parameters.record_outlier, parameters.shape_outlier
    return np.array([1.0 - record - shape, record, shape])


def _under(
    cause: CommonCause, classes: Mapping[IndependenceClass, ClassLikelihood], states: States
) -> RealArray:
    """Return density over that of outliers under a common cause, shape (n_states,)."""
    product = np.ones((states.bars.size, SHARED_NODES.size))
    for independence_class, likelihood in classes.items():
        if independence_class not in AFFECTED[cause]:
            product *= likelihood.mixed
        elif cause is CommonCause.SHAPE:
            product *= likelihood.shaped
    return np.asarray(product @ SHARED_WEIGHTS)


def guarded(weights: RealArray, sound: NDArray[np.bool_], prior: Prior, guard: float) -> RealArray:
    """Return state probabilities with the defect kept away from 0 and 1.

    From 1 by ``guard``. From 0 by what ``guard`` at even odds comes to at these odds, at least a
    thousandth: no readings are taken for stronger proof of a sound cage than the study has seen. A
    prior that is itself beyond stays: the guard never moves the probability past it.
    """
    defect = float(weights[~sound].sum())
    odds = prior.prevalence / (1.0 - prior.prevalence) * guard / (1.0 - guard)
    low = min(prior.prevalence, max(LEAST_GUARD, odds / (1.0 + odds)))
    high = max(1.0 - guard, prior.prevalence)
    kept = min(max(defect, low), high)
    scaled = weights.copy()
    scaled[sound] *= (1.0 - kept) / max(1.0 - defect, 1e-300)
    scaled[~sound] *= kept / max(defect, 1e-300)
    return scaled


def credible_bars(weights: RealArray, states: States) -> Estimate:
    """Return median and 95 % credible interval of the damage in open bars.

    A lower end within the scale of natural unevenness is 0: no cage is told from an even one there.
    """
    axis = np.unique(np.concatenate([states.low, states.high]))
    share = (axis[:, np.newaxis] - states.low) / (states.high - states.low)
    cumulative = np.clip(share, 0.0, 1.0) @ weights
    tail = 0.5 * (1.0 - COVERAGE)
    low, middle, high = np.interp([tail, 0.5, 1.0 - tail], cumulative, axis)
    if low < states.natural_bars:
        low = 0.0
    return Estimate(float(middle), float(low), float(high))


def shape_share(fused: Fused) -> float:
    """Return the part of a sound cage's probability in which the rotor's shape made the lines."""
    sound = fused.weights[:, fused.states.sound].sum(axis=1)
    index = tuple(CommonCause).index(CommonCause.SHAPE)
    return float(sound[index] / max(float(sound.sum()), 1e-300))
