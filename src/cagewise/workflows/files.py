"""Writing what a use case made: never over an existing file, never half a file."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO

from cagewise.errors import OutputError

_COMPANIONS = {".cfg", ".dat", ".hdr", ".inf"}
"""Endings of the files that together are one recording."""


def require_writable(
    paths: Iterable[Path], *, overwrite: bool, inputs: Iterable[Path] = ()
) -> None:
    """Raise before any work is done if a result could not be written.

    Parameters
    ----------
    paths
        Where results will be written.
    overwrite
        Whether existing files may be replaced.
    inputs
        Files that are read; they and what belongs to them are never replaced.

    Raises
    ------
    OutputError
        If a file exists and may not be overwritten, is no file, or is an input; if its folder does
        not exist, or two results would go into one file.
    """
    inputs = tuple(inputs)
    seen: set[Path] = set()
    for path in paths:
        if path in seen:
            raise OutputError("two results would go into this file", where=str(path))
        seen.add(path)
        if path.exists() and not path.is_file():
            raise OutputError(
                "this is a folder or a device, not a file",
                where=str(path),
                remedy="Name a file.",
            )
        if any(_belongs_to(path, source) for source in inputs):
            raise OutputError(
                "the result would replace what it is made from",
                where=str(path),
                remedy="Choose another name.",
            )
        if path.exists() and not overwrite:
            raise OutputError(
                "the file exists and was left as it is",
                where=str(path),
                remedy="Choose another name, or add --force to replace it.",
            )
        if not path.parent.is_dir():
            raise OutputError(
                "the folder does not exist", where=str(path.parent), remedy="Make it first."
            )


def _belongs_to(path: Path, source: Path) -> bool:
    """Return whether ``path`` is an input, its sidecar, or another file of the same recording."""
    out, read = path.resolve(), source.resolve()
    if out == read or (path.exists() and source.exists() and path.samefile(source)):
        return True
    same_stem = out.with_suffix("") == read.with_suffix("")
    companion = {out.suffix.casefold(), read.suffix.casefold()} <= _COMPANIONS
    return out == read.with_name(f"{read.name}.toml") or (same_stem and companion)


def write_text_file(path: Path, text: str, *, overwrite: bool) -> None:
    """Write ``text`` as UTF-8 in one move: the file is old or new, never half.

    Raises
    ------
    OutputError
        As :func:`require_writable`, or if the system refuses.
    """
    with replacing(path, overwrite=overwrite) as stream:
        stream.write(text.encode("utf-8"))


@contextmanager
def replacing(path: Path, *, overwrite: bool) -> Iterator[BinaryIO]:
    """Give a stream to write a file in one move: the file is old or new, never half.

    Raises
    ------
    OutputError
        As :func:`require_writable`, or if the system refuses.
    """
    require_writable([path], overwrite=overwrite)
    path = path.resolve()  # a link is kept, what it points to is replaced
    try:
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
        try:
            with os.fdopen(handle, "w+b") as stream:
                yield stream
            Path(name).chmod(0o644)
            Path(name).replace(path)
        except BaseException:
            Path(name).unlink(missing_ok=True)
            raise
    except OSError as error:
        raise OutputError(
            f"the file cannot be written ({error.strerror})", where=str(path)
        ) from error
