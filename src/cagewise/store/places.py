"""Where waveforms lie: a folder of this machine, or anything that fsspec can reach."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Protocol

from cagewise.errors import MissingFileError, StoreUnreachableError
from cagewise.store.durable import Unnamed, clear_abandoned, file_errors, incoming, write_whole
from cagewise.store.steps import Step, no_step

if TYPE_CHECKING:
    from fsspec import AbstractFileSystem

DECODE_AGAIN = "Import the original again: it is decoded anew."
"""What to do when a waveform is lost: nothing is, as long as the original is there."""


class Place(Protocol):
    """A place of files with relative names."""

    def read(self, name: str) -> bytes:
        """Return a file; :class:`MissingFileError` if it is not there."""

    def write(self, name: str, content: bytes) -> None:
        """Write a file; when this returns, it is there for good."""

    def begin(self, name: str, content: memoryview) -> tuple[Unnamed, ...]:
        """Write a file that is there for good when what is returned was settled."""

    def clear_abandoned(self) -> None:
        """Remove what writers left that were killed long ago."""

    def where(self, name: str) -> str:
        """Return how a file is called in messages."""


def place_at(url: str, step: Step = no_step) -> Place:
    """Return the place of a path or fsspec URL.

    Raises
    ------
    StoreUnreachableError
        If fsspec does not know it.
    """
    if "://" not in url:
        return _Folder(Path(url), step)
    import fsspec

    try:
        system, root = fsspec.core.url_to_fs(url)
    except (ImportError, ValueError) as error:
        raise StoreUnreachableError(
            f"waveforms cannot be kept there ({error})",
            where=url,
            remedy="Install the fsspec file system that the address names.",
        ) from error
    if url.startswith("file://"):
        return _Folder(Path(root), step)
    return _Remote(system, root, url.rstrip("/"))


class _Folder:
    """A folder of this machine."""

    def __init__(self, root: Path, step: Step) -> None:
        self._root = root
        self._step = step

    def read(self, name: str) -> bytes:
        path = self._root / name
        if not path.is_file():
            raise _missing(str(path))
        with file_errors(path, "read"):
            return path.read_bytes()

    def write(self, name: str, content: bytes) -> None:
        path = self._root / name
        with file_errors(path):
            write_whole(path, content, self._step)

    def begin(self, name: str, content: memoryview) -> tuple[Unnamed, ...]:
        path = self._root / name
        with file_errors(path), incoming(self._root, self._step) as file:
            file.stream.write(content)
            return (file.hand_over(path),)

    def clear_abandoned(self) -> None:
        clear_abandoned(self._root)

    def where(self, name: str) -> str:
        return str(self._root / name)


class _Remote:
    """A file system of fsspec.

    A file may be there in part after a kill; nothing points to it then, and writing it again
    replaces it.
    """

    def __init__(self, system: AbstractFileSystem, root: str, url: str) -> None:
        self._system = system
        self._root = root
        self._url = url

    def read(self, name: str) -> bytes:
        try:
            return bytes(self._system.cat_file(f"{self._root}/{name}"))
        except FileNotFoundError as error:
            raise _missing(self.where(name)) from error
        except OSError as error:
            raise self._silent(name, error) from error

    def begin(self, name: str, content: memoryview) -> tuple[Unnamed, ...]:
        self.write(name, bytes(content))
        return ()

    def write(self, name: str, content: bytes) -> None:
        path = f"{self._root}/{name}"
        try:
            self._system.makedirs(path.rpartition("/")[0], exist_ok=True)
            self._system.pipe_file(path, content)
            arrived = self._system.info(path)["size"]
        except OSError as error:
            raise self._silent(name, error) from error
        if arrived != len(content):
            raise StoreUnreachableError(
                f"{len(content)} bytes were sent, {arrived} arrived", where=self.where(name)
            )

    def clear_abandoned(self) -> None:
        """Do nothing: files are written there under their names."""

    def where(self, name: str) -> str:
        return f"{self._url}/{name}"

    def _silent(self, name: str, error: OSError) -> StoreUnreachableError:
        return StoreUnreachableError(
            f"the place of the waveforms does not answer ({error})",
            where=self.where(name),
            remedy="Check `waveforms` in plant.toml, the network, and your permissions.",
        )


def _missing(where: str) -> MissingFileError:
    """Return the error for a waveform that is gone."""
    return MissingFileError(
        "this waveform was kept and is not there any more", where=where, remedy=DECODE_AGAIN
    )
