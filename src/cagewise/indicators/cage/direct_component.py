"""The direct component of the lower side line: what no speed ripple and no supply put there.

    d = L' - rho conj(U')

L' and U' are the pair less the supply's modulation, rho the ratio in which any speed ripple makes
them. An asymmetric cage adds to the lower line alone, and that addition is d. L and conj(U) turn
with the same wandering slip, so d is formed bin by bin and its energy summed.
Derivation, assumptions and tests: docs/theory/direct-component.md.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.special import gammaincc, gammainccinv

from cagewise.indicators.cage.iron_slope import iron_slopes
from cagewise.indicators.cage.point_draws import PointDraws
from cagewise.indicators.cage.ripple_ratio import Calibration, model_ratio, ratio_factors
from cagewise.indicators.lines.fitting import local_floor
from cagewise.indicators.lines.pair import LinePair
from cagewise.indicators.lines.pair_bins import (
    PairBins,
    SupplyModulation,
    bins_of_background,
    bins_of_line,
    bins_of_ring,
)
from cagewise.quantities import COVERAGE, ComplexArray, RealArray

DETECTION_QUANTILE = 1.645
"""One-sided 95 % quantile of a normal distribution: 95 % of readings at the limit are found."""
UNSEEN_MODULATION = 3e-4
"""Standard deviation of a supply modulation at the pole-pass frequency that went unseen because no
voltage was measured, per unit of the voltage; judgement: a tenth of visible flicker at 1 to 5 Hz
(IEC 61000-4-15, from memory)."""
_SEED = 22


@dataclass(frozen=True, kw_only=True)
class DirectComponent:
    """The direct component with everything its reading is made of."""

    amplitude_a: float
    """|d|, A peak, less what noise and the uncertainty of rho put there on average."""
    draws_a: RealArray
    """Draws of |d|, shape (n_draws,)."""
    includes_zero: bool
    """Whether no direct component at all is within the 95 % region."""
    false_alarm_probability: float
    """Chance of as large a reading with no direct component, noise and rho both uncertain."""
    detection_limit_a: float
    """Smallest |d| that would be called one 95 times in 100."""
    leakage_a: float
    """Root-mean-square part of the pair that the uncertainty of rho leaves in d."""
    ratio: complex
    """rho used, mean of the draws."""
    calibration: Calibration
    lower: ComplexArray
    """L' of the mean draw, shape (n_tapers, n_bins)."""
    upper: ComplexArray
    """U' of the mean draw, same shape."""
    bins: PairBins


def direct_component(
    pair: LinePair,
    supply: SupplyModulation | None,
    draws: PointDraws,
    false_alarm_probability: float,
) -> DirectComponent:
    """Form the direct component of a pair.

    Parameters
    ----------
    pair
        The side lines.
    supply
        Modulation of the measured voltage; None without voltages.
    draws
        The motor at its operating point.
    false_alarm_probability
        What one record may cost; it sets the detection limit.
    """
    line, ring = bins_of_line(pair.band, supply), bins_of_ring(pair.band, supply)
    background = bins_of_background(pair.band, supply)
    factors, calibration = ratio_factors(background, draws, pair.frequency_hz)
    beside = complex(np.mean(factors)) * model_ratio(ring, draws.middle, pair.fundamental)
    slopes = iron_slopes(ring, draws, pair.fundamental, beside)
    lower, upper = line.corrected(draws.state, pair.fundamental, slopes)
    rho = model_ratio(line, draws.middle, pair.fundamental) * factors
    d = lower - rho * upper.conj()
    lower_beside, upper_beside = ring.corrected(
        draws.middle, pair.fundamental, float(np.mean(slopes))
    )
    rest = lower_beside - beside * upper_beside.conj()
    floor = _floor(pair, ring.ripple_hz, rest, complex(np.mean(factors)))
    spread = _Spread.of(d, line, pair, floor, unseen=supply is None)
    return DirectComponent(
        amplitude_a=math.sqrt(max(spread.mean_power - spread.null_power, 0.0)),
        draws_a=spread.draws(),
        includes_zero=spread.includes_zero,
        false_alarm_probability=spread.chance(pair.cells),
        detection_limit_a=spread.detection_limit(false_alarm_probability / pair.cells),
        leakage_a=math.sqrt(spread.leakage_power),
        ratio=complex(np.mean(rho[rho.shape[0] // 2])),
        calibration=calibration,
        lower=np.asarray(lower.mean(axis=-1)),
        upper=np.asarray(upper.mean(axis=-1)),
        bins=line,
    )


def _floor(pair: LinePair, ripple_hz: RealArray, rest: ComplexArray, factor: complex) -> float:
    """Return the noise variance of d per sample, read on what is left of d beside the line."""
    least = pair.lower.energy.floor * np.finfo(np.float64).eps
    if ripple_hz.size == 0:
        return pair.lower.energy.floor + pair.upper.energy.floor * abs(factor) ** 2
    power = np.mean(np.abs(rest) ** 2, axis=0)[:, 0]
    return max(local_floor(np.asarray(power), ripple_hz, pair.frequency_hz), least)


@dataclass(frozen=True, kw_only=True)
class _Spread:
    """Power of d over the line's band: mean of the draws, their spread, and the noise (A^2)."""

    mean_power: float
    """Of the mean draw, noise included."""
    draw_power: RealArray
    """Of every draw, noise included."""
    deviation_power: RealArray
    """Of every draw's difference from the mean draw."""
    noise_power: float
    """What noise puts into the band."""
    noise_sd: float
    """Its standard deviation."""
    cross_variance: float
    """Variance that noise adds per unit of line power."""

    @classmethod
    def of(
        cls, d: ComplexArray, line: PairBins, pair: LinePair, floor: float, *, unseen: bool
    ) -> _Spread:
        """Sum the energies of draws of d, shape (n_tapers, n_bins, n_draws)."""
        scale, band = line.energy_scale, pair.band
        mean = d.mean(axis=-1, keepdims=True)
        if unseen:
            d = d + mean * _unseen(d.shape[-1], pair.fundamental_a, float(_power(mean, scale)[0]))
        if band.windowed:
            degrees = line.ripple_hz.size * band.lines.degrees_per_bin
            # energy_scale is per taper; the floor is the variance of one coefficient
            noise = floor * line.ripple_hz.size * scale * d.shape[0]
        else:
            degrees, noise = 1.0, floor * band.fit.variance_gain
        return cls(
            mean_power=float(_power(mean, scale)[0]),
            draw_power=_power(d, scale),
            deviation_power=_power(d - mean, scale),
            noise_power=noise,
            noise_sd=noise / math.sqrt(degrees),
            cross_variance=2.0 * floor / band.base.samples.size,
        )

    @property
    def leakage_power(self) -> float:
        """Mean power of the draws' differences."""
        return float(np.mean(self.deviation_power))

    @property
    def null_power(self) -> float:
        """Mean power with no direct component."""
        return self.noise_power + self.leakage_power

    @property
    def _shape(self) -> float:
        """Shape of the gamma distribution of the power with no direct component."""
        variance = self.noise_sd**2 + self.leakage_power**2
        return self.null_power**2 / variance

    @property
    def includes_zero(self) -> bool:
        """Whether noise and spread explain the mean draw, 95 %."""
        return self.mean_power <= self._threshold(1.0 - COVERAGE)

    def _threshold(self, chance: float) -> float:
        """Return the power exceeded with this chance when there is no direct component."""
        shape = self._shape
        return self.null_power / shape * float(gammainccinv(shape, chance))

    def chance(self, cells: float) -> float:
        """Return the false-alarm probability of the mean draw, all searched cells counted."""
        shape = self._shape
        return min(1.0, cells * float(gammaincc(shape, shape * self.mean_power / self.null_power)))

    def detection_limit(self, chance: float) -> float:
        """Return the amplitude found 95 times in 100 at this chance of a false alarm."""
        above = math.sqrt(max(self._threshold(chance) - self.null_power, 0.0))
        across = 0.5 * (0.5 * self.cross_variance + self.leakage_power)
        return above + DETECTION_QUANTILE * math.sqrt(across)

    def draws(self) -> RealArray:
        """Return draws of |d|."""
        rng = np.random.default_rng(_SEED)
        power = self.draw_power - self.noise_power
        sd = np.sqrt(self.noise_sd**2 + self.cross_variance * np.maximum(power, 0.0))
        return np.sqrt(np.maximum(power + sd * rng.standard_normal(power.size), 0.0))


def _unseen(n_draws: int, fundamental_a: float, power: float) -> ComplexArray:
    """Return what an unseen modulation of the supply may add, relative to the mean draw."""
    rng = np.random.default_rng(_SEED + 1)
    sd = UNSEEN_MODULATION * fundamental_a / math.sqrt(2.0 * power)
    return np.asarray(sd * (rng.standard_normal(n_draws) + 1j * rng.standard_normal(n_draws)))


def _power(d: ComplexArray, scale: float) -> RealArray:
    """Return the power of draws, summed over tapers and bins."""
    return np.asarray(np.sum(d.real**2 + d.imag**2, axis=(0, 1)) * scale)
