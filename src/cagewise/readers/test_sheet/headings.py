"""Headings: terminals, quantity and unit in one word, as in ``ab_inductance_mh``."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from difflib import get_close_matches

from cagewise.measurement.test_sheet import TerminalPair
from cagewise.readers.test_sheet.form import Unusable
from cagewise.readers.test_sheet.sheet_schema import TABLES, Quantity, TableKind
from cagewise.readers.test_sheet.units import AMBIGUOUS, UNITS, Unit

_JOINTS = re.compile(r"[\s\-]+")
_PAIR = re.compile(r"(?:(ab|bc|ca)_)?(.+)", re.DOTALL)
LONGEST_QUOTE = 60
"""Characters of a cell that a message shows."""


@dataclass(frozen=True, slots=True)
class Heading:
    """What a heading says."""

    quantity: Quantity
    pair: TerminalPair | None = None
    unit: Unit | None = None
    """None for what has no unit."""


def quoted(content: object) -> str:
    """Return the content of a cell as written, cut where it would fill the screen."""
    text = f'"{content}"' if isinstance(content, str) else str(content)
    return text if len(text) <= LONGEST_QUOTE else f"{text[:LONGEST_QUOTE]}..."


def plain(heading: str) -> str:
    """Return a heading in small letters, joined by underscores, Greek letters spelt out."""
    text = heading.strip().casefold().replace("\N{GREEK SMALL LETTER MU}", "u")
    text = text.replace("\N{GREEK SMALL LETTER OMEGA}", "ohm")
    return _JOINTS.sub("_", text)


def belongs(heading: str, kind: TableKind) -> Quantity | None:
    """Return the quantity that a heading names, whatever is wrong with its terminals or unit."""
    match = _PAIR.fullmatch(plain(heading))
    if match is None:
        return None
    rest = match[2]
    named = [q for q in kind.quantities if rest == q.name or rest.startswith(f"{q.name}_")]
    return max(named, key=lambda quantity: len(quantity.name), default=None)


def resolve(heading: str, kind: TableKind) -> Heading | Unusable:
    """Return what a heading of a table says, or what is wrong with it."""
    quantity = belongs(heading, kind)
    match = _PAIR.fullmatch(plain(heading))
    if quantity is None or match is None:
        return Unusable("is not a known heading", _advice(heading, kind))
    pair, suffix = match[1], match[2][len(quantity.name) + 1 :]
    if quantity.per_pair and pair is None:
        example = "_".join(part for part in ("ab", quantity.name, suffix) if part)
        return Unusable("does not say between which terminals", f"Write {example}, bc_..., ca_...")
    if pair is not None and not quantity.per_pair:
        return Unusable("has no terminals", f"Write {quantity.example}.")
    unit = _unit(quantity, suffix)
    if isinstance(unit, Unusable):
        return unit
    return Heading(quantity, None if pair is None else TerminalPair(pair), unit)


def _unit(quantity: Quantity, suffix: str) -> Unit | Unusable | None:
    """Return the unit of a heading, None where the quantity has none."""
    if not quantity.dimension:
        if suffix:
            return Unusable("has no unit", f"Write {quantity.name}.")
        return None
    units = UNITS[quantity.dimension]
    if suffix in units:
        return units[suffix]
    stem = quantity.name
    readings = AMBIGUOUS.get(suffix, ())
    if readings and set(readings) <= set(units):
        spelt = " or ".join(f"{stem}_{reading}" for reading in readings)
        return Unusable("is ambiguous: milli or mega?", f"Write {spelt}.")
    if not suffix:
        return Unusable("does not say its unit", f"Write {_spelt(stem, units)}.")
    near = get_close_matches(suffix, list(units), n=1)
    hint = f"Did you mean {stem}_{near[0]}? " if near else ""
    what = f"ends in {quoted(suffix)}, which is no unit of it"
    return Unusable(what, f"{hint}Write {_spelt(stem, units)}.")


def _spelt(stem: str, units: Mapping[str, Unit]) -> str:
    """Return a quantity in all its units."""
    return " or ".join(f"{stem}_{suffix}" for suffix in units)


def _advice(heading: str, kind: TableKind) -> str:
    """Return where a heading belongs, what it may have been meant to be, or what is known."""
    known = [quantity.example for quantity in kind.quantities]
    near = get_close_matches(plain(heading), known, n=1, cutoff=0.6)
    if near:
        return f"Did you mean {near[0]}?"
    holders = [other for other in TABLES.values() if other != kind and belongs(heading, other)]
    if len(holders) == 1:
        return f"It belongs under [{holders[0].name}]."
    return f"Known: {', '.join(known)}."
