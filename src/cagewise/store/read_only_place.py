"""A place of waveforms into which nothing is written, of a plant that is opened to be read."""

from __future__ import annotations

from cagewise.errors import StoreReadOnlyError
from cagewise.store.durable import Unnamed
from cagewise.store.places import Place


class ReadOnlyPlace:
    """Gives what another place gives, and takes nothing.

    Parameters
    ----------
    place
        The other one.
    """

    def __init__(self, place: Place) -> None:
        self._place = place

    def read(self, name: str) -> bytes:
        """Return a file."""
        return self._place.read(name)

    def write(self, name: str, content: bytes | memoryview) -> None:
        """Refuse."""
        raise StoreReadOnlyError(
            f"the plant was opened to be read, and {len(content)} bytes would be written",
            where=self._place.where(name),
            remedy="Do it with permission to write.",
        )

    def begin(self, name: str, content: memoryview) -> tuple[Unnamed, ...]:
        """Refuse."""
        self.write(name, content)
        return ()

    def clear_abandoned(self) -> None:
        """Leave everything as it is."""

    def where(self, name: str) -> str:
        """Return how a file is called in messages."""
        return self._place.where(name)
