"""How the magnetising current answers a modulated voltage where the main path is saturated.

The flux follows the voltage; the magnetising current follows the *slope* of the magnetisation
curve and not its chord. Against a linear circuit a modulation m of the voltage adds ``k I_m m`` to
both lines of the pair, ``k = L_chord / L_slope - 1`` (docs/theory/direct-component.md, "Supply").
Flicker beside the pair shows k, as far as there is any; where there is none k does not matter.
"""

from __future__ import annotations

import math

import numpy as np

from cagewise.indicators.cage.point_draws import PointDraws
from cagewise.indicators.lines.pair_bins import PairBins
from cagewise.quantities import ComplexArray, RealArray

USUAL = 0.7
"""Mean of k before anything is measured: machines are built to the knee of the curve, where the
slope is half to a third of the chord less the air gap's part (our judgement, no source)."""
SPREAD = 0.7
"""Its standard deviation (our judgement, no source); k is never negative."""
MODEL_ERROR = 0.03
"""Error of a constant k, relative: leakage between voltage and flux is left out. Simulated motors:
0.6 % at the pair of what the bins beside it show; five times that."""
LEAST_NOISE = 1e-5
"""Noise of a sample of the current, per unit of the fundamental, below which no record is believed
to lie: that of 16 bits. Without it the leakage of lines in a noiseless record would pass for k."""
_SEED = 11


def iron_slopes(
    bins: PairBins, draws: PointDraws, fundamental_a: complex, rho: ComplexArray
) -> RealArray:
    """Return draws of k, shape (n_draws,), from the bins beside the pair.

    Parameters
    ----------
    bins
        Beside the pair, lines and carrier taken out.
    draws
        The motor at its operating point.
    fundamental_a
        Current in the frame, A peak.
    rho
        Ratio of the pair of any speed ripple at the bins, of the middle motor.
    """
    mean, sd = USUAL, SPREAD
    if bins.ripple_hz.size and bins.supply_removed:
        mean, sd = _measured(bins, draws, fundamental_a, rho)
    rng = np.random.default_rng(_SEED)
    return np.maximum(mean + sd * rng.standard_normal(draws.slip.size), 0.0)


def _measured(
    bins: PairBins, draws: PointDraws, fundamental_a: complex, rho: ComplexArray
) -> tuple[float, float]:
    """Return mean and standard deviation of k: the prior, and what the bins show of it."""
    lower, upper = bins.corrected(draws.middle, fundamental_a)
    magnetizing_a = complex(draws.middle.magnetizing_current(fundamental_a))
    m = bins.modulation[..., np.newaxis].conj()
    answer = m * (magnetizing_a - rho * np.conj(magnetizing_a))
    rest = lower - rho * upper.conj()
    power = float(np.sum(np.abs(answer) ** 2))
    if power == 0.0:
        return USUAL, SPREAD
    shown = float(np.sum(answer.conj() * rest).real) / power
    noise = float(np.mean(np.abs(rest - shown * answer) ** 2))
    noise = max(noise, (LEAST_NOISE * abs(fundamental_a)) ** 2)
    variance = 0.5 * noise / power
    precision = 1.0 / variance + 1.0 / SPREAD**2
    mean = (shown / variance + USUAL / SPREAD**2) / precision
    return mean, math.hypot(math.sqrt(1.0 / precision), MODEL_ERROR * mean)
