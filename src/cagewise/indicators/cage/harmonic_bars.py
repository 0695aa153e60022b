"""From the four cage lines beside the 5th and 7th harmonic to open bars, all lines together.

Winding, skew and leakage of the motor are not known, but they move the four lines each in its own
way: a coil of 0.8 of a pole pitch takes the lines beside the 5th away and leaves those beside the
7th. So every draw of the motor is weighed by how well it explains *all* lines with some number of
bars, and what remains is counted. Derivation and tests: docs/theory/harmonic-lines.md.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.special import logsumexp

from cagewise.machine.cage.expectation import APART_BARS, COUNTS, CRACK_BARS, CageExpectation
from cagewise.machine.cage.solution import Line
from cagewise.quantities import COVERAGE, Estimate, RealArray

COMMON_OFFSET, COMMON_SD = 0.12, 0.20
"""Mean and standard deviation of the logarithm of all lines over those of the linear cage: at six
times the supply frequency displaced currents lower the leakage of deep bars (0 to +4 dB), saturated
iron shunts the magnetising branch (+1 dB), the supply's impedance takes up to 2.5 dB away. Bar-by-
bar simulations with and without each; no source."""
LINE_SD = 0.12
"""Standard deviation of one line's logarithm beside that: 0.1 to 1 dB in the same simulations."""
OUTLIER, OUTLIER_SD = 0.03, 1.0
"""Probability that a line is something else's or taken away by a pattern of bars that is not among
those solved, and how far it then lies off, in the logarithm; judgement."""
LEAST_DRAWS = 10.0
"""Draws that must bear the weight. Fewer cannot show a spread: the tolerance of a line is raised
until so many do."""
WIDENING, MOST_WIDENINGS = 1.4, 8
SMALLEST_BARS, MOST_BARS = 1e-3, 8.0
"""Numbers of bars tried, evenly in the logarithm. Four adjacent bars are not told from more."""
N_BARS = 64
APART_SHARE = 0.02
"""Weight of two bars 90 electrical degrees apart against all numbers of adjacent ones; judgement.
They are no pattern of adjacent bars, but without them nothing would explain their lines."""
NATURAL_SPREAD = 0.005
"""Relative standard deviation of the bar resistances of a sound cage; common practice, no source.
The unevenness that the side lines see (K2) is another sum of the same bars than that of these lines
(K4, K6, K8): below it the equivalent of one says nothing of the other."""
NATURAL_REACH = 2.0
"""An interval that comes this near to nothing, in standard deviations of the natural unevenness,
begins at nothing."""
N_COMMON = 5
"""Nodes of the integral over the common factor."""
N_SAMPLES = 4000
_SEED = 29


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredLine:
    """One line as measured, relative to the fundamental (amplitude 1)."""

    line: Line
    power: float
    """Floor removed, not below zero."""
    noise_power: float
    """What the floor puts into the band of the line."""
    power_sd: float


def count_bars(lines: tuple[MeasuredLine, ...], expectation: CageExpectation) -> Estimate:
    """Return the open bars that explain the lines, with the 95 % interval.

    Parameters
    ----------
    lines
        Those that the supply does not explain, standing or not: what is missing tells, too.
    expectation
        With the lines of a crack and of two bars apart.
    """
    grid = np.geomspace(SMALLEST_BARS, MOST_BARS, N_BARS)
    apart = np.stack([expectation.apart_lines[m.line] for m in lines])
    expected = np.concatenate([_of_adjacent(grid, expectation, lines), apart[np.newaxis]])
    prior = np.log(np.append(np.full(N_BARS, (1.0 - APART_SHARE) / N_BARS), APART_SHARE))
    weights = _weights(expected, lines, prior)
    # one open bar of n shows 1/n in the direct component: the draws know their number of bars
    bars = 1.0 / float(weights.sum(axis=0) @ expectation.direct_component[0])
    natural = NATURAL_SPREAD * math.sqrt(bars)
    return _estimate(np.append(grid, APART_BARS), weights.sum(axis=1), natural)


def _of_adjacent(
    grid: RealArray, expectation: CageExpectation, lines: tuple[MeasuredLine, ...]
) -> RealArray:
    """Return the lines of numbers of adjacent bars, shape (n_bars, n_lines, n_draws).

    In proportion to the lost current up to the crack, linear between whole numbers, level beyond
    four.
    """
    known = np.array([0.0, CRACK_BARS, *COUNTS])
    step = np.clip(np.searchsorted(known, grid, side="right") - 1, 0, known.size - 2)
    part = np.minimum((grid - known[step]) / (known[step + 1] - known[step]), 1.0)
    part = part[:, np.newaxis]
    levels = []
    for measured in lines:
        open_bars = expectation.harmonic_lines[measured.line]
        crack = expectation.cracked_lines[measured.line]
        nodes = np.vstack([np.zeros_like(crack), crack, open_bars])
        levels.append((1.0 - part) * nodes[step] + part * nodes[step + 1])
    return np.stack(levels, axis=1)


def _weights(
    expected: RealArray, lines: tuple[MeasuredLine, ...], log_prior: RealArray
) -> RealArray:
    """Return the weight of every number of bars and draw, shape (n_bars, n_draws); sum 1.

    The factor that all lines have in common is integrated out (Gauss-Hermite).
    """
    nodes, node_weights = np.polynomial.hermite_e.hermegauss(N_COMMON)
    common = np.exp(COMMON_OFFSET + COMMON_SD * nodes)
    power, noise, measured_sd = (
        np.array([getattr(m, name) for m in lines]) for name in ("power", "noise_power", "power_sd")
    )
    measured = power + noise
    model = (expected[..., np.newaxis] * common) ** 2 + noise[:, np.newaxis, np.newaxis]
    apart = 0.5 * np.log(measured[:, np.newaxis, np.newaxis] / model)
    scatter = (0.5 * measured_sd / measured)[:, np.newaxis, np.newaxis]
    line_sd = LINE_SD
    for _ in range(MOST_WIDENINGS):
        logs = _log_density(apart, np.hypot(line_sd, scatter)).sum(axis=1)
        logs = logsumexp(logs + np.log(node_weights), axis=-1) + log_prior[:, np.newaxis]
        weights = np.exp(logs - logsumexp(logs))
        by_draw = weights.sum(axis=0)
        if 1.0 / np.sum(by_draw**2) >= min(LEAST_DRAWS, 0.5 * by_draw.size):
            break
        line_sd *= WIDENING
    return np.asarray(weights)


def _log_density(apart: RealArray, sd: RealArray) -> RealArray:
    """Return the log density of lines that are ``apart`` from the model, outliers possible."""
    own = math.log(1.0 - OUTLIER) - np.log(sd) - 0.5 * (apart / sd) ** 2
    stray = math.log(OUTLIER / OUTLIER_SD) - 0.5 * (apart / OUTLIER_SD) ** 2
    return np.asarray(np.logaddexp(own, stray))


def _estimate(bars: RealArray, weights: RealArray, natural: float) -> Estimate:
    """Return median and interval of bars of these weights, natural unevenness added as phasors."""
    rng = np.random.default_rng(_SEED)
    order = np.argsort(bars)
    share = np.cumsum(weights[order]) - 0.5 * weights[order]
    drawn = np.interp(rng.uniform(size=N_SAMPLES), share, bars[order])
    shifted = np.hypot(
        drawn + natural * rng.standard_normal(N_SAMPLES), natural * rng.standard_normal(N_SAMPLES)
    )
    tail = 0.5 * (1.0 - COVERAGE)
    middle = float(np.interp(0.5, share, bars[order]))
    low, high = (float(x) for x in np.quantile(shifted, [tail, 1.0 - tail]))
    low = 0.0 if low <= NATURAL_REACH * natural else low
    return Estimate(middle, min(low, middle), max(high, middle))
