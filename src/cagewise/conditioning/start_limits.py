"""Limits that express an opinion on what is a start, and when one can be read.

The values in force stand in the one data file of the decision layer, under the same names; the
defaults here are the same numbers for use of this package alone.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class StartLimits:
    """Limits of finding a start; "common practice" means: no source was found."""

    off_part: float = 0.02
    """Current below this part of the largest one, per unit: the motor is off (no load draws a fifth
    of the rated current and a direct start up to eight times it, which leaves 0.025)."""
    least_current_ratio: float = 2.0
    """Least starting over running current, per unit, both of the record itself. Direct starts show
    4 to 8, soft starters 2 to 4 (common practice)."""
    least_ratio_unseen: float = 4.0
    """The same where the record begins after switching on, per unit: at full load a motor draws up
    to three times what it draws at none, so a smaller fall may be a fall of the load."""
    least_cycles: float = 20.0
    """Least length from switching on to speed, supply cycles. The side line of a start can be read
    from 15 to 20 cycles on (simulated 3 kW motor); published practice asks for 0.5 s."""
    least_rest_s: float = 1.0
    """Least time without current before a start, s, where the motor ran before in the same record:
    after a shorter one it is still turning (judgement)."""
    largest_rise: float = 0.25
    """Rise of the current during a direct start that is still a beat or a recovering supply, per
    unit (four open bars of 32 on the simulated motor: 0.06; a transition from star to delta: 2)."""
    least_first_voltage: float = 0.75
    """Least voltage of the first cycles over that at the end of the start, per unit; a direct start
    of a large motor pulls its supply down by 15 to 20 % (common practice)."""
    largest_gap_part: float = 0.10
    """Part of the samples without current, per unit, beyond which parts of each cycle are cut out
    (a sine with noise spends 3 to 4 % of its time that near zero)."""
    largest_harmonic: float = 0.03
    """5th or 7th harmonic over the fundamental current in the first cycles, per unit, above which a
    slow rise of the current is that of a soft starter. A direct start shows below 0.01."""
    largest_low_share: float = 0.5
    """Part of the power below 0.6 of the supply frequency in the first cycles, per unit, beyond
    which the frequency is rising: a converter."""
