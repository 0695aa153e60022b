"""The speed-ripple ratio rho = L / conj(U): from the circuit, sharpened by the record itself.

Any speed oscillation, whatever its origin and size, makes L and conj(U) in one ratio that only
the machine decides. The circuit predicts it. The load's own torque noise fills the neighbourhood
of the pair with such oscillations, so the record can confirm and sharpen the prediction, provided
that noise stands out of the measuring noise. Where it does not, the prediction stays as it is.
See docs/theory/direct-component.md.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from cagewise.indicators.cage.point_draws import PointDraws
from cagewise.indicators.lines.pair_bins import PairBins
from cagewise.machine.circuit import OperatingState
from cagewise.quantities import ComplexArray, RealArray

MODEL_DISCREPANCY = 0.03
"""Relative standard deviation of rho from what one linear cage leaves out (saturation, deep bars,
space harmonics). The bar-by-bar model of a linear 3 kW motor differs by 0.01; judgement."""
LEAST_RING_BINS = 12
"""Bins in the ring below which the background is not asked."""
COHERENCE_CHANCE = 1e-3
"""Chance at which an incoherent background would be taken for load noise."""
SMALLEST_CALIBRATION_SD = 0.01
"""Relative standard deviation below which a calibration is not believed: the ring is not the
line's own place."""
LARGEST_DISAGREEMENT = 9.21
"""Squared distance of background and circuit, in standard deviations, beyond which the background
is something else than load noise (99 % of two degrees of freedom)."""
DRAWS_AT_A_TIME = 25
"""Draws for which the background is corrected at once: bounds the memory of long records."""
_SEED = 21


@dataclass(frozen=True, kw_only=True)
class Calibration:
    """What the record's background says about rho."""

    factor: complex
    """Background rho over circuit rho (median circuit)."""
    factors: ComplexArray
    """The same with the supply's part removed by each draw of the circuit, shape (n_draws,)."""
    relative_sd: float
    """Standard deviation of :attr:`factor`, real and imaginary part each."""
    coherence: float
    """Squared coherence of lower and upper background."""
    used: bool
    """False where it was refused; :attr:`note` says why."""
    note: str

    @classmethod
    def refused(cls, coherence: float, note: str) -> Calibration:
        """Return that the background says nothing."""
        return cls(
            factor=1.0,
            factors=np.zeros(0, dtype=np.complex128),
            relative_sd=math.inf,
            coherence=coherence,
            used=False,
            note=note,
        )


def model_ratio(bins: PairBins, state: OperatingState, fundamental_a: complex) -> ComplexArray:
    """Return rho of the circuit at every bin, shape (n_bins, n_draws)."""
    ripple = 2.0 * math.pi * bins.ripple_hz[:, np.newaxis]
    return state.ripple_ratio(np.asarray(ripple), fundamental_a)


def calibrate(ring: PairBins, draws: PointDraws, factors: ComplexArray) -> Calibration:
    """Compare the pairs in the background with the circuit's rho.

    Lower and upper background carry the same measuring noise; the ratio is the structural
    relation of two noisy series with known ratio of noise (Deming regression), complex.

    Parameters
    ----------
    ring
        Bins around the line, far enough not to hold its skirts.
    draws
        The motor.
    factors
        rho of the draws over rho of the median circuit, with the discrepancy, shape (n_draws,).
    """
    if not ring.supply_removed:
        return Calibration.refused(0.0, "no voltage was measured: mains wander is in it, too")
    degrees = ring.ripple_hz.size
    if degrees < LEAST_RING_BINS:
        return Calibration.refused(0.0, "the record is too short to show a background")
    predictor = _Predictor.of(ring, draws)
    lower_power, upper_power, cross = predictor.moments(ring, draws.middle)
    power = float(lower_power[0] * upper_power[0])
    coherence = float(abs(cross[0]) ** 2) / max(power, np.finfo(np.float64).tiny)
    if coherence < 1.0 - COHERENCE_CHANCE ** (1.0 / (degrees - 1.0)):
        return Calibration.refused(coherence, "the background is measuring noise")
    factor = complex(predictor.factors(ring, draws.middle)[0])
    sd = abs(factor) * math.sqrt((1.0 - coherence) / (2.0 * coherence * degrees))
    sd = max(sd, SMALLEST_CALIBRATION_SD)
    each = _with_each_circuit(predictor, ring, draws)
    agrees = _distance(each - factors, sd) <= LARGEST_DISAGREEMENT
    return Calibration(
        factor=factor,
        factors=each,
        relative_sd=sd,
        coherence=coherence,
        used=agrees,
        note="" if agrees else "the background is not load noise, or the circuit is not this motor",
    )


@dataclass(frozen=True, kw_only=True)
class _Predictor:
    """What of the lower background the upper one predicts through rho of the median circuit."""

    rho: ComplexArray
    """Shape (n_bins, 1)."""
    weight: RealArray
    """Every bin counts alike, whatever the colour of the load's noise; shape (n_bins, 1)."""
    fundamental_a: complex

    @classmethod
    def of(cls, ring: PairBins, draws: PointDraws) -> _Predictor:
        """Take ratio and weights from the median circuit."""
        fundamental_a = draws.fundamental.current_a
        lower, upper = ring.corrected(draws.middle, fundamental_a)
        rho = model_ratio(ring, draws.middle, fundamental_a)
        level = np.mean(np.abs(rho * upper.conj()) ** 2 + np.abs(lower) ** 2, axis=0)
        weight = 1.0 / np.sqrt(np.maximum(level, np.finfo(np.float64).tiny))
        return cls(rho=rho, weight=np.asarray(weight), fundamental_a=fundamental_a)

    def moments(
        self, ring: PairBins, state: OperatingState
    ) -> tuple[RealArray, RealArray, ComplexArray]:
        """Return powers of lower and predictor and their cross power, shape (n_draws,)."""
        lower, upper = ring.corrected(state, self.fundamental_a)
        predictor, lower = self.rho * upper.conj() * self.weight, lower * self.weight
        return (
            np.asarray(np.mean(np.abs(lower) ** 2, axis=(0, 1))),
            np.asarray(np.mean(np.abs(predictor) ** 2, axis=(0, 1))),
            np.asarray(np.mean(predictor.conj() * lower, axis=(0, 1))),
        )

    def factors(self, ring: PairBins, state: OperatingState) -> ComplexArray:
        """Return the slope of the structural relation of two noisy series (Deming 1943)."""
        lower_power, upper_power, cross = self.moments(ring, state)
        noise_ratio = 1.0 / float(np.mean(np.abs(self.rho) ** 2))
        excess = lower_power - noise_ratio * upper_power
        root = np.sqrt(excess**2 + 4.0 * noise_ratio * np.abs(cross) ** 2)
        return np.asarray((excess + root) / (2.0 * cross.conj()))


def _with_each_circuit(predictor: _Predictor, ring: PairBins, draws: PointDraws) -> ComplexArray:
    """Return the background's factor with the supply's part removed by each draw of the circuit.

    Where mains wander fills the background more than load noise does, what is left of it after an
    imperfect removal is coherent, too, and has another ratio.
    """
    starts = range(0, draws.slip.size, DRAWS_AT_A_TIME)
    parts = (draws.part(slice(start, start + DRAWS_AT_A_TIME)) for start in starts)
    return np.concatenate([predictor.factors(ring, part.state) for part in parts])


def ratio_factors(
    ring: PairBins, draws: PointDraws, at_hz: float
) -> tuple[ComplexArray, Calibration]:
    """Return factors on the median circuit's rho, shape (n_draws,), and how they were calibrated.

    Circuit and background are combined by their precision (Kalman update of each draw against its
    own draw of the calibration's error).
    """
    rng = np.random.default_rng(_SEED)
    n = draws.slip.size
    ripple = 2.0 * math.pi * at_hz
    fundamental_a = draws.fundamental.current_a
    middle = complex(draws.middle.ripple_ratio(ripple, fundamental_a))
    noise = MODEL_DISCREPANCY / math.sqrt(2.0) * _complex_normal(rng, n)
    factors = draws.state.ripple_ratio(ripple, fundamental_a) / middle + noise
    calibration = calibrate(ring, draws, factors)
    if not calibration.used:
        return np.asarray(factors), calibration
    # the draws are moved until circuit and background agree (ensemble smoother)
    apart = factors - calibration.factors
    error = calibration.relative_sd * _complex_normal(rng, n)
    prior, missing = _pairs(factors), _pairs(apart)
    joint = np.cov(prior, missing)[:2, 2:]
    gain = joint @ np.linalg.inv(np.cov(missing) + calibration.relative_sd**2 * np.eye(2))
    step = gain @ _pairs(apart + error)
    return np.asarray(factors - step[0] - 1j * step[1]), calibration


def _complex_normal(rng: np.random.Generator, n: int) -> ComplexArray:
    """Return n values with unit variance in real and imaginary part each."""
    return np.asarray(rng.standard_normal(n) + 1j * rng.standard_normal(n))


def _pairs(values: ComplexArray) -> RealArray:
    """Return real and imaginary parts, shape (2, n)."""
    return np.stack([values.real, values.imag])


def _distance(apart: ComplexArray, sd: float) -> float:
    """Return the squared distance of background and circuit, in their joint spread."""
    pairs = _pairs(apart)
    covariance, mean = np.cov(pairs) + sd**2 * np.eye(2), pairs.mean(axis=1)
    return float(mean @ np.linalg.solve(covariance, mean))
