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

from cagewise.indicators.pair_bins import PairBins
from cagewise.indicators.point_draws import PointDraws
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
_SEED = 21


@dataclass(frozen=True, kw_only=True)
class Calibration:
    """What the record's background says about rho."""

    factor: complex
    """Background rho over circuit rho (median circuit)."""
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
        return cls(factor=1.0, relative_sd=math.inf, coherence=coherence, used=False, note=note)


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
    degrees = ring.ripple_hz.size
    if degrees < LEAST_RING_BINS:
        return Calibration.refused(0.0, "the record is too short to show a background")
    fundamental_a = draws.fundamental.current_a
    lower, upper = ring.corrected(draws.middle, fundamental_a)
    rho = model_ratio(ring, draws.middle, fundamental_a)[np.newaxis]
    predictor = rho * upper.conj()
    # every bin counts alike, whatever the colour of the load's noise
    level = np.mean(np.abs(predictor) ** 2 + np.abs(lower) ** 2, axis=0)
    weight = 1.0 / np.sqrt(np.maximum(level, np.finfo(np.float64).tiny))
    predictor, lower = predictor * weight, lower * weight
    upper_power, lower_power = _mean_power(predictor), _mean_power(lower)
    cross = complex(np.mean(predictor.conj() * lower))
    coherence = abs(cross) ** 2 / max(upper_power * lower_power, np.finfo(np.float64).tiny)
    if coherence < 1.0 - COHERENCE_CHANCE ** (1.0 / (degrees - 1.0)):
        return Calibration.refused(coherence, "the background is measuring noise")
    noise_ratio = 1.0 / float(np.mean(np.abs(rho) ** 2))
    excess = lower_power - noise_ratio * upper_power
    root = math.sqrt(excess**2 + 4.0 * noise_ratio * abs(cross) ** 2)
    factor = (excess + root) / (2.0 * cross.conjugate())
    sd = abs(factor) * math.sqrt((1.0 - coherence) / (2.0 * coherence * degrees))
    sd = max(sd, SMALLEST_CALIBRATION_SD)
    agrees = _distance(factor, sd, factors) <= LARGEST_DISAGREEMENT
    return Calibration(
        factor=factor,
        relative_sd=sd,
        coherence=coherence,
        used=agrees,
        note="" if agrees else "the background is not load noise, or the circuit is not this motor",
    )


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
    measured = calibration.factor + calibration.relative_sd * _complex_normal(rng, n)
    prior = np.cov(np.stack([factors.real, factors.imag]))
    gain = prior @ np.linalg.inv(prior + calibration.relative_sd**2 * np.eye(2))
    missing = measured - factors
    step = gain @ np.stack([missing.real, missing.imag])
    return np.asarray(factors + step[0] + 1j * step[1]), calibration


def _mean_power(values: ComplexArray) -> float:
    """Return the mean squared modulus."""
    return float(np.mean(np.abs(values) ** 2))


def _complex_normal(rng: np.random.Generator, n: int) -> ComplexArray:
    """Return n values with unit variance in real and imaginary part each."""
    return np.asarray(rng.standard_normal(n) + 1j * rng.standard_normal(n))


def _distance(factor: complex, sd: float, factors: ComplexArray) -> float:
    """Return the squared distance of a calibration from the draws, in their joint spread."""
    covariance = np.cov(np.stack([factors.real, factors.imag])) + sd**2 * np.eye(2)
    off = factor - complex(np.mean(factors))
    apart: RealArray = np.array([off.real, off.imag])
    return float(apart @ np.linalg.solve(covariance, apart))
