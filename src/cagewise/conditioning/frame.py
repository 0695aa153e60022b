"""The voltage-phase frame: the current as seen by an observer who rides on the supply voltage.

Mains frequency is never constant, and a wander of 10 mHz smears every line of a long record. In
the frame of the measured voltage phase the supply stands still, its first-order wander is gone,
and the side lines of the fundamental lie at -f_pp and +f_pp (docs/theory/voltage-frame.md).
Without voltages the slow part of the current's own phase replaces it; the text says what is lost.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from cagewise.conditioning.signals import Band, StatorSignals, settling_samples
from cagewise.quantities import ComplexArray, RealArray

FRAME_HALF_WIDTH_HZ = 16.0
"""Pass band of the frame: three pole-pass frequencies of a motor with 5 % slip at 50 Hz."""
FRAME_RATE_HZ = 80.0
"""Slow sampling rate; the stop band begins at 20 Hz, half the rate at 40 Hz."""
FRAME_PART = 0.75
"""Largest half width over the supply frequency: with its transition the band ends short of the
direct component of the sensors, also at 16.7 Hz."""
LEAST_KEPT_S = 0.5
"""What must remain of a record after its ends are trimmed."""
SLOW_PHASE_PERIODS = 3.0
"""Current-only frame: phase motion slower than this many periods per record is followed."""


@dataclass(frozen=True)
class SupplyFrame:
    """Voltage and current at the fundamental, in the frame of the supply phase.

    All arrays share the slow time grid, shape (n_slow,), ends trimmed of filter settling.
    The supply phase is ``2 pi centre_hz t + phase_rad(t)``.
    """

    signals: StatorSignals
    time_s: RealArray
    """Time from the start of the stretch."""
    sampling_rate_hz: float
    supply_frequency_hz: float
    """Mean over the stretch (least-squares slope of the phase)."""
    centre_hz: float
    phase_rad: RealArray
    """Supply phase less ``2 pi centre_hz t``, unwrapped."""
    from_voltage: bool
    """True when the phase is that of the measured voltage; False when taken from the current."""
    current: ComplexArray
    """Current in the frame (A, peak); its mean is the fundamental phasor against the voltage."""
    voltage: ComplexArray | None
    """Voltage in the frame (V, peak); real when :attr:`from_voltage`."""
    trim: int
    """Slow samples cut at either end."""

    @property
    def duration_s(self) -> float:
        """Length of the trimmed record."""
        return self.time_s.size / self.sampling_rate_hz

    @property
    def frequency_hz(self) -> RealArray:
        """Supply frequency against time, shape (n_slow,)."""
        slope = np.gradient(self.phase_rad, 1.0 / self.sampling_rate_hz)
        return self.centre_hz + slope / (2.0 * np.pi)

    def order_band(self, order: float, half_width_hz: float, rate_hz: float) -> OrderBand:
        """Return the current about ``order`` times the supply frequency, turned by that order.

        ``order`` is signed and need not be whole: -5 is the fifth harmonic (negative sequence), 7
        the seventh, 16.3 a place where a rotor-slot line is searched. Wander of the supply cancels
        in every line that is locked to the supply or to a machine that follows it.
        """
        band = self.signals.band(
            self.signals.current_spectrum, order * self.supply_frequency_hz, half_width_hz, rate_hz
        )
        return self._turned(band, order, half_width_hz)

    def voltage_order_band(
        self, order: float, half_width_hz: float, rate_hz: float
    ) -> OrderBand | None:
        """Return the same of the voltage, or None when no voltage was measured."""
        spectrum = self.signals.voltage_spectrum
        if spectrum is None:
            return None
        centre_hz = order * self.supply_frequency_hz
        band = self.signals.band(spectrum, centre_hz, half_width_hz, rate_hz)
        return self._turned(band, order, half_width_hz)

    def _turned(self, band: Band, order: float, half_width_hz: float) -> OrderBand:
        """Turn a band by ``order`` times the supply phase and trim its ends."""
        time_s = np.arange(band.samples.size) / band.sampling_rate_hz
        phase = np.interp(time_s, self.time_s, self.phase_rad)
        slip_hz = order * self.centre_hz - band.centre_hz
        turned = band.samples * np.exp(-1j * (order * phase + 2.0 * np.pi * slip_hz * time_s))
        trim = max(
            settling_samples(half_width_hz, band.sampling_rate_hz),
            math.ceil(self.time_s[0] * band.sampling_rate_hz),
        )
        keep = slice(trim, band.samples.size - trim)
        return OrderBand(turned[keep], time_s[keep], band.sampling_rate_hz, order)


@dataclass(frozen=True)
class OrderBand:
    """A band about a multiple of the supply frequency, in the frame turning at that multiple."""

    samples: ComplexArray
    """Complex baseband, shape (n,): a line at ``order * f + df`` stands at ``df``."""
    time_s: RealArray
    sampling_rate_hz: float
    order: float


def supply_frame(signals: StatorSignals, nominal_frequency_hz: float) -> SupplyFrame:
    """Return the supply frame of a steady stretch.

    Parameters
    ----------
    signals
        Space vectors of the stretch, at least :func:`least_duration_s` long.
    nominal_frequency_hz
        Where to look for the supply line (within 10 %).
    """
    if signals.duration_s < least_duration_s(nominal_frequency_hz):
        message = f"{signals.duration_s:.3g} s are too short for a supply frame"
        raise ValueError(message)
    half_width_hz = _half_width_hz(nominal_frequency_hz)
    spectrum = signals.voltage_spectrum
    from_voltage = spectrum is not None
    reference = signals.current_spectrum if spectrum is None else spectrum
    line_hz = _strongest_line_hz(reference, signals, nominal_frequency_hz)
    band = signals.band(reference, line_hz, half_width_hz, FRAME_RATE_HZ)
    trim = settling_samples(half_width_hz, band.sampling_rate_hz)
    keep = slice(trim, band.samples.size - trim)
    time_s = (np.arange(band.samples.size) / band.sampling_rate_hz)[keep]
    phase = np.unwrap(np.angle(band.samples[keep]))
    if not from_voltage:
        phase = _slow_part(phase, time_s)
    turn = np.exp(-1j * phase)
    current = signals.band(signals.current_spectrum, line_hz, half_width_hz, FRAME_RATE_HZ)
    slope = np.polynomial.polynomial.polyfit(time_s - time_s.mean(), phase, 1)[1]
    return SupplyFrame(
        signals=signals,
        time_s=time_s,
        sampling_rate_hz=band.sampling_rate_hz,
        supply_frequency_hz=band.centre_hz + float(slope) / (2.0 * math.pi),
        centre_hz=band.centre_hz,
        phase_rad=phase,
        from_voltage=from_voltage,
        current=current.samples[keep] * turn,
        voltage=band.samples[keep] * turn if from_voltage else None,
        trim=trim,
    )


def least_duration_s(nominal_frequency_hz: float) -> float:
    """Return the shortest record a supply frame can be made of."""
    settling_s = settling_samples(_half_width_hz(nominal_frequency_hz), FRAME_RATE_HZ)
    return 2.0 * settling_s / FRAME_RATE_HZ + LEAST_KEPT_S


def _half_width_hz(nominal_frequency_hz: float) -> float:
    """Return the half width of the pass band about the supply line."""
    return min(FRAME_HALF_WIDTH_HZ, FRAME_PART * nominal_frequency_hz)


def _strongest_line_hz(
    spectrum: ComplexArray, signals: StatorSignals, nominal_frequency_hz: float
) -> float:
    """Return the frequency of the strongest positive-sequence line near the nominal frequency."""
    resolution_hz = signals.sampling_rate_hz / signals.n_samples
    first = math.floor(0.9 * nominal_frequency_hz / resolution_hz)
    last = math.ceil(1.1 * nominal_frequency_hz / resolution_hz)
    window = np.abs(spectrum[first : last + 1])
    return (first + int(np.argmax(window))) * resolution_hz


def _slow_part(phase_rad: RealArray, time_s: RealArray) -> RealArray:
    """Return the part of a phase that is slower than ``SLOW_PHASE_PERIODS`` per record.

    A straight line plus the first few half-cosines (a discrete cosine basis has no jump at the
    ends of the record).
    """
    position = (np.arange(time_s.size) + 0.5) / time_s.size
    orders = np.arange(1, round(2.0 * SLOW_PHASE_PERIODS) + 1)
    basis = np.column_stack(
        [np.ones_like(position), position - 0.5, np.cos(np.pi * np.outer(position, orders))]
    )
    weights, *_ = np.linalg.lstsq(basis, phase_rad, rcond=None)
    return np.asarray(basis @ weights)
