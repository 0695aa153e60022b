"""A pair of lines beside a carrier: found, measured, held against the noise beside them.

Everything read at the fundamental (side lines, envelope, powers, direct component) is a function
of one pair, so it is measured once and shared.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.special import fdtri, ncfdtrinc

from cagewise.indicators.limits import CageLimits
from cagewise.indicators.lines.fitting import (
    BandEnergy,
    Baseband,
    LineBand,
    PairFit,
    band_energy,
    coherent_energy,
    fit_pair,
    flat_weights,
    line_band,
    local_floor,
    ring_degrees,
    taper_weights,
    without_carrier,
    without_lines,
)
from cagewise.indicators.lines.tapers import (
    N_TAPERS,
    TIME_HALF_BANDWIDTH,
    TaperedSpectrum,
    eigen_coefficients,
    line_test,
    tapered_spectrum,
    tapers,
)
from cagewise.quantities import COVERAGE, NORMAL_COVERAGE_FACTOR, Estimate

WANDER_WIDTHS = 4.0
"""Half-width of a wandering line's band in standard deviations of its frequency."""
SEARCH_WIDENING = 1.5
"""The line is searched in this many half-widths of the slip's 95 % interval (three sigma)."""
TESTS_PER_LINE = 2.0
"""Each line is tried for steadiness (F-test) and for energy; both chances count."""
SMALLEST_FLOOR = float(np.finfo(np.float64).eps) ** 2
"""Noise variance relative to the carrier's power below which rounding is the noise."""


@dataclass(frozen=True, kw_only=True)
class SideLine:
    """One line."""

    energy: BandEnergy
    """Energy over the line's band, squared unit of the samples (peak values)."""
    coherent: complex
    """Complex amplitude at the fitted frequency, phase at mid-record."""
    test_ratio: float
    """F of the multitaper line test."""
    false_alarm_probability: float
    """Chance that noise alone gives such a line at one place, both tests counted."""
    detection_limit: float
    """Smallest amplitude that would be called a line 95 times in 100."""

    @property
    def amplitude(self) -> Estimate:
        """Amplitude (peak), floor removed, with its 95 % interval from the floor."""
        reach = NORMAL_COVERAGE_FACTOR * self.energy.power_sd
        low = math.sqrt(max(self.energy.power - reach, 0.0))
        high = math.sqrt(max(self.energy.power + reach, 0.0))
        return Estimate(self.energy.amplitude, low, max(high, self.energy.amplitude))


@dataclass(frozen=True, kw_only=True)
class FittedBand:
    """A baseband with carrier and pair fitted, and the spectra that remain without them."""

    base: Baseband
    fit: PairFit
    windowed: bool
    """Energies come from windowed spectra; otherwise from the joint fit (short records)."""
    half_width_hz: float
    """Of the band over which a line's energy is summed."""
    others_hz: tuple[float, ...] = ()
    """Signed frequencies of further lines, which the floor must leave out."""

    @cached_property
    def lines(self) -> TaperedSpectrum:
        """Spectrum less the carrier."""
        return tapered_spectrum(without_carrier(self.base, self.fit), self.base.sampling_rate_hz)

    @cached_property
    def background(self) -> TaperedSpectrum:
        """Spectrum less carrier and pair: what the floor is read on."""
        return tapered_spectrum(without_lines(self.base, self.fit), self.base.sampling_rate_hz)

    def band(self, sign: int) -> LineBand:
        """Return the bins of the lower (-1) or upper (+1) line and of its ring."""
        centre_hz = sign * self.fit.frequency_hz
        return line_band(
            self.lines,
            centre_hz,
            self.half_width_hz,
            avoid_hz=(0.0, -centre_hz, 2.0 * centre_hz, -2.0 * centre_hz, *self.others_hz),
            pass_band_hz=self.base.half_width_hz,
        )

    def side_line(self, sign: int, false_alarm_probability: float) -> SideLine:
        """Measure the lower (-1) or upper (+1) line.

        ``false_alarm_probability`` is what one place may cost; it sets the detection limit.
        """
        band = self.band(sign)
        coherent = self.fit.lower if sign < 0 else self.fit.upper
        carrier_power = abs(self.fit.carrier) ** 2
        floor = max(
            local_floor(
                self.background.power[band.ring],
                np.asarray(band.ring * self.lines.resolution_hz),
                self.fit.frequency_hz,
            ),
            SMALLEST_FLOOR * carrier_power,
        )
        ratio, chance = 0.0, 1.0
        if self.windowed:
            energy = band_energy(self.lines, floor, band)
            ratio, chance = self._line_test(sign)
        else:
            energy = coherent_energy(coherent, self.fit.variance_gain, floor, band, self.lines)
        tested = min(chance, energy.false_alarm_probability)
        return SideLine(
            energy=energy,
            coherent=coherent,
            test_ratio=ratio,
            false_alarm_probability=min(1.0, TESTS_PER_LINE * tested),
            detection_limit=self._detection_limit(
                energy, band, false_alarm_probability / TESTS_PER_LINE
            ),
        )

    def _line_test(self, sign: int) -> tuple[float, float]:
        """Return F and its chance at the exact frequency of one line."""
        coefficients = eigen_coefficients(
            without_carrier(self.base, self.fit),
            self.base.sampling_rate_hz,
            sign * self.fit.frequency_hz,
        )
        return line_test(coefficients, tapers(self.base.samples.size).sums)

    def _detection_limit(self, energy: BandEnergy, band: LineBand, chance: float) -> float:
        """Return the amplitude that either test finds 95 times in 100.

        With a line the test ratios follow noncentral F distributions.
        """
        degrees = 2.0 * (band.bins.size * self.lines.degrees_per_bin if self.windowed else 1.0)
        beside = 2.0 * ring_degrees(self.lines, band)
        threshold = float(fdtri(degrees, beside, 1.0 - chance))
        excess = float(ncfdtrinc(degrees, beside, 1.0 - COVERAGE, threshold))
        by_energy = math.sqrt(energy.noise_power * excess / degrees)
        if not self.windowed or self.half_width_hz > self.lines.half_width_hz:
            return by_energy
        others = N_TAPERS - 1
        critical = others * (chance ** (-1.0 / others) - 1.0)
        excess = float(ncfdtrinc(2.0, 2.0 * others, 1.0 - COVERAGE, critical))
        by_test = math.sqrt(energy.floor * self.fit.variance_gain * excess / 2.0)
        return min(by_energy, by_test)


@dataclass(frozen=True, kw_only=True)
class LinePair:
    """The pair of side lines at -f and +f in the supply frame."""

    band: FittedBand
    lower: SideLine
    upper: SideLine
    cells: float
    """Independent places searched for the pair."""
    located: bool
    """The frequency is that of the pair found; otherwise it was taken from the slip."""

    @property
    def fundamental(self) -> complex:
        """Fundamental current in the frame, A peak."""
        return self.band.fit.carrier

    @property
    def fundamental_a(self) -> float:
        """Its modulus, A peak."""
        return abs(self.band.fit.carrier)

    @property
    def frequency_hz(self) -> float:
        """Where the pair was read."""
        return self.band.fit.frequency_hz

    @property
    def false_alarm_probability(self) -> float:
        """Chance that noise alone shows a pair like this in all that was searched."""
        chance = min(self.lower.false_alarm_probability, self.upper.false_alarm_probability)
        return min(1.0, 2.0 * self.cells * chance)


def find_pair(
    base: Baseband, pole_pass_hz: Estimate, slip_wander: float, limits: CageLimits
) -> LinePair:
    """Find and measure the pair of side lines.

    Parameters
    ----------
    base
        Current in the supply frame.
    pole_pass_hz
        Where the slip says the lines are.
    slip_wander
        Standard deviation of the slip within the record, per unit of the slip.
    limits
        Validity limits.
    """
    at_hz = pole_pass_hz.value
    windowed = at_hz * base.duration_s >= limits.least_periods_windowed
    resolution_hz = TIME_HALF_BANDWIDTH / base.duration_s
    spread_hz = WANDER_WIDTHS * slip_wander * at_hz
    steady = spread_hz <= resolution_hz
    low_hz = at_hz - SEARCH_WIDENING * (at_hz - pole_pass_hz.low)
    high_hz = at_hz + SEARCH_WIDENING * (pole_pass_hz.high - at_hz)
    cells = 1.0 + (high_hz - low_hz) * base.duration_s if steady else 1.0
    n = base.samples.size
    weights = taper_weights(n) if windowed else flat_weights(n)
    ranges = ((low_hz, high_hz), (at_hz, at_hz)) if steady else ((at_hz, at_hz),)
    for k, ends in enumerate(ranges):
        band = FittedBand(
            base=base,
            fit=fit_pair(base, *ends, weights),
            windowed=windowed,
            half_width_hz=max(resolution_hz, spread_hz),
        )
        chance = limits.false_alarm_probability / (2.0 * cells)
        pair = LinePair(
            band=band,
            lower=band.side_line(-1, chance),
            upper=band.side_line(1, chance),
            cells=cells,
            located=steady and k == 0,
        )
        if pair.false_alarm_probability <= limits.false_alarm_probability:
            break
    return pair
