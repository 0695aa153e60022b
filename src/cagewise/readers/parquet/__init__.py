"""Apache Parquet: our own layout for stored waveforms, and plain tables from elsewhere."""

from __future__ import annotations

from pathlib import Path

from cagewise.measurement import Recording
from cagewise.readers.format import Format, ReadOptions


def _sniff(path: Path, head: bytes) -> bool:  # noqa: ARG001 - the content is enough
    """Return whether the file begins like a Parquet file."""
    return head[:4] == b"PAR1"


def _read(path: Path, options: ReadOptions) -> Recording:
    from cagewise.readers.parquet.reader import read

    return read(path, options)


def _write(recording: Recording, path: Path) -> None:
    from cagewise.readers.parquet.writer import write

    write(recording, path)


FORMAT = Format(
    name="parquet",
    title="Apache Parquet",
    suffixes=(".parquet", ".pq"),
    holds="One column per channel as stored, with unit, role, scale, offset, sampling rate and "
    "origin; tables from elsewhere need a time column or a rate.",
    sniff=_sniff,
    read=_read,
    write=_write,
)
