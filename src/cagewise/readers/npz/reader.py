"""NPZ archive to recording."""

from __future__ import annotations

import lzma
import zipfile
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
from numpy.lib import format as npy
from numpy.typing import NDArray

from cagewise.errors import RecordingError
from cagewise.measurement import Provenance, Recording
from cagewise.readers.files import MAX_UNPACKED_BYTES, translated
from cagewise.readers.format import ReadOptions
from cagewise.readers.metadata import METADATA_NAME, recording_from
from cagewise.readers.vectors import Content, Vector, assemble, columns_of

_ARCHIVE_ERRORS = (zipfile.BadZipFile, lzma.LZMAError, SyntaxError)


def read(path: Path, options: ReadOptions) -> Recording:
    """Read an NPZ archive: our own layout, or equally long arrays with a sampling rate."""
    arrays, notes = _arrays(path)
    metadata = arrays.get(METADATA_NAME)
    if metadata is not None and metadata.dtype.kind == "U" and metadata.size == 1:
        return recording_from(
            arrays,
            str(metadata.reshape(())),
            provenance=Provenance(source=path.name, format_name="npz"),
            options=options,
            where=str(path),
        )
    vectors: list[Vector] = []
    scalars: dict[str, float] = {}
    for name, array in arrays.items():
        if array.dtype.kind not in "iufb":
            notes.append(f"{name!r} holds no real numbers and was left out")
        elif array.size == 1:
            scalars[name] = float(array.reshape(()))
        else:
            vectors += [
                Vector(name=part, length=values.size, load=partial(np.asarray, values))
                for part, values in columns_of(name, array)
            ]
    content = Content(vectors=tuple(vectors), scalars=scalars, notes=tuple(notes))
    parts = assemble(content, options, path)
    return Recording(
        channels=parts.channels,
        sampling_rate_hz=parts.timing.sampling_rate_hz,
        sample_times_s=parts.timing.sample_times_s,
        provenance=Provenance(source=path.name, format_name="npz", notes=parts.notes),
    )


def _arrays(path: Path) -> tuple[dict[str, NDArray[Any]], list[str]]:
    """Return the arrays of the archive, refusing sizes that cannot be meant."""
    arrays: dict[str, NDArray[Any]] = {}
    notes: list[str] = []
    with (
        translated(path, "the archive cannot be read", also=_ARCHIVE_ERRORS),
        zipfile.ZipFile(path) as archive,
    ):
        members = archive.infolist()
        unpacked = sum(member.file_size for member in members)
        if unpacked > MAX_UNPACKED_BYTES:
            raise RecordingError(
                f"it would unpack to {unpacked / 2**30:.1f} GiB",
                where=str(path),
                remedy=f"At most {MAX_UNPACKED_BYTES / 2**30:.0f} GiB are read; split the record.",
            )
        for member in members:
            name = member.filename.removesuffix(".npy")
            array = _array(archive, member)
            if array is None:
                notes.append(f"{name!r} holds Python objects or no array and was not loaded")
            else:
                arrays[name] = array
    return arrays, notes


def _array(archive: zipfile.ZipFile, member: zipfile.ZipInfo) -> NDArray[Any] | None:
    """Return one array, or None if it is none or would have to be unpickled.

    The array's own head states its size, too; no more is read than the archive states.
    """
    if not member.filename.endswith(".npy"):
        return None
    with archive.open(member) as stream:
        version = npy.read_magic(stream)
        if version == (1, 0):
            shape, fortran, dtype = npy.read_array_header_1_0(stream)
        elif version == (2, 0):
            shape, fortran, dtype = npy.read_array_header_2_0(stream)
        else:
            return None
        if dtype.hasobject or dtype.names is not None:
            return None
        count = int(np.prod(shape, dtype=object)) if shape else 1
        needed = count * dtype.itemsize
        if needed > member.file_size:
            message = f"{member.filename} states {count} values and holds fewer"
            raise ValueError(message)
        data = stream.read(needed)
    values = np.frombuffer(data, dtype=dtype, count=count)
    return values.reshape(shape, order="F" if fortran else "C")
