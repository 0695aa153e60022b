"""MAT files, versions 4 to 7.3 (the last is HDF5)."""

from __future__ import annotations

from pathlib import Path

from cagewise.measurement import Recording
from cagewise.readers.format import Format, ReadOptions
from cagewise.readers.mat.kinds import kind_of


def _sniff(path: Path, head: bytes) -> bool:
    """Return whether the file begins like a MAT file of any version."""
    return kind_of(path, head) is not None


def _read(path: Path, options: ReadOptions) -> Recording:
    from cagewise.readers.mat.reader import read

    return read(path, options)


FORMAT = Format(
    name="mat",
    title="MAT file (version 4 to 7.3)",
    suffixes=(".mat",),
    holds="Vectors, matrices with one channel per column, and nested structures of them; the "
    "sampling rate from variables named like fs, dt or t.",
    sniff=_sniff,
    read=_read,
)
