"""Files that are either there and whole, or not there: written beside, flushed, then renamed."""

from __future__ import annotations

import errno
import os
import secrets
import shutil
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO, TypeVar

from cagewise.errors import StoreError, StoreFullError, StoreReadOnlyError
from cagewise.store.steps import Step, no_step

INCOMING = ".incoming-"
"""Beginning of the names of files that are being written."""

_ABANDONED_S = 86400.0
"""Age at which a half-written file has no writer any more: no copy takes a day."""

_AT_ONCE = 8
"""Files that are flushed at once: with four, a journalling file system writes its journal nearly as
seldom as with forty."""

_T = TypeVar("_T")

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


@dataclass(frozen=True, slots=True)
class Unnamed:
    """A file that is written, but not flushed to the disk, and has no name yet."""

    stream: BinaryIO
    path: Path
    """Its passing name."""
    target: Path
    """The name that it is to have."""

    def drop(self) -> None:
        """Remove it, unless it has got its name."""
        with suppress(OSError):
            self.stream.close()  # a full disk reports here a second time
        self.path.unlink(missing_ok=True)


class Incoming:
    """A file that is being written; :meth:`settle` gives it its name."""

    def __init__(self, folder: Path, stream: BinaryIO, path: Path, step: Step) -> None:
        self.stream = stream
        self.handed_over = False
        self._folder = folder
        self._path = path
        self._step = step

    def hand_over(self, target: Path) -> Unnamed:
        """Leave it to somebody else to settle the file, together with others."""
        self.stream.flush()
        self.handed_over = True
        return Unnamed(self.stream, self._path, target)

    def settle(self, target: Path) -> None:
        """Flush the bytes to the disk, then give the file its name in one step."""
        settle([Unnamed(self.stream, self._path, target)], step=self._step)


def settle(files: Iterable[Unnamed], also: Iterable[Path] = (), *, step: Step = no_step) -> None:
    """Flush files to the disk, then give them their names.

    All are flushed at once: the disk then needs little more time for many than for one.

    Parameters
    ----------
    files
        Written, without a name.
    also
        Folders in which another program has just named a file: the name has to last, too.
    step
        Called between steps, for tests.
    """
    files = list(files)
    _at_once(_flush, files)
    step("flushed")
    named = {*also, *(file.target.parent for file in files)}
    for folder in sorted(each for each in named if not each.is_dir()):
        make_folder(folder.parent)
        folder.mkdir(exist_ok=True)
        named.add(folder.parent)
    for file in files:
        file.path.replace(file.target)
        step("renamed")
    _at_once(sync_folder, list(named))


def _flush(file: Unnamed) -> None:
    """Write what the system still holds of a file to the disk."""
    file.stream.flush()
    os.fsync(file.stream.fileno())
    file.stream.close()


def _at_once(function: Callable[[_T], None], things: Sequence[_T]) -> None:
    """Call a function that waits for the disk for all things at once."""
    if len(things) < 2:
        for thing in things:
            function(thing)
        return
    with ThreadPoolExecutor(min(len(things), _AT_ONCE)) as pool:
        list(pool.map(function, things))


@contextmanager
def incoming(folder: Path, step: Step = no_step) -> Iterator[Incoming]:
    """Open a new file in ``folder``; it is removed unless it was settled or handed over."""
    make_folder(folder)
    path = folder / f"{INCOMING}{os.getpid()}-{secrets.token_hex(8)}"
    file = Incoming(folder, path.open("xb"), path, step)
    try:
        yield file
    finally:
        if not file.handed_over:
            Unnamed(file.stream, path, path).drop()


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
