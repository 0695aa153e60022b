"""Parquet file to recording."""

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
from cagewise.readers.metadata import METADATA_NAME, recording_from
from cagewise.readers.vectors import TIME_NAMES, Content, Vector, assemble

if TYPE_CHECKING:
    import pyarrow as pa

_WIDEST_BYTES = 8
"""Bytes of the widest number a column can hold."""

_NANOSECONDS = 1e-9


def read(path: Path, options: ReadOptions) -> Recording:
    """Read a Parquet file: our own layout, or numeric columns with a time column or a rate."""
    import pyarrow as pa

    with translated(path, "the file cannot be read as Parquet", also=(pa.ArrowException,)):
        table = _table(path)
        metadata = (table.schema.metadata or {}).get(METADATA_NAME.encode())
        text = None if metadata is None else metadata.decode("utf-8")
        if text is None:
            content = _content(table)
        else:
            arrays = {name: _values(table.column(name)) for name in table.column_names}
    provenance = Provenance(source=path.name, format_name="parquet")
    if text is not None:
        return recording_from(arrays, text, provenance=provenance, options=options, where=str(path))
    parts = assemble(content, options, path)
    return Recording(
        channels=parts.channels,
        sampling_rate_hz=parts.timing.sampling_rate_hz,
        sample_times_s=parts.timing.sample_times_s,
        provenance=Provenance(source=path.name, format_name="parquet", notes=parts.notes),
    )


def _table(path: Path) -> pa.Table:
    """Return the table, refusing sizes that cannot be meant."""
    from pyarrow import parquet

    with parquet.ParquetFile(path) as file:
        stated = file.metadata.num_rows * file.metadata.num_columns * _WIDEST_BYTES
        if stated > MAX_UNPACKED_BYTES:
            raise RecordingError(
                f"it states {stated / 2**30:.1f} GiB of samples",
                where=str(path),
                remedy=f"At most {MAX_UNPACKED_BYTES / 2**30:.0f} GiB are read; split the record.",
            )
        return file.read()


def _content(table: pa.Table) -> Content:
    """Return the numeric columns of a table from elsewhere; date-times become seconds."""
    import pyarrow as pa

    vectors: list[Vector] = []
    notes: list[str] = []
    for name in dict.fromkeys(table.column_names):
        column = table.column(table.column_names.index(name))
        kind = column.type
        if pa.types.is_timestamp(kind) and not any(v.name in TIME_NAMES for v in vectors):
            load = partial(_seconds, column)
            vectors.append(Vector(name="time_s", length=len(column), load=load))
        elif pa.types.is_integer(kind) or pa.types.is_floating(kind) or pa.types.is_boolean(kind):
            load = partial(_values, column)
            unit = _unit(table.schema.field(name))
            vectors.append(Vector(name=name, length=len(column), load=load, unit=unit))
        else:
            notes.append(f"column {name!r} ({kind}) was left out")
    return Content(vectors=tuple(vectors), notes=tuple(notes))


def _unit(field: pa.Field) -> str:
    """Return the unit that a field's metadata state, or an empty text."""
    unit = (field.metadata or {}).get(b"unit", b"")
    return str(unit.decode("utf-8", errors="replace"))


def _values(column: pa.ChunkedArray) -> NDArray[Any]:
    """Return a column as numbers, missing cells as NaN."""
    values: NDArray[Any] = column.to_numpy()
    if values.dtype == object:  # booleans with missing cells
        return np.array([np.nan if v is None else float(v) for v in values])
    return values


def _seconds(column: pa.ChunkedArray) -> NDArray[np.float64]:
    """Return date-times as seconds from the first."""
    import pyarrow as pa

    stamps = column.cast(pa.timestamp("ns"), safe=False).cast(pa.int64()).to_numpy()
    return np.asarray((stamps - stamps[0]) * _NANOSECONDS, dtype=np.float64)
