"""Frozen dataclasses as text and back, without running anything that the text says.

A result is a tree of frozen dataclasses, enumerations, arrays and plain values. It is written as
JSON in which every value that JSON has no word for stands in a list that begins with its kind. Read
back, only dataclasses and enumerations of this program are made, each with exactly the fields that
it has now: text of a version with other fields is refused, not guessed at.
"""

from __future__ import annotations

import base64
import json
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import fields, is_dataclass
from datetime import date, datetime
from enum import Enum
from functools import cache
from importlib import import_module
from typing import Any, TypeVar

import numpy as np

from cagewise.errors import InputError

T = TypeVar("T")

OURS = "cagewise."
"""Beginning of the names of modules whose classes may be made."""

ARRAY_KINDS = "biufcU"
"""Kinds of array elements that are numbers, truth values or text; never objects."""

LARGEST_DEPTH = 200
"""Of values inside values; a result has a dozen."""


def to_text(value: object) -> str:
    """Return a value as text.

    Parameters
    ----------
    value
        Dataclasses of this program, enumerations, arrays, tuples, mappings and plain values.

    Raises
    ------
    TypeError
        If something else is in it.
    """
    return json.dumps(_packed(value), separators=(",", ":"), allow_nan=False)


def from_text(text: str, wanted: type[T]) -> T:
    """Return the value that :func:`to_text` wrote.

    Raises
    ------
    InputError
        If the text is damaged, names anything that is not of this program, or was written by a
        version whose classes had other fields.
    """
    try:
        value = _unpacked(json.loads(text), 0)
    except (ValueError, TypeError, LookupError, AttributeError, ImportError, RecursionError) as bad:
        raise InputError(f"this is no result of this version ({bad})") from bad
    if not isinstance(value, wanted):
        raise InputError(f"this is a {type(value).__name__}, not a {wanted.__name__}")
    return value


def _packed(value: Any) -> Any:  # noqa: ANN401  # any value goes in
    """Return a value as JSON has it; lists begin with their kind."""
    if isinstance(value, Enum):  # before text: many enumerations are text
        return ["enum", _name(type(value)), value.name]
    if value is None or isinstance(value, bool | str | int):
        return value
    if isinstance(value, float) and not isinstance(value, np.generic):
        return value if math.isfinite(value) else ["float", repr(value)]
    for kind, pack in _PACK.items():
        if isinstance(value, kind):
            return pack(value)
    if is_dataclass(value) and not isinstance(value, type):
        names = _field_names(type(value))
        return ["data", _name(type(value)), {n: _packed(getattr(value, n)) for n in names}]
    message = f"{type(value).__name__} cannot be written as text"
    raise TypeError(message)


def _array(value: np.ndarray) -> list[Any]:
    if value.dtype.kind not in ARRAY_KINDS:
        message = f"an array of {value.dtype} cannot be written as text"
        raise TypeError(message)
    little = np.ascontiguousarray(value, dtype=value.dtype.newbyteorder("<"))
    content = base64.b64encode(little.tobytes()).decode("ascii")
    return ["array", little.dtype.str, list(value.shape), content]


_PACK: Mapping[type, Callable[[Any], list[Any]]] = {
    np.ndarray: _array,
    np.generic: lambda value: ["scalar", *_array(np.asarray(value))[1:]],
    complex: lambda value: ["complex", repr(value)],
    datetime: lambda value: ["instant", value.isoformat()],
    date: lambda value: ["day", value.isoformat()],
    tuple: lambda value: ["tuple", [_packed(each) for each in value]],
    list: lambda value: ["list", [_packed(each) for each in value]],
    frozenset: lambda value: ["set", sorted((_packed(each) for each in value), key=json.dumps)],
    Mapping: lambda value: ["map", [[_packed(k), _packed(v)] for k, v in value.items()]],
}
"""Kind to how it is written; a date is asked after an instant, which is one too."""


def _unpacked(value: Any, depth: int) -> Any:  # noqa: ANN401  # any value comes out
    """Return the value that :func:`_packed` wrote."""
    if depth > LARGEST_DEPTH:
        message = "values are too deep inside each other"
        raise ValueError(message)
    if not isinstance(value, list):
        if isinstance(value, dict):
            message = "a mapping stands where a value should"
            raise TypeError(message)
        return value
    kind, *rest = value
    return _UNPACK[kind](rest, depth + 1)


def _made(rest: Sequence[Any], depth: int) -> Any:  # noqa: ANN401  # any of our classes
    """Return a dataclass, if it is ours and has these very fields."""
    name, given = rest
    made = _class(name)
    if not is_dataclass(made) or set(given) != set(_field_names(made)):
        message = f"{name} has other fields here"
        raise ValueError(message)
    return made(**{key: _unpacked(each, depth) for key, each in given.items()})


def _read_array(rest: Sequence[Any], _depth: int) -> np.ndarray:
    """Return an array of numbers, its own owner."""
    kind, shape, content = rest
    dtype = np.dtype(str(kind))
    if dtype.kind not in ARRAY_KINDS:
        message = f"an array of {dtype} is not read"
        raise ValueError(message)
    flat = np.frombuffer(base64.b64decode(content, validate=True), dtype=dtype)
    return flat.reshape(tuple(int(n) for n in shape)).astype(dtype.newbyteorder("="))


_UNPACK: Mapping[str, Callable[[Sequence[Any], int], Any]] = {
    "enum": lambda rest, _: _member(*rest),
    "data": _made,
    "array": _read_array,
    "scalar": lambda rest, depth: _read_array(rest, depth)[()],
    "float": lambda rest, _: float(rest[0]),
    "complex": lambda rest, _: complex(rest[0]),
    "instant": lambda rest, _: datetime.fromisoformat(rest[0]),
    "day": lambda rest, _: date.fromisoformat(rest[0]),
    "tuple": lambda rest, depth: tuple(_unpacked(each, depth) for each in rest[0]),
    "list": lambda rest, depth: [_unpacked(each, depth) for each in rest[0]],
    "set": lambda rest, depth: frozenset(_unpacked(each, depth) for each in rest[0]),
    "map": lambda rest, depth: {
        _unpacked(key, depth): _unpacked(each, depth) for key, each in rest[0]
    },
}


def _member(name: str, member: str) -> Enum:
    """Return a member of one of our enumerations."""
    made = _class(name)
    if not issubclass(made, Enum):
        message = f"{name} is no enumeration"
        raise TypeError(message)
    return made[member]


@cache
def _field_names(kind: type) -> tuple[str, ...]:
    """Return the names of the fields with which a class is made."""
    return tuple(each.name for each in fields(kind) if each.init)


def _name(kind: type) -> str:
    """Return the name under which a class is found again."""
    if not kind.__module__.startswith(OURS):
        message = f"{kind.__qualname__} is not of this program"
        raise TypeError(message)
    return f"{kind.__module__}:{kind.__qualname__}"


@cache
def _class(name: str) -> type:
    """Return a dataclass or enumeration of this program by its name."""
    module, _, qualified = name.partition(":")
    if not module.startswith(OURS) or not all(p.isidentifier() for p in qualified.split(".")):
        message = f"{name} is not of this program"
        raise ValueError(message)
    found: Any = import_module(module)
    for part in qualified.split("."):
        found = getattr(found, part)
    if not isinstance(found, type) or found.__module__ != module:
        message = f"{name} is no class"
        raise TypeError(message)
    if not (is_dataclass(found) or issubclass(found, Enum)):
        message = f"{name} is neither a dataclass nor an enumeration"
        raise TypeError(message)
    return found
