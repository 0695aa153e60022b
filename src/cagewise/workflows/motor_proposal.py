"""Use case: what a shop returned, as a proposed new version of a motor file."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from types import MappingProxyType

from cagewise.errors import MotorFileError, SheetError
from cagewise.measurement.repair_return import Answer
from cagewise.workflows.motor_form import BEARINGS, check_motor, form_of_toml, toml_of_form

FIELD_OF: Mapping[str, str] = MappingProxyType(
    {
        "rotor_bars": "motor.rotor_bars",
        "stator_slots": "motor.stator_slots",
        "coil_span_slots": "motor.coil_span_slots",
        "rotor_slots": "motor.rotor_slots",
        "cage_construction": "motor.cage",
        "connection": "motor.connection",
        "thermal_class": "motor.thermal_class",
        "winding_construction": "winding.construction",
        "winding_insulation": "winding.insulation",
        "winding_conductor": "winding.conductor",
        "concentric": "winding.concentric",
        "winding_built_year": "winding.built_year",
        "bearing_de": f"{BEARINGS}.0.designation",
        "bearing_nde": f"{BEARINGS}.1.designation",
    }
)
"""Answer to the field of a motor file that it says."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One key of a motor file that would change."""

    field: str
    before: str
    """Empty where it was not known."""
    after: str
    """Empty where it is dropped."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MotorProposal:
    """A new version of a motor file."""

    toml: str
    """Its text; nothing of the old one is lost that the shop did not contradict."""
    changes: tuple[Change, ...]
    warnings: tuple[str, ...]
    """Cross-checks that are odd but not impossible."""
    valid_from: date


def plain_answer(value: Answer) -> str:
    """Return an answer as it is written: yes, 58, 0.0412, 2031-05-17."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return repr(value).removesuffix(".0")
    return value.isoformat() if isinstance(value, date) else str(value)


def propose(
    toml: str, tag: str, answers: Mapping[str, Answer], valid_from: date
) -> MotorProposal | None:
    """Return the motor file with what the shop counted; None where nothing would change.

    Raises
    ------
    SheetError
        If the motor would be impossible: then a number was counted or written wrong.
    """
    before = form_of_toml(toml)
    after = dict(before)
    for key, field in FIELD_OF.items():
        if key in answers:
            after[field] = plain_answer(answers[key])
    after = {
        name: text for name, text in after.items() if not _of_other_bearing(name, before, after)
    }
    changes = tuple(_changes(before, after))
    if not changes:
        return None
    text = toml_of_form(after, toml)
    try:
        warnings = check_motor(text, tag)
    except MotorFileError as error:
        raise SheetError(
            f"with these answers the motor would be impossible: {error.what}",
            where="return sheet",
            remedy="Ask the shop to count again. Nothing of it was kept.",
        ) from error
    return MotorProposal(toml=text, changes=changes, warnings=warnings, valid_from=valid_from)


def _of_other_bearing(name: str, before: Mapping[str, str], after: Mapping[str, str]) -> bool:
    """Return whether a field is the geometry of a bearing that was replaced by another one."""
    section, _, rest = name.partition(".")
    number, _, key = rest.partition(".")
    if section != BEARINGS or key == "designation":
        return False
    designation = f"{BEARINGS}.{number}.designation"
    return bool(before.get(designation)) and before.get(designation) != after.get(designation)


def _changes(before: Mapping[str, str], after: Mapping[str, str]) -> Iterator[Change]:
    """Yield what differs."""
    for field in dict.fromkeys((*after, *before)):
        old, new = before.get(field, ""), after.get(field, "")
        if old != new:
            yield Change(field=field, before=old, after=new)
