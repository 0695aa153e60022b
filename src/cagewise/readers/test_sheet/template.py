"""The empty sheet of a motor: all tables, units in the headings, what is known filled in."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from types import MappingProxyType

from cagewise.machine.motor import Motor
from cagewise.measurement.cautions import TestKind, cautions_for
from cagewise.measurement.test_sheet import TerminalPair
from cagewise.readers.test_sheet.builders import WINDING_TO_EARTH
from cagewise.readers.test_sheet.form import Form, Raw, Table, column_entry, field_entry
from cagewise.readers.test_sheet.sheet_schema import FORMAT, TABLES

INSULATION_TIMES_S = (15.0, 30.0, 45.0, 60.0, *(60.0 * minute for minute in range(2, 11)))
"""Times of reading for the ratios in use (30 s, 1 min, 10 min) and the curve between them;
IEEE Std 43, clause 5, from memory."""

BLANK_ROWS = 12
"""Rows to fill in where the test decides how many there are."""

_TESTS: Mapping[str, TestKind] = {
    "sheet": TestKind.OFF_LINE,
    "winding_resistance": TestKind.RESISTANCE,
    "position": TestKind.POSITION,
    "insulation_resistance": TestKind.INSULATION,
    "step_voltage": TestKind.STEP_VOLTAGE,
    "dissipation": TestKind.DISSIPATION,
    "turn_test": TestKind.TURN,
}
"""Kind of table to the test whose cautions stand above it: every worksheet may be printed alone."""

_HOW = (
    "Fill in what was measured and leave the rest blank: a blank cell means not measured.",
    "One sheet is one occasion. Nothing is averaged or guessed; every reading is checked.",
    "The unit is in the heading. Other units: rename the heading, as in ab_inductance_uh.",
    "Terminals a, b, c are those of phases 1, 2, 3: b-c follows a-b in phase order.",
    'Notes begin with "# " and are not read. Decimal point or comma, no other separators.',
)
_POSITION_NOTES = (
    "Turn the shaft in one direction only; the last row is the first position again: did it drift?",
    "With voltage and current only, name the columns ab_voltage_v and ab_current_a.",
    "Another frequency, or another level: copy this table.",
)
_REPEAT = "Another test of this kind: copy this table."
_NOTES: Mapping[str, Sequence[str]] = {
    "sheet": _HOW,
    "position": _POSITION_NOTES,
    "insulation_resistance": (
        "A reading beyond the range of the instrument is no number: leave it blank.",
        _REPEAT,
    ),
    "step_voltage": (_REPEAT,),
    "dissipation": (_REPEAT,),
    "turn_test": ("Name a file of waveforms, or fill in the columns.",),
}


def template_for(
    motor: Motor,
    *,
    shaft_angles_deg: Sequence[float],
    frequencies_hz: Sequence[float] = (),
) -> Form:
    """Return the sheet of a motor for somebody to fill in.

    Parameters
    ----------
    motor
        Its tag is filled in, and its rated frequency is the test frequency unless one is stated.
    shaft_angles_deg
        Mechanical angles of the position table in the order of measuring, the return included.
    frequencies_hz
        One position table for each.
    """
    frequencies_hz = tuple(frequencies_hz) or (motor.nameplate.rated_frequency_hz,)
    tables = [
        _table("sheet", {"format": FORMAT, "motor": motor.tag}),
        _table("conditions", {}),
        _table("winding_resistance", {}),
    ]
    for frequency_hz in frequencies_hz:
        columns = {"shaft_angle": [float(angle) for angle in shaft_angles_deg]}
        position = _table("position", {"frequency": float(frequency_hz)}, columns, _POSITION)
        position.title = f"Position {frequency_hz:g} Hz"
        tables.append(position)
    tested: dict[str, Raw] = {"tested": WINDING_TO_EARTH}
    tables += [
        _table("insulation_resistance", tested, {"time": INSULATION_TIMES_S}),
        _table("step_voltage", tested),
        _table("dissipation", tested),
        _table("turn_test", {}),
    ]
    for table in tables:
        table.notes = (*_cautions(table.name), *_NOTES.get(table.name, ()))
    return Form(tables)


def _cautions(name: str) -> list[str]:
    """Return what to mind before and during a test, as lines."""
    test = _TESTS.get(name)
    return [] if test is None else [f"CAUTION: {each.text}" for each in cautions_for(test)]


_POSITION = ("inductance", "resistance")
"""Quantities of the position table that stand in the template; the others are renamed columns."""


def _table(
    name: str,
    filled: Mapping[str, Raw],
    columns: Mapping[str, Sequence[float]] = MappingProxyType({}),
    offered: Sequence[str] = (),
) -> Table:
    """Return a table with all its headings.

    Parameters
    ----------
    name
        Kind of the table.
    filled
        Quantity to what is filled in already.
    columns
        Quantity to the readings that are filled in already.
    offered
        Quantities per pair of terminals that have a column; all if empty.
    """
    length = max((len(values) for values in columns.values()), default=BLANK_ROWS)
    table = Table(name, "")
    for quantity in TABLES[name].quantities:
        unit = f"_{quantity.preferred[0]}" if quantity.preferred else ""
        if quantity.per_pair and offered and quantity.name not in offered:
            continue
        for stem in _stems(quantity.name, per_pair=quantity.per_pair):
            heading = f"{stem}{unit}"
            if quantity.column:
                values: Iterable[Raw] = columns.get(quantity.name, [None] * length)
                table.columns.append(column_entry(heading, values))
            else:
                table.fields.append(field_entry(heading, filled.get(quantity.name)))
    return table


def _stems(name: str, *, per_pair: bool) -> list[str]:
    """Return a quantity with its terminals."""
    return [f"{pair.value}_{name}" for pair in TerminalPair] if per_pair else [name]
