"""The limits within which the cage indicators are read; values with their sources.

They express opinions, so the decision layer keeps them in its table of limits and constructs this
class with the same names. The defaults serve the library user who calls an indicator directly.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class CageLimits:
    """Validity limits of the cage indicators of the running motor."""

    least_periods_joint: float = 2.0
    """Pole-pass periods in the record below which no method separates the side lines from the
    fundamental (1): bound on the joint estimate, docs/theory/line-estimation.md."""
    least_periods_windowed: float = 6.0
    """Pole-pass periods from which windowed spectra are used (1); below it, joint least squares."""
    least_load_direct: float = 0.10
    """Load below which the direct component is not read (1 of rated): simulated motor."""
    least_load_lines: float = 0.25
    """Load below which side lines, envelope and power lines are not read (1 of rated): published
    work calls detection at light load almost impossible (Supangat, Ertugrul, Soong et al.)."""
    least_load_harmonics: float = 0.15
    """Load below which the 5th and 7th harmonic lines are not read (1 of rated)."""
    largest_slip_wander: float = 0.05
    """Slip wander beyond which a peak under-reads by more than 1 dB (standard deviation, 1 of the
    slip); line energy is read instead and the text says so."""
    largest_slip_wander_energy: float = 0.12
    """Slip wander beyond which the line's band reaches the fundamental (1 of the slip)."""
    false_alarm_probability: float = 1e-3
    """Chance of calling a line in noise alone, all searched cells counted (1)."""
    harmonic_margin_db: float = 10.0
    """Least height of a 5th or 7th harmonic cage line over its local floor (dB)."""
    least_harmonic_lines: int = 2
    """Lines of the four that must stand (1)."""
    largest_voltage_share: float = 0.5
    """Largest part of a harmonic line that the measured voltage may explain (1, amplitude)."""
    least_rate_harmonics_hz: float = 2000.0
    """Least sampling rate for the 5th and 7th harmonic lines (Hz)."""
