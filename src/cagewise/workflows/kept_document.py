"""What the document of an examination says, as the objects that the chain works with.

Documents outlive versions of the program: a field that an old one lacks counts as not said.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, fields
from functools import cached_property
from typing import Any

from cagewise.indicators.reading import (
    IndependenceClass,
    Method,
    Part,
    Reading,
    ReferenceLimit,
    Sense,
)
from cagewise.indicators.running.operating_point import OperatingPoint
from cagewise.quantities import Estimate, NotKnown

Plain = Mapping[str, Any]
NOT_SAID = "the document of the examination does not say it"


@dataclass(frozen=True)
class KeptDocument:
    """The document of an examination."""

    plain: Plain
    """As it is in JSON."""

    @classmethod
    def of(cls, text: str) -> KeptDocument:
        """Read a document."""
        return cls(json.loads(text))

    @cached_property
    def running(self) -> Plain | None:
        """The running record that tells most."""
        name = self.plain.get("leading_recording") or ""
        return next((r for r in self._list("recordings") if _source(r) == name), None)

    @cached_property
    def start(self) -> Plain | None:
        """The start that tells most."""
        return self._leading("starts")

    @cached_property
    def sheet(self) -> Plain | None:
        """The test sheet that tells most."""
        return self._leading("test_sheets")

    def limits(self, section: str) -> Plain:
        """Return the limits of a section that were in force."""
        found = (self.plain.get("limits") or {}).get(section)
        return found if isinstance(found, Mapping) else {}

    def _list(self, name: str) -> Sequence[Plain]:
        found = self.plain.get(name)
        return found if isinstance(found, list) else []

    def _leading(self, name: str) -> Plain | None:
        """Return the source whose indicators the page shows; the first where none are."""
        shown = self._list("indicators")
        found = self._list(name)
        for source in found:
            own = source.get("indicators") or []
            if own and all(indicator in shown for indicator in own):
                return source
        return found[0] if found else None


def source_name(part: Plain) -> str:
    """Return the file that a recording or a sheet came in."""
    return _source(part)


def _source(part: Plain) -> str:
    return str((part.get("provenance") or {}).get("source") or "")


def readings_in(part: Plain | None) -> tuple[Reading, ...]:
    """Return the readings of a recording, a start or a sheet; those that are known."""
    if part is None:
        return ()
    return tuple(filter(None, map(_reading, part.get("indicators") or [])))


def by_name(readings: Sequence[Reading]) -> Mapping[str, Reading]:
    """Return readings by name, the first of a name."""
    return {reading.name: reading for reading in reversed(readings)}


def operating_point_in(part: Plain) -> OperatingPoint | NotKnown:
    """Return the operating point of a recording."""
    said = part.get("operating_point")
    if not isinstance(said, Mapping):
        return NotKnown(str(part.get("stopped") or NOT_SAID))
    known: dict[str, Any] = {}
    for field in fields(OperatingPoint):
        value = said.get(field.name)
        if isinstance(value, Mapping):
            value = _quantity(value)
        elif isinstance(value, list):
            value = tuple(value)
        known[field.name] = value
    if not isinstance(known["supply_frequency_hz"], Estimate):
        return NotKnown(NOT_SAID)
    for name in ("slip", "speed_rpm", "pole_pass_frequency_hz", "load_fraction"):
        known[name] = known[name] or NotKnown(NOT_SAID)
    for name in ("slip_families", "rotor_bars_candidates"):
        known[name] = known[name] or ()
    return OperatingPoint(**known)


def _quantity(said: Plain) -> Estimate | NotKnown:
    """Return a quantity with its interval."""
    found = _estimate(said)
    return NotKnown(str(said.get("reason") or NOT_SAID)) if found is None else found


def _estimate(said: Plain | None) -> Estimate | None:
    """Return a value with its interval; an end that is missing lies at no end."""
    if said is None or said.get("value") is None:
        return None
    value = float(said["value"])
    low, high = said.get("interval") or (value, value)
    return Estimate(
        value,
        float("-inf") if low is None else float(low),
        float("inf") if high is None else float(high),
    )


def _reading(said: Plain) -> Reading | None:
    """Return a reading, or None of a kind that this version does not know."""
    try:
        independence, part = IndependenceClass(said["class"]), Part(said["part"])
        method = None if said.get("method") is None else Method(said["method"])
    except (KeyError, ValueError):
        return None
    return Reading(
        name=said["name"],
        title=said.get("title", ""),
        independence_class=independence,
        part=part,
        method=method,
        value=_estimate(said),
        unit=said.get("unit", ""),
        valid=bool(said.get("valid")),
        reason=said.get("reason", ""),
        open_bar_equivalent=_estimate(said.get("open_bar_equivalent")),
        detection_limit_bars=said.get("detection_limit"),
        limit=_limit(said.get("limit")),
        details=dict(_numbers(said.get("details") or {})),
    )


def _limit(said: Plain | None) -> ReferenceLimit | None:
    """Return a published value."""
    if said is None:
        return None
    return ReferenceLimit(
        value=float(said["value"]),
        sense=Sense(said["sense"]),
        source=str(said.get("source", "")),
        form=str(said.get("form", "")),
    )


def _numbers(said: Plain) -> Iterator[tuple[str, float]]:
    """Yield the numbers that are there."""
    for key, value in said.items():
        if value is not None:
            yield key, float(value)
