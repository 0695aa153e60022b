"""Quantities in the units of the moment: metric, or US customary.

Inside the program everything is in SI units (temperatures in degrees Celsius); a paper is written
in one system of units or the other. Conversion factors are those of NIST Special Publication 811
(2008), Appendix B.8, written from the exact definitions behind them (from memory).

A horsepower is the mechanical one, 550 ft lbf/s = 745.6999 W: what a nameplate rates is the power
at the shaft, and motor files in horsepower are read with it, so that 100 hp stay 100 hp. The
electrical horsepower of 746 W is used nowhere; at three digits the two are the same number. Power
that flows into a motor stays in kilowatts, and a speed in r/min, as nameplates of both worlds have
them. Volt, ampere, ohm, hertz and second have no other system.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from enum import StrEnum

from cagewise.errors import UsageError
from cagewise.quantities import WATT_PER_HORSEPOWER, Estimate
from cagewise.report import numbers
from cagewise.report.language import decimal

INCH_M = 0.0254
"""Exact."""
FOOT_M = 12.0 * INCH_M
POUND_KG = 0.45359237
"""Avoirdupois, exact."""
GRAVITY_M_S2 = 9.80665
"""Standard acceleration of free fall, exact."""
POUND_FORCE_N = POUND_KG * GRAVITY_M_S2


class System(StrEnum):
    """Systems of units."""

    METRIC = "metric"
    US = "us"


class Quantity(StrEnum):
    """Kinds of quantities whose unit depends on the system."""

    SHAFT_POWER = "shaft power"
    """Rated or given off at the shaft, W."""
    TEMPERATURE = "temperature"
    """Degrees Celsius."""
    TEMPERATURE_DIFFERENCE = "temperature difference"
    """K."""
    TORQUE = "torque"
    """N m."""
    INERTIA = "inertia"
    """Kg m2."""
    MASS = "mass"
    """Kg."""
    LENGTH = "length"
    """Of shafts, cores and distances, m."""
    SMALL_LENGTH = "small length"
    """Of fits, run-out, air gaps and vibration displacement, m."""
    FORCE = "force"
    """N."""
    ACCELERATION = "acceleration"
    """Of vibration, m/s2."""
    VIBRATION_VELOCITY = "vibration velocity"
    """M/s."""


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit and what it is worth."""

    symbol: str
    size: float
    """One of it in the unit of the quantity."""
    zero: float = 0.0
    """Its zero in the unit of the quantity."""

    def of(self, value: float) -> float:
        """Return a value of the quantity in this unit."""
        return (value - self.zero) / self.size


_DEGREE = "\N{DEGREE SIGN}"
_METRIC: Mapping[Quantity, Unit] = {
    Quantity.SHAFT_POWER: Unit("kW", 1e3),
    Quantity.TEMPERATURE: Unit(f"{_DEGREE}C", 1.0),
    Quantity.TEMPERATURE_DIFFERENCE: Unit("K", 1.0),
    Quantity.TORQUE: Unit("N m", 1.0),
    Quantity.INERTIA: Unit("kg m\N{SUPERSCRIPT TWO}", 1.0),
    Quantity.MASS: Unit("kg", 1.0),
    Quantity.LENGTH: Unit("mm", 1e-3),
    Quantity.SMALL_LENGTH: Unit("mm", 1e-3),
    Quantity.FORCE: Unit("N", 1.0),
    Quantity.ACCELERATION: Unit("m/s\N{SUPERSCRIPT TWO}", 1.0),
    Quantity.VIBRATION_VELOCITY: Unit("mm/s", 1e-3),
}
_US: Mapping[Quantity, Unit] = {
    Quantity.SHAFT_POWER: Unit("hp", WATT_PER_HORSEPOWER),
    Quantity.TEMPERATURE: Unit(f"{_DEGREE}F", 5.0 / 9.0, -32.0 * 5.0 / 9.0),
    Quantity.TEMPERATURE_DIFFERENCE: Unit(f"{_DEGREE}F", 5.0 / 9.0),
    Quantity.TORQUE: Unit("lbf ft", POUND_FORCE_N * FOOT_M),
    Quantity.INERTIA: Unit("lb ft\N{SUPERSCRIPT TWO}", POUND_KG * FOOT_M**2),
    Quantity.MASS: Unit("lb", POUND_KG),
    Quantity.LENGTH: Unit("in", INCH_M),
    Quantity.SMALL_LENGTH: Unit("mil", 1e-3 * INCH_M),
    Quantity.FORCE: Unit("lbf", POUND_FORCE_N),
    Quantity.ACCELERATION: Unit("g", GRAVITY_M_S2),
    Quantity.VIBRATION_VELOCITY: Unit("in/s", INCH_M),
}
UNITS: Mapping[System, Mapping[Quantity, Unit]] = {System.METRIC: _METRIC, System.US: _US}

_system: ContextVar[System] = ContextVar("system", default=System.METRIC)


def current_system() -> System:
    """Return the system of units of the moment."""
    return _system.get()


@contextmanager
def measuring(system: str) -> Iterator[None]:
    """Measure in a system of units: ``"metric"`` or ``"us"``.

    Raises
    ------
    UsageError
        If there is no such system.
    """
    known = [each.value for each in System]
    if system not in known:
        remedy = f"Use one of: {', '.join(known)}."
        raise UsageError(f"there is no system of units {system!r}", remedy=remedy)
    before = _system.set(System(system))
    try:
        yield
    finally:
        _system.reset(before)


def unit_of(quantity: Quantity) -> Unit:
    """Return the unit of the moment of a quantity."""
    return UNITS[_system.get()][quantity]


def measure(value: float, quantity: Quantity, digits: int = 3) -> str:
    """Return a value of a quantity with its unit, to so many significant digits: "335 hp"."""
    unit = unit_of(quantity)
    return f"{amount(value, quantity, digits)} {unit.symbol}"


def amount(value: float, quantity: Quantity, digits: int = 3) -> str:
    """Return a value of a quantity in the unit of the moment, without it."""
    return numbers.trimmed(numbers.significant(unit_of(quantity).of(value), digits))


def measured(estimate: Estimate, quantity: Quantity) -> str:
    """Return a value with its interval and unit, as many digits as the interval allows."""
    unit = unit_of(quantity)
    shown = Estimate(*(unit.of(end) for end in (estimate.value, estimate.low, estimate.high)))
    return numbers.with_interval(shown, unit.symbol)


def shaft_power(power_w: float) -> str:
    """Return a rated power: "250 kW", "5.5 kW"; "335 hp"."""
    return measure(power_w, Quantity.SHAFT_POWER)


def temperature(temperature_degc: float, decimals: int = 0) -> str:
    """Return a temperature with so many decimals: "40 °C"; "104 °F"."""
    unit = unit_of(Quantity.TEMPERATURE)
    return f"{decimal(f'{unit.of(temperature_degc):.{decimals}f}')} {unit.symbol}"
