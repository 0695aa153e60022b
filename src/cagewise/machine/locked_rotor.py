"""Locked-rotor current: code letters and what follows from them.

Code letters give the locked-rotor apparent power per horsepower at rated voltage as a half-open
band (NEMA MG 1-10.37.2, repeated in NEC 430.7(B); read in a secondary text).
"""

from __future__ import annotations

import math
from itertools import pairwise

from cagewise.machine.nameplate import Nameplate
from cagewise.quantities import WATT_PER_HORSEPOWER

_EDGES = [0.0, 3.15, 3.55, 4.0, 4.5, 5.0, 5.6, 6.3, 7.1, 8.0, 9.0, 10.0, 11.2, 12.5, 14.0, 16.0]
_EDGES += [18.0, 20.0, 22.4, math.inf]
CODE_LETTERS = dict(zip("ABCDEFGHJKLMNPRSTUV", pairwise(_EDGES), strict=True))
"""Code letter to (lower bound included, upper bound excluded) in kVA per horsepower."""


def code_letter(kva_per_horsepower: float) -> str:
    """Return the code letter of a locked-rotor apparent power per horsepower."""
    return next(
        letter for letter, (low, high) in CODE_LETTERS.items() if low <= kva_per_horsepower < high
    )


def locked_rotor_current_a(
    kva_per_horsepower: float, rated_power_w: float, rated_voltage_v: float
) -> float:
    """Return the locked-rotor line current (rms) at rated voltage."""
    apparent_va = 1e3 * kva_per_horsepower * rated_power_w / WATT_PER_HORSEPOWER
    return apparent_va / (math.sqrt(3.0) * rated_voltage_v)


def code_letter_current_a(nameplate: Nameplate) -> tuple[float, float] | None:
    """Return the band of the locked-rotor line current (rms), or None without a code letter.

    The open bands are closed at 2 kVA/hp (letter A) and 30 kVA/hp (letter V).
    """
    if nameplate.code_letter is None:
        return None
    low, high = CODE_LETTERS[nameplate.code_letter]
    currents = (
        locked_rotor_current_a(level, nameplate.rated_power_w, nameplate.rated_voltage_v)
        for level in (max(low, 2.0), min(high, 30.0))
    )
    first, last = currents
    return first, last
