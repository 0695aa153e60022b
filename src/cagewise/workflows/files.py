"""Writing what a use case made: never over an existing file, never half a file."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterable
from pathlib import Path

from cagewise.errors import OutputError


def require_writable(paths: Iterable[Path], *, overwrite: bool) -> None:
    """Raise before any work is done if a result could not be written.

    Raises
    ------
    OutputError
        If a file exists and may not be overwritten, its folder does not exist, or two results
        would go into one file.
    """
    seen: set[Path] = set()
    for path in paths:
        if path in seen:
            raise OutputError("two results would go into this file", where=str(path))
        seen.add(path)
        if path.exists() and (not overwrite or path.is_dir()):
            raise OutputError(
                "the file exists and was left as it is",
                where=str(path),
                remedy="Choose another name, or add --force to replace it.",
            )
        if not path.parent.is_dir():
            raise OutputError(
                "the folder does not exist", where=str(path.parent), remedy="Make it first."
            )


def write_text_file(path: Path, text: str, *, overwrite: bool) -> None:
    """Write ``text`` as UTF-8 in one move: the file is old or new, never half.

    Raises
    ------
    OutputError
        As :func:`require_writable`, or if the system refuses.
    """
    require_writable([path], overwrite=overwrite)
    try:
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
        try:
            with os.fdopen(handle, "w", encoding="utf-8", newline="\n") as stream:
                stream.write(text)
            Path(name).chmod(0o644)
            Path(name).replace(path)
        except BaseException:
            Path(name).unlink(missing_ok=True)
            raise
    except OSError as error:
        raise OutputError(
            f"the file cannot be written ({error.strerror})", where=str(path)
        ) from error
