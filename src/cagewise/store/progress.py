"""How far a long job over many files is."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Progress:
    """How much of a job over files is done."""

    files: int
    of_files: int
    size_bytes: int
    """Of the files that are done."""
    of_bytes: int


Tell = Callable[[Progress], None]
"""Called after every file."""


def tell_nobody(progress: Progress) -> None:
    """Do nothing."""


class Meter:
    """Counts files and tells how far it is.

    Parameters
    ----------
    of_files, of_bytes
        How much there is.
    tell
        Who is told.
    """

    def __init__(self, of_files: int, of_bytes: int, tell: Tell) -> None:
        self._of = of_files, of_bytes
        self._tell = tell
        self.files = 0
        self.size_bytes = 0

    def add(self, size_bytes: int) -> None:
        """Count one file."""
        self.files += 1
        self.size_bytes += size_bytes
        of_files, of_bytes = self._of
        self._tell(
            Progress(
                files=self.files,
                of_files=of_files,
                size_bytes=self.size_bytes,
                of_bytes=of_bytes,
            )
        )
