"""NPZ: numpy's archive of arrays; pickled objects are never loaded."""

from __future__ import annotations

from pathlib import Path

from cagewise.measurement import Recording
from cagewise.readers.format import Format, ReadOptions


def _sniff(path: Path, head: bytes) -> bool:
    """Return whether this is a zip archive whose first member is an array, or is named .npz."""
    if head[:4] != b"PK\x03\x04":
        return False
    name = head[30 : 30 + int.from_bytes(head[26:28], "little")]
    return name.endswith(b".npy") or path.suffix.casefold() == ".npz"


def _read(path: Path, options: ReadOptions) -> Recording:
    from cagewise.readers.npz.reader import read

    return read(path, options)


def _write(recording: Recording, path: Path) -> None:
    from cagewise.readers.npz.writer import write

    write(recording, path)


FORMAT = Format(
    name="npz",
    title="NPZ (numpy)",
    suffixes=(".npz",),
    holds="Arrays named as the channels, `sampling_rate_hz` or a vector of times; pickled objects "
    "are left out.",
    sniff=_sniff,
    read=_read,
    write=_write,
)
