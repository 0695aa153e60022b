"""Bytes of a sheet from disk and back: bounded, and never half written."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from cagewise.errors import OutputError, SheetError

LARGEST_FILE_BYTES = 32_000_000
"""A sheet is some pages of figures; waveforms of a turn test may be a few megabytes."""


def bytes_of(path: Path) -> bytes:
    """Return the content of a file.

    Raises
    ------
    SheetError
        If it cannot be read, is empty or much too large.
    """
    where = str(path)
    try:
        if path.exists() and not path.is_file():
            raise SheetError("this is a folder or a device, not a file", where=where)
        size = path.stat().st_size
        raw = path.read_bytes() if size <= LARGEST_FILE_BYTES else b""
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise SheetError(
            f"cannot be read ({reason})", where=where, remedy="Give the path of a test sheet."
        ) from error
    if size > LARGEST_FILE_BYTES:
        raise SheetError(
            f"has {size / 1e6:.3g} MB; a test sheet is some pages of figures",
            where=where,
            remedy="Is this a recording?",
        )
    if not raw.strip(b"\0 \t\r\n"):
        raise SheetError("is empty", where=where, remedy="Start from a template.")
    return raw


def write_bytes(path: Path, content: bytes, *, overwrite: bool) -> None:
    """Write a file in one move: it is old or new, never half.

    Raises
    ------
    OutputError
        If it exists and may not be replaced, or the system refuses.
    """
    if path.exists() and not overwrite:
        raise OutputError(
            "the file exists and was left as it is",
            where=str(path),
            remedy="Choose another name, or ask for it to be replaced.",
        )
    try:
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
        try:
            with os.fdopen(handle, "wb") as stream:
                stream.write(content)
            Path(name).chmod(0o644)
            Path(name).replace(path.resolve())
        except BaseException:
            Path(name).unlink(missing_ok=True)
            raise
    except OSError as error:
        raise OutputError(
            f"the file cannot be written ({error.strerror})", where=str(path)
        ) from error
