"""From readings to damage: open-bar equivalents, and every pattern that explains them together.

A pattern is weighed by the probability of the readings under it, averaged over the cages that the
motor may have. Whether it explains them at all is asked of the pattern alone: would readings of its
own lie as far from the cage that fits best more than one time in twenty? Several patterns usually
pass; that is the result, not a failure. Derivation: ``docs/theory/cage-inverse.md``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from cagewise.errors import InputError
from cagewise.machine.cage.ensemble import HARMONIC_LINES, SIDE_LINES, CageEnsemble, Response
from cagewise.machine.cage.expectation import CageExpectation
from cagewise.machine.cage.patterns import (
    ADJACENT,
    EVEN_CRACK,
    EVEN_CRACK_EXTRA,
    PATTERNS,
    Pattern,
)
from cagewise.machine.cage.solution import Line
from cagewise.quantities import COVERAGE, NORMAL_COVERAGE_FACTOR, Estimate, RealArray

DIRECT_MODEL_SPREAD = 0.10
"""Relative standard deviation of |d| between motor and model beside what the draws express: slots,
saturation, currents between bars. Common practice, no source; no open data with known damage and
geometry was found to measure it."""
LINE_MODEL_SPREAD = {**dict.fromkeys(SIDE_LINES, 0.10), **dict.fromkeys(HARMONIC_LINES, 0.35)}
"""The same of the lines: 3 dB beside the 5th and 7th, where skin effect and slot bridges, which
the model lacks, act on the cage at 6 f. Common practice, no source."""
_SIMULATED = 200
"""Readings drawn from a pattern, to see how well its own readings fit."""
_DRAWS_FOR_CHANCE = 250
"""Cages among which the best fit is sought then."""
_SMALLEST_SPREAD = 1e-6
"""Standard deviation, per unit, below which a reading is not believed (-120 dB)."""
_SEED = 41


@dataclass(frozen=True, slots=True, kw_only=True)
class CageReadings:
    """What was read, any part of it; per unit, with 95 % intervals.

    A line that was looked for and not found is an estimate of 0 with its detection limit as the
    upper end: it says as much as one that was found.
    """

    direct_ratio: Estimate | None = None
    """|d| / |I_r|: direct component over referred rotor current."""
    lines: Mapping[Line, Estimate] = field(default_factory=dict)
    """|line| / |I_1|."""

    def __post_init__(self) -> None:
        unknown = [line for line in self.lines if line not in LINE_MODEL_SPREAD]
        if unknown or (self.direct_ratio is None and not self.lines):
            raise InputError(
                f"not among the lines of a cage: {unknown}" if unknown else "nothing was read",
                where="cage readings",
                remedy="Give the direct component or lines beside f, 5 f or 7 f.",
            )

    def estimates(self) -> tuple[Estimate, ...]:
        """Return all readings: the direct component first, if there is one."""
        first = () if self.direct_ratio is None else (self.direct_ratio,)
        return (*first, *self.lines.values())

    def of(self, response: Response) -> RealArray:
        """Return what a damage shows in these readings, shape (n_readings, n_draws)."""
        rows = [] if self.direct_ratio is None else [response.direct_ratio]
        return np.stack([*rows, *(response.lines[line] for line in self.lines)])

    def model_spread(self) -> RealArray:
        """Return the relative standard deviation of the model, shape (n_readings,)."""
        first = [] if self.direct_ratio is None else [DIRECT_MODEL_SPREAD]
        return np.array([*first, *(LINE_MODEL_SPREAD[line] for line in self.lines)])


@dataclass(frozen=True, slots=True)
class PatternFit:
    """How well one pattern explains all readings together."""

    pattern: Pattern
    likelihood: float
    """Probability of the readings under this pattern, relative to the best one."""
    chance: float
    """Share of readings of this very pattern that would fit its cages worse than those at hand."""

    @property
    def explains(self) -> bool:
        """Whether the readings are among the 95 % that this pattern gives."""
        return self.chance > 1.0 - COVERAGE


@dataclass(frozen=True, slots=True)
class Explanation:
    """What the readings say of the cage."""

    direct_bars: Estimate | None
    """Open-bar equivalent of the direct component."""
    line_bars: Mapping[Line, Estimate]
    """Open-bar equivalent of every line, each by itself."""
    fits: tuple[PatternFit, ...]
    """All patterns, the most probable first."""

    @property
    def explaining(self) -> tuple[PatternFit, ...]:
        """The patterns that explain all readings; empty when none of them does."""
        return tuple(fit for fit in self.fits if fit.explains)

    @property
    def undecided(self) -> bool:
        """Whether several patterns explain the readings: they cannot be told apart."""
        return len(self.explaining) > 1


@dataclass(frozen=True, slots=True)
class SolvedPatterns:
    """What every pattern shows on every cage that the motor may have, at one operating point."""

    patterns: tuple[Pattern, ...]
    """Patterns that are weighed."""
    responses: Mapping[str, Response]
    """By name of the pattern; those of adjacent open bars are always among them."""
    crack: Response
    """Of one bar with :data:`EVEN_CRACK_EXTRA` more resistance."""
    rotor_bars: RealArray
    """Number of bars of every draw, shape (n_draws,)."""


def solve_patterns(
    ensemble: CageEnsemble, patterns: tuple[Pattern, ...] = PATTERNS
) -> SolvedPatterns:
    """Return what patterns show at the measured slip; readings are then explained at once."""
    wanted = {pattern.name: pattern for pattern in (*ADJACENT, *patterns)}
    return SolvedPatterns(
        patterns=patterns,
        responses={name: ensemble.at_slip(p.damage_of) for name, p in wanted.items()},
        crack=ensemble.at_slip(EVEN_CRACK),
        rotor_bars=ensemble.rotor_bars,
    )


def explain_readings(
    solved: SolvedPatterns, readings: CageReadings, *, natural_bar_spread: float
) -> Explanation:
    """Return open-bar equivalents and the patterns that explain the readings.

    Parameters
    ----------
    solved
        Responses of the cages that the motor may have.
    readings
        Any part of direct component and lines.
    natural_bar_spread
        Relative standard deviation of the bar resistances of a sound cage.
    """
    responses, patterns = solved.responses, solved.patterns
    uneven = natural_bar_spread * np.sqrt(0.5 * solved.rotor_bars)
    uneven = uneven * readings.of(solved.crack) / EVEN_CRACK_EXTRA
    weigher = _Weigher(readings, uneven)
    weighed = [weigher.weigh(readings.of(responses[p.name])) for p in patterns]
    best = max(likelihood for likelihood, _ in weighed)
    fits = [
        PatternFit(pattern, float(np.exp(likelihood - best)), chance)
        for pattern, (likelihood, chance) in zip(patterns, weighed, strict=True)
    ]
    expectation = CageExpectation.of(tuple(responses[p.name] for p in ADJACENT))
    direct, lines = _equivalents(expectation, readings)
    return Explanation(direct, lines, tuple(sorted(fits, key=lambda fit: -fit.likelihood)))


def _equivalents(
    expectation: CageExpectation, readings: CageReadings
) -> tuple[Estimate | None, dict[Line, Estimate]]:
    """Return every reading as adjacent open bars."""
    rng = np.random.default_rng(_SEED)

    def draws(reading: Estimate) -> RealArray:
        n_draws = expectation.direct_component.shape[1]
        scatter = rng.standard_normal(n_draws) * _standard_deviation(reading)
        return np.asarray(np.maximum(reading.value + scatter, 0.0))

    direct = None
    if readings.direct_ratio is not None:
        bars = expectation.direct_component_bars(draws(readings.direct_ratio))
        direct = Estimate.from_draws(bars)
    lines = {}
    for line, reading in readings.lines.items():
        side = line in SIDE_LINES
        inverse = expectation.side_line_bars if side else expectation.harmonic_line_bars
        lines[line] = Estimate.from_draws(inverse(line, draws(reading)))
    return direct, lines


class _Weigher:
    """Probability of the readings under a pattern, over all draws of the cage."""

    def __init__(self, readings: CageReadings, uneven: RealArray) -> None:
        estimates = readings.estimates()
        self._measured = np.array([[e.value] for e in estimates])
        spread = np.array([[_standard_deviation(e)] for e in estimates])
        self._fixed = np.maximum(spread, _SMALLEST_SPREAD) ** 2 + uneven**2
        self._model = readings.model_spread()[:, np.newaxis]
        stride = max(1, uneven.shape[1] // _DRAWS_FOR_CHANCE)
        self._few = slice(None, None, stride)

    def weigh(self, expected: RealArray) -> tuple[float, float]:
        """Return log-likelihood and chance for expected readings (n_readings, n_draws)."""
        variance = self._fixed + (self._model * expected) ** 2
        likelihood = _log_likelihood(self._measured, expected, variance)
        few, spread = expected[:, self._few], variance[:, self._few]
        rng = np.random.default_rng(_SEED)
        draw = rng.integers(few.shape[1], size=_SIMULATED)
        scatter = rng.standard_normal((2, few.shape[0], _SIMULATED))
        in_phase, in_quadrature = np.sqrt(spread[:, draw]) * scatter
        own = np.hypot(few[:, draw] + in_phase, in_quadrature)
        at_hand = _misfit(self._measured, few, spread)
        chance = np.mean(_misfit(own, few, spread, draw) >= at_hand)
        return likelihood, float(chance)


def _misfit(
    readings: RealArray,
    expected: RealArray,
    variance: RealArray,
    source: NDArray[np.int64] | None = None,
) -> RealArray:
    """Return the squared deviation from the draw that fits best, (n_cases,), less its own source.

    ``readings`` (n_readings, n_cases); the next two (n_readings, n_draws); ``source`` (n_cases,)
    the draws that simulated readings come from.
    """
    deviation = readings[:, :, np.newaxis] - expected[:, np.newaxis, :]
    misfit = np.sum(deviation**2 / variance[:, np.newaxis, :], axis=0)
    if source is not None and expected.shape[1] > 1:
        misfit[np.arange(source.size), source] = np.inf
    return np.asarray(misfit.min(axis=-1))


def _log_likelihood(readings: RealArray, expected: RealArray, variance: RealArray) -> float:
    """Return log of the mean density over draws.

    ``readings`` (n_readings, 1); the other two (n_readings, n_draws). A phasor of known amplitude
    and any phase with noise of equal variance in phase and quadrature; density over the complex
    plane (Rice's, over the reading), so that a reading of zero counts like any other.
    """
    from scipy.special import i0e

    logs = np.log(i0e(readings * expected / variance) / variance)
    total = np.sum(logs - 0.5 * (readings - expected) ** 2 / variance, axis=0)
    largest = float(total.max())
    return largest + float(np.log(np.mean(np.exp(total - largest))))


def _standard_deviation(reading: Estimate) -> float:
    """Return the standard deviation that a 95 % interval stands for."""
    return (reading.high - reading.low) / (2.0 * NORMAL_COVERAGE_FACTOR)
