"""Limits that express an opinion on when a recording is good enough.

The values in force stand in the one data file of the decision layer, under the same names; the
defaults here are the same numbers for use of this package alone.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class QualityLimits:
    """Limits of the quality findings; "common practice" means: no source was found."""

    load_step: float = 0.05
    """Change of the mean current that ends a steady stretch, per unit (common practice)."""
    load_drift: float = 0.05
    """Largest rms deviation of the current from its mean in a stretch, per unit, beating at the
    pole-pass frequency left out (common practice)."""
    frequency_drift_hz: float = 0.1
    """Largest drift of the supply frequency over a record (common practice)."""
    running_current: float = 0.02
    """Current below this part of the rated one, per unit: the motor is not running (an induction
    motor at no load draws at least a fifth of its rated current)."""
    side_line_separation: float = 6.0
    """Pole-pass frequency times record length below which a windowed transform does not part the
    side lines from the supply line (main lobe of a low-side-lobe window)."""
    side_line_separation_joint: float = 2.0
    """The same for a joint least-squares fit of the three lines; below it nothing can be read."""
    clipped_part: float = 0.0
    """Part of the samples that may sit on a rail (none: one clipped peak makes odd harmonics)."""
    dropout_cycles: float = 0.02
    """Longest constant run inside a sine that is not yet a dropout, supply cycles."""
    dropout_part: float = 0.001
    """Part of the samples in dropouts beyond which they are more than a note, per unit."""
    quantisation_level_dbc: float = -80.0
    """Quantisation floor in the resolution of the record above which it is a caution, dBc."""
    direct_offset: float = 0.1
    """Direct component of a channel above which it is mentioned, per unit of its rms."""
    time_jitter: float = 0.01
    """Largest rms deviation of sample times from a uniform grid, sampling intervals."""
    clock_error: float = 0.001
    """Largest relative difference between the stated rate and the stated sample times."""
    alias_level_db: float = 20.0
    """Energy near half the sampling rate, above the floor just below, that means aliasing, dB."""
    side_line_samples_per_cycle: float = 10.0
    """Least sampling rate for the lines beside the supply frequency, samples per supply cycle
    (1 kHz is asked for in practice, half of it still parts the 3rd harmonic; our judgement)."""
    harmonic_samples_per_cycle: float = 40.0
    """Least sampling rate for the lines beside the 5th and 7th harmonic, samples per supply cycle
    (2 kHz at 50 Hz, common practice; below it the 11th to 17th harmonics fold onto them)."""
    slip_samples_per_cycle: float = 100.0
    """Least sampling rate for two families of rotor-slot lines, samples per supply cycle (5 kHz
    at 50 Hz, common practice)."""
    current_unbalance: float = 0.3
    """Negative- over positive-sequence current that is mentioned, per unit (a 3 % voltage
    unbalance gives about 20 to 30 %)."""
    voltage_unbalance: float = 0.02
    """Negative- over positive-sequence voltage that is mentioned, per unit (IEC 60034-1 allows
    1 %, from memory; doubled)."""
    missing_phase: float = 0.05
    """Amplitude below this part of the strongest of its kind: the phase is missing, per unit."""
    current_low: float = 0.1
    """Current below this part of the rated one cannot be the motor's line current, per unit."""
    current_high: float = 1.3
    """Current above this part of the rated one in a steady stretch, per unit."""
    voltage_tolerance: float = 0.2
    """Largest deviation of the flux (voltage over frequency) from rated, per unit."""
