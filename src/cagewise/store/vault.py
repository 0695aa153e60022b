"""Files kept by their checksum: the name says what must be in it, so nothing is ever overwritten.

A file is copied into the folder under a passing name while it is hashed, flushed to the disk, and
only then given its name. A name that exists is therefore a whole file; writing it twice, even by
two processes at once, writes the same bytes.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import contextmanager
from io import BytesIO
from pathlib import Path
from typing import BinaryIO

from cagewise.errors import DamagedFileError, MissingFileError, StoreError
from cagewise.store.durable import file_errors, incoming
from cagewise.store.records import Original
from cagewise.store.steps import Step, no_step

BLOCK_BYTES = 1 << 20
"""Read, hashed and written at a time: large enough for the disk, small enough for the memory."""


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
        if isinstance(source, bytes):
            return self._copied(BytesIO(source), name)
        with file_errors(source, "read"), source.open("rb") as stream:
            before = os.fstat(stream.fileno())
            kept = self._copied(stream, name or source.name)
            after = os.fstat(stream.fileno())
        if (before.st_size, before.st_mtime_ns) != (after.st_size, after.st_mtime_ns):
            raise StoreError(
                "the file changed while it was read",
                where=str(source),
                remedy="Wait until the instrument has finished writing, and import it again.",
            )
        return kept

    def _copied(self, stream: BinaryIO, name: str) -> Original:
        """Copy a stream into the folder while hashing it."""
        digest, size = hashlib.sha256(), 0
        with file_errors(self.folder), incoming(self.folder, self._step) as file:
            with ThreadPoolExecutor(1) as other:
                hashing: Future[None] | None = None
                for block in _blocks(stream):
                    if hashing is not None:
                        hashing.result()
                    hashing = other.submit(digest.update, block)
                    file.stream.write(block)
                    size += len(block)
            self._step("copied")
            kept = Original(checksum=digest.hexdigest(), size_bytes=size, name=name)
            target = self.path(kept.checksum)
            if not _is_whole(target, kept):  # a damaged one is replaced by what it should be
                file.settle(target)
        return kept

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


def _blocks(stream: BinaryIO) -> Iterator[bytes]:
    """Yield the bytes of a stream."""
    while block := stream.read(BLOCK_BYTES):
        yield block
