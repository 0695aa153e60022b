"""The classic estimators of the number of broken bars from the level of the side lines.

They are kept for comparison with older reports. None of them knows the load, the inertia or what
else moves the speed: on the reference 3 kW motor one fully open bar reads as 0.13 to 1.56 bars by
estimator A, depending on load and inertia (docs/theory/characteristic-lines.md). Adjacent bars, a
few of them, near full load, is what they are for. The direct component replaces them.
"""

from __future__ import annotations

import math

from cagewise.quantities import amplitude_ratio

LARGEST_ANGLE_RAD = 1.79
"""Estimator B rises with the electrical angle of the damage only up to here (where
``tan a = a - 2 pi`` beyond 90 degrees); larger damage cannot be told from smaller."""
BISECTIONS = 60
"""Halvings of the interval: to the last bit of a double."""


def bars_from_mean_level(levels_db: tuple[float, float], rotor_bars: int, pole_pairs: int) -> float:
    """Return the number of broken bars by estimator A.

    ``n = 2 R / (10^(N/20) + p)``, N the mean of the two side lines in dB below the fundamental
    (Thomson and Fenger 2001; from memory).

    Parameters
    ----------
    levels_db
        Lower and upper side line in dB relative to the fundamental (negative numbers).
    rotor_bars
        R.
    pole_pairs
        p.
    """
    below_db = -0.5 * (levels_db[0] + levels_db[1])
    return 2.0 * rotor_bars / (amplitude_ratio(below_db) + pole_pairs)


def mean_level_db(bars: float, rotor_bars: int, pole_pairs: int) -> float:
    """Return the side-line level that estimator A reads as this many bars, dB (negative)."""
    return -20.0 * math.log10(2.0 * rotor_bars / bars - pole_pairs)


def lower_line_ratio(bars: float, rotor_bars: int, pole_pairs: int) -> float:
    """Return lower side line over fundamental by estimator B.

    ``sin a / (2 p (2 pi - a))`` with ``a = 2 pi p n / R`` (Deleroi; Kliman and Stein; in Nandi,
    Toliyat and Li 2005; from memory).
    """
    angle = 2.0 * math.pi * pole_pairs * bars / rotor_bars
    return math.sin(angle) / (2.0 * pole_pairs * (2.0 * math.pi - angle))


def bars_from_lower_line(level_db: float, rotor_bars: int, pole_pairs: int) -> float | None:
    """Return the number of broken bars by estimator B, None above its maximum.

    Parameters
    ----------
    level_db
        Lower side line in dB relative to the fundamental.
    rotor_bars
        R.
    pole_pairs
        p.
    """
    ratio = amplitude_ratio(level_db)
    low, high = 0.0, LARGEST_ANGLE_RAD * rotor_bars / (2.0 * math.pi * pole_pairs)
    if ratio > lower_line_ratio(high, rotor_bars, pole_pairs):
        return None
    for _ in range(BISECTIONS):
        middle = 0.5 * (low + high)
        if lower_line_ratio(middle, rotor_bars, pole_pairs) < ratio:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


def bars_from_line_sum(lower_ratio: float, upper_ratio: float, rotor_bars: int) -> float:
    """Return the number of broken bars by estimator C.

    ``(L + U) / I1 = n / R``: the sum hardly depends on the inertia, but it does on the load
    (Bellini, Filippetti, Franceschini, Tassoni and Kliman 2001; from memory).

    Parameters
    ----------
    lower_ratio, upper_ratio
        Amplitudes of the side lines over the fundamental.
    rotor_bars
        R.
    """
    return rotor_bars * (lower_ratio + upper_ratio)
