"""Files that are either there and whole, or not there: written beside, flushed, then renamed."""

from __future__ import annotations

import errno
import os
import secrets
import shutil
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import BinaryIO

from cagewise.errors import StoreError, StoreFullError, StoreReadOnlyError
from cagewise.store.steps import Step, no_step

INCOMING = ".incoming-"
"""Beginning of the names of files that are being written."""

_ABANDONED_S = 86400.0
"""Age at which a half-written file has no writer any more: no copy takes a day."""

_FULL = {errno.ENOSPC, errno.EDQUOT, errno.EFBIG}
_READ_ONLY = {errno.EROFS, errno.EACCES, errno.EPERM}


@contextmanager
def file_errors(where: Path | str, doing: str = "written") -> Iterator[None]:
    """Turn errors of the operating system inside the block into ours."""
    try:
        yield
    except OSError as error:
        raise file_error(error, str(where), doing) from error


def file_error(error: OSError, where: str, doing: str) -> StoreError:
    """Return our error for one of the operating system."""
    if error.errno in _FULL:
        return StoreFullError(
            "no space is left",
            where=where,
            remedy="Make space and do it again; what was kept before is unharmed.",
        )
    if error.errno in _READ_ONLY:
        return StoreReadOnlyError(
            f"it may not be {doing} ({error.strerror})",
            where=where,
            remedy="Check the permissions of the folder, and whether its disk is read-only.",
        )
    return StoreError(
        f"it cannot be {doing} ({error.strerror or error})", where=where, remedy="Check the disk."
    )


def sync_folder(folder: Path) -> None:
    """Make names in a folder survive a loss of power, where the system can do that."""
    if os.name == "nt":  # folders cannot be opened there; renaming is journalled
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def make_folder(folder: Path) -> None:
    """Make a folder whose name survives a loss of power."""
    if folder.is_dir():
        return
    make_folder(folder.parent)
    folder.mkdir(exist_ok=True)
    sync_folder(folder.parent)


class Incoming:
    """A file that is being written; :meth:`settle` gives it its name."""

    def __init__(self, folder: Path, stream: BinaryIO, path: Path, step: Step) -> None:
        self.stream = stream
        self._folder = folder
        self._path = path
        self._step = step

    def settle(self, target: Path) -> None:
        """Flush the bytes to the disk, then give the file its name in one step."""
        self.stream.flush()
        os.fsync(self.stream.fileno())
        self.stream.close()
        self._step("flushed")
        make_folder(target.parent)
        self._path.replace(target)
        self._step("renamed")
        sync_folder(target.parent)


@contextmanager
def incoming(folder: Path, step: Step = no_step) -> Iterator[Incoming]:
    """Open a new file in ``folder``; it is removed unless it was settled."""
    make_folder(folder)
    path = folder / f"{INCOMING}{os.getpid()}-{secrets.token_hex(8)}"
    with path.open("xb") as stream:
        try:
            yield Incoming(folder, stream, path, step)
        finally:
            with suppress(OSError):
                stream.close()  # a full disk reports here a second time
            path.unlink(missing_ok=True)


def clear_abandoned(folder: Path) -> None:
    """Remove what writers left in a folder that were killed more than a day ago."""
    oldest = time.time() - _ABANDONED_S
    for path in folder.glob(f"{INCOMING}*"):
        with suppress(OSError):  # another process clears it at the same time, or may not
            if path.stat().st_mtime < oldest:
                shutil.rmtree(path) if path.is_dir() else path.unlink()


def write_whole(target: Path, content: bytes, step: Step = no_step) -> None:
    """Write a file so that it is either the old or the new one, whole."""
    with incoming(target.parent, step) as file:
        file.stream.write(content)
        file.settle(target)
