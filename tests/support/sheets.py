"""Test sheets for the tests of their forms: equality with arrays inside, and random ones."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from datetime import date
from types import MappingProxyType

import numpy as np
from hypothesis import strategies as st

from cagewise.measurement.recording import Provenance
from cagewise.measurement.test_sheet import (
    DissipationTest,
    InsulationResistanceTest,
    Place,
    PositionSeries,
    StepVoltageTest,
    TerminalPair,
    TestSheet,
    TurnTest,
    WindingResistance,
)
from cagewise.quantities import RealArray

NOWHERE = Provenance(source="made for a test", format_name="none")


def plain(value: object) -> object:
    """Return nested tuples and floats that compare as one expects; provenance left out."""
    if is_dataclass(value) and not isinstance(value, type):
        said = {f.name: getattr(value, f.name) for f in fields(value)}
        return {name: plain(v) for name, v in said.items() if not isinstance(v, Provenance)}
    if isinstance(value, np.ndarray):
        return [plain(float(v)) for v in value]
    if isinstance(value, Mapping):
        return [(key, plain(v)) for key, v in value.items()]
    if isinstance(value, tuple):
        return [plain(v) for v in value]
    return repr(value + 0.0) if isinstance(value, float) else value  # a workbook has no -0.0


def array(values: list[float]) -> RealArray:
    """Return a list as an array."""
    return np.array(values, dtype=np.float64)


def within(low: float, high: float) -> st.SearchStrategy[float]:
    """Return any double between two figures: people write few digits, programs write seventeen."""
    few = st.floats(low, high).map(lambda v: float(f"{v:.4g}")).filter(lambda v: low <= v <= high)
    return st.floats(low, high) | few


TEXTS = st.text(
    st.characters(codec="utf-8", exclude_categories=["C", "Z"]) | st.sampled_from(" \n;,\"'=#[]"),
    max_size=20,
).map(str.strip).filter(lambda t: all(c.isprintable() or c == "\n" for c in t))  # fmt: skip
NAMES = TEXTS.filter(bool)
TEMPERATURES = st.none() | within(-60.0, 250.0)
PAIRS = st.lists(st.sampled_from(TerminalPair), unique=True)


def ascending(low: float, high: float) -> st.SearchStrategy[RealArray]:
    """Return figures that increase."""
    return st.lists(within(low, high), min_size=1, max_size=6, unique=True).map(sorted).map(array)


@st.composite
def position_series(draw: st.DrawFn) -> PositionSeries:
    """Return readings of one pair of terminals against the angle."""
    angles = draw(st.lists(within(-30.0, 30.0), min_size=1, max_size=5).map(array))

    def readings(low: float, high: float) -> RealArray:
        return array(draw(st.lists(within(low, high), min_size=angles.size, max_size=angles.size)))

    there = draw(st.lists(st.booleans(), min_size=3, max_size=3).filter(any))
    return PositionSeries(
        pair=draw(st.sampled_from(TerminalPair)),
        frequency_hz=draw(within(0.1, 1e5)),
        shaft_angle_rad=angles,
        resistance_ohm=readings(1e-6, 1e5) if there[0] else None,
        inductance_h=readings(1e-6, 100.0) if there[1] else None,
        impedance_ohm=readings(1e-6, 1e6) if there[2] else None,
        test_current_rms_a=draw(st.none() | within(1e-6, 1e5)),
        winding_temperature_degc=draw(TEMPERATURES),
    )


@st.composite
def insulation_tests(draw: st.DrawFn) -> InsulationResistanceTest:
    """Return insulation resistance against time."""
    times = draw(ascending(1e-3, 1e6))
    sized = st.lists(within(1.0, 1e14), min_size=times.size, max_size=times.size)
    return InsulationResistanceTest(
        test_voltage_v=draw(within(10.0, 1e5)),
        time_s=times,
        resistance_ohm=array(draw(sized)),
        tested=draw(NAMES),
        winding_temperature_degc=draw(TEMPERATURES),
    )


@st.composite
def step_tests(draw: st.DrawFn) -> StepVoltageTest:
    """Return current against stepped voltage."""
    volts = draw(ascending(1.0, 1e6))
    sized = st.lists(within(0.0, 10.0), min_size=volts.size, max_size=volts.size)
    return StepVoltageTest(
        voltage_v=volts,
        current_a=array(draw(sized)),
        step_s=draw(st.none() | within(1e-2, 1e5)),
        tested=draw(NAMES),
    )


@st.composite
def dissipation_tests(draw: st.DrawFn) -> DissipationTest:
    """Return dissipation factor, capacitance or both against voltage."""
    volts = draw(ascending(1.0, 1e6))
    n = volts.size
    which = draw(st.sampled_from(("factor", "capacitance", "both")))
    factor = array(draw(st.lists(within(0.0, 2.0), min_size=n, max_size=n)))
    farads = array(draw(st.lists(within(1e-12, 1e-3), min_size=n, max_size=n)))
    return DissipationTest(
        voltage_rms_v=volts,
        dissipation_factor=None if which == "capacitance" else factor,
        capacitance_f=None if which == "factor" else farads,
        frequency_hz=draw(st.none() | within(0.1, 1e5)),
        tested=draw(NAMES),
    )


@st.composite
def turn_tests(draw: st.DrawFn) -> TurnTest:
    """Return waveforms of two or three pairs of terminals."""
    n = draw(st.integers(2, 6))
    step = draw(st.sampled_from((1e-8, 2e-7, 1e-6, 0.001)))
    pairs = draw(PAIRS.filter(lambda p: len(p) > 1))
    sized = st.lists(within(-1e6, 1e6), min_size=n, max_size=n)
    return TurnTest(
        time_s=array([step * k for k in range(n)]),
        voltage_v=MappingProxyType({pair: array(draw(sized)) for pair in pairs}),
        peak_voltage_v=draw(st.none() | within(1.0, 1e6)),
    )


@st.composite
def resistances(draw: st.DrawFn) -> WindingResistance:
    """Return winding resistances of one to three pairs."""
    pairs = draw(PAIRS.filter(bool))
    return WindingResistance(
        line_resistance_ohm=MappingProxyType({p: draw(within(1e-6, 1e3)) for p in pairs}),
        winding_temperature_degc=draw(TEMPERATURES),
    )


@st.composite
def sheets(draw: st.DrawFn) -> TestSheet:
    """Return any sheet that can be written."""
    truth = st.dictionaries(st.from_regex(r"[a-z][a-z_]{0,9}", fullmatch=True), within(-1e9, 1e9))
    return TestSheet(
        motor_tag=draw(NAMES),
        measured_on=draw(st.dates(date(1950, 1, 1), date(2099, 12, 31))),
        provenance=NOWHERE,
        place=draw(st.sampled_from(Place)),
        winding_temperature_degc=draw(TEMPERATURES),
        ambient_temperature_degc=draw(TEMPERATURES),
        relative_humidity=draw(st.none() | within(0.0, 1.0)),
        rotor_demagnetised=draw(st.none() | st.booleans()),
        resistance=draw(st.none() | resistances()),
        positions=tuple(draw(st.lists(position_series(), max_size=3))),
        insulation=tuple(draw(st.lists(insulation_tests(), max_size=2))),
        steps=tuple(draw(st.lists(step_tests(), max_size=2))),
        dissipation=tuple(draw(st.lists(dissipation_tests(), max_size=2))),
        turns=draw(st.none() | turn_tests()),
        remark=draw(TEXTS),
        truth=MappingProxyType(draw(truth)),
    )


def small_sheet() -> TestSheet:
    """Return a sheet with next to nothing on it."""
    return TestSheet(motor_tag="P-07", measured_on=date(2031, 5, 17), provenance=NOWHERE)
