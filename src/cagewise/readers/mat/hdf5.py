"""MAT files of version 7.3, which are HDF5 files."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from cagewise.errors import RecordingError
from cagewise.measurement import Provenance, Recording
from cagewise.readers.files import MAX_UNPACKED_BYTES, translated
from cagewise.readers.format import ReadOptions
from cagewise.readers.vectors import Content, Vector, assemble, columns_of

if TYPE_CHECKING:
    import h5py

_NO_NUMBERS = frozenset([b"char", b"cell", b"struct", b"function_handle"])
"""MATLAB classes that are stored as numbers and are none."""

_DENSEST_PACKING = 1032
"""Bytes that one byte of deflated data can at most stand for."""


def recording_of(path: Path, options: ReadOptions) -> Recording:
    """Return the recording in an HDF5 file; only the vectors that are chosen are read."""
    import h5py

    with (
        translated(path, "the MAT file (version 7.3) cannot be read"),
        h5py.File(path, "r") as file,
    ):
        parts = assemble(_content_of(file, path), options, path)
    return Recording(
        channels=parts.channels,
        sampling_rate_hz=parts.timing.sampling_rate_hz,
        sample_times_s=parts.timing.sample_times_s,
        provenance=Provenance(source=path.name, format_name="mat", notes=parts.notes),
    )


def _content_of(file: h5py.File, path: Path) -> Content:
    """Return the vectors and numbers of the file, groups as dotted names."""
    import h5py

    vectors: list[Vector] = []
    scalars: dict[str, float] = {}
    skipped: list[str] = []

    def visit(name: str, item: h5py.HLObject) -> None:
        if name.startswith("#") or not isinstance(item, h5py.Dataset):
            return
        dotted = name.replace("/", ".")
        is_number = item.dtype.kind in "iufb" and item.attrs.get("MATLAB_class") not in _NO_NUMBERS
        if not is_number or item.attrs.get("MATLAB_empty", 0) or item.size in (None, 0):
            skipped.append(dotted)
        elif item.size == 1:
            scalars[dotted] = float(np.asarray(item[()]).reshape(()))
        else:
            parts = _vectors_of(dotted, item, path)
            skipped.extend([] if parts else [dotted])
            vectors.extend(parts)

    file.visititems(visit)
    notes = (f"left out, no real vectors: {', '.join(skipped[:8])}",) if skipped else ()
    return Content(vectors=tuple(vectors), scalars=scalars, notes=notes)


def _vectors_of(name: str, item: h5py.Dataset, path: Path) -> list[Vector]:
    """Return the vectors of one data set, without reading it."""
    _require_plausible_size(name, item, path)
    shape = columns_of(name, np.broadcast_to(np.zeros((), dtype=np.int8), item.shape))
    return [
        Vector(name=part, length=values.size, load=partial(_load, item, name, part))
        for part, values in shape
    ]


def _load(item: h5py.Dataset, name: str, part: str) -> NDArray[Any]:
    """Return one vector of a data set."""
    return dict(columns_of(name, np.asarray(item[()])))[part]


def _require_plausible_size(name: str, item: h5py.Dataset, path: Path) -> None:
    """Raise if a data set states more samples than its stored bytes can stand for."""
    stated = int(item.size) * item.dtype.itemsize
    stored = int(item.id.get_storage_size()) * (_DENSEST_PACKING if item.compression else 1)
    if stated > min(stored, MAX_UNPACKED_BYTES):
        raise RecordingError(
            f"{name!r} states {item.size} values, which the file does not hold",
            where=str(path),
            remedy="Copy it again from the instrument.",
        )
