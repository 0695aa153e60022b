"""The limits within which the side line is read during a direct start; values with their sources.

They express opinions, so the decision layer keeps them in its table of limits and constructs this
class with the same names. The defaults serve the library user who calls the indicator directly.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class StartTrackLimits:
    """Validity limits of the side line during a start."""

    least_cycles: float = 15.0
    """Supply cycles from switching on to settled below which a start is not read (1): the simulated
    3 kW motor; published practice asks for 0.5 to 1 s (from memory)."""
    least_rate_hz: float = 600.0
    """Least sampling rate (Hz): twelve samples per cycle keep the 5th and 7th from folding onto the
    track."""
    least_voltage_part: float = 0.7
    """Least voltage during the start over that after it (1): below, it was no direct start;
    judgement: a weak grid dips by 30 % at most before motors near by fall out."""
    largest_misfit: float = 0.20
    """Largest rms of measured against fitted admittance during the start (1, and rad): simulated
    motors, saturated and with deep bars, stay below 0.06; judgement."""
    largest_strain: float = 6.0
    """Largest distance of the fitted motor from what its file says (standard deviations of nine
    unknowns together, of which three are usual): simulated starts stay below 4; judgement."""
    lowest_slip: float = 0.12
    """Slip below which the wave is not read (1): speed ripple and the lag of the rotor flux move it
    there, docs/theory/start-track.md."""
    highest_slip: float = 0.92
    """Slip above which it is not read (1): it meets the supply's negative sequence at s = 1."""
    largest_slip_error: float = 0.20
    """Largest half width of the slip's 95 % interval where the wave is read (1): seven tracks of
    eight cycles then cover it; judgement."""
    largest_offset_hz: float = 1.5
    """Largest distance of the wave from the track (Hz) beyond the slip's own error: published
    practice, from memory."""
    least_track_part: float = 0.6
    """Least part of the windows in which the wave must stand on the track (1): same source."""
    largest_mirror: float = 0.6
    """Largest ratio of the wave to its mirror image (1): a disturbance in one channel alone makes
    both alike, a wave in all phases makes none."""
    false_alarm_probability: float = 1e-3
    """Chance of calling a wave in what the record holds beside the track (1)."""
