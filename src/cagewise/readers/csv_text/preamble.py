"""Sampling rates that stand in words above a text table."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence

from cagewise.readers.units import TIME_UNITS

_RATE_WORDS = (
    r"(?:sampl(?:e|ing)[ _-]*(?:rate|freq\w*)|scan[ _-]*rate|abtastrate|abtastfrequenz"
    r"|fr[ée]quence[ _]d[' _]?[ée]chantillonnage|frecuencia[ _]de[ _]muestreo"
    r"|taxa[ _]de[ _]amostragem|frequ[êe]ncia[ _]de[ _]amostragem|samplingsfrekvens|\bfs)"
)
_INTERVAL_WORDS = (
    r"(?:sampl(?:e|ing)[ _-]*(?:interval|period|time)|(?:time[ _-]*)?increment|abtastintervall"
    r"|abtastzeit|\bdelta[ _-]?t|\bdt|\bts)"
)
_FIGURE = (
    r"(?P<trailing>[^0-9+\-]{0,20}?)(?P<value>\d+(?:[.,]\d+)?(?:[eE][+-]?\d+)?)"
    r"\s*[;,\t]?\s*[\[(]?(?P<unit>[A-Za-zµ/]*)"
)
_RATE = re.compile(_RATE_WORDS + _FIGURE, re.IGNORECASE)
_INTERVAL = re.compile(_INTERVAL_WORDS + _FIGURE, re.IGNORECASE)

_RATE_UNITS = {"": 1.0, "hz": 1.0, "khz": 1e3, "mhz": 1e6, "s/s": 1.0, "sps": 1.0, "ks/s": 1e3}
_UNIT_BEFORE = re.compile(r"[\[(](?P<unit>[A-Za-zµ/]+)[\])]")


def stated_rate(preamble: Sequence[str]) -> tuple[float, str] | None:
    """Return the sampling rate in Hz that the lines state and the line, or None.

    Nothing is returned when two lines disagree.
    """
    found: dict[float, str] = {}
    for line in preamble:
        rate = _rate_in(line)
        if rate is not None and not any(math.isclose(rate, other, rel_tol=1e-6) for other in found):
            found[rate] = line.strip()
    return next(iter(found.items())) if len(found) == 1 else None


def _rate_in(line: str) -> float | None:
    """Return the sampling rate that one line states."""
    match = _RATE.search(line)
    if match:
        factor = _RATE_UNITS.get(_unit(match))
        return None if factor is None else _positive(_value(match) * factor)
    match = _INTERVAL.search(line)
    if match:
        seconds = TIME_UNITS.get(_unit(match) or "s")
        value = _value(match)
        return None if seconds is None or value == 0.0 else _positive(1.0 / (value * seconds))
    return None


def _unit(match: re.Match[str]) -> str:
    """Return the unit beside the figure: after it, or in brackets before it."""
    before = _UNIT_BEFORE.search(match["trailing"])
    return (match["unit"] or (before["unit"] if before else "")).casefold()


def _value(match: re.Match[str]) -> float:
    """Return the figure."""
    return float(match["value"].replace(",", "."))


def _positive(rate: float) -> float | None:
    """Return the rate if it can be one."""
    return rate if math.isfinite(rate) and rate > 0.0 else None
