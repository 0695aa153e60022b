"""A :class:`TestSheet` to the tables of a form, in units in which every reading reads back."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date

from cagewise.errors import SheetError
from cagewise.measurement.test_sheet import (
    DissipationTest,
    InsulationResistanceTest,
    PositionSeries,
    StepVoltageTest,
    TerminalPair,
    TestSheet,
    TurnTest,
)
from cagewise.quantities import RealArray
from cagewise.readers.test_sheet.form import Entry, Form, Table, column_entry, field_entry
from cagewise.readers.test_sheet.sheet_schema import FORMAT, TABLES
from cagewise.readers.test_sheet.units import unit_for

_Columns = dict[tuple[str, TerminalPair | None], RealArray | None]


def form_of(sheet: TestSheet) -> Form:
    """Return the form that reads back as this sheet, apart from its provenance.

    Raises
    ------
    SheetError
        If a text in it cannot be written in all forms.
    """
    tables = [_head(sheet), _conditions(sheet), _winding_resistance(sheet)]
    tables += [_positions(group) for group in _side_by_side(sheet.positions)]
    tables += [_insulation(test) for test in sheet.insulation]
    tables += [_steps(test) for test in sheet.steps]
    tables += [_dissipation(test) for test in sheet.dissipation]
    tables += [] if sheet.turns is None else [_turns(sheet.turns)]
    truth = [field_entry(name, float(value)) for name, value in sheet.truth.items()]
    tables.append(Table("truth", "", fields=truth))
    return Form([table for table in tables if table.fields or table.columns])


def _text(name: str, value: str) -> str:
    """Return a text that all forms can hold."""
    if value != value.strip() or not all(c.isprintable() or c in "\n\t" for c in value):
        raise SheetError(
            f"{value[:60]!r} has control characters, or blanks at its ends",
            where=name,
            remedy="Use plain text.",
        )
    return value


def _number(table: str, name: str, value: float | None) -> list[Entry]:
    """Return the entry of a number, none where there is none."""
    if value is None:
        return []
    quantity = TABLES[table].quantity(name)
    unit = unit_for(quantity.dimension, [value], quantity.preferred)
    return [field_entry(f"{name}_{unit.suffix}", unit.from_si(float(value)))]


def _columns(table: str, columns: _Columns) -> list[Entry]:
    """Return the entries of columns; one quantity has one unit for all terminals."""
    entries = []
    for (name, pair), values in columns.items():
        if values is None:
            continue
        alike = [v for (other, _), v in columns.items() if other == name and v is not None]
        quantity = TABLES[table].quantity(name)
        every = (float(value) for array in alike for value in array)
        unit = unit_for(quantity.dimension, every, quantity.preferred)
        heading = f"{name}_{unit.suffix}" if pair is None else f"{pair}_{name}_{unit.suffix}"
        entries.append(column_entry(heading, [unit.from_si(float(value)) for value in values]))
    return entries


def _head(sheet: TestSheet) -> Table:
    """Return the head of the sheet."""
    measured_on: date = sheet.measured_on
    fields = [
        field_entry("format", FORMAT),
        field_entry("motor", _text("motor", sheet.motor_tag)),
        field_entry("measured_on", measured_on),
        field_entry("measured_at", sheet.place.value),
    ]
    if sheet.remark:
        fields.append(field_entry("remark", _text("remark", sheet.remark)))
    return Table("sheet", "", fields=fields)


def _conditions(sheet: TestSheet) -> Table:
    """Return the conditions that are known."""
    fields = [
        *_number("conditions", "winding_temperature", sheet.winding_temperature_degc),
        *_number("conditions", "ambient_temperature", sheet.ambient_temperature_degc),
        *_number("conditions", "relative_humidity", sheet.relative_humidity),
    ]
    if sheet.rotor_demagnetised is not None:
        fields.append(field_entry("rotor_demagnetised", sheet.rotor_demagnetised))
    return Table("conditions", "", fields=fields)


def _winding_resistance(sheet: TestSheet) -> Table:
    """Return the winding resistances."""
    table = Table("winding_resistance", "")
    test = sheet.resistance
    if test is None:
        return table
    table.fields += _number(
        "winding_resistance", "winding_temperature", test.winding_temperature_degc
    )
    values = test.line_resistance_ohm.values()
    unit = unit_for("resistance", map(float, values), ("ohm",))
    for pair, value in test.line_resistance_ohm.items():
        heading = f"{pair}_resistance_{unit.suffix}"
        table.fields.append(field_entry(heading, unit.from_si(float(value))))
    return table


def _side_by_side(series: Sequence[PositionSeries]) -> Iterable[list[PositionSeries]]:
    """Yield series that fit beside each other into one table, in their order."""
    group: list[PositionSeries] = []
    for one in series:
        if group and not _fits(one, group):
            yield group
            group = []
        group.append(one)
    if group:
        yield group


def _fits(one: PositionSeries, group: Sequence[PositionSeries]) -> bool:
    """Return whether a series was measured in the same turn of the shaft as these."""
    first = group[0]
    return (
        one.pair not in {other.pair for other in group}
        and one.frequency_hz == first.frequency_hz
        and one.test_current_rms_a == first.test_current_rms_a
        and one.winding_temperature_degc == first.winding_temperature_degc
        and one.shaft_angle_rad.tolist() == first.shaft_angle_rad.tolist()
    )


def _positions(group: Sequence[PositionSeries]) -> Table:
    """Return series side by side."""
    first = group[0]
    columns: _Columns = {("shaft_angle", None): first.shaft_angle_rad}
    for one in group:
        columns["inductance", one.pair] = one.inductance_h
        columns["resistance", one.pair] = one.resistance_ohm
        columns["impedance", one.pair] = one.impedance_ohm
    return Table(
        "position",
        "",
        fields=[
            *_number("position", "frequency", first.frequency_hz),
            *_number("position", "test_current", first.test_current_rms_a),
            *_number("position", "winding_temperature", first.winding_temperature_degc),
        ],
        columns=_columns("position", columns),
        title=f"Position {first.frequency_hz:g} Hz",
    )


def _insulation(test: InsulationResistanceTest) -> Table:
    """Return one test of insulation resistance."""
    name = "insulation_resistance"
    return Table(
        name,
        "",
        fields=[
            field_entry("tested", _text("tested", test.tested)),
            *_number(name, "test_voltage", test.test_voltage_v),
            *_number(name, "winding_temperature", test.winding_temperature_degc),
        ],
        columns=_columns(
            name, {("time", None): test.time_s, ("resistance", None): test.resistance_ohm}
        ),
    )


def _steps(test: StepVoltageTest) -> Table:
    """Return one step-voltage test."""
    return Table(
        "step_voltage",
        "",
        fields=[
            field_entry("tested", _text("tested", test.tested)),
            *_number("step_voltage", "step", test.step_s),
        ],
        columns=_columns(
            "step_voltage", {("voltage", None): test.voltage_v, ("current", None): test.current_a}
        ),
    )


def _dissipation(test: DissipationTest) -> Table:
    """Return one test of the dissipation factor."""
    return Table(
        "dissipation",
        "",
        fields=[
            field_entry("tested", _text("tested", test.tested)),
            *_number("dissipation", "frequency", test.frequency_hz),
        ],
        columns=_columns(
            "dissipation",
            {
                ("voltage", None): test.voltage_rms_v,
                ("dissipation_factor", None): test.dissipation_factor,
                ("capacitance", None): test.capacitance_f,
            },
        ),
    )


def _turns(test: TurnTest) -> Table:
    """Return the waveforms of a turn test."""
    columns: _Columns = {("time", None): test.time_s}
    columns |= {("voltage", pair): values for pair, values in test.voltage_v.items()}
    return Table(
        "turn_test",
        "",
        fields=_number("turn_test", "peak_voltage", test.peak_voltage_v),
        columns=_columns("turn_test", columns),
    )
