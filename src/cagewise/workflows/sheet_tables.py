"""What a form of a test sheet shows: every heading of every table, with what stands there."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import cache

from cagewise.measurement.test_sheet import Place, TerminalPair
from cagewise.readers.test_sheet.form import Entry, Form, Raw, Table
from cagewise.readers.test_sheet.headings import belongs, plain
from cagewise.readers.test_sheet.ranges import RANGES
from cagewise.readers.test_sheet.sheet_schema import TABLES, Kind, Quantity
from cagewise.readers.test_sheet.units import UNITS

BLANK_ROWS = 12
"""Rows of a table that is added."""
READS: Mapping[str, tuple[str, ...]] = {
    "lr": ("inductance", "resistance"),
    "z": ("impedance",),
    "vi": ("voltage", "current"),
}
"""What an instrument shows at each position: the quantities of the position table."""
NOT_TYPED = ("format", "motor", "waveforms")
"""Headings that nobody types."""


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitOffered:
    """A unit in which a quantity may be written."""

    suffix: str
    scale: float
    """SI value = figure * scale + offset."""
    offset: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetEntry:
    """One heading of a table."""

    stem: str
    """Heading without unit, as ``ab_inductance``."""
    pair: str
    """``ab``, ``bc``, ``ca``; empty without terminals."""
    quantity: str
    meaning: str
    kind: Kind
    column: bool
    """Whether readings stand below it, or one beside it."""
    units: tuple[UnitOffered, ...]
    unit: str
    """Suffix of the unit in which it is written; empty without one."""
    cells: tuple[str, ...]
    """What stands there, one text each."""
    low: float | None = None
    """Least value that is accepted, SI (degC)."""
    high: float | None = None
    advice: str = ""
    """The likeliest slip, where a value lies outside."""

    @property
    def heading(self) -> str:
        """The whole heading."""
        return f"{self.stem}_{self.unit}" if self.unit else self.stem


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetTable:
    """One table of the form."""

    name: str
    title: str
    entries: tuple[SheetEntry, ...]
    repeated: bool

    @property
    def is_filled(self) -> bool:
        """Whether a reading stands in it, beside what readings are read against."""
        return any(any(each.cells) for each in self.columns[1:])

    @property
    def fields(self) -> tuple[SheetEntry, ...]:
        """Headings with one cell."""
        return tuple(each for each in self.entries if not each.column)

    @property
    def columns(self) -> tuple[SheetEntry, ...]:
        """Headings over cells."""
        return tuple(each for each in self.entries if each.column)


def tables_of(form: Form, reads: str = "lr") -> tuple[SheetTable, ...]:
    """Return what a form shows: every heading of every table, blank or not.

    Parameters
    ----------
    form
        Read from a file, or from what was typed.
    reads
        Which quantities are offered at each position: a key of :data:`READS`.
    """
    return tuple(_table(table, READS.get(reads, READS["lr"])) for table in form.tables)


def _table(table: Table, at_position: Sequence[str]) -> SheetTable:
    """Return a table with all its headings."""
    kind = TABLES[table.name]
    stated: dict[str, Entry] = {}
    for entry in (*table.fields, *table.columns):
        quantity = belongs(entry.heading, kind)
        if quantity is not None:
            stated[_stem(entry.heading, quantity)] = entry
    filled = {q.name for e in table.columns if not e.blank and (q := belongs(e.heading, kind))}
    length = max((len(each.cells) for each in table.columns), default=BLANK_ROWS)
    entries = []
    for quantity in kind.quantities:
        if quantity.name in NOT_TYPED:
            continue
        chosen = {*at_position, *filled}
        if table.name == "position" and quantity.per_pair and quantity.name not in chosen:
            continue
        pairs = [pair.value for pair in TerminalPair] if quantity.per_pair else [""]
        for pair in pairs:
            stem = f"{pair}_{quantity.name}" if pair else quantity.name
            entries.append(_entry(table.name, quantity, pair, stated.get(stem), length))
    title = kind.title
    return SheetTable(name=table.name, title=title, entries=tuple(entries), repeated=kind.repeated)


def _entry(
    table: str, quantity: Quantity, pair: str, stated: Entry | None, length: int
) -> SheetEntry:
    """Return one heading, with what stands there."""
    stem = f"{pair}_{quantity.name}" if pair else quantity.name
    units = _units(quantity.dimension)
    unit = quantity.preferred[0] if quantity.preferred else ""
    if stated is not None and units:
        suffix = plain(stated.heading)[len(stem) + 1 :]
        unit = suffix if suffix in {each.suffix for each in units} else unit
    raws = () if stated is None else tuple(cell.raw for cell in stated.cells)
    cells = tuple(_text(raw) for raw in raws)
    limits = RANGES.get((table, quantity.name))
    return SheetEntry(
        stem=stem,
        pair=pair,
        quantity=quantity.name,
        meaning=quantity.meaning,
        kind=quantity.kind,
        column=quantity.column,
        units=units,
        unit=unit,
        cells=cells + ("",) * (length - len(cells)) if quantity.column else cells or ("",),
        low=None if limits is None else limits.low,
        high=None if limits is None else limits.high,
        advice="" if limits is None else limits.slip,
    )


@cache
def _units(dimension: str) -> tuple[UnitOffered, ...]:
    """Return the units of a dimension, each as a straight line to SI."""
    if not dimension:
        return ()
    return tuple(
        UnitOffered(
            suffix=unit.suffix,
            scale=unit.to_si(Decimal(1)) - unit.to_si(Decimal(0)),
            offset=unit.to_si(Decimal(0)),
        )
        for unit in UNITS[dimension].values()
    )


def _stem(heading: str, quantity: Quantity) -> str:
    """Return a heading without its unit."""
    text = plain(heading)
    return text[: text.index(quantity.name) + len(quantity.name)]


def _text(raw: Raw) -> str:
    """Return the content of a cell as it is typed."""
    if raw is None:
        return ""
    if isinstance(raw, bool):
        return "yes" if raw else "no"
    if isinstance(raw, float):
        return repr(raw).removesuffix(".0")
    return raw.value if isinstance(raw, Place) else str(raw)
