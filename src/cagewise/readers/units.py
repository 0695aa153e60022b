"""Units as files write them, and names that carry a unit."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace

from cagewise.measurement import Channel

_PREFIXES: Mapping[str, float] = {
    "": 1.0,
    "n": 1e-9,
    "u": 1e-6,
    "µ": 1e-6,
    "μ": 1e-6,
    "m": 1e-3,
    "k": 1e3,
    "K": 1e3,
    "M": 1e6,
}

_NAMES: Mapping[str, str] = {
    "a": "A",
    "amp": "A",
    "amps": "A",
    "ampere": "A",
    "amperes": "A",
    "v": "V",
    "volt": "V",
    "volts": "V",
}

_WORD_PREFIXES: Mapping[str, float] = {"milli": 1e-3, "micro": 1e-6, "kilo": 1e3, "mega": 1e6}

TIME_UNITS: Mapping[str, float] = {
    "s": 1.0,
    "sec": 1.0,
    "secs": 1.0,
    "second": 1.0,
    "seconds": 1.0,
    "sek": 1.0,
    "ms": 1e-3,
    "msec": 1e-3,
    "us": 1e-6,
    "µs": 1e-6,
    "μs": 1e-6,
    "usec": 1e-6,
    "ns": 1e-9,
    "min": 60.0,
    "h": 3600.0,
}
"""Unit of a time column, small letters -> seconds."""

_OTHER_UNITS = frozenset(
    (
        *("hz", "khz", "w", "kw", "mw", "va", "kva", "var", "kvar", "rpm", "1/min", "r/min"),
        *("min-1", "°c", "nm", "%", "mm/s", "m/s", "m/s2", "m/s^2", "m/s²", "g", "mm", "um"),
        *("bar", "ohm", "kohm", "-", "1", "none", "deg", "°", "rad", "pu", "p.u.", "counts"),
        "count",
    )
)
"""Further units that may stand alone in a units row."""

_BRACKETED = re.compile(r"^(?P<name>.*?)\s*[\[{(]\s*(?P<unit>[^\[\](){}]*?)\s*[\])}]\s*$")
_SLASHED = re.compile(r"^(?P<name>.+?)\s*/\s*(?P<unit>[^/\s]+(?:/[^/\s]+)?)$")
_PHASE_LETTERS = frozenset("ABC")

_SLASHED_PAIRS = frozenset(["A/B", "B/C", "R/S", "S/T", "V/W", "W/U"])
"""Line voltages written with a slash; ``U/V`` alone is a voltage in volts."""

_SPOKEN = re.compile(r"^(?P<name>.+?)\s+in\s+(?P<unit>\S+)$")


def si_unit(text: str) -> tuple[str, float]:
    """Return "A" or "V" and the factor to it, or the text itself and 1.0 for any other unit.

    Examples
    --------
    >>> si_unit("kV"), si_unit("mA"), si_unit("ampere"), si_unit("mm/s")
    (('V', 1000.0), ('A', 0.001), ('A', 1.0), ('mm/s', 1.0))
    """
    plain = text.strip().strip("[](){}").strip()
    if plain.casefold() in _NAMES:
        return _NAMES[plain.casefold()], 1.0
    if len(plain) == 2 and plain[1] in "AV" and plain[0] in _PREFIXES:
        return plain[1], _PREFIXES[plain[0]]
    for word, factor in _WORD_PREFIXES.items():
        rest = plain.casefold().removeprefix(word)
        if rest != plain.casefold() and len(rest) > 2 and rest in _NAMES:
            return _NAMES[rest], factor
    return plain, 1.0


def is_unit(text: str) -> bool:
    """Return whether the text is a unit and nothing else."""
    plain = text.strip().strip("[](){}").strip()
    known = plain.casefold() in TIME_UNITS or plain.casefold() in _OTHER_UNITS
    return known or si_unit(plain)[0] in ("A", "V")


def split_names(headings: Sequence[str]) -> list[tuple[str, str]]:
    """Return (name, unit) for column headings such as ``I1 [A]``, ``U12 (kV)``, ``I1/A``.

    Round brackets hold a unit only if it is one, and not where the headings use them for phases:
    ``Voltage (A)``, ``Voltage (B)``, ``Voltage (C)`` are three phases.
    """
    contents = {m["unit"] for h in headings if (m := _BRACKETED.match(h.strip()))}
    letters = len(contents & _PHASE_LETTERS) > 1
    pairs = not _SLASHED_PAIRS.isdisjoint(heading.strip() for heading in headings)
    return [_split(h.strip(), letters=letters, pairs=pairs) for h in headings]


def _split(heading: str, *, letters: bool, pairs: bool) -> tuple[str, str]:
    """Return the name and unit of one heading; brackets or slashes may be known to mean phases."""
    match = _BRACKETED.match(heading)
    if match and match["name"]:
        unit, square = match["unit"], "[" in heading
        if (square or is_unit(unit)) and not (letters and unit in _PHASE_LETTERS):
            return match["name"].rstrip(" _"), unit
    for pattern in () if pairs else (_SLASHED, _SPOKEN):
        match = pattern.match(heading)
        if match and is_unit(match["unit"]):
            return match["name"], match["unit"]
    return heading, ""


def unique_names(names: Sequence[str], *, what: str = "column") -> list[str]:
    """Return names without repeats: a blank becomes ``column 3``, a second ``I`` ``I #2``."""
    result: list[str] = []
    taken: set[str] = set()
    for number, name in enumerate(names, start=1):
        base = name.strip() or f"{what} {number}"
        candidate, repeat = base, 1
        while candidate in taken:
            repeat += 1
            candidate = f"{base} #{repeat}"
        taken.add(candidate)
        result.append(candidate)
    return result


def in_si(channel: Channel) -> Channel:
    """Return the channel with its unit, scale and offset in A or V, where it is one of these."""
    unit, factor = si_unit(channel.unit)
    if unit == channel.unit:
        return channel
    return replace(channel, unit=unit, scale=channel.scale * factor, offset=channel.offset * factor)
