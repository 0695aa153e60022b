"""The pair of side lines bin by bin, with the supply's own modulation taken out of it.

In the frame of the voltage phase the supply voltage is ``V0 (1 + m(t))``, m its amplitude
modulation; its phase deviation ``delta(t)`` went into the frame. With ``y(P) = Y(P) / Y(0)`` and
the measured fundamental ``I0 = Y(0) V0``, both put into the current at ripple frequency nu::

    I0 [ y(j nu) m(nu) + j delta(nu) (y(j nu) - 1) ]

Only the relative admittance enters, so an error of the circuit as a whole drops out
(docs/theory/direct-component.md).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from cagewise.conditioning.frame import SupplyFrame
from cagewise.indicators.lines.fitting import (
    RING_INNER,
    Baseband,
    PairFit,
    fit_pair,
    flat_weights,
    taper_weights,
    without_carrier,
    without_lines,
)
from cagewise.indicators.lines.pair import FittedBand
from cagewise.indicators.lines.tapers import BinArray, TaperedSpectrum, tapered_spectrum
from cagewise.machine.circuit import OperatingState
from cagewise.quantities import ComplexArray, RealArray

BACKGROUND_SPAN = (0.3, 2.5)
"""Ripple frequencies of the background in pole-pass frequencies."""
BACKGROUND_GUARD = 0.2
"""Bins nearer to the pair than this, in pole-pass frequencies, are left out of the background."""


@dataclass(frozen=True, kw_only=True)
class PairBins:
    """Values at ripple frequencies nu; arrays of shape (n_tapers, n_bins)."""

    ripple_hz: RealArray
    """nu > 0 at which the machine's responses are taken, shape (n_bins,). Bins within the spectral
    half-width of a line hold the line itself and take its frequency."""
    lower: ComplexArray
    """Current at -nu, A peak."""
    upper: ComplexArray
    """Current at +nu, A peak."""
    modulation: ComplexArray
    """m at +nu, per unit of the voltage (half the depth of the modulation)."""
    deviation: ComplexArray
    """delta at +nu, rad (half the depth)."""
    energy_scale: float
    """Sum of squared moduli times this is the power of a line."""
    supply_removed: bool = True
    """Whether the voltage was measured, so that :meth:`corrected` removes the supply's part."""

    def corrected(
        self, state: OperatingState, fundamental_a: complex, slope: RealArray | float = 0.0
    ) -> tuple[ComplexArray, ComplexArray]:
        """Return lower and upper values without the part of the supply.

        Shape (n_tapers, n_bins, n_draws), n_draws that of ``state`` (1 for one circuit). ``slope``
        is how much steeper than in proportion the magnetising current follows the flux; 0 for
        linear iron, shape () or (n_draws,).
        """
        turn = np.asarray(2j * np.pi * self.ripple_hz[:, np.newaxis], dtype=np.complex128)
        still = state.voltage_response(0.0)
        above = state.voltage_response(turn) / still
        below = state.voltage_response(-turn) / still
        m, delta = self.modulation[..., np.newaxis], self.deviation[..., np.newaxis]
        bent_a = slope * state.magnetizing_current(fundamental_a)
        upper = self.upper[..., np.newaxis] - fundamental_a * (above * m + 1j * delta * (above - 1))
        upper = upper - bent_a * m
        m, delta = m.conj(), delta.conj()
        lower = self.lower[..., np.newaxis] - fundamental_a * (below * m + 1j * delta * (below - 1))
        lower = lower - bent_a * m
        return np.asarray(lower), np.asarray(upper)


@dataclass(frozen=True)
class SupplyModulation:
    """Amplitude modulation and frequency deviation of the supply on the slow grid."""

    relative: RealArray
    """m(t), per unit, shape (n,)."""
    frequency_rad_s: RealArray
    """Derivative of delta(t), shape (n,)."""
    sampling_rate_hz: float

    @classmethod
    def of(cls, frame: SupplyFrame) -> SupplyModulation | None:
        """Return the modulation of the measured voltage, or None when there is none."""
        if frame.voltage is None or not frame.from_voltage:
            return None
        modulus = np.abs(frame.voltage)
        frequency = np.gradient(frame.phase_rad, 1.0 / frame.sampling_rate_hz)
        return cls(
            np.asarray(modulus / modulus.mean() - 1.0),
            np.asarray(frequency - frequency.mean()),
            frame.sampling_rate_hz,
        )

    def phase_gain(self, ripple_hz: RealArray) -> ComplexArray:
        """Return delta over its measured derivative (a central difference over two samples)."""
        step = np.sin(2.0 * np.pi * ripple_hz / self.sampling_rate_hz) * self.sampling_rate_hz
        return np.asarray(1.0 / (1j * step), dtype=np.complex128)


def bins_of_line(band: FittedBand, supply: SupplyModulation | None) -> PairBins:
    """Return the bins of the pair itself; one bin, fitted, where the record is short."""
    if not band.windowed:
        return _fitted(band, supply)
    bins = band.band(1)
    off_hz = bins.bins * band.lines.resolution_hz - band.fit.frequency_hz
    beyond_hz = np.maximum(np.abs(off_hz) - band.lines.half_width_hz, 0.0)
    ripple_hz = np.asarray(band.fit.frequency_hz + np.sign(off_hz) * beyond_hz)
    return _bins(band, band.lines, bins.bins, ripple_hz, supply, 1.0 / bins.captured)


def bins_of_ring(band: FittedBand, supply: SupplyModulation | None) -> PairBins:
    """Return the bins beside the pair, both lines and carrier taken out."""
    ring = band.band(1).ring
    ring_hz = np.asarray(ring * band.lines.resolution_hz)
    keep = ring_hz >= band.lines.half_width_hz
    return _bins(band, band.background, ring[keep], ring_hz[keep], supply)


def bins_of_background(band: FittedBand, supply: SupplyModulation | None) -> PairBins:
    """Return the bins far around the pair in which load noise shows the speed-ripple ratio.

    A strong line whose slip wanders has skirts of its own ratio, which fall with the square of the
    distance; the load's noise does not, so the nearest bins are left out. So is twice the
    pole-pass frequency, where the line's own harmonic stands.
    """
    spectrum, f_hz = band.background, band.fit.frequency_hz
    low, high = BACKGROUND_SPAN
    first_hz = max(low * f_hz, spectrum.half_width_hz)
    bins = spectrum.bins_between(first_hz, min(high * f_hz, band.base.half_width_hz))
    nu_hz = bins * spectrum.resolution_hz
    apart_hz = max(BACKGROUND_GUARD * f_hz, RING_INNER * band.half_width_hz)
    keep = np.abs(nu_hz - f_hz) >= apart_hz
    keep &= np.abs(nu_hz - 2.0 * f_hz) >= 2.0 * band.half_width_hz
    return _bins(band, spectrum, bins[keep], np.asarray(nu_hz[keep]), supply)


def _bins(
    band: FittedBand,
    spectrum: TaperedSpectrum,
    bins: BinArray,
    ripple_hz: RealArray,
    supply: SupplyModulation | None,
    correction: float = 1.0,
) -> PairBins:
    """Return values at some bins of a tapered spectrum."""
    upper, lower = spectrum.coefficients[:, bins], spectrum.coefficients[:, -bins]
    modulation = deviation = np.zeros_like(upper)
    if supply is not None:
        beside = spectrum is not band.lines
        modulation = _tapered(band, supply.relative, beside=beside)[:, bins]
        gain = supply.phase_gain(ripple_hz)
        deviation = _tapered(band, supply.frequency_rad_s, beside=beside)[:, bins] * gain
    return PairBins(
        ripple_hz=ripple_hz,
        lower=lower,
        upper=upper,
        modulation=modulation,
        deviation=np.asarray(deviation),
        energy_scale=correction / (spectrum.n_bins * upper.shape[0]),
        supply_removed=supply is not None,
    )


def _tapered(band: FittedBand, series: RealArray, *, beside: bool) -> ComplexArray:
    """Return the eigen-coefficients of a real series less mean and trend.

    ``beside`` takes the line at the pair's frequency out, too, as it is out of the currents there.
    """
    base, fit = _fit_series(band, series)
    rest = without_lines(base, fit) if beside else without_carrier(base, fit)
    return tapered_spectrum(rest, base.sampling_rate_hz).coefficients


def _fit_series(band: FittedBand, series: RealArray) -> tuple[Baseband, PairFit]:
    """Fit mean, trend and a pair at the pair's frequency to a real series."""
    base = Baseband(
        series.astype(np.complex128), band.base.sampling_rate_hz, band.base.half_width_hz
    )
    weights = taper_weights(series.size) if band.windowed else flat_weights(series.size)
    at_hz = band.fit.frequency_hz
    return base, fit_pair(base, at_hz, at_hz, weights)


def _fitted(band: FittedBand, supply: SupplyModulation | None) -> PairBins:
    """Return the jointly fitted amplitudes as a single bin."""
    ripple_hz = np.array([band.fit.frequency_hz])
    modulation = deviation = np.zeros((1, 1), dtype=np.complex128)
    if supply is not None:
        modulation = np.array([[_fit_series(band, supply.relative)[1].upper]])
        frequency = _fit_series(band, supply.frequency_rad_s)[1].upper
        deviation = frequency * supply.phase_gain(ripple_hz)[np.newaxis, :]
    return PairBins(
        ripple_hz=ripple_hz,
        lower=np.array([[band.fit.lower]]),
        upper=np.array([[band.fit.upper]]),
        modulation=modulation,
        deviation=np.asarray(deviation),
        energy_scale=1.0,
        supply_removed=supply is not None,
    )
