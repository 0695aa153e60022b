"""From a reading to the number of adjacent open bars that would produce it on this motor.

The direct component goes through the motor's own cage solution (machine.cage.expectation). The
other functions of the pair do not know how much of the lower line the speed ripple took away, so
they carry the range that inertia can make of it (docs/theory/side-lines.md, table of ranges).
"""

from __future__ import annotations

import numpy as np

from cagewise.indicators.line_pair import SideLine
from cagewise.indicators.point_draws import PointDraws
from cagewise.quantities import Estimate, RealArray

SUM_OVER_DIRECT = (0.85, 1.15)
"""(|L| + |U|) / |d| over inertia from the rotor alone to infinite and load from 10 to 100 %, one to
three bars: 0.88 to 1.11 on the simulated 3 kW motor, rounded outwards."""
DIRECT_OVER_LOWER = (0.95, 2.5)
"""|d| / |L| over the same range: 1.0 at infinite inertia, 2.3 with the rotor alone."""
SUM_OVER_ROOT = (1.0, 2.0**0.5)
"""(|L| + |U|) over the root of |L|^2 + |U|^2, for any share between the two."""
_SEED = 23


def bars_of(draws: PointDraws, amplitude_a: RealArray | float) -> RealArray:
    """Return open bars, shape (n_draws,), for a direct component of this amplitude (A peak)."""
    return draws.expectation.direct_component_bars(
        np.asarray(amplitude_a / draws.rotor_current_a, dtype=np.float64)
    )


def interval(value: float, draws: RealArray, *, includes_zero: bool = False) -> Estimate:
    """Return the 95 % interval of draws about a value; from zero where zero is not excluded."""
    low, high = (float(x) for x in np.quantile(draws, [0.025, 0.975]))
    low = 0.0 if includes_zero else low
    return Estimate(value, min(low, value), max(high, value))


def amplitude_draws(line: SideLine, n_draws: int) -> RealArray:
    """Return draws of a line's amplitude from its floor, shape (n_draws,)."""
    rng = np.random.default_rng(_SEED)
    power = line.energy.power + line.energy.power_sd * rng.standard_normal(n_draws)
    return np.sqrt(np.maximum(power, 0.0))


def ranged(low_high: tuple[float, float], n_draws: int) -> RealArray:
    """Return draws of a factor known by its range, evenly in its logarithm."""
    rng = np.random.default_rng(_SEED + 1)
    low, high = np.log(low_high)
    return np.exp(rng.uniform(low, high, n_draws))


def bars_through(
    draws: PointDraws, amplitude: float, amplitudes: RealArray, factors: RealArray
) -> Estimate:
    """Return open bars of a reading that is ``factors`` times smaller than |d|.

    Parameters
    ----------
    draws
        The motor.
    amplitude
        The reading, A peak.
    amplitudes
        Its draws, shape (n_draws,).
    factors
        Draws of |d| over the reading, shape (n_draws,).
    """
    value = float(np.median(bars_of(draws, amplitude * factors)))
    return interval(value, bars_of(draws, amplitudes * factors))
