"""The limits within which winding and insulation tests are read; values with their sources.

They express opinions, so the decision layer keeps them in its table of limits and constructs these
classes with the same names. The defaults serve the library user who calls a reading directly.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class WindingLimits:
    """Errors and limits of direct-current winding resistances."""

    resistance_error: float = 0.002
    """Limit of error between the pairs of one sheet (1, 0 to 0.02): four-wire readings that repeat
    within 0.2 %; common practice, no source."""
    instrument_error: float = 0.005
    """Limit of error of the instrument's scale, which differs from sheet to sheet (1, 0 to 0.05);
    our judgement."""
    temperature_error_k: float = 0.5
    """Limit of error of the winding temperature (K, 0 to 10); common practice, no source."""
    unbalance_random: float = 0.02
    """Largest deviation from the mean of a random-wound winding (1, 0.005 to 0.1): ANSI/EASA
    AR100-2020, secondary (trade note)."""
    unbalance_form: float = 0.01
    """The same of a form-wound winding (1, 0.005 to 0.1); same source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class InsulationLimits:
    """Errors and validity limits of insulation tests."""

    changeover_span_years: int = 3
    """Years on either side of 1970 within which the standard's "about 1970" decides nothing
    (years, 0 to 15); our judgement."""
    resistance_error: float = 0.05
    """Limit of error of an insulation resistance (1, 0 to 0.3); common practice, no source."""
    repeat_error: float = 0.02
    """Limit of error between readings of one run of the instrument (1, 0.001 to 0.2); our
    judgement."""
    temperature_error_k: float = 2.0
    """Limit of error of the winding temperature (K, 0 to 10); our judgement."""
    largest_fall: float = 0.1
    """Fall of the insulation resistance under voltage that scatter and a draught explain (1, 0.05
    to 0.3); our judgement: on a sound insulation it only rises."""
    dew_point_margin_k: float = 3.0
    """Least excess of the winding temperature over the dew point (K, 0 to 10): IEEE 43-2013
    cl. 6.2 asks for more than zero (from memory); the margin is our judgement."""
    time_tolerance: float = 0.05
    """Largest deviation from a nominal time of 15 s, 30 s, 1 min or 10 min (1, 0 to 0.1); our
    judgement."""
    test_voltage_tolerance: float = 0.1
    """Part by which a test voltage may leave its range unnamed (1, 0 to 0.2); our judgement."""
    step_current_error: float = 0.03
    """Limit of error of a current of the step-voltage test between steps (1, 0.001 to 0.2); our
    judgement."""
    step_current_floor_a: float = 2e-8
    """Limit of error of a small current (A, 0 to 1e-5); our judgement."""
    knee_false_alarm_probability: float = 1e-3
    """Chance of calling a knee in a smooth current, all searched knees counted (1, 1e-6 to 0.05);
    our judgement."""
    least_knee_growth: float = 0.5
    """Growth of the conductance at a knee below which it is not called sharp (1, 0 to 3); our
    judgement."""
    dissipation_error: float = 5e-4
    """Limit of error of tan delta between voltages and between sheets (1, 0 to 0.01); our
    judgement."""
    capacitance_error: float = 0.005
    """Limit of error of a capacitance between sheets (1, 0 to 0.05); our judgement."""
    voltage_step_tolerance: float = 0.02
    """Largest deviation from a multiple of 0.2 U_N, in U_N (1, 0 to 0.05); our judgement."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TurnLimits:
    """What the comparison of waveforms can tell."""

    largest_shift: float = 0.1
    """Largest shift in time by which waveforms are laid over each other, in periods of their
    ringing (1, 0 to 0.25): trigger jitter; our judgement."""
    waveform_repeat: float = 0.04
    """Area of the difference up to which two waveforms are alike within what an instrument repeats
    (1, 0.005 to 0.2); our judgement, no standard has a limit."""
    frequency_repeat: float = 0.003
    """The same for the ringing frequencies (1, 0.0005 to 0.05); our judgement."""
    least_ringing_periods: float = 1.5
    """Periods of ringing above the noise without which no frequency is read (1, 1 to 5); our
    judgement."""
