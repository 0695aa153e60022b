"""Whole results beside their documents, so that a page need not compute them again.

They are a convenience: whoever removes the folder loses nothing but time, no archive holds it, and
a result counts only while it says exactly what the kept document says.
"""

from __future__ import annotations

import zlib
from pathlib import Path
from typing import TypeVar

from cagewise.errors import InputError
from cagewise.store.durable import file_errors, write_whole
from cagewise.store.frozen import from_text, to_text
from cagewise.store.records import checksum_of
from cagewise.store.steps import Step, no_step

T = TypeVar("T")

FOLDER = "results"
"""In the folder of what can be computed again."""
LARGEST_BYTES = 1 << 28
"""Of one result, unpacked; one of a long visit takes about a megabyte."""
COMPRESSION = 6
"""Level of zlib: a result in 30 ms."""


class Results:
    """Results by the checksum of their document.

    Parameters
    ----------
    folder
        Where they lie; made when the first one is kept.
    step
        Called between steps, for tests.
    """

    def __init__(self, folder: Path, step: Step = no_step) -> None:
        self._folder = folder
        self._step = step

    def keep(self, document: str, result: object) -> None:
        """Keep the result that a document was written from.

        Raises
        ------
        StoreError
            If it cannot be written; nothing else is lost.
        """
        path = self._path(document)
        with file_errors(path):
            packed = zlib.compress(to_text(result).encode("utf-8"), COMPRESSION)
            write_whole(path, packed, self._step)

    def find(self, document: str, wanted: type[T]) -> T | None:
        """Return the result of a document, None if there is none that this version can read."""
        try:
            packed = self._path(document).read_bytes()
            unpacker = zlib.decompressobj()
            text = unpacker.decompress(packed, LARGEST_BYTES)
            if not unpacker.eof:
                return None
            return from_text(text.decode("utf-8"), wanted)
        except (OSError, zlib.error, UnicodeDecodeError, InputError):
            return None

    def _path(self, document: str) -> Path:
        """Return where the result of a document lies."""
        checksum = checksum_of(document.encode("utf-8"))
        return self._folder / checksum[:2] / f"{checksum}.z"
