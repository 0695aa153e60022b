"""Probability of one reading under every state of the cage (docs/theory/fusion.md, section 3)."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np

from cagewise.evidence.fusion.heard import Heard
from cagewise.evidence.fusion.parameters import FamilyModel, FusionParameters
from cagewise.evidence.fusion.patterns import LOG_STEP, Family, States
from cagewise.indicators.reading import IndependenceClass
from cagewise.quantities import NORMAL_COVERAGE_FACTOR, RealArray

SHARES_MOTOR_MODEL = frozenset(
    {
        IndependenceClass.RUNNING_FUNDAMENTAL,
        IndependenceClass.RUNNING_HARMONIC,
        IndependenceClass.START,
    }
)
"""Classes that turn lines into open bars with the same motor model (and slip, where running)."""
OTHER_KERNELS = frozenset({Family.HARMONIC, Family.MEAN})
"""Families that see another sum over the bars than K2 does. The unevenness of a sound cage is a
random walk of phasors, and the walks of two kernels are independent: how uneven the cage looks in
one says nothing about the other."""
SHOWS_SHAPE = IndependenceClass.RUNNING_FUNDAMENTAL
"""Class in which the shape of a rotor imitates damage of any size. In tests at rest it shows too,
but not as much as damage: there such a reading counts as an outlier."""
MOST_BARS = 4.0
"""Readings above are heard as this: a larger reading is no better proof."""
LEAST_FLOOR_BARS = 0.02
"""Floor below which no reading is believed to be additive: a fifth of natural unevenness."""
_OUTLIER_POWER = 3.0
TAIL_DEGREES = 4
"""Degrees of freedom of the t distribution of a reading's errors: the width that an interval states
is itself an estimate, too wide for most motors and too narrow for a few."""
TAIL_SD = math.sqrt(TAIL_DEGREES / (TAIL_DEGREES - 2.0))
"""Standard deviation of that distribution over its scale."""
TAIL_PEAK = math.exp(
    math.lgamma(0.5 * (TAIL_DEGREES + 1)) - math.lgamma(0.5 * TAIL_DEGREES)
) / math.sqrt(TAIL_DEGREES * math.pi)
"""Its density in the middle: 3/8."""


@dataclass(frozen=True, slots=True)
class ClassLikelihood:
    """Density of what one class read, over the density that an outlier has there."""

    inlier: RealArray
    """If the reading comes from the cage, shape (n_states, n_nodes)."""
    outlier_share: float
    """Share of readings that have nothing to do with the cage."""
    log_outlier: float
    """Logarithm of the density of an outlier, per open bar."""
    shaped: RealArray
    """If the shape of a sound rotor made the reading, shape (n_nodes,)."""

    @property
    def mixed(self) -> RealArray:
        """Whichever it is, shape (n_states, n_nodes)."""
        return self.outlier_share + (1.0 - self.outlier_share) * self.inlier


def class_likelihood(
    speakers: Sequence[Heard], states: States, nodes: RealArray, parameters: FusionParameters
) -> ClassLikelihood:
    """Return the likelihood of a class.

    Parameters
    ----------
    speakers
        The leading reading, or the contradicting recordings of it: then one of them comes from the
        cage, each as likely as the other, and the rest are outliers.
    states
        The grid.
    nodes
        Values of the shared factor in the logarithm, shape (n_nodes,).
    parameters
        Fitted numbers.
    """
    each = [_likelihood(reading, states, nodes, parameters) for reading in speakers]
    inlier = np.asarray(np.mean([one for one, _ in each], axis=0))
    shown = speakers[0].independence_class is SHOWS_SHAPE
    return ClassLikelihood(
        inlier=inlier,
        outlier_share=parameters.families[speakers[0].family].outlier,
        log_outlier=sum(log_outlier for _, log_outlier in each),
        shaped=states.as_damaged @ inlier if shown else np.ones(nodes.size),
    )


def _likelihood(
    reading: Heard, states: States, nodes: RealArray, parameters: FusionParameters
) -> tuple[RealArray, float]:
    """Return the likelihood of one reading if it comes from the cage, and if not.

    As :attr:`ClassLikelihood.inlier` and :attr:`ClassLikelihood.log_outlier`.
    """
    model = parameters.families[reading.family]
    floor = floor_bars(reading, parameters)
    shared = reading.independence_class in SHARES_MOTOR_MODEL
    factors = np.exp(nodes + model.bias) if shared else np.full(nodes.shape, math.exp(model.bias))
    expected = states.expected[reading.family][:, np.newaxis] * factors
    outlier = outlier_density(reading, floor, model)
    per_bar = outlier / (min(reading.bars.value, MOST_BARS) + floor)
    inlier = reading_density(reading, expected, floor, model) / outlier
    if reading.family in OTHER_KERNELS:
        inlier[states.sound] = states.weight[states.sound] @ inlier[states.sound]
    return inlier, math.log(per_bar)


def floor_bars(reading: Heard, parameters: FusionParameters) -> float:
    """Return where the errors of a reading change from additive to relative, open bars."""
    return max(parameters.floor_share * reading.limit_bars, LEAST_FLOOR_BARS)


def reading_density(
    reading: Heard, expected: RealArray, floor: float, model: FamilyModel
) -> RealArray:
    """Return the density of a reading where ``expected`` is what the cage would show.

    Two halves of t distributions in ``y = ln(x + floor)``, whose widths are those of the reading's
    interval below and above its value, inflated.
    """
    below, above = half_widths(reading, floor, model)
    value = math.log(min(reading.bars.value, MOST_BARS) + floor)
    deviation = np.log(np.minimum(expected, MOST_BARS) + floor) - value
    scaled = deviation / np.where(deviation > 0.0, above, below)
    return np.asarray(2.0 / (below + above) * tailed(scaled))


def tailed(scaled: RealArray) -> RealArray:
    """Return the density of the t distribution of :data:`TAIL_DEGREES`."""
    power = -0.5 * (TAIL_DEGREES + 1)
    return np.asarray(TAIL_PEAK * (1.0 + scaled**2 / TAIL_DEGREES) ** power)


def half_widths(reading: Heard, floor: float, model: FamilyModel) -> tuple[float, float]:
    """Return the scales of the errors below and above the value, in the logarithm."""
    low, value, high = (
        math.log(x + floor) for x in (reading.bars.low, reading.bars.value, reading.bars.high)
    )
    scale = model.inflation / NORMAL_COVERAGE_FACTOR
    least = LOG_STEP
    return max(scale * (value - low), least), max(scale * (high - value), least)


def outlier_density(reading: Heard, floor: float, model: FamilyModel) -> float:
    """Return the density of a reading of something that has nothing to do with the cage.

    That is spread as ``3 (1 + x)^-4`` in x: most such things are worth a fraction of a bar, some
    several. It falls faster than damage does, so that a larger reading never speaks less for a
    defect. It is read with the same errors, so that a wide reading tells nothing.
    """
    bars, weight = outlier_bars()
    return float(reading_density(reading, bars, floor, model) @ weight)


@cache
def outlier_bars() -> tuple[RealArray, RealArray]:
    """Return values of outliers in open bars and their probabilities."""
    edges = np.concatenate([[0.0], np.geomspace(0.01, MOST_BARS, 160)])
    above = (1.0 + edges) ** -_OUTLIER_POWER
    weight = above[:-1] - above[1:]
    return 0.5 * (edges[:-1] + edges[1:]), weight / weight.sum()
