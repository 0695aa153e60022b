"""Two examinations of the same measurements: what differs, and why (docs/theory/trend.md, 12).

Works on documents as they were written (``docs/json.md``), because old ones are kept so. A field
that an old document does not have yet is absent, which is not the same as null.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import chain
from typing import TypeAlias, TypeGuard

Json: TypeAlias = bool | int | float | str | Sequence["Json"] | Mapping[str, "Json"] | None
Document: TypeAlias = Mapping[str, Json]

ROUNDING = 1e-9
"""Relative difference below which two numbers are one: another order of summation."""
VERDICT = (
    "state",
    "state_ground",
    "probability",
    "damage",
    "upper_limit",
    "methods_agreeing",
    "classes_agreeing",
    "removal_supported",
)
"""Fields of the document that are its verdict."""
VERSIONS = ("program_version", "schema_version")
"""Fields of the document that say what made it."""
WINDOW = ("earliest_days", "latest_days", "planned_outage")
"""Fields of the window in which to act."""
OF_READING = ("valid", "reason", "value", "interval", "open_bar_equivalent", "detection_limit")
"""Fields of an indicator that are compared."""
SOURCES = ("recordings", "starts", "test_sheets")
"""Lists of the document that hold indicators."""
DECISION_SECTIONS = frozenset({"decision", "costs", "effort", "plan", "start_plan", "evidence"})
"""Sections of limits that no reading depends on; all others are limits of readings."""


class Absent(StrEnum):
    """Stands for a field or an entry that a document does not have."""

    ABSENT = "absent"


Value: TypeAlias = Json | Absent


class Kind(StrEnum):
    """What differs."""

    VERDICT = "verdict"
    RECOMMENDATION = "recommendation"
    EVIDENCE = "evidence"
    READING = "reading"
    OPERATING_POINT = "operating point"
    LIMIT = "limit"
    MOTOR = "motor"
    INPUT = "input"
    VERSION = "version"


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """One thing that differs."""

    kind: Kind
    name: str
    """What, with the recording it was read on: "direct_component, value (run.csv)"."""
    old: Value
    new: Value
    because: tuple[str, ...]
    """Names of the differences that explain it; empty for those that are causes themselves, and
    where nothing that is written down explains it."""
    within_interval: bool | None = None
    """Of a value: whether the new one lies within the old 95 % interval; None where that is not
    asked."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ExaminationDifference:
    """Everything that differs between two examinations."""

    differences: tuple[Difference, ...]
    """Verdict first, then what led to it, causes last."""
    same_inputs: bool
    """Whether the same bytes were examined."""

    def of(self, kind: Kind) -> tuple[Difference, ...]:
        """Return the differences of one kind."""
        return tuple(d for d in self.differences if d.kind is kind)

    @property
    def causes(self) -> tuple[Difference, ...]:
        """What was different from the start: version, inputs, motor, limits."""
        return tuple(d for d in self.differences if d.kind in CAUSES)

    @property
    def unexplained(self) -> tuple[Difference, ...]:
        """What differs although nothing that is written down explains it."""
        return tuple(d for d in self.differences if d.kind not in CAUSES and not d.because)


CAUSES = frozenset({Kind.VERSION, Kind.INPUT, Kind.MOTOR, Kind.LIMIT})
"""Differences that nothing else explains: they were there before the examination."""


def compare_examinations(old: Document, new: Document) -> ExaminationDifference:
    """Return what differs between two examinations of a motor, and why.

    Parameters
    ----------
    old, new
        Documents of ``docs/json.md``, of any version of the schema.
    """
    inputs = tuple(_inputs(old, new))
    causes = (
        *_parts(Kind.VERSION, _only(old, VERSIONS), _only(new, VERSIONS)),
        *inputs,
        *_parts(Kind.MOTOR, _mapping(old, "motor"), _mapping(new, "motor")),
        *_parts(Kind.LIMIT, _flat(_mapping(old, "limits")), _flat(_mapping(new, "limits"))),
    )
    of_readings = tuple(c.name for c in causes if not _only_of_decision(c))
    readings = tuple(_readings(old, new, of_readings))
    of_evidence = (*(d.name for d in readings), *(c.name for c in causes))
    evidence = tuple(_evidence(old, new, of_evidence))
    of_verdict = (*(d.name for d in evidence), *of_evidence)
    verdict = tuple(_parts(Kind.VERDICT, _only(old, VERDICT), _only(new, VERDICT), of_verdict))
    of_advice = (*(d.name for d in verdict), *of_verdict)
    advice = _parts(Kind.RECOMMENDATION, _advice(old), _advice(new), of_advice)
    point = _parts(
        Kind.OPERATING_POINT,
        _mapping(old, "operating_point"),
        _mapping(new, "operating_point"),
        of_readings,
    )
    return ExaminationDifference(
        differences=(*verdict, *advice, *evidence, *readings, *point, *causes),
        same_inputs=not inputs,
    )


def same(old: Value, new: Value) -> bool:
    """Return whether two values are the same; numbers but for rounding."""
    if _is_number(old) and _is_number(new):
        return abs(old - new) <= ROUNDING * max(abs(old), abs(new))
    if isinstance(old, Mapping) and isinstance(new, Mapping):
        return old.keys() == new.keys() and all(same(old[key], new[key]) for key in old)
    if _is_list(old) and _is_list(new):
        return len(old) == len(new) and all(map(same, old, new))
    return type(old) is type(new) and old == new


def _is_number(value: Value) -> TypeGuard[int | float]:
    """Return whether a value is a number; true and false are none."""
    return isinstance(value, int | float) and not isinstance(value, bool)


def _is_list(value: Value) -> TypeGuard[Sequence[Json]]:
    """Return whether a value is a list; text is none."""
    return isinstance(value, Sequence) and not isinstance(value, str)


def _parts(
    kind: Kind,
    old: Mapping[str, Value],
    new: Mapping[str, Value],
    because: tuple[str, ...] = (),
) -> Iterator[Difference]:
    """Yield the entries that differ, in the order of the old document."""
    for name in dict.fromkeys(chain(old, new)):
        before, after = old.get(name, Absent.ABSENT), new.get(name, Absent.ABSENT)
        if not same(before, after):
            yield Difference(kind=kind, name=name, old=before, new=after, because=because)


def _readings(old: Document, new: Document, because: tuple[str, ...]) -> Iterator[Difference]:
    """Yield what differs of the indicators, recording by recording."""
    before, after = _indicators(old), _indicators(new)
    for key in dict.fromkeys(chain(before, after)):
        name, source = key
        if key not in before or key not in after:
            yield Difference(
                kind=Kind.READING,
                name=f"{name} ({source})",
                old=Absent.ABSENT if key not in before else "read",
                new=Absent.ABSENT if key not in after else "read",
                because=because,
            )
            continue
        for field in OF_READING:
            was = before[key].get(field, Absent.ABSENT)
            now = after[key].get(field, Absent.ABSENT)
            if not same(was, now):
                yield Difference(
                    kind=Kind.READING,
                    name=f"{name}, {field} ({source})",
                    old=was,
                    new=now,
                    because=because,
                    within_interval=_within(now, before[key]) if field == "value" else None,
                )


def _within(now: Value, before: Document) -> bool | None:
    """Return whether a new value lies within the old interval."""
    interval = before.get("interval")
    if not _is_number(now) or not _is_list(interval) or len(interval) != 2:
        return None
    low, high = interval
    if not _is_number(low) or not _is_number(high):
        return None
    return low <= now <= high


def _indicators(document: Document) -> dict[tuple[str, str], Document]:
    """Return the indicators by name and source; a second start of a recording counts as another."""
    found: dict[tuple[str, str], Document] = {}
    for part in chain.from_iterable(_list(document, name) for name in SOURCES):
        source = str(part.get("recording", _mapping(part, "provenance").get("source", "")))
        for indicator in _list(part, "indicators"):
            name, number, key = str(indicator.get("name", "")), 1, source
            while (name, key) in found:
                number += 1
                key = f"{source}, {number}"
            found[name, key] = indicator
    return found


def _evidence(old: Document, new: Document, because: tuple[str, ...]) -> Iterator[Difference]:
    """Yield what differs in what the indicators say, with the differences of their own source."""
    before, after = _findings(old), _findings(new)
    sources = {key: source for key, (source, _) in (*before.items(), *after.items())}
    for key in dict.fromkeys(chain(before, after)):
        was, now = (side.get(key, ("", Absent.ABSENT))[1] for side in (before, after))
        if not same(was, now):
            other = tuple(f"({s})" for s in sources.values() if s != sources[key])
            yield Difference(
                kind=Kind.EVIDENCE,
                name=key,
                old=was,
                new=now,
                because=tuple(name for name in because if not name.endswith(other)),
            )


def _findings(document: Document) -> dict[str, tuple[str, Json]]:
    """Return source, and support with its ground, by hypothesis, indicator and source."""
    found: dict[str, tuple[str, Json]] = {}
    evidence = _mapping(document, "evidence")
    for hypothesis in evidence:
        for finding in _list(evidence, hypothesis):
            source = str(finding.get("recording", ""))
            key = f"{hypothesis} by {finding.get('indicator', '')} ({source})"
            found[key] = source, f"{finding.get('support', '')} ({finding.get('ground', '')})"
    return found


def _inputs(old: Document, new: Document) -> Iterator[Difference]:
    """Yield inputs whose bytes differ, or that only one of the examinations had."""
    before, after = (
        {str(p.get("source", "")): p.get("sha256", Absent.ABSENT) for p in _list(d, "provenance")}
        for d in (old, new)
    )
    return _parts(Kind.INPUT, before, after)


def _advice(document: Document) -> Mapping[str, Value]:
    """Return action and window."""
    found: dict[str, Value] = {}
    action = _mapping(document, "recommendation").get("action", Absent.ABSENT)
    window = _mapping(document, "act_by")
    if action is not Absent.ABSENT:
        found["action"] = action
    return found | {key: window[key] for key in WINDOW if key in window}


def _only_of_decision(cause: Difference) -> bool:
    """Return whether a cause cannot move a reading."""
    return cause.kind is Kind.LIMIT and cause.name.split(".")[0] in DECISION_SECTIONS


def _only(document: Document, names: Sequence[str]) -> Mapping[str, Value]:
    """Return some fields of a document, those that it has."""
    return {name: document[name] for name in names if name in document}


def _flat(sections: Document) -> Mapping[str, Value]:
    """Return limits by section and name."""
    return {
        f"{section}.{name}": value
        for section in sections
        for name, value in _mapping(sections, section).items()
    }


def _mapping(document: Document, name: str) -> Document:
    """Return a part of a document; empty where it has none."""
    part = document.get(name)
    return part if isinstance(part, Mapping) else {}


def _list(document: Document, name: str) -> tuple[Document, ...]:
    """Return a list of parts; empty where there is none."""
    parts = document.get(name)
    return tuple(p for p in parts if isinstance(p, Mapping)) if _is_list(parts) else ()
