"""Opening, checking and hashing files, and turning other people's errors into ours."""

from __future__ import annotations

import hashlib
import struct
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from cagewise.errors import CagewiseError, RecordingError

HEAD_BYTES = 65536
"""Bytes that recognising a format may look at: enough for long preambles, cheap to read."""

MAX_UNPACKED_BYTES = 4 * 2**30
"""Largest size to which a compressed file may unpack: 4 GiB.

Ten minutes of twelve channels at 50 kHz in float64 are 2.9 GB. A file of a few kilobytes that
claims more than this is damaged or hostile.
"""

LIBRARY_ERRORS = (
    ArithmeticError,
    AttributeError,
    BufferError,
    EOFError,
    LookupError,
    MemoryError,
    OSError,
    RuntimeError,
    TypeError,
    ValueError,
    struct.error,
    zlib.error,
)
"""What general-purpose libraries raise on damaged files. They document no narrower set."""


def read_head(path: Path) -> bytes:
    """Return the first bytes of a regular, readable, non-empty file.

    Raises
    ------
    RecordingError
        If there is no such file, it is not a regular file, not readable, or empty.
    """
    where = str(path)
    if not path.exists():
        raise RecordingError("there is no such file", where=where, remedy="Check the path.")
    if path.is_dir():
        raise RecordingError(
            "this is a folder, not a recording",
            where=where,
            remedy="Name the files in it one by one; one file is one recording.",
        )
    if not path.is_file():
        raise RecordingError("this is not a regular file", where=where, remedy="Name a file.")
    try:
        with path.open("rb") as stream:
            head = stream.read(HEAD_BYTES)
    except OSError as error:
        raise RecordingError(
            f"the file cannot be opened ({error.strerror or error})",
            where=where,
            remedy="Check its permissions.",
        ) from error
    if not head:
        raise RecordingError(
            "the file is empty", where=where, remedy="Copy it again from the instrument."
        )
    return head


def sha256_of(paths: tuple[Path, ...]) -> str:
    """Return the SHA-256 of the bytes of the files, one after the other."""
    if len(paths) == 1:
        with paths[0].open("rb") as stream:
            return hashlib.file_digest(stream, "sha256").hexdigest()
    digest = hashlib.sha256()
    for path in paths:
        with path.open("rb") as stream:
            while block := stream.read(1 << 20):
                digest.update(block)
    return digest.hexdigest()


@contextmanager
def translated(
    path: Path,
    what: str,
    *,
    remedy: str = "Copy it again from the instrument, or export it in another format.",
    also: tuple[type[BaseException], ...] = (),
) -> Iterator[None]:
    """Turn a library's error inside the block into one :class:`RecordingError`.

    Only calls into libraries belong inside: our own mistakes must stay visible.
    """
    try:
        yield
    except CagewiseError:
        raise
    except LIBRARY_ERRORS + also as error:
        first_line = next(iter(str(error).splitlines()), "") or type(error).__name__
        raise RecordingError(
            f"{what} ({first_line[:200]})", where=str(path), remedy=remedy
        ) from error


def sibling(path: Path, suffix: str) -> Path | None:
    """Return the file of the same stem with ``suffix`` in any letter case, if there is one."""
    direct = path.with_suffix(suffix)
    if direct.is_file():
        return direct
    wanted = direct.name.casefold()
    try:
        entries = sorted(path.parent.iterdir())
    except OSError:
        return None
    return next((e for e in entries if e.name.casefold() == wanted and e.is_file()), None)
