"""Which of the MAT file versions a file is."""

from __future__ import annotations

import struct
from enum import StrEnum
from pathlib import Path

_HDF5_MARK = b"\x89HDF\r\n\x1a\n"
_HEAD_BYTES = 128
_V4_HEAD = "5i"
_LONGEST_NAME = 64


class Kind(StrEnum):
    """Family of MAT file versions."""

    V4 = "4"
    V5 = "5"
    """Versions 5, 6 and 7 (the last compressed)."""
    HDF5 = "7.3"


def kind_of(path: Path, head: bytes) -> Kind | None:
    """Return the version that the first bytes show, or None if it is no MAT file."""
    if head[512:520] == _HDF5_MARK and head.startswith(b"MATLAB 7.3"):
        return Kind.HDF5
    named = path.suffix.casefold() == ".mat"
    if head.startswith(_HDF5_MARK) and named:
        return Kind.HDF5
    if len(head) >= _HEAD_BYTES and head[126:128] in (b"IM", b"MI") and 1 in head[124:126]:
        return Kind.V5 if head.startswith(b"MATLAB 5") or named else None
    return Kind.V4 if named and _is_v4(head) else None


def _is_v4(head: bytes) -> bool:
    """Return whether the file begins with a matrix head of version 4, in either byte order."""
    size = struct.calcsize(f"<{_V4_HEAD}")
    if len(head) < size + 2:
        return False
    for order, machine in (("<", 0), (">", 1)):
        kind, rows, columns, imaginary, length = struct.unpack(order + _V4_HEAD, head[:size])
        name = head[size : size + max(length, 0)]
        if (
            kind // 1000 == machine
            and 0 <= kind % 1000 <= 52
            and min(rows, columns) >= 0
            and imaginary in (0, 1)
            and 1 < length <= _LONGEST_NAME
            and name.endswith(b"\0")
            and name[:-1].decode("latin-1").isidentifier()
        ):
            return True
    return False
