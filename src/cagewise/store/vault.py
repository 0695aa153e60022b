"""Files kept by their checksum: the name says what must be in it, so nothing is ever overwritten.

A file is copied into the folder under a passing name while it is hashed, flushed to the disk, and
only then given its name. A name that exists is therefore a whole file; writing it twice, even by
two processes at once, writes the same bytes.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from typing import BinaryIO, Protocol

from cagewise.errors import DamagedFileError, MissingFileError, StoreError
from cagewise.store.durable import Unnamed, file_errors, incoming, settle
from cagewise.store.records import Original
from cagewise.store.steps import Step, no_step

BLOCK_BYTES = 1 << 20
"""Read, hashed and written at a time: large enough for the disk, small enough for the memory."""


class Digest(Protocol):
    """A checksum that is being computed."""

    def update(self, data: bytes, /) -> None:
        """Take bytes in."""

    def hexdigest(self) -> str:
        """Return the checksum of what was taken in."""


class _Readable(Protocol):
    def read(self, size: int, /) -> bytes: ...


@dataclass(frozen=True, slots=True)
class Copy:
    """A file that was copied into a vault."""

    original: Original
    unnamed: tuple[Unnamed, ...]
    """The copy, to be settled; nothing if the vault has the file."""
    folders: tuple[Path, ...]
    """Folders in which the file was found: perhaps another program has named it just now."""


class Vault:
    """A folder of files named by their SHA-256, in sub-folders of its first two digits."""

    def __init__(self, folder: Path, step: Step = no_step) -> None:
        self.folder = folder
        self._step = step

    def path(self, checksum: str) -> Path:
        """Return where the file with a checksum is, or would be."""
        return self.folder / checksum[:2] / checksum

    def keep(self, source: Path | bytes, name: str = "") -> Original:
        """Keep the bytes of a file, or bytes, and return what they are called from now on.

        Parameters
        ----------
        source
            A file, or its content.
        name
            As it came; the name of the file if empty.

        Raises
        ------
        StoreFullError, StoreReadOnlyError
            If it cannot be written; nothing is left behind.
        StoreError
            If the source cannot be read, or changes while it is read.
        """
        copy = self.copied(source, name)
        try:
            with file_errors(self.folder):
                settle(copy.unnamed, copy.folders, step=self._step)
        finally:
            for file in copy.unnamed:
                file.drop()
        return copy.original

    def copied(self, source: Path | bytes, name: str = "", also: Digest | None = None) -> Copy:
        """Copy the bytes of a file, or bytes, into the folder; the copy has no name yet.

        Parameters
        ----------
        source, name
            As for :meth:`keep`.
        also
            A checksum of several files one after the other, into which the bytes go, too.

        Raises
        ------
        StoreFullError, StoreReadOnlyError, StoreError
            As :meth:`keep`.
        """
        if isinstance(source, bytes):
            return self._copied(BytesIO(source), name, also)
        with file_errors(source, "read"), source.open("rb", buffering=0) as stream:
            before = os.fstat(stream.fileno())
            copy = self._copied(stream, name or source.name, also)
            after = os.fstat(stream.fileno())
        if (before.st_size, before.st_mtime_ns) != (after.st_size, after.st_mtime_ns):
            for file in copy.unnamed:
                file.drop()
            raise StoreError(
                "the file changed while it was read",
                where=str(source),
                remedy="Wait until the instrument has finished writing, and import it again.",
            )
        return copy

    def _copied(self, stream: _Readable, name: str, also: Digest | None = None) -> Copy:
        """Copy a stream into the folder while hashing it."""
        digest = hashlib.sha256()
        digests = [digest] if also is None else [digest, also]
        with file_errors(self.folder), incoming(self.folder, self._step) as file:
            size = _copy(stream, file.stream, digests)
            self._step("copied")
            original = Original(checksum=digest.hexdigest(), size_bytes=size, name=name)
            target = self.path(original.checksum)
            if _is_whole(target, original):  # a damaged one is replaced by what it should be
                return Copy(original, (), (target.parent,))
            return Copy(original, (file.hand_over(target),), ())

    @contextmanager
    def open(self, checksum: str) -> Iterator[BinaryIO]:
        """Open a kept file.

        Raises
        ------
        MissingFileError
            If it is not there.
        """
        with self._found(checksum).open("rb") as stream:
            yield stream

    def verify(self, checksum: str) -> None:
        """Read a kept file through.

        Raises
        ------
        MissingFileError, DamagedFileError
            If it is not there, or not what was kept.
        """
        path = self._found(checksum)
        with file_errors(path, "read"), path.open("rb") as stream:
            found = hashlib.file_digest(stream, "sha256").hexdigest()
        if found != checksum:
            raise DamagedFileError(
                "the bytes are not those that were kept (the checksum differs)",
                where=str(path),
                remedy="Copy it back from a backup, or import the original file again.",
            )

    def checked(self, checksum: str) -> Path:
        """Return the path of a kept file after :meth:`verify`."""
        self.verify(checksum)
        return self.path(checksum)

    def _found(self, checksum: str) -> Path:
        path = self.path(checksum)
        if not path.is_file():
            raise MissingFileError(
                "this file was kept and is not there any more",
                where=str(path),
                remedy="Copy it back from a backup, or import the original file again.",
            )
        return path


def _is_whole(path: Path, original: Original) -> bool:
    """Return whether a file is there and what it should be."""
    if not path.is_file() or path.stat().st_size != original.size_bytes:
        return False
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest() == original.checksum


def _copy(source: _Readable, target: BinaryIO, digests: Sequence[Digest]) -> int:
    """Copy a stream; return how many bytes went into the target and into every digest.

    A file of many blocks is hashed by other threads while the next block is read and written.
    """
    block = source.read(BLOCK_BYTES)
    if len(block) < BLOCK_BYTES:
        size = 0
        while block:
            size += target.write(block)
            for digest in digests:
                digest.update(block)
            block = source.read(BLOCK_BYTES)
        return size
    size = 0
    with ThreadPoolExecutor(len(digests)) as others:
        hashing: list[Future[None]] = []
        while block:
            for each in hashing:
                each.result()
            hashing = [others.submit(digest.update, block) for digest in digests]
            size += target.write(block)
            block = source.read(BLOCK_BYTES)
    return size
