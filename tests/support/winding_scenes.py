"""Motors and sheets for tests of winding and insulation readings; all data are invented."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

import numpy as np

from cagewise.indicators.reading import Reading
from cagewise.machine.motor import Motor, Winding
from cagewise.machine.nameplate import Nameplate
from cagewise.measurement import (
    InsulationResistanceTest,
    Provenance,
    TerminalPair,
    WindingResistance,
)
from cagewise.quantities import Estimate, RealArray

TODAY = date(2024, 5, 14)
BEFORE = date(2021, 3, 2)
INVENTED = Provenance(source="invented", format_name="test sheet")
LADDER_S = (15.0, 30.0, 60.0, 120.0, 300.0, 600.0)


def motor(
    winding: Winding | None = None,
    *,
    rated_voltage_v: float = 4160.0,
    thermal_class: str | None = "F",
    connection: str | None = "wye",
) -> Motor:
    plate = Nameplate(
        rated_power_w=500e3,
        rated_voltage_v=rated_voltage_v,
        rated_frequency_hz=60.0,
        rated_speed_rpm=1785.0,
        rated_current_a=500e3 / (1.5 * rated_voltage_v),
        poles=4,
        connection=connection,
        thermal_class=thermal_class,
    )
    known = Winding(construction="form", built_year=1998, insulation="thermosetting")
    return Motor(tag="P-1", nameplate=plate, winding=winding or known)


def resistances(lines_ohm: Iterable[float], degc: float | None = None) -> WindingResistance:
    pairs = dict(zip(TerminalPair, lines_ohm, strict=True))
    return WindingResistance(line_resistance_ohm=pairs, winding_temperature_degc=degc)


def curve(
    megohm: Iterable[float],
    times_s: Iterable[float] = LADDER_S,
    *,
    test_voltage_v: float = 2500.0,
    tested: str = "winding to earth",
) -> InsulationResistanceTest:
    return InsulationResistanceTest(
        test_voltage_v=test_voltage_v,
        time_s=np.array(list(times_s)),
        resistance_ohm=1e6 * np.array(list(megohm)),
        tested=tested,
    )


def by_name(readings: Iterable[Reading]) -> dict[str, Reading]:
    return {reading.name: reading for reading in readings}


def value_of(reading: Reading) -> Estimate:
    assert reading.valid, reading.reason
    assert not reading.reason
    assert reading.value is not None
    return reading.value


def says(reading: Reading, words: str) -> bool:
    return any(words in caveat for caveat in reading.caveats)


def absorbing(
    voltage_v: RealArray,
    *,
    square: float = 0.0,
    absorption: float = 0.0,
    exponent: float = 1.0,
    knee: tuple[float, float] | None = None,
) -> RealArray:
    """Return step-test currents (A): 1 nS leak, and parts relative to it at the last voltage.

    ``knee`` is its voltage and the added conductance over the leak.
    """
    full = voltage_v[-1]
    leak = voltage_v + square * voltage_v**2 / full
    steps = np.diff(voltage_v, prepend=0.0)
    kernel = np.arange(1.0, voltage_v.size + 1.0) ** -exponent
    current = leak + absorption * np.convolve(steps, kernel)[: voltage_v.size]
    if knee is not None:
        current = current + knee[1] * np.maximum(voltage_v - knee[0], 0.0)
    return np.asarray(1e-9 * current)
