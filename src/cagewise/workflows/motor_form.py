"""Use case: a motor file as a form, made from its schema, and back.

The form knows no rule of its own: what was filled in becomes the text of a motor file, and that is
checked as every motor file is. What the form has no field for stays as it was.
"""

from __future__ import annotations

import re
import tomllib
import types
import typing
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from typing import TYPE_CHECKING, Any

from annotated_types import Ge, Gt, Le, Lt, MultipleOf

from cagewise.errors import InputError, MotorFileError
from cagewise.machine.motor_toml import sections_to_toml
from cagewise.report.motor_file_wording import faults_in
from cagewise.store import MotorEntry, NameplateVersion, Plant
from cagewise.store.motors import parse

if TYPE_CHECKING:
    from pydantic.fields import FieldInfo

    from cagewise.machine.motor_schema import Section

MOST_BEARINGS = 8
"""Bearings that the form shows; more stand in the text of the file."""
LONGEST_TEXT = 100_000
"""Characters of a motor file that is typed in."""
BEARINGS = "bearings"
_NUMBER = re.compile(r"[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d{1,3})?", re.ASCII)
_WHOLE = re.compile(r"[+-]?\d{1,18}", re.ASCII)
_FAULT = re.compile(r"\[+(?P<section>\w+)\]+(?: no\. (?P<number>\d+))? (?P<key>\w+)")
_PAIR = re.compile(r"\s*(?P<name>.+?)\s*[=:]\s*(?P<value>[^=:]+?)\s*")


class FieldKind(StrEnum):
    """What a field takes."""

    NUMBER = "number"
    WHOLE = "whole number"
    TEXT = "text"
    CHOICE = "choice"
    YES_NO = "yes or no"
    DAY = "day"
    PAIRS = "pairs"
    """Lines of ``NAME = VALUE``."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FormField:
    """One key of a motor file."""

    section: str
    key: str
    kind: FieldKind
    needed: bool
    choices: tuple[str, ...] = ()
    low: float | None = None
    """Least value; None without a bound."""
    low_excluded: bool = False
    high: float | None = None
    high_excluded: bool = False
    step: int | None = None
    default: str = ""
    """What holds if it is left out; empty for "not known"."""
    value_is_number: bool = False
    """Of pairs: whether the values are numbers."""

    @property
    def name(self) -> str:
        """Name of the field in a form."""
        return f"{self.section}.{self.key}"

    @property
    def range_words(self) -> str:
        """The bounds in words; empty without any."""
        low, high = _figure(self.low), _figure(self.high)
        if low and high and not self.low_excluded and not self.high_excluded:
            return f"{low} to {high}"
        parts = []
        if low:
            parts.append(f"{'above' if self.low_excluded else 'at least'} {low}")
        if high:
            parts.append(f"{'below' if self.high_excluded else 'at most'} {high}")
        return ", ".join(parts)


@dataclass(frozen=True, slots=True, kw_only=True)
class FormFault:
    """One fault of a motor file."""

    field: str
    """Name of the field; empty if it is of none."""
    text: str


def _figure(bound: float | None) -> str:
    """Return a bound with its digits in groups, empty for none."""
    return "" if bound is None else f"{bound:,.15g}".replace(",", "\N{NARROW NO-BREAK SPACE}")


def motor_fields() -> Mapping[str, tuple[FormField, ...]]:
    """Return all fields of a motor file by section, in the order of the schema."""
    from cagewise.machine.motor_schema import SECTIONS, BearingSection

    models: dict[str, type[Section]] = {**SECTIONS, BEARINGS: BearingSection}
    return {
        section: tuple(_field(section, key, info) for key, info in model.model_fields.items())
        for section, model in models.items()
    }


def toml_of_form(said: Mapping[str, str], before: str = "") -> str:
    """Return the motor file that a filled-in form is; it is not checked.

    Parameters
    ----------
    said
        Name of each field to what stands in it. Bearings are numbered: ``bearings.0.designation``.
    before
        The motor file that the form was made from; it is returned as it is, with its comments,
        if nothing was changed.

    Raises
    ------
    InputError
        If lines of pairs are none.
    """
    if before and dict(_stated(said)) == dict(_stated(form_of_toml(before))):
        return before
    content: dict[str, Any] = {}
    for section, fields in motor_fields().items():
        if section == BEARINGS:
            continue
        values = {each.key: _value(each, said.get(each.name, "")) for each in fields}
        content[section] = {key: value for key, value in values.items() if value not in ("", {})}
    content[BEARINGS] = _bearings(said)
    return sections_to_toml(content)


def form_of_toml(toml: str) -> dict[str, str]:
    """Return what stands in the fields of a form for a motor file.

    Raises
    ------
    MotorFileError
        If the text is no TOML.
    """
    content = _parsed(toml)
    said: dict[str, str] = {}
    for section, fields in motor_fields().items():
        found = content.get(section, {})
        tables = found if isinstance(found, list) else [found]
        for number, table in enumerate(tables):
            for each in fields:
                name = _numbered(each, number) if section == BEARINGS else each.name
                if isinstance(table, dict) and each.key in table:
                    said[name] = _shown(table[each.key])
    return said


def faults_of(error: MotorFileError) -> tuple[FormFault, ...]:
    """Return the faults of a motor file one by one, with the fields they are about."""
    texts = faults_in(error.what) or (f"{error.what}. {error.remedy}".strip(". "),)
    return tuple(FormFault(field=_field_name(text), text=text) for text in texts)


def add_motor(plant: Plant, toml: str, *, site: str = "", valid_from: date | None) -> MotorEntry:
    """Add a motor by the text of its motor file.

    Raises
    ------
    MotorFileError
        If it cannot be used, or names no motor.
    AlreadyKeptError
        If the tag is taken.
    """
    _require_short(toml)
    return plant.motors.add(toml, site=site, valid_from=valid_from)


def change_motor(
    plant: Plant, entry: MotorEntry, toml: str, *, valid_from: date | None, note: str
) -> NameplateVersion:
    """Add a version of a motor file by its text; the old ones stay.

    Raises
    ------
    MotorFileError
        If it cannot be used, or is of another motor.
    """
    _require_short(toml)
    return plant.motors.edit(entry, toml, valid_from=valid_from, note=note)


def check_motor(toml: str, tag: str = "") -> tuple[str, ...]:
    """Return the warnings of a motor file.

    Raises
    ------
    MotorFileError
        If it cannot be used; all its faults are in the message.
    """
    _require_short(toml)
    return parse(toml, tag).warnings


def _require_short(toml: str) -> None:
    if len(toml) > LONGEST_TEXT:
        raise MotorFileError(
            f"has more than {LONGEST_TEXT} characters; a motor file is a page of text",
            where="motor file",
        )


def _parsed(toml: str) -> dict[str, Any]:
    """Return the content of a motor file."""
    _require_short(toml)
    try:
        return tomllib.loads(toml)
    except (ValueError, RecursionError) as error:
        raise MotorFileError(
            f"this is not TOML: {str(error)[:200]}",
            where="motor file",
            remedy='Write one "key = value" per line, text in quotes, decimals with a point.',
        ) from error


def _field(section: str, key: str, info: FieldInfo) -> FormField:
    """Return the field of a key."""
    from cagewise.machine.motor_schema import RoleName

    found, limits = _unwrapped(info.annotation)
    limits = (*limits, *info.metadata)
    kind = _kind(found)
    bounds: dict[str, Any] = {}
    for limit in limits:
        if isinstance(limit, Ge | Gt):
            bounds["low"] = limit.ge if isinstance(limit, Ge) else limit.gt
            bounds["low_excluded"] = isinstance(limit, Gt)
        elif isinstance(limit, Le | Lt):
            bounds["high"] = limit.le if isinstance(limit, Le) else limit.lt
            bounds["high_excluded"] = isinstance(limit, Lt)
        elif isinstance(limit, MultipleOf):
            bounds["step"] = limit.multiple_of
    return FormField(
        section=section,
        key=key,
        kind=kind,
        needed=info.is_required() and section != "circuit",
        choices=tuple(map(str, typing.get_args(found))) if kind is FieldKind.CHOICE else (),
        default="" if info.is_required() or info.default_factory else _shown(info.default),
        value_is_number=kind is FieldKind.PAIRS and typing.get_args(found)[-1] is not RoleName,
        **bounds,
    )


def _unwrapped(annotation: Any) -> tuple[Any, tuple[Any, ...]]:  # noqa: ANN401 - a type of any kind
    """Return a type without "or none" and remarks, and the remarks."""
    remarks: tuple[Any, ...] = ()
    while True:
        if typing.get_origin(annotation) is typing.Annotated:
            annotation, *more = typing.get_args(annotation)
            remarks += tuple(
                part for each in more for part in (*getattr(each, "metadata", ()), each)
            )
        elif typing.get_origin(annotation) in {typing.Union, types.UnionType}:
            annotation = next(
                each for each in typing.get_args(annotation) if each is not types.NoneType
            )
        else:
            return annotation, remarks


def _kind(found: Any) -> FieldKind:  # noqa: ANN401 - a type of any kind
    """Return what a field of a type takes."""
    if typing.get_origin(found) is typing.Literal:
        return FieldKind.CHOICE
    if typing.get_origin(found) is dict:
        return FieldKind.PAIRS
    kinds = {
        float: FieldKind.NUMBER,
        int: FieldKind.WHOLE,
        bool: FieldKind.YES_NO,
        date: FieldKind.DAY,
    }
    return kinds.get(found, FieldKind.TEXT)


def _value(field: FormField, text: str) -> Any:  # noqa: ANN401 - a value of TOML
    """Return what stands in a field as a value of TOML; what is no number stays text."""
    text = text.replace("\r\n", "\n").strip()
    if not text:
        return ""
    if field.kind is FieldKind.YES_NO:
        return {"yes": True, "no": False}.get(text, text)
    if field.kind is FieldKind.PAIRS:
        return _pairs(field, text)
    if field.kind in {FieldKind.NUMBER, FieldKind.WHOLE}:
        return _number(text)
    return text


def _number(text: str) -> int | float | str:
    """Return a number, or the text that is none."""
    if _WHOLE.fullmatch(text):
        return int(text)
    return float(text.replace(",", ".")) if _NUMBER.fullmatch(text) else text


def _pairs(field: FormField, text: str) -> dict[str, Any]:
    """Return lines of ``NAME = VALUE``."""
    pairs = {}
    for line in filter(None, map(str.strip, text.split("\n"))):
        match = _PAIR.fullmatch(line)
        if match is None:
            raise InputError(
                f"the line {line[:60]!r} names no value",
                where=field.name,
                remedy="Write one NAME = VALUE per line.",
            )
        value = match["value"]
        pairs[match["name"]] = _number(value) if field.value_is_number else value
    return pairs


def _stated(said: Mapping[str, str]) -> Iterator[tuple[str, str]]:
    """Yield what stands in the fields of a form, without blanks at its ends."""
    for fields in motor_fields().values():
        for each in fields:
            numbers = range(MOST_BEARINGS) if each.section == BEARINGS else (None,)
            for number in numbers:
                name = each.name if number is None else _numbered(each, number)
                text = said.get(name, "").replace("\r\n", "\n").strip()
                if text:
                    yield name, text


def _bearings(said: Mapping[str, str]) -> list[dict[str, Any]]:
    """Return the bearings that are filled in."""
    found = []
    for number in range(MOST_BEARINGS):
        values = {
            each.key: _value(each, said.get(_numbered(each, number), ""))
            for each in motor_fields()[BEARINGS]
        }
        stated = {key: value for key, value in values.items() if value != ""}
        if stated:
            found.append(stated)
    return found


def _numbered(field: FormField, number: int) -> str:
    return f"{field.section}.{number}.{field.key}"


def _shown(value: object) -> str:
    """Return a value of TOML as it stands in a field."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, dict):
        return "\n".join(f"{name} = {_shown(each)}" for name, each in value.items())
    if isinstance(value, float):
        return repr(value).removesuffix(".0")
    return "" if value is None else str(value)


def _field_name(text: str) -> str:
    """Return the field that a fault is about, empty if it is none."""
    match = _FAULT.match(text)
    if match is None:
        return ""
    if match["section"] == BEARINGS:
        return f"{BEARINGS}.{int(match['number'] or 1) - 1}.{match['key']}"
    return f"{match['section']}.{match['key']}"
