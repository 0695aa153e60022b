"""One file that is being received: blocks to the disk, hashed on the way."""

from __future__ import annotations

import hashlib
import os
import threading
from collections import deque
from concurrent.futures import Future, ThreadPoolExecutor
from http import HTTPStatus
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO, Protocol

from cagewise.errors import AlreadyKeptError, StoreError
from cagewise.store.durable import file_errors, make_folder, sync_folder
from cagewise.web.security.refusal import RefusedError
from cagewise.web.uploads.records import Upload

if TYPE_CHECKING:
    from cagewise.web.uploads.shelf import Uploads

SYNC_BYTES = 64 << 20
"""Bytes after which it is made certain that they are on the disk: at most so much is sent again
after a loss of power."""


FLUSH_BYTES = 8 << 20
"""Bytes after which the disk begins to take them, so that little is left to wait for at the end."""
MOST_UNHASHED = 16
"""Blocks that may wait to be hashed; they are in memory."""


class Digest(Protocol):
    """A checksum that is computed piece by piece."""

    def update(self, block: bytes, /) -> None:
        """Take a piece."""


class _Beside:
    """What is done with the bytes of a file while further ones are received."""

    def __init__(self) -> None:
        self._hasher = ThreadPoolExecutor(1)
        self._flusher = ThreadPoolExecutor(1)
        self._hashing: deque[Future[None]] = deque()
        self._flushing: Future[None] | None = None
        self._flushed = 0

    def hash(self, digest: Digest, block: bytes) -> None:
        """Hash a block, in its turn."""
        self._hashing.append(self._hasher.submit(digest.update, block))
        if len(self._hashing) > MOST_UNHASHED:
            self._hashing.popleft().result()

    def flush(self, file: int, position: int) -> None:
        """Let the disk take what was written; an error is raised by the next call, or the last."""
        if position - self._flushed < FLUSH_BYTES:
            return
        if self._flushing is not None:
            if not self._flushing.done():
                return
            self._flushing.result()
        self._flushed = position
        self._flushing = self._flusher.submit(os.fsync, file)

    def wait(self) -> None:
        """Wait for the disk; an error that it reported is told, for it reports each only once."""
        if self._flushing is not None:
            flushing, self._flushing = self._flushing, None
            flushing.result()

    def close(self) -> None:
        """Wait for all of it; the file may be closed then."""
        self._flusher.shutdown()
        self._hasher.shutdown()


class Writer:
    """Receives a file from where it stopped; every method may be called from any thread.

    Parameters
    ----------
    uploads
        Where it is noted.
    upload
        The file.
    passing, target
        Where it is until it is whole, and then.
    """

    def __init__(self, uploads: Uploads, upload: Upload, passing: Path, target: Path) -> None:
        self.upload = upload
        self._uploads = uploads
        self._passing = passing
        self._target = target
        self._lock = threading.Lock()
        self._shut_out = False
        self._position = upload.received_bytes
        self._synced = upload.received_bytes
        # what an earlier request has hashed is not known any more: then it is read again at the end
        self._digest = hashlib.sha256() if self._position == 0 else None
        self._beside = _Beside()
        self._stream = self._opened()

    def append(self, parts: list[bytes]) -> None:
        """Write the next bytes.

        Raises
        ------
        RefusedError
            If they are more than was announced.
        AlreadyKeptError
            If somebody else goes on with the file.
        StoreError
            If they cannot be written.
        """
        block = parts[0] if len(parts) == 1 else b"".join(parts)
        with self._lock:
            self._require_ours()
            if self._position + len(block) > self.upload.size_bytes:
                raise RefusedError(
                    HTTPStatus.REQUEST_ENTITY_TOO_LARGE,
                    f"more than the announced {self.upload.size_bytes} bytes are sent",
                    remedy="The file may have grown meanwhile: wait until it is finished.",
                )
            with file_errors(self._passing):
                _write_all(self._stream, block)
            self._position += len(block)
            if self._digest is not None:
                self._beside.hash(self._digest, block)
            with file_errors(self._passing):
                self._beside.flush(self._stream.fileno(), self._position)
            if self._position - self._synced >= SYNC_BYTES:
                self._sync()

    def keep(self) -> Upload:
        """Make certain that what was received is on the disk; a whole file gets its name.

        Raises
        ------
        StoreError
            If it cannot be written.
        """
        with self._lock:
            self._require_ours()
            try:
                self._sync()
                if self._position == self.upload.size_bytes:
                    self._settle()
            finally:
                self._close()
        return self.upload

    def that_is_all(self) -> None:
        """Take what was received as all of it."""
        with self._lock:
            self.upload = self._uploads.announce(self.upload, self._position)

    def shut_out(self) -> None:
        """Let nobody write with this any more."""
        with self._lock:
            if not self._shut_out:
                self._shut_out = True
                self._beside.close()
                self._stream.close()

    @property
    def received_bytes(self) -> int:
        """Written so far."""
        return self._position

    def _opened(self) -> BinaryIO:
        """Open the file where it goes on; what was not certain is cut off."""
        with file_errors(self._passing):
            make_folder(self._passing.parent)
            if not self._passing.exists() and self._target.exists():
                self._target.replace(self._passing)  # killed before it was noted that it is whole
            self._passing.touch()
            if self._passing.stat().st_size < self._position:
                raise StoreError(
                    "bytes that were received are not there any more",
                    where=self.upload.name,
                    remedy="Take the file back and send it again.",
                )
            stream: BinaryIO = self._passing.open("r+b", buffering=0)
            stream.truncate(self._position)
            stream.seek(self._position)
            return stream

    def _sync(self) -> None:
        """Make certain that what was written is on the disk, and note it."""
        with file_errors(self._passing):
            self._beside.wait()
            os.fsync(self._stream.fileno())
        self._synced = self._position
        if self._position < self.upload.size_bytes:
            self.upload = self._uploads.received(self.upload, self._position)

    def _settle(self) -> None:
        """Give a whole file its name."""
        with file_errors(self._target):
            checksum = self._checksum()
            self._passing.replace(self._target)
            sync_folder(self._target.parent)
        self.upload = self._uploads.received(self.upload, self._position, checksum)

    def _checksum(self) -> str:
        """Return the SHA-256 of the whole file."""
        self._beside.close()
        if self._digest is not None:
            return self._digest.hexdigest()
        with self._passing.open("rb") as stream:
            return hashlib.file_digest(stream, "sha256").hexdigest()

    def _close(self) -> None:
        self._shut_out = True
        self._beside.close()
        self._stream.close()
        self._uploads.left(self)

    def _require_ours(self) -> None:
        """Raise if somebody else goes on with the file."""
        if self._shut_out:
            raise AlreadyKeptError(
                "another request goes on with this file, or it was taken back",
                where=self.upload.name,
                remedy="Ask how much has been received.",
            )


def _write_all(stream: BinaryIO, block: bytes) -> None:
    """Write a block; the system may take it in parts."""
    left = memoryview(block)
    while left:
        left = left[stream.write(left) :]
