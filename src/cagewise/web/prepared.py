"""What is made once and asked for often: a bounded memory shared by all threads.

Two requests for the same thing make it once: the second waits for the first. The least recently
used things go first when there are too many; a thing larger than the whole memory is not kept.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Hashable
from concurrent.futures import Future
from threading import Lock
from typing import Any, TypeVar, cast

Made = TypeVar("Made")

MOST_BYTES = 256 << 20
"""Memory for prepared pictures: the long spectra of some fifty long recordings."""


class Prepared:
    """Things by key, as many as memory is given for.

    Parameters
    ----------
    most_bytes
        Memory that they may take together.
    """

    def __init__(self, most_bytes: int = MOST_BYTES) -> None:
        self._most = most_bytes
        self._lock = Lock()
        self._kept: OrderedDict[Hashable, tuple[Any, int]] = OrderedDict()
        self._making: dict[Hashable, Future[Any]] = {}
        self._bytes = 0

    @property
    def nbytes(self) -> int:
        """Memory that is taken."""
        return self._bytes

    def get(self, key: Hashable, make: Callable[[], Made], size_of: Callable[[Made], int]) -> Made:
        """Return the thing of a key; make it if it is not there.

        Parameters
        ----------
        key
            Says what it is, completely: the same key is the same thing.
        make
            Makes it. What it raises, everybody who waits gets; nothing is kept then.
        size_of
            Memory that it takes, in bytes.
        """
        with self._lock:
            if key in self._kept:
                self._kept.move_to_end(key)
                return cast("Made", self._kept[key][0])
            waiting = self._making.get(key)
            mine: Future[Any] = Future()
            if waiting is None:
                self._making[key] = mine
        if waiting is not None:
            return cast("Made", waiting.result())
        return self._made(key, mine, make, size_of)

    def _made(
        self,
        key: Hashable,
        mine: Future[Any],
        make: Callable[[], Made],
        size_of: Callable[[Made], int],
    ) -> Made:
        """Make a thing, keep it and give it to all who wait."""
        try:
            made = make()
            size = size_of(made)
        except BaseException as error:
            with self._lock:
                del self._making[key]
            mine.set_exception(error)
            raise
        with self._lock:
            del self._making[key]
            self._keep(key, made, size)
        mine.set_result(made)
        return made

    def _keep(self, key: Hashable, made: object, size: int) -> None:
        """Keep a thing, and let go of the least recently used until all fit."""
        if size > self._most:
            return
        self._kept[key] = (made, size)
        self._bytes += size
        while self._bytes > self._most:
            _, (_, gone) = self._kept.popitem(last=False)
            self._bytes -= gone
