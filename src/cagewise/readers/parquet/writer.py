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


def write(recording: Recording, path: Path | pa.NativeFile) -> None:
    """Write one column per channel, integers as differences, floats byte by byte, then zstd.

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
    arrays = [pa.array(values) for values in columns.values()]
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
        compression="zstd",
        use_dictionary=False,
        column_encoding={name: _encoding(values) for name, values in columns.items()},
        write_statistics=False,
    )


def _native(raw: NDArray[Any]) -> NDArray[Any]:
    """Return samples in the byte order of this machine: Parquet knows no other."""
    return raw if raw.dtype.isnative else raw.astype(raw.dtype.newbyteorder("="))


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
        return "BYTE_STREAM_SPLIT"
    return "DELTA_BINARY_PACKED" if raw.dtype.kind in "iu" else "PLAIN"
