"""One table of a form to one test of the sheet; what was not measured is left out."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

import numpy as np

from cagewise.machine.crosscheck import Fault
from cagewise.measurement.test_sheet import (
    DissipationTest,
    InsulationResistanceTest,
    PositionSeries,
    StepVoltageTest,
    TerminalPair,
    TurnTest,
    WindingResistance,
)
from cagewise.quantities import RealArray
from cagewise.readers.test_sheet.series import Series, gather, require_ascending, require_uniform
from cagewise.readers.test_sheet.sheet_schema import FORMAT
from cagewise.readers.test_sheet.table_values import Key, TableValues

WINDING_TO_EARTH = "winding to earth"
"""What was tested, where nothing else is stated."""

_TIME: Key = ("time", None)
_VOLTAGE: Key = ("voltage", None)
_CURRENT: Key = ("current", None)
_RESISTANCE: Key = ("resistance", None)


@dataclass(slots=True)
class Parts:
    """What has been built so far."""

    head: TableValues | None = None
    conditions: TableValues | None = None
    resistance: WindingResistance | None = None
    positions: list[PositionSeries] = field(default_factory=list)
    insulation: list[InsulationResistanceTest] = field(default_factory=list)
    steps: list[StepVoltageTest] = field(default_factory=list)
    dissipation: list[DissipationTest] = field(default_factory=list)
    turns: TurnTest | None = None
    truth: dict[str, float] = field(default_factory=dict)


def _head(values: TableValues, parts: Parts, faults: list[Fault]) -> bool:
    """Keep the head of the sheet."""
    parts.head = values
    version = values.fields.get(("format", None))
    if version is None:
        remedy = f"Write format = {FORMAT}, or start from a template."
        faults.append(Fault(values.table.where("format"), "is missing", remedy))
    elif isinstance(version, float) and not math.isnan(version) and version != FORMAT:
        remedy = f"Write {FORMAT}: there is no other version yet."
        faults.append(Fault(values.table.where("format"), f"is {version:g}", remedy))
    for name, remedy in (
        ("motor", "Write the tag of the motor, as in its motor file."),
        ("measured_on", "Write the date, as in 2031-05-17."),
        ("measured_at", "Write motor terminals or switchboard: is the cable part of it?"),
    ):
        if (name, None) not in values.headings:
            faults.append(Fault(values.table.where(name), "is missing", remedy))
    return True


def _conditions(values: TableValues, parts: Parts, _: list[Fault]) -> bool:
    """Keep the conditions."""
    parts.conditions = values
    return True


def _winding_resistance(values: TableValues, parts: Parts, _: list[Fault]) -> bool:
    """Build the winding resistances."""
    by_pair = {
        pair: value
        for (name, pair), value in values.fields.items()
        if name == "resistance" and pair is not None and isinstance(value, float)
    }
    if by_pair:
        parts.resistance = WindingResistance(
            line_resistance_ohm=MappingProxyType(by_pair),
            winding_temperature_degc=values.number("winding_temperature"),
        )
    return bool(by_pair)


_AT_POSITION = ("resistance", "inductance", "impedance", "voltage", "current")


def _positions(values: TableValues, parts: Parts, faults: list[Fault]) -> bool:
    """Build one series per pair of terminals of a table of positions."""
    pairs = list(dict.fromkeys(pair for _, pair in values.columns if pair is not None))
    if not pairs:
        return False
    frequency_hz = _required(values, "frequency", faults)
    for pair in pairs:
        group: list[Key] = [(name, pair) for name in _AT_POSITION]
        series = gather(values, ("shaft_angle", None), group, faults)
        if series is not None and frequency_hz is not None:
            built = _position_series(values, pair, series, frequency_hz, faults)
            parts.positions += [] if built is None else [built]
    return True


def _position_series(
    values: TableValues,
    pair: TerminalPair,
    series: Series,
    frequency_hz: float,
    faults: list[Fault],
) -> PositionSeries | None:
    """Build the series of one pair of terminals, None where only half of a quotient was read."""
    impedance_ohm = _impedance(values, pair, series, faults)
    resistance_ohm = series.readings.get(("resistance", pair))
    inductance_h = series.readings.get(("inductance", pair))
    if resistance_ohm is None and inductance_h is None and impedance_ohm is None:
        return None
    return PositionSeries(
        pair=pair,
        frequency_hz=frequency_hz,
        shaft_angle_rad=series.index,
        resistance_ohm=resistance_ohm,
        inductance_h=inductance_h,
        impedance_ohm=impedance_ohm,
        test_current_rms_a=values.number("test_current"),
        winding_temperature_degc=values.number("winding_temperature"),
    )


def _impedance(
    values: TableValues, pair: TerminalPair, series: Series, faults: list[Fault]
) -> RealArray | None:
    """Return the impedance as read, or as the ratio of voltage and current."""
    impedance = series.readings.get(("impedance", pair))
    voltage = series.readings.get(("voltage", pair))
    current = series.readings.get(("current", pair))
    if voltage is None and current is None:
        return impedance
    if voltage is None or current is None:
        missing = "voltage" if voltage is None else "current"
        there = values.headings["current" if voltage is None else "voltage", pair]
        remedy = "The impedance is their ratio: fill in both."
        faults.append(Fault(values.where((missing, pair)), f"is missing beside {there}", remedy))
        return None
    if impedance is not None:
        remedy = "Keep the impedance, or voltage and current."
        faults.append(Fault(values.where(("impedance", pair)), "is stated twice", remedy))
        return None
    return np.asarray(voltage / current)


def _required(values: TableValues, name: str, faults: list[Fault]) -> float | None:
    """Return a field that readings need, adding a fault where it is blank."""
    number = values.number(name)
    if number is None:
        faults.append(Fault(values.where((name, None)), "is missing beside the readings"))
    return number


def _insulation(values: TableValues, parts: Parts, faults: list[Fault]) -> bool:
    """Build one test of insulation resistance."""
    if _RESISTANCE not in values.columns:
        return False
    voltage_v = _required(values, "test_voltage", faults)
    series = gather(values, _TIME, [_RESISTANCE], faults)
    if series is not None and voltage_v is not None:
        require_ascending(values, _TIME, series, faults)
        parts.insulation.append(
            InsulationResistanceTest(
                test_voltage_v=voltage_v,
                time_s=series.index,
                resistance_ohm=series.readings[_RESISTANCE],
                tested=_tested(values),
                winding_temperature_degc=values.number("winding_temperature"),
            )
        )
    return True


def _tested(values: TableValues) -> str:
    """Return what was between the leads."""
    return values.text("tested") or WINDING_TO_EARTH


def _steps(values: TableValues, parts: Parts, faults: list[Fault]) -> bool:
    """Build one step-voltage test."""
    if _CURRENT not in values.columns:
        return False
    series = gather(values, _VOLTAGE, [_CURRENT], faults)
    if series is not None:
        require_ascending(values, _VOLTAGE, series, faults)
        parts.steps.append(
            StepVoltageTest(
                voltage_v=series.index,
                current_a=series.readings[_CURRENT],
                step_s=values.number("step"),
                tested=_tested(values),
            )
        )
    return True


def _dissipation(values: TableValues, parts: Parts, faults: list[Fault]) -> bool:
    """Build one test of the dissipation factor."""
    factor: Key = ("dissipation_factor", None)
    capacitance: Key = ("capacitance", None)
    if not {factor, capacitance} & set(values.columns):
        return False
    series = gather(values, _VOLTAGE, [factor, capacitance], faults)
    if series is not None:
        require_ascending(values, _VOLTAGE, series, faults)
        parts.dissipation.append(
            DissipationTest(
                voltage_rms_v=series.index,
                dissipation_factor=series.readings.get(factor),
                capacitance_f=series.readings.get(capacitance),
                frequency_hz=values.number("frequency"),
                tested=_tested(values),
            )
        )
    return True


def _turns(values: TableValues, parts: Parts, faults: list[Fault]) -> bool:
    """Build the comparison of waveforms."""
    keys = [key for key in values.columns if key[1] is not None]
    if not keys:
        return False
    series = gather(values, _TIME, keys, faults)
    if series is None:
        return True
    require_uniform(values, _TIME, series, faults)
    if len(keys) < 2:
        remedy = "Waveforms are compared with each other: fill in another pair of terminals."
        faults.append(Fault(values.where(keys[0]), "stands alone", remedy))
    parts.turns = TurnTest(
        time_s=series.index,
        voltage_v=MappingProxyType(
            {pair: series.readings[name, pair] for name, pair in keys if pair is not None}
        ),
        peak_voltage_v=values.number("peak_voltage"),
    )
    return True


Builder = Callable[[TableValues, Parts, list[Fault]], bool]
BUILDERS: Mapping[str, Builder] = {
    "sheet": _head,
    "conditions": _conditions,
    "winding_resistance": _winding_resistance,
    "position": _positions,
    "insulation_resistance": _insulation,
    "step_voltage": _steps,
    "dissipation": _dissipation,
    "turn_test": _turns,
}
"""Kind of table to what builds it; each says whether there were readings."""
