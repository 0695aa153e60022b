"""Recording to Parquet: samples as stored, compressed without loss."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from cagewise.measurement import Channel, Recording
from cagewise.readers.metadata import METADATA_NAME, TIMES_NAME, metadata_text

if TYPE_CHECKING:
    import pyarrow as pa

_ROWS_PER_GROUP = 1 << 20
"""Samples that are stored, and can be read, together."""

_BYTES = "BYTE_STREAM_SPLIT"
"""First the lowest bytes of all numbers, then the next: what changes slowly packs well."""

_DIFFERENCES = "DELTA_BINARY_PACKED"
"""Each number less the one before it, in as few bits as a block of them needs."""

_NARROW_BYTES = 4
"""Widest integer that Parquet stores in 32 bits."""

_TRIED = 1 << 14
"""Counts on which the packing is tried: a second or so, many periods of the supply."""

_WORTH = 0.9
"""Part of the raw counts to which sorted bytes have to pack."""


def write(recording: Recording, path: Path | pa.NativeFile) -> None:
    """Write one column per channel, bytes sorted or integers as differences, then LZ4.

    Order and differences do the packing; a slower compressor after them gains at
    most some percent of a measurement and takes longer than the disk (docs/history.md).

    Each field carries unit, role, scale and offset as text for other programs; our own reader
    takes them, and the rest, from the JSON text under ``cagewise``.
    """
    import pyarrow as pa
    from pyarrow import parquet

    columns = {channel.name: _native(channel.raw) for channel in recording.channels}
    said = {channel.name: _of_field(channel) for channel in recording.channels}
    if recording.sample_times_s is not None:
        columns[TIMES_NAME] = recording.sample_times_s
        said[TIMES_NAME] = {"unit": "s"}
    arrays = [_array(values) for values in columns.values()]
    fields = [
        pa.field(name, array.type, metadata=said[name])
        for name, array in zip(columns, arrays, strict=True)
    ]
    schema = pa.schema(
        fields,
        metadata={
            "sampling_rate_hz": repr(recording.sampling_rate_hz),
            METADATA_NAME: metadata_text(recording),
        },
    )
    parquet.write_table(
        pa.Table.from_arrays(arrays, schema=schema),
        path,
        row_group_size=_ROWS_PER_GROUP,
        compression="lz4",
        use_dictionary=False,
        column_encoding={name: _encoding(values) for name, values in columns.items()},
        write_statistics=False,
    )


def _native(raw: NDArray[Any]) -> NDArray[Any]:
    """Return samples in the byte order of this machine: Parquet knows no other."""
    return raw if raw.dtype.isnative else raw.astype(raw.dtype.newbyteorder("="))


def _array(values: NDArray[Any]) -> pa.Array:
    """Return samples as a column, numbers without a copy.

    ``pa.array`` would import pandas, where it is installed, only to find that they are not its own.
    """
    import pyarrow as pa

    if values.dtype.kind not in "iuf":
        return pa.array(values)
    numbers = pa.py_buffer(np.ascontiguousarray(values))
    return pa.Array.from_buffers(pa.from_numpy_dtype(values.dtype), len(values), [None, numbers])


def _of_field(channel: Channel) -> dict[str, str]:
    """Return what other programs may want to know about a column."""
    return {
        "unit": channel.unit,
        "role": channel.role.value,
        "scale": repr(channel.scale),
        "offset": repr(channel.offset),
    }


def _encoding(raw: NDArray[Any]) -> str:
    """Return the encoding that suits samples of this type."""
    if raw.dtype.kind == "f" and raw.dtype != np.float16:
        return _BYTES
    if raw.dtype.kind not in "iu":
        return "PLAIN"
    return _BYTES if _packs_by_bytes(raw) else _DIFFERENCES


def _packs_by_bytes(raw: NDArray[Any]) -> bool:
    """Return whether counts become smaller when their bytes are sorted, tried on some of them.

    Sorting takes half the time of differences and packs most measurements as well; of counts whose
    noise fills both bytes it makes more than there was, as Parquet widens them to 32 bits first.
    """
    import pyarrow as pa

    some = raw[raw.size // 2 :][:_TRIED]
    wide = some.astype(np.int64 if some.dtype.itemsize > _NARROW_BYTES else np.int32)
    planes = np.ascontiguousarray(wide.view(np.uint8).reshape(-1, wide.dtype.itemsize).T)
    packed = pa.compress(planes, codec="lz4_raw", asbytes=False)
    return bool(packed.size <= _WORTH * some.nbytes)
