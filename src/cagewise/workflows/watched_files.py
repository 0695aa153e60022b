"""The files of watched folders, and which of them have come to rest.

Folders are looked at again and again: that works on every file system, also on those of other
machines, which tell nobody what changed. An instrument writes for minutes, in several files, and
a copy may bear the time of its original from the first byte on; so a file counts when its size and
its time of modification have not changed *while they were watched*, whatever they are.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from cagewise.errors import RecordingError
from cagewise.store import SourceFile
from cagewise.workflows.plant_folder import is_plant

PARTIAL_ENDINGS = (".part", ".partial", ".filepart", ".tmp", ".temp", ".download", "~")
"""Of names that programs give to files that are not complete. Common practice, no source."""
PARTIAL_BEGINNINGS = (".", "~")
"""Of hidden files, and of those that a program keeps beside an open one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """What one look into the folders found."""

    rested: Mapping[Path, SourceFile]
    """Files that may be read, with their state."""
    moving: int
    """Files that are new, grow, or are empty."""
    unreadable: Mapping[Path, str]
    """Folders that could not be looked into, with the reason."""


class WatchedFiles:
    """Remembers between two looks how files were, and since when.

    Parameters
    ----------
    folders
        With their own folders; those that are plants are passed by, and so are links.
    rest_s
        For how long a file must not change.
    clock
        Seconds that never jump.
    """

    def __init__(self, folders: Sequence[Path], rest_s: float, clock: Callable[[], float]) -> None:
        self._folders = folders
        self._rest_s = rest_s
        self._clock = clock
        self._seen: dict[Path, tuple[SourceFile, float]] = {}

    def look(self) -> Look:
        """Look into the folders."""
        unreadable: dict[Path, str] = {}
        now = self._clock()
        seen: dict[Path, tuple[SourceFile, float]] = {}
        for folder in self._folders:
            for path, state in _files_below(folder, unreadable):
                before = self._seen.get(path)
                since = before[1] if before is not None and before[0] == state else now
                seen[path] = (state, since)
        self._seen = seen
        rested = {
            path: state
            for path, (state, since) in seen.items()
            if state.size_bytes and now - since >= self._rest_s
        }
        return Look(rested=rested, moving=len(seen) - len(rested), unreadable=unreadable)


def folder_to_watch(folder: Path) -> Path:
    """Return a folder by its real name, under which its files are noted.

    Raises
    ------
    RecordingError
        If there is none, or it is a plant.
    """
    if not folder.is_dir():
        raise RecordingError(
            "there is no such folder",
            where=str(folder),
            remedy="Name the folder into which the instrument writes.",
        )
    if is_plant(folder):
        raise RecordingError(
            "this folder is a plant",
            where=str(folder),
            remedy="Name the folder into which the instrument writes, and the plant with --plant.",
        )
    return folder.resolve()


def _files_below(folder: Path, unreadable: dict[Path, str]) -> Iterator[tuple[Path, SourceFile]]:
    """Yield the files in a folder and in its folders, with their states."""
    try:
        with os.scandir(folder) as entries:
            found = sorted(entries, key=lambda entry: entry.name)
        if any(entry.name == "plant.toml" for entry in found) and is_plant(folder):
            return
        for entry in found:
            if _is_passed_over(entry.name):
                continue
            if entry.is_dir(follow_symlinks=False):
                yield from _files_below(Path(entry.path), unreadable)
            elif entry.is_file(follow_symlinks=False):
                yield from _state_of(entry)
    except OSError as error:
        unreadable[folder] = error.strerror or str(error)


def _state_of(entry: os.DirEntry[str]) -> Iterator[tuple[Path, SourceFile]]:
    """Yield a file with its state, unless it has just gone."""
    try:
        stat = os.stat(entry.path, follow_symlinks=False)  # noqa: PTH116 - of the entry, fresh
    except FileNotFoundError:
        return
    path = Path(entry.path)
    yield (
        path,
        SourceFile(path=str(path), size_bytes=stat.st_size, modified_ns=stat.st_mtime_ns),
    )


def _is_passed_over(name: str) -> bool:
    """Return whether a name says that a file is hidden or not complete."""
    return name.startswith(PARTIAL_BEGINNINGS) or name.casefold().endswith(PARTIAL_ENDINGS)
