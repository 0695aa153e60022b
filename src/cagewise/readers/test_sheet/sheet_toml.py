"""A test sheet as TOML: one table per test, readings in lists."""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from datetime import date, time
from decimal import Decimal, InvalidOperation

from cagewise.errors import SheetError
from cagewise.machine.crosscheck import Fault
from cagewise.readers.test_sheet.form import Cell, Entry, Form, Raw, Table, Unusable
from cagewise.readers.test_sheet.grid_rows import meaning_of
from cagewise.readers.test_sheet.headings import belongs, quoted
from cagewise.readers.test_sheet.sheet_schema import TABLES, TableKind
from cagewise.readers.test_sheet.suggestions import unknown_table

_HEAD = re.compile(rb"^[ \t]*\[[ \t]*sheet[ \t]*\]", re.MULTILINE)
PER_LINE = 6
"""Readings on one line of a list."""


def is_toml_sheet(head: bytes) -> bool:
    """Return whether the first bytes of a file are those of a test sheet."""
    return _HEAD.search(head) is not None


def form_from_toml(content: bytes, where: str) -> Form:
    """Return the tables of a TOML file.

    Raises
    ------
    SheetError
        If it is not TOML.
    """
    try:
        said = tomllib.loads(content.decode("utf-8-sig"), parse_float=_decimal)
    except UnicodeDecodeError as error:
        raise SheetError(
            f"is not UTF-8 text (byte {error.start})", where=where, remedy="Save it as UTF-8 text."
        ) from error
    except (ValueError, RecursionError) as error:
        raise SheetError(
            f"this is not TOML: {str(error)[:200]}",
            where=where,
            remedy='Write one "key = value" per line, text in quotes, decimals with a point.',
        ) from error
    form = Form()
    for name, tables in said.items():
        _add(form, name, tables)
    return form


def _decimal(text: str) -> Decimal:
    """Return a figure as written."""
    try:
        return Decimal(text)
    except InvalidOperation as error:
        message = f"{text[:60]} is no number"
        raise ValueError(message) from error


def _add(form: Form, name: str, content: object) -> None:
    """Add one table, or one list of tables, to the form."""
    kind = TABLES.get(name)
    entries = content if isinstance(content, list) else [content]
    if not entries or not all(isinstance(entry, dict) for entry in entries):
        remedy = "Every key stands under a table: write [sheet] on a line of its own above it."
        form.faults.append(Fault(name, "stands under no table", remedy))
    elif kind is None:
        form.faults.append(unknown_table(name, f"[{name}]"))
    else:
        for number, entry in enumerate(entries, start=1):
            place = f"[[{name}]] no. {number}" if isinstance(content, list) else f"[{name}]"
            table = _table(name, place, entry, kind)
            form.tables.append(table)
            form.faults += _unequal(table)


def _table(name: str, place: str, said: Mapping[str, object], kind: TableKind) -> Table:
    """Return one table; a single value for a quantity of many is a list of one."""
    table = Table(name, place, row_word="value")
    for key, value in said.items():
        quantity = None if kind.free else belongs(key, kind)
        values = value if isinstance(value, list) else [value]
        several = isinstance(value, list)
        cells = tuple(
            Cell(_raw(each), row if several else 0) for row, each in enumerate(values, start=1)
        )
        if quantity is not None and quantity.column:
            table.columns.append(Entry(key, cells))
        else:
            table.fields.append(Entry(key, cells))
    return table


def _unequal(table: Table) -> list[Fault]:
    """Return a fault where the lists of one table differ in length: which value is missing."""
    filled = [entry for entry in table.columns if not entry.blank]
    lengths = {len(entry.cells) for entry in filled}
    if len(lengths) < 2:
        return []
    counts = ", ".join(f"{len(entry.cells)} of {entry.heading}" for entry in filled)
    remedy = 'Write "" where one was not measured.'
    return [Fault(table.place, f"the lists are of different length: {counts}", remedy)]


def _raw(value: object) -> Raw:
    """Return a value of TOML as the content of a cell."""
    if value is None or isinstance(value, (str, int, float, Decimal, date)):
        return value
    if isinstance(value, time):
        return Unusable(f"holds the time of day {value}", "Write a number.")
    return Unusable(f"holds {quoted(value)}, not a single value")


def toml_from_form(form: Form) -> bytes:
    """Return a form as TOML text, with what the keys mean as comments."""
    return "\n".join("\n".join(_lines(table)) + "\n" for table in form.tables).encode()


def _lines(table: Table) -> Iterator[str]:
    """Yield the lines of one table."""
    yield f"[[{table.name}]]" if TABLES[table.name].repeated else f"[{table.name}]"
    yield from (f"# {note}" for note in table.notes)
    for entry in table.fields:
        meaning = meaning_of(table, entry)
        comment = f"  # {meaning}" if meaning else ""
        key = entry.heading if re.fullmatch(r"[A-Za-z0-9_-]+", entry.heading) else None
        yield f"{key or _text(entry.heading)} = {_value(entry.cells[0].raw)}{comment}"
    index = next((entry for entry in table.columns if not entry.blank), None)
    said: set[str] = set()
    for entry in table.columns:
        quantity = belongs(entry.heading, TABLES[table.name])
        if quantity is not None and quantity.name not in said:
            said.add(quantity.name)
            yield f"# {quantity.name}: {quantity.meaning}"
        yield from _list(entry, None if index is entry else index)


def _list(entry: Entry, index: Entry | None) -> Iterator[str]:
    """Yield the lines of one list; what it is read against stands beside blank readings."""
    values = [_value(cell.raw) for cell in entry.cells]
    if entry.blank and index is None:
        yield f"{entry.heading} = []"
        return
    if len(values) <= PER_LINE and not entry.blank:
        yield f"{entry.heading} = [{', '.join(values)}]"
        return
    beside = [""] * len(values)
    if entry.blank and index is not None:
        beside = [_value(cell.raw) for cell in index.cells]
    yield f"{entry.heading} = ["
    for chunk in _by_line(values, beside):
        against = ", ".join(label for _, label in chunk if label)
        comment = f"  # {against}" if against else ""
        yield "    " + ", ".join(value for value, _ in chunk) + f",{comment}"
    yield "]"


def _by_line(values: Sequence[str], beside: Sequence[str]) -> Iterator[Sequence[tuple[str, str]]]:
    """Yield values and what stands beside them, a line at a time."""
    pairs = list(zip(values, beside, strict=True))
    for first in range(0, len(pairs), PER_LINE):
        yield pairs[first : first + PER_LINE]


def _value(raw: Raw) -> str:
    """Return one TOML value; blank text where nothing was measured."""
    if raw is None:
        return '""'
    if isinstance(raw, bool):
        return "true" if raw else "false"
    if isinstance(raw, float):
        text = repr(raw)
        return text if text == "-0.0" else text.removesuffix(".0")
    return raw.isoformat() if isinstance(raw, date) else _scalar(raw)


def _scalar(raw: Raw) -> str:
    """Return a number or a text."""
    return _text(raw) if isinstance(raw, str) else str(raw)


def _text(value: str) -> str:
    """Return a TOML basic string; TOML escapes what JSON does, and DEL besides."""
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
