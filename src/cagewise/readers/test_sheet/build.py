"""Tables of a form to a :class:`TestSheet`: all faults of the file in one message."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from types import MappingProxyType

from cagewise.errors import SheetError
from cagewise.machine.crosscheck import Fault
from cagewise.measurement.recording import Provenance
from cagewise.measurement.test_sheet import Place, TestSheet
from cagewise.readers.test_sheet.builders import BUILDERS, Parts
from cagewise.readers.test_sheet.cells import DecimalSigns, decimal_signs, number_in
from cagewise.readers.test_sheet.form import Cell, Form, Table, Unusable
from cagewise.readers.test_sheet.headings import belongs, plain
from cagewise.readers.test_sheet.sheet_schema import FORMAT, TABLES, Kind
from cagewise.readers.test_sheet.table_values import HeadingRead, TableValues, values_of

MOST_FAULTS = 40
"""Faults that one message lists."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TableRead:
    """What was understood of one table."""

    place: str
    """Where it stands in the file."""
    name: str
    """Kind of table."""
    headings: tuple[HeadingRead, ...]
    """What is not blank."""
    measured: bool
    """Whether readings were found in it; always true for the head and the conditions."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetReading:
    """A test sheet and how it was understood."""

    sheet: TestSheet
    tables: tuple[TableRead, ...]
    """In the order of the file."""


def sheet_of(form: Form, provenance: Provenance, *, where: str) -> SheetReading:
    """Return the test sheet that a form holds.

    Raises
    ------
    SheetError
        If anything in it cannot be used; all faults are in one message.
    """
    faults = list(form.faults)
    signs = decimal_signs(_number_cells(form))
    _require_version(form, signs, where)
    parts = Parts()
    faults += _second_ones(form)
    tables = [_table(table, parts, signs, faults) for table in form.tables]
    if parts.head is None:
        remedy = "The head of the sheet says which motor was measured, and when."
        faults.append(Fault("[sheet]", "is missing", remedy))
    raise_faults(faults, where)
    sheet = _assembled(parts, provenance)
    return SheetReading(sheet=sheet, tables=tuple(table for table in tables if table is not None))


def _number_cells(form: Form) -> Iterator[Cell]:
    """Yield the cells that should hold numbers."""
    for table in form.tables:
        kind = TABLES[table.name]
        for entry in (*table.fields, *table.columns):
            quantity = belongs(entry.heading, kind)
            if quantity is None or quantity.kind is Kind.NUMBER:
                yield from entry.cells


def raise_faults(faults: list[Fault], where: str) -> None:
    """Raise one error that tells all faults; nothing without faults."""
    if not faults:
        return
    if len(faults) == 1:
        raise SheetError(str(faults[0]).removesuffix("."), where=where)
    shown = [f"\n  - {fault}" for fault in faults[:MOST_FAULTS]]
    if len(faults) > MOST_FAULTS:
        shown.append(f"\n  - and {len(faults) - MOST_FAULTS} more")
    raise SheetError(f"{len(faults)} faults:{''.join(shown)}", where=where)


def _second_ones(form: Form) -> list[Fault]:
    """Return a fault for every table that stands twice and may not."""
    seen: set[str] = set()
    faults = []
    for table in form.tables:
        if table.name in seen and not TABLES[table.name].repeated:
            remedy = "A sheet is one occasion: keep one, or begin another sheet."
            faults.append(Fault(table.place, f"there is a second [{table.name}]", remedy))
        seen.add(table.name)
    return faults


def _require_version(form: Form, signs: DecimalSigns, where: str) -> None:
    """Raise if the form is of a newer version: nothing else in it can be judged then."""
    for table in form.tables:
        for entry in table.fields if table.name == "sheet" else []:
            if plain(entry.heading) != "format" or len(entry.cells) != 1 or entry.blank:
                continue
            stated = number_in(entry.cells[0].raw, signs)
            if not isinstance(stated, Unusable) and stated > FORMAT:
                raise SheetError(
                    f"the sheet is of format {stated}; this version reads up to {FORMAT}",
                    where=where,
                    remedy="Update cagewise, or fill in a template that this version wrote.",
                )


def _table(
    table: Table, parts: Parts, signs: DecimalSigns, faults: list[Fault]
) -> TableRead | None:
    """Read one table into the parts."""
    if table.name == "truth":
        parts.truth.update(_truth(table, signs, faults))
        return None
    values = values_of(table, TABLES[table.name], signs, faults)
    measured = BUILDERS[table.name](values, parts, faults)
    return TableRead(
        place=table.place, name=table.name, headings=tuple(values.read), measured=measured
    )


def _truth(table: Table, signs: DecimalSigns, faults: list[Fault]) -> Mapping[str, float]:
    """Return what a simulation wrote about itself."""
    said = {}
    for entry in table.fields:
        number = number_in(entry.cells[0].raw, signs)
        if isinstance(number, Unusable):
            faults.append(Fault(table.where(entry.heading), number.what, number.remedy))
        else:
            said[entry.heading] = float(number)
    return said


def _assembled(parts: Parts, provenance: Provenance) -> TestSheet:
    """Return the sheet of parts that are without fault."""
    head = {} if parts.head is None else parts.head.fields
    said = {} if parts.conditions is None else parts.conditions.fields
    measured_on, place = head["measured_on", None], head.get(("measured_at", None))
    if not isinstance(measured_on, date):
        message = "the date was checked before"
        raise TypeError(message)
    demagnetised = said.get(("rotor_demagnetised", None))
    return TestSheet(
        motor_tag=str(head["motor", None]),
        measured_on=measured_on,
        provenance=provenance,
        place=place if isinstance(place, Place) else Place.TERMINALS,
        winding_temperature_degc=_number(parts.conditions, "winding_temperature"),
        ambient_temperature_degc=_number(parts.conditions, "ambient_temperature"),
        relative_humidity=_number(parts.conditions, "relative_humidity"),
        rotor_demagnetised=demagnetised if isinstance(demagnetised, bool) else None,
        resistance=parts.resistance,
        positions=tuple(parts.positions),
        insulation=tuple(parts.insulation),
        steps=tuple(parts.steps),
        dissipation=tuple(parts.dissipation),
        turns=parts.turns,
        remark=str(head.get(("remark", None), "")),
        truth=MappingProxyType(parts.truth),
    )


def _number(values: TableValues | None, name: str) -> float | None:
    """Return a number of the conditions, None where none are stated."""
    return None if values is None else values.number(name)
