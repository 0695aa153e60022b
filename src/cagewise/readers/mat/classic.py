"""MAT files of versions 4 to 7."""

from __future__ import annotations

import struct
import zlib
from collections.abc import Iterator
from functools import partial
from pathlib import Path
from typing import Any, BinaryIO

import numpy as np
from numpy.typing import NDArray

from cagewise.errors import RecordingError
from cagewise.readers.files import MAX_UNPACKED_BYTES, read_head, translated
from cagewise.readers.mat.kinds import Kind, kind_of
from cagewise.readers.vectors import Content, Vector, columns_of

_COMPRESSED = 15
"""Type of a compressed element."""

_DEEPEST = 20
"""Nesting of structures that is followed."""


def content_of(path: Path) -> Content:
    """Return the vectors and numbers of a MAT file, nested structures as dotted names.

    Raises
    ------
    RecordingError
        If the file is cut short, damaged, or states sizes that cannot be meant.
    """
    from scipy.io import loadmat

    with translated(path, "the MAT file cannot be read"):
        if kind_of(path, read_head(path)) is Kind.V5:
            _require_plausible_sizes(path)
        with np.errstate(invalid="ignore", over="ignore"):  # damaged counts may be of any size
            variables = loadmat(path, simplify_cells=True)
    vectors: list[Vector] = []
    scalars: dict[str, float] = {}
    skipped: list[str] = []
    for name, value in variables.items():
        if name.startswith("__"):
            continue
        for dotted, array in _flattened(name, value, 0):
            if array is None or array.dtype.kind not in "iufb":
                skipped.append(dotted)
            elif array.size == 1:
                scalars[dotted] = float(array.reshape(()))
            else:
                parts = columns_of(dotted, array)
                skipped += [] if parts else [dotted]
                vectors += [
                    Vector(name=part, length=values.size, load=partial(np.asarray, values))
                    for part, values in parts
                ]
    notes = (f"left out, no real vectors: {_shortened(skipped)}",) if skipped else ()
    return Content(vectors=tuple(vectors), scalars=scalars, notes=notes)


def _flattened(name: str, value: object, depth: int) -> Iterator[tuple[str, NDArray[Any] | None]]:
    """Yield dotted names and arrays; None for what is no array of numbers."""
    if depth > _DEEPEST:
        yield name, None
    elif isinstance(value, dict):
        for key, inner in value.items():
            yield from _flattened(f"{name}.{key}", inner, depth + 1)
    elif isinstance(value, list) or (isinstance(value, np.ndarray) and value.dtype == object):
        for number, inner in enumerate(np.asarray(value, dtype=object).reshape(-1), start=1):
            yield from _flattened(f"{name}.{number}", inner, depth + 1)
    elif isinstance(value, np.ndarray | np.generic | int | float):
        yield name, np.asarray(value)
    else:
        yield name, None


def _shortened(names: list[str]) -> str:
    """Return a list of names for a note."""
    more = f" and {len(names) - 8} more" if len(names) > 8 else ""
    return ", ".join(names[:8]) + more


def _require_plausible_sizes(path: Path) -> None:
    """Raise if elements reach beyond the file, or would unpack to more than can be meant."""
    unpacked = 0
    with path.open("rb") as stream:
        order = "<" if stream.read(128)[126:128] == b"IM" else ">"
        end = stream.seek(0, 2)
        position = 128
        while position + 8 <= end:
            stream.seek(position)
            kind, length = struct.unpack(f"{order}II", stream.read(8))
            if length > end - position - 8:
                raise RecordingError(
                    "it ends within a variable",
                    where=str(path),
                    remedy="Copy it again from the instrument.",
                )
            unpacked += _unpacked_size(stream, order) if kind == _COMPRESSED else length
            position += 8 + length
    if unpacked > MAX_UNPACKED_BYTES:
        raise RecordingError(
            f"it would unpack to {unpacked / 2**30:.1f} GiB",
            where=str(path),
            remedy=f"At most {MAX_UNPACKED_BYTES / 2**30:.0f} GiB are read; split the record.",
        )


def _unpacked_size(stream: BinaryIO, order: str) -> int:
    """Return the size that a compressed element states for its content."""
    head = zlib.decompressobj().decompress(stream.read(256), 8)
    if len(head) < 8:
        return 0
    return int(struct.unpack(f"{order}II", head)[1])
