"""How numbers are written, and clauses as sentences.

Bounds are rounded outwards, so that no rounding overstates.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from cagewise.quantities import Estimate
from cagewise.report import number_wording as words
from cagewise.report.language import ENGLISH, catalogue, current, decimal, retell, say

LARGEST_BARS = 20.0
"""More open bars than this are not a count any more: no cage runs so, the reading tells nothing."""


def bars(value: float) -> str:
    """Return open bars with two digits that carry something: 0.07, 0.85, 1.1, 12, 20+."""
    if value > LARGEST_BARS:
        return f"{LARGEST_BARS:.0f}+"
    return decimal(f"{value:.{_decimals(value)}f}")


def bars_up(value: float) -> str:
    """Return an upper limit in open bars, rounded up."""
    if value > LARGEST_BARS:
        return f"{LARGEST_BARS:.0f}+"
    return _directed(value, math.ceil)


def bars_down(value: float) -> str:
    """Return a lower limit in open bars, rounded down."""
    return _directed(value, math.floor)


def bars_interval(estimate: Estimate) -> str:
    """Return "1.1 (0.9 to 1.3)"."""
    low, high = bars_down(estimate.low), bars_up(estimate.high)
    return say(words.INTERVAL, value=bars(estimate.value), low=low, high=high)


def significant(value: float, digits: int = 3) -> str:
    """Return ``value`` with so many significant digits and no exponent."""
    if value == 0.0 or not math.isfinite(value):
        return f"{value:.0f}"
    decimals = max(0, digits - 1 - math.floor(math.log10(abs(value))))
    return decimal(f"{value:.{decimals}f}")


def round_figure(value: float) -> str:
    """Return a value that is chosen, not measured, rounded to two digits: 880, 1300, 11000."""
    return significant(float(f"{value:.2g}"), 2)


def with_interval(estimate: Estimate, unit: str, factor: float = 1.0) -> str:
    """Return value and interval, the last digit that of the leading digit of the half width."""
    shown = estimate.scaled(factor)
    half_width = (shown.high - shown.low) / 2.0
    if half_width <= 0.0:
        return f"{significant(shown.value, 5)} {retell(unit)}".rstrip()
    decimals = max(0, min(6, -math.floor(math.log10(half_width))))
    value, low, high = (f"{each:.{decimals}f}" for each in (shown.value, shown.low, shown.high))
    return f"{say(words.INTERVAL, value=value, low=low, high=high)} {retell(unit)}".rstrip()


PREFIXES = (
    (1e12, "T"),
    (1e9, "G"),
    (1e6, "M"),
    (1e3, "k"),
    (1.0, ""),
    (1e-3, "m"),
    (1e-6, "\u00b5"),
    (1e-9, "n"),
    (1e-12, "p"),
)
"""Decimal prefixes of units that stand in the table of symbols."""
SYMBOLS = {"ohm": "\u03a9", "H": "H", "F": "F", "A": "A", "V": "V", "Hz": "Hz"}
"""Units that take a prefix, and how they are written."""


UNIT_WORDS = {"1": "", "1e-3": "\N{MULTIPLICATION SIGN} 10^-3"}
"""Units that have no name of their own."""


def measured(estimate: Estimate, unit: str) -> str:
    """Return value and interval in the unit whose prefix suits the value: "4.2 (4.0 to 4.4) GΩ"."""
    factor, written = _scale(estimate.value, unit)
    return with_interval(estimate, written, factor)


def plain(value: float, unit: str) -> str:
    """Return an exact value in the unit whose prefix suits it: "100 MΩ"."""
    factor, written = _scale(value, unit)
    return f"{decimal(f'{value * factor:g}')} {retell(written)}".rstrip()


def _scale(value: float, unit: str) -> tuple[float, str]:
    """Return the factor and the unit that bring a value between 1 and 1000."""
    unit = UNIT_WORDS.get(unit, unit)
    if unit == "megohm":
        factor, written = _scale(value * 1e6, "ohm")
        return factor * 1e6, written
    symbol = SYMBOLS.get(unit)
    if symbol is None or not math.isfinite(value) or value == 0.0:
        return 1.0, unit
    for size, prefix in PREFIXES:
        if abs(value) >= size:
            return 1.0 / size, f"{prefix}{symbol}"
    return 1.0, symbol


def plain_digits(value: float, unit: str) -> str:
    """Return an exact value in its unit as it is: "6600 V"."""
    return f"{decimal(f'{value:g}')} {unit}"


def power(watt: float) -> str:
    """Return a rated power: "250 kW", "5.5 kW", "0.37 kW"."""
    return f"{trimmed(significant(watt / 1e3))} kW"


def trimmed(digits: str) -> str:
    """Return a number without zeros that stand for nothing: 10.0 is 10."""
    sign = catalogue(current()).decimal_sign
    return digits.rstrip("0").rstrip(sign) if sign in digits else digits


def _decimals(value: float) -> int:
    """Return the decimals that show two digits between 0.01 and 10 bars."""
    if abs(value) < 0.995:
        return 2
    return 1 if abs(value) < 9.95 else 0


def _directed(value: float, rounded: Callable[[float], int]) -> str:
    """Return ``value`` rounded in one direction at its own precision.

    A millionth is forgiven, so that 0.3 stored as 0.30000000000000004 stays 0.30.
    """
    decimals = _decimals(value)
    slack = -1e-6 if rounded is math.ceil else 1e-6
    return decimal(f"{rounded(value * 10**decimals + slack) / 10**decimals:.{decimals}f}")


def sentence(text: str) -> str:
    """Return ``text`` with a capital and a full stop."""
    text = text.strip()
    if not text:
        return ""
    text = text[0].upper() + text[1:]
    return text if text.endswith((".", "!", "?")) else f"{text}."


def begins(text: str) -> str:
    """Return ``text`` with a capital, to head a line."""
    return text[:1].upper() + text[1:]


def continues(text: str) -> str:
    """Return a sentence as it stands after a colon: in English with a small letter."""
    return text[:1].lower() + text[1:] if current() == ENGLISH else text


def listed(names: Sequence[str], last: str = words.BOTH) -> str:
    """Return names as in a sentence: "4", "4 and 5", "4, 5 and 6".

    Parameters
    ----------
    names
        At least one.
    last
        Template that joins the last one to the others.
    """
    *first, final = names
    return say(last, first=", ".join(first), last=final) if first else final


def percent_of(digits: str) -> str:
    """Return a number that is written already with its sign of percent."""
    return say(words.PERCENT, value=digits)
