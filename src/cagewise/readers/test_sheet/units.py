"""Units in the headings of a test sheet, and exact conversion to SI and back.

Readings are decimal figures: they are scaled as decimals, so that ``12.3`` milliohm is the very
number ``0.0123`` and writing it again gives ``12.3``.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

FREEZING_POINT_DEGF = Decimal(32)
FAHRENHEIT_PER_KELVIN = Decimal("1.8")
MOST_DIGITS_OF_AN_ANGLE = 12
"""Decimal places to which an angle in degrees is tried before it is written in full."""


@dataclass(frozen=True, slots=True)
class Unit:
    """One unit as the end of a heading."""

    suffix: str
    """As written: ``inductance_mh`` ends in ``mh``."""
    to_si: Callable[[Decimal], float]
    from_si: Callable[[float], float]


def _scaled(suffix: str, scale: str) -> Unit:
    """Return a unit that is a decimal multiple of the SI unit."""
    factor = Decimal(scale)
    return Unit(
        suffix,
        to_si=lambda figure: float(figure * factor),
        from_si=lambda value: float(Decimal(repr(value)) / factor),
    )


def _degrees(angle_rad: float) -> float:
    """Return the shortest figure in degrees that reads back as this angle, if there is one."""
    exact = math.degrees(angle_rad)
    for digits in range(MOST_DIGITS_OF_AN_ANGLE):
        short = round(exact, digits)
        if math.radians(short) == angle_rad:
            return short
    return exact


_BASE = "1"
UNITS: Mapping[str, Mapping[str, Unit]] = {
    dimension: {unit.suffix: unit for unit in units}
    for dimension, units in {
        "resistance": (
            _scaled("ohm", _BASE),
            _scaled("microohm", "1e-6"),
            _scaled("milliohm", "1e-3"),
            _scaled("kiloohm", "1e3"),
            _scaled("megaohm", "1e6"),
            _scaled("gigaohm", "1e9"),
            _scaled("teraohm", "1e12"),
        ),
        "inductance": (_scaled("h", _BASE), _scaled("mh", "1e-3"), _scaled("uh", "1e-6")),
        "capacitance": (
            _scaled("f", _BASE),
            _scaled("uf", "1e-6"),
            _scaled("nf", "1e-9"),
            _scaled("pf", "1e-12"),
        ),
        "current": (
            _scaled("a", _BASE),
            _scaled("ma", "1e-3"),
            _scaled("ua", "1e-6"),
            _scaled("na", "1e-9"),
        ),
        "voltage": (_scaled("v", _BASE), _scaled("kv", "1e3")),
        "time": (
            _scaled("s", _BASE),
            _scaled("min", "60"),
            _scaled("ms", "1e-3"),
            _scaled("us", "1e-6"),
        ),
        "frequency": (_scaled("hz", _BASE), _scaled("khz", "1e3")),
        "angle": (
            Unit("rad", to_si=float, from_si=float),
            Unit("deg", to_si=lambda figure: math.radians(float(figure)), from_si=_degrees),
        ),
        "ratio": (_scaled("per_unit", _BASE), _scaled("percent", "1e-2")),
        "temperature": (
            _scaled("degc", _BASE),
            Unit(
                "degf",
                to_si=lambda figure: float((figure - FREEZING_POINT_DEGF) / FAHRENHEIT_PER_KELVIN),
                from_si=lambda value: float(
                    Decimal(repr(value)) * FAHRENHEIT_PER_KELVIN + FREEZING_POINT_DEGF
                ),
            ),
        ),
    }.items()
}
"""Dimension to its units by suffix; the first of each is the one values are kept in."""

AMBIGUOUS: Mapping[str, tuple[str, ...]] = {"mohm": ("milliohm", "megaohm")}
"""Suffixes that two trades read in two ways, and what each may mean."""

SYMBOL: Mapping[str, str] = {
    "resistance": "ohm",
    "inductance": "H",
    "capacitance": "F",
    "current": "A",
    "voltage": "V",
    "time": "s",
    "frequency": "Hz",
    "angle": "rad",
    "ratio": "per unit",
    "temperature": "degC",
}
"""Symbol of the unit in which values of a dimension are kept."""


def base_unit(dimension: str) -> Unit:
    """Return the unit in which values of a dimension are kept."""
    return next(iter(UNITS[dimension].values()))


def reads_back(unit: Unit, value: float) -> bool:
    """Return whether a value written in this unit reads back as the very same number."""
    return unit.to_si(Decimal(repr(unit.from_si(value)))) == value


def unit_for(dimension: str, values: Iterable[float], preferred: Sequence[str]) -> Unit:
    """Return the first preferred unit in which all values read back exactly, else the base unit."""
    values = tuple(values)
    for suffix in preferred:
        unit = UNITS[dimension][suffix]
        if all(reads_back(unit, value) for value in values):
            return unit
    return base_unit(dimension)
