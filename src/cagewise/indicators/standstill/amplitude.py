"""Amplitude of a pattern: interval, and the amplitude that would be found."""

from __future__ import annotations

import math

from cagewise.quantities import COVERAGE, NORMAL_COVERAGE_FACTOR, Estimate

_FAR = 10.0
"""Amplitude over standard deviation from which it is normally distributed within 1 %."""


def amplitude_estimate(amplitude: float, sd: float, components: int, freedom: int) -> Estimate:
    """Return an amplitude with its 95 % interval.

    Parameters
    ----------
    amplitude
        Root of the sum of squares of normal components.
    sd
        Standard deviation of each component.
    components
        Number of components.
    freedom
        Degrees of freedom from which ``sd`` was estimated; the interval is widened by the ratio of
        Student's factor to the normal one.
    """
    from scipy.special import chndtrinc, stdtrit

    tail = 0.5 * (1.0 - COVERAGE)
    wide = sd * float(stdtrit(freedom, 1.0 - tail)) / NORMAL_COVERAGE_FACTOR
    if amplitude > _FAR * wide:
        return Estimate.from_standard_deviation(amplitude, wide)
    square = (amplitude / wide) ** 2
    low = math.sqrt(_noncentrality(square, components, 1.0 - tail)) * wide
    # an amplitude smaller than noise usually makes is luck: it bounds no better than usual noise
    usual = max(square, float(components))
    high = math.sqrt(float(chndtrinc(usual, components, tail))) * wide
    return Estimate(amplitude, min(low, amplitude), max(high, amplitude))


def _noncentrality(square: float, components: int, probability: float) -> float:
    """Return the noncentrality at which a larger square has this probability; zero if none has."""
    from scipy.special import chdtr, chndtrinc

    if float(chdtr(components, square)) <= probability:
        return 0.0
    return float(chndtrinc(square, components, probability))
