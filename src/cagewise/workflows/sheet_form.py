"""A test sheet as a form, made from its schema, and back."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from cagewise.errors import InputError
from cagewise.measurement.cautions import TestKind
from cagewise.measurement.recording import Provenance
from cagewise.readers.test_sheet import SheetReading
from cagewise.readers.test_sheet.build import sheet_of
from cagewise.readers.test_sheet.cells import DecimalSigns, decimal_signs, number_in
from cagewise.readers.test_sheet.form import Cell, Entry, Form, Raw, Table, Unusable
from cagewise.readers.test_sheet.headings import belongs, plain
from cagewise.readers.test_sheet.sheet_schema import FORMAT, TABLES, Kind
from cagewise.store import MotorEntry
from cagewise.workflows.sheet_tables import NOT_TYPED

MOST_TABLES = 24
MOST_ROWS = 5000
"""Readings below one heading."""
MOST_CELLS = 40_000
"""Of a whole sheet."""
LONGEST_CELL = 2000
"""Characters; as long as a remark may be."""
OFFERED = (
    "sheet",
    "conditions",
    "winding_resistance",
    "position",
    "insulation_resistance",
    "step_voltage",
    "dissipation",
)
"""Tables that an empty form has."""
TESTS: Mapping[str, TestKind] = {
    "winding_resistance": TestKind.RESISTANCE,
    "position": TestKind.POSITION,
    "insulation_resistance": TestKind.INSULATION,
    "step_voltage": TestKind.STEP_VOLTAGE,
    "dissipation": TestKind.DISSIPATION,
    "turn_test": TestKind.TURN,
}
_NAME = re.compile(
    r"t(?P<table>\d{1,3})\.(?:(?P<kind>name)|(?P<what>[fcu])\.(?P<stem>[a-z_]{1,60}))"
)


def with_table(form: Form, name: str) -> Form:
    """Return a form with one more blank table of a kind."""
    if name in TABLES and TABLES[name].repeated and len(form.tables) < MOST_TABLES:
        places = [n for n, table in enumerate(form.tables) if table.name == name]
        place = places[-1] + 1 if places else len(form.tables)
        form.tables.insert(place, Table(name, ""))
    return form


def form_from_fields(said: Mapping[str, str]) -> Form:
    """Return the form that fields of a page make: ``t3.c.ab_inductance`` holds lines of readings.

    Raises
    ------
    InputError
        If there is more than a form may hold.
    """
    tables: dict[int, dict[str, dict[str, str]]] = {}
    for name, text in said.items():
        match = _NAME.fullmatch(name)
        if match is not None:
            table = tables.setdefault(int(match["table"]), {"n": {}, "f": {}, "c": {}, "u": {}})
            table[match["what"] or "n"][match["stem"] or "name"] = text
    content = []
    for _, table in sorted(tables.items()):
        kind = TABLES.get(table["n"].get("name", ""))
        if kind is not None:
            units = table["u"]
            content.append(
                TableContent(
                    name=kind.name,
                    fields={_heading(s, kind.name, units): v for s, v in table["f"].items()},
                    columns={
                        _heading(s, kind.name, units): _lines(v) for s, v in table["c"].items()
                    },
                )
            )
    return form_from_tables(content)


@dataclass(frozen=True, slots=True, kw_only=True)
class TableContent:
    """What is said of one table."""

    name: str
    fields: Mapping[str, Raw]
    """Heading to content."""
    columns: Mapping[str, Sequence[Raw]]


def form_from_tables(content: Sequence[TableContent]) -> Form:
    """Return the form of tables by heading.

    Raises
    ------
    InputError
        If there is more than a form may hold, or a table of no known kind.
    """
    cells = sum(
        len(each.fields) + sum(len(column) for column in each.columns.values()) for each in content
    )
    rows = max((len(c) for each in content for c in each.columns.values()), default=0)
    if len(content) > MOST_TABLES or cells > MOST_CELLS or rows > MOST_ROWS:
        raise InputError(
            f"this is more than a form holds ({MOST_TABLES} tables, {MOST_ROWS} rows, "
            f"{MOST_CELLS} readings)",
            where="test sheet",
            remedy="Bring it in as a file.",
        )
    form = Form()
    numbers: dict[str, int] = {}
    for each in content:
        if each.name not in TABLES:
            raise InputError(f"there is no table {each.name[:60]!r}", where="test sheet")
        numbers[each.name] = numbers.get(each.name, 0) + 1
        title = TABLES[each.name].title
        place = f"{title} {numbers[each.name]}" if TABLES[each.name].repeated else title
        table = Table(each.name, place)
        table.fields = [Entry(h, (Cell(_cut(v)),)) for h, v in each.fields.items()]
        table.columns = [
            Entry(h, tuple(Cell(_cut(v), row) for row, v in enumerate(values, start=1)))
            for h, values in each.columns.items()
        ]
        form.tables.append(table)
    return form


def checked(form: Form, entry: MotorEntry) -> SheetReading:
    """Return how a form is understood as a sheet of a motor.

    Raises
    ------
    SheetError
        If anything in it cannot be used; all faults are in one message.
    """
    return sheet_of(written_form(form, entry), provenance_of(b""), where="test sheet")


NO_TESTS = ("sheet", "conditions", "truth")


def provenance_of(content: bytes) -> Provenance:
    """Return where a sheet came from that was typed in."""
    return Provenance(
        source="test-sheet.toml",
        format_name="test sheet (form)",
        sha256=hashlib.sha256(content).hexdigest(),
    )


def fill_head(form: Form, heading: str, raw: Raw) -> None:
    """Fill in a heading of the head of a sheet."""
    for table in form.tables:
        if table.name == "sheet":
            table.fields = [each for each in table.fields if plain(each.heading) != heading]
            table.fields.append(Entry(heading, (Cell(raw),)))


def written_form(form: Form, entry: MotorEntry) -> Form:
    """Return a form as it is written: numbers as numbers, nothing blank, the motor's own tag."""
    signs = decimal_signs(cell for table in form.tables for cell in _number_cells(table))
    written = Form()
    for table in form.tables:
        made = Table(table.name, table.place, row_word=table.row_word)
        made.fields = [
            Entry(
                each.heading, tuple(Cell(_typed(table, each, c, signs), c.row) for c in each.cells)
            )
            for each in table.fields
            if not each.blank and plain(each.heading) not in NOT_TYPED
        ]
        made.columns = _filled(table, signs)
        if table.name == "sheet":
            made.fields = [
                Entry("format", (Cell(FORMAT),)),
                Entry("motor", (Cell(entry.tag),)),
                *made.fields,
            ]
        if table.name in NO_TESTS or _has_readings(made):
            written.tables.append(made)
    return written


def _has_readings(table: Table) -> bool:
    """Return whether a table holds a reading, and not only what it would be read against."""
    if table.columns:
        return True
    kind = TABLES[table.name]
    return any(
        (quantity := belongs(each.heading, kind)) is not None and quantity.per_pair
        for each in table.fields
    )


def _filled(table: Table, signs: DecimalSigns) -> list[Entry]:
    """Return the columns that hold something, all of one length; none without a reading."""
    filled = [each for each in table.columns if not each.blank]
    kind = TABLES[table.name]
    index = next((q.name for q in kind.quantities if q.column), "")
    readings = [
        each for each in filled if (q := belongs(each.heading, kind)) is None or q.name != index
    ]
    length = max(
        (n for each in readings for n, cell in enumerate(each.cells, start=1) if not cell.blank),
        default=0,
    )
    if not length:
        return []
    return [
        Entry(
            each.heading,
            tuple(
                Cell(
                    _typed(table, each, each.cells[n], signs) if n < len(each.cells) else None,
                    n + 1,
                )
                for n in range(length)
            ),
        )
        for each in filled
    ]


def _typed(table: Table, entry: Entry, cell: Cell, signs: DecimalSigns) -> Raw:
    """Return the content of a cell, text that is a number as that number."""
    quantity = belongs(entry.heading, TABLES[table.name])
    if cell.blank or quantity is None or quantity.kind is not Kind.NUMBER:
        return cell.raw.strip() if isinstance(cell.raw, str) else cell.raw
    found = number_in(cell.raw, signs)
    return cell.raw if isinstance(found, Unusable) else found


def _number_cells(table: Table) -> Iterator[Cell]:
    """Yield the cells of a table that should hold numbers."""
    for entry in (*table.fields, *table.columns):
        quantity = belongs(entry.heading, TABLES[table.name])
        if quantity is None or quantity.kind is Kind.NUMBER:
            yield from entry.cells


def _heading(stem: str, table: str, units: Mapping[str, str]) -> str:
    """Return a whole heading; a unit that is none is found by the check of the sheet."""
    quantity = belongs(stem, TABLES[table])
    if quantity is None or not quantity.dimension:
        return stem
    return f"{stem}_{units.get(quantity.name, quantity.preferred[0])}"


def _lines(text: str) -> list[str]:
    """Return the readings that stand in a field one below the other."""
    return [line.strip() for line in text.replace("\r\n", "\n").rstrip().split("\n")]


def _cut(raw: Raw) -> Raw:
    """Return what a cell holds, refusing what is no cell."""
    if isinstance(raw, str) and len(raw) > LONGEST_CELL:
        return Unusable(f"is longer than {LONGEST_CELL} characters", "Shorten it.")
    return raw
