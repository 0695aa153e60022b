"""Validating one section of a motor file, and saying what is wrong in words of the trade."""

from __future__ import annotations

from collections.abc import Mapping
from difflib import get_close_matches
from typing import TYPE_CHECKING, TypeVar

from pydantic import ValidationError

from cagewise.machine.crosscheck import Fault
from cagewise.machine.motor_schema import SECTIONS, BearingSection, Section

if TYPE_CHECKING:
    from pydantic_core import ErrorDetails

SectionType = TypeVar("SectionType", bound=Section)

_TYPE_WORDS = {
    "float_type": "must be a number",
    "int_type": "must be a whole number",
    "int_from_float": "must be a whole number",
    "string_type": "must be text in quotes",
    "bool_type": "must be true or false",
    "date_type": "must be a date such as 2031-05-17",
    "dict_type": "must be a table",
    "model_type": "must be a table",
    "model_attributes_type": "must be a table",
    "finite_number": "must be a finite number",
}
LONGEST_QUOTE = 60
"""Characters of a value that a message shows."""
_ALIASES = {
    "star": "wye",
    "y": "wye",
    "d": "delta",
    "dol": "direct",
    "vfd": "converter",
    "die-cast": "cast",
    "die cast": "cast",
}
"""Words people write for a value the file knows under another name."""


def validated(
    model: type[SectionType], content: object, where: str, faults: list[Fault]
) -> SectionType | None:
    """Return the section, or None after adding every fault of it to ``faults``."""
    try:
        return model.model_validate(content)
    except ValidationError as error:
        faults += [_fault(detail, model, where) for detail in error.errors()]
        return None


def unknown_sections(content: Mapping[str, object]) -> list[Fault]:
    """Return a fault for every top-level entry that is no section."""
    known = [*SECTIONS, "bearings"]
    faults = []
    stray = [name for name in content if name not in known and _section_of(name) == "motor"]
    if stray and "motor" not in content:
        remedy = "Write [motor] on a line of its own above the first of them."
        return [Fault(stray[0], "and what follows stand under no section", remedy)]
    for name in content:
        if name in known:
            continue
        section = _section_of(name)
        if section is not None:
            remedy = f"The key belongs under [{section}]."
        else:
            remedy = _suggestion(name, known) or f"Known sections: {', '.join(known)}."
        faults.append(Fault(name, "is not a known section", remedy))
    return faults


def _fault(detail: ErrorDetails, model: type[Section], where: str) -> Fault:
    """Return one pydantic error as a fault."""
    key = ".".join(str(part) for part in detail["loc"])
    place = f"{where} {key}".strip()
    given = detail["input"]
    kind = detail["type"]
    if kind == "missing":
        return Fault(place, "is missing", f"Add {key} = ... to {where}.")
    if kind == "extra_forbidden":
        return Fault(place, "is not a known key", _key_remedy(key, model, where))
    if kind == "literal_error":
        return _choice_fault(place, given, str(detail["ctx"]["expected"]))
    words = _TYPE_WORDS.get(kind)
    if words is not None:
        return Fault(place, f"{words}, got {_shown(given)}", _type_remedy(given, kind))
    return Fault(place, f"{_bound(detail)}, got {_shown(given)}", _bound_remedy(key, given))


def _shown(given: object) -> str:
    """Return a value as written, cut where it would fill the screen."""
    text = repr(given)
    return text if len(text) <= LONGEST_QUOTE else f"{text[:LONGEST_QUOTE]}..."


def _choice_fault(place: str, given: object, expected: str) -> Fault:
    """Return the fault of a value that is not one of the allowed words."""
    choices = [word.strip("' ") for word in expected.replace(" or ", ", ").split(",")]
    text = str(given)
    exact = [word for word in choices if word.lower() == text.lower()]
    alias = _ALIASES.get(text.lower())
    if exact:
        remedy = f'Write "{exact[0]}".'
    elif alias in choices:
        remedy = f'Did you mean "{alias}"?'
    else:
        remedy = _suggestion(text, choices)
    allowed = ", ".join(f'"{word}"' for word in choices)
    return Fault(place, f"must be one of {allowed}; got {_shown(given)}", remedy)


def _bound(detail: ErrorDetails) -> str:
    """Return the bound a number must keep."""
    context = detail.get("ctx", {})
    words = {
        "greater_than": "must be more than {gt:g}",
        "greater_than_equal": "must be at least {ge:g}",
        "less_than": "must be less than {lt:g}",
        "less_than_equal": "must be at most {le:g}",
        "multiple_of": "must be even",
        "string_too_long": "must have at most {max_length} characters",
    }
    template = words.get(detail["type"])
    return detail["msg"] if template is None else template.format(**context)


def _bound_remedy(key: str, given: object) -> str:
    """Return what to do about a number out of bounds."""
    if (
        key in {"power_factor", "efficiency"}
        and isinstance(given, (int, float))
        and 10 < given < 100
    ):
        return f"Write it per unit: {given / 100:g}."
    if key == "poles":
        return "Give the number of poles, not of pole pairs."
    return ""


def _type_remedy(given: object, kind: str) -> str:
    """Return what to do about a value of the wrong type."""
    if kind not in {"float_type", "int_type", "int_from_float"}:
        return ""
    if isinstance(given, str) and given.replace(",", ".").replace(".", "", 1).strip().isdigit():
        return f"Write {given.replace(',', '.').strip()} without quotes."
    if isinstance(given, str):
        return "Write the plain number; the unit is in the key."
    return ""


def _key_remedy(key: str, model: type[Section], where: str) -> str:
    """Return where an unknown key belongs, or what it may have been meant to be."""
    section = _section_of(key)
    if section is not None and f"[{section}]" != where:
        return f"It belongs under [{section}]."
    known = list(model.model_fields)
    return _suggestion(key, known) or f"Known keys: {', '.join(known)}."


def _section_of(key: str) -> str | None:
    """Return the section that has this key, if one and only one has."""
    holders = [name for name, model in SECTIONS.items() if key in model.model_fields]
    if key in BearingSection.model_fields:
        holders.append("[bearings]")
    return holders[0] if len(holders) == 1 else None


def _suggestion(word: str, known: list[str]) -> str:
    """Return "Did you mean ...?" for a near miss, or nothing."""
    near = get_close_matches(word.lower(), known, n=1, cutoff=0.6)
    return f"Did you mean {near[0]}?" if near else ""
