"""Inductance between the terminals, compared between the pairs: a winding reading.

On a cage motor the pairs differ by the position of the rotor alone, so the means over a whole pole
pair are compared, never readings at one position.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from cagewise.indicators.reading import IndependenceClass, Part, Reading
from cagewise.indicators.standstill.fit import PairFit
from cagewise.indicators.standstill.pattern import PatternFits
from cagewise.indicators.standstill.series import PairReadings, Quantity
from cagewise.quantities import Estimate, RealArray

NAME = "inductance_unbalance"
TITLE = "inductance of the phases, unbalance"
NO_LIMIT = "no standard is known to limit it: compare with earlier tests of the same motor"
GAP = "an eccentric rotor at rest makes the pairs differ as well"
_DRAWS = 1000
_SEED = 41


def refused_unbalance(reason: str) -> Reading:
    """Return an unbalance that could not be read."""
    return Reading(
        name=NAME,
        title=TITLE,
        independence_class=IndependenceClass.WINDING_IMPEDANCE,
        part=Part.WINDING,
        reason=reason,
    )


def unbalance_refusal(pairs: Sequence[PairReadings], fault: str) -> str:
    """Return why readings that could not be fitted give no unbalance either."""
    if pairs and all(pair.coverage[0] < 2 for pair in pairs):
        return (
            "read at a single rotor position: on a cage motor the position alone makes the pairs "
            "differ"
        )
    return fault


def read_unbalance(fits: PatternFits) -> Reading:
    """Return the largest deviation of a pair's mean from the average, over the average."""
    quantity = next((q for q in (Quantity.INDUCTANCE, Quantity.MODULUS) if q in fits.fits), None)
    if fits.missing:
        names = " and ".join(fits.missing)
        return refused_unbalance(f"terminals {names} were not read: three pairs are needed")
    if quantity is None:
        return refused_unbalance("neither inductance nor impedance was read")
    of = fits.fits[quantity]
    return Reading(
        name=NAME,
        title=TITLE,
        independence_class=IndependenceClass.WINDING_IMPEDANCE,
        part=Part.WINDING,
        value=_unbalance(of).scaled(100.0),
        unit=f"% of the average {quantity}",
        valid=True,
        caveats=(NO_LIMIT, GAP, *_mean_caveats(fits)),
        details={
            f"mean_{quantity}_{fit.readings.pair.value}_"
            f"{'h' if quantity is Quantity.INDUCTANCE else 'ohm'}": fit.mean
            for fit in of
        },
    )


def largest_deviation(means: Sequence[float] | RealArray) -> RealArray:
    """Return the largest deviation from the average over the average, as for resistances.

    Of the last axis: shape (..., 3) gives shape (...).
    """
    values = np.asarray(means, dtype=np.float64)
    average = np.mean(values, axis=-1, keepdims=True)
    return np.asarray(np.max(np.abs(values / average - 1.0), axis=-1))


def _unbalance(fits: Sequence[PairFit]) -> Estimate:
    """Return the unbalance with the interval that the scatter of the means leaves."""
    means = np.array([fit.mean for fit in fits])
    sd = means * np.array([fit.mean_sd for fit in fits])
    rng = np.random.default_rng(_SEED)
    draws = largest_deviation(means + sd * rng.standard_normal((_DRAWS, means.size)))
    value = float(largest_deviation(means))
    drawn = Estimate.from_draws(draws)
    return Estimate(value, min(value, drawn.low), max(value, drawn.high))


def _mean_caveats(fits: PatternFits) -> tuple[str, ...]:
    """Return that ripple may be part of the means where the positions do not tell it apart."""
    if all(check.sampling.slot_orders for check in fits.checks):
        return ()
    return ("slot ripple was not separated: up to its amplitude may be part of the means",)
