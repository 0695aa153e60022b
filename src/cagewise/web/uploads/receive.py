"""Bodies of requests to the disk, block by block: never more than a few megabytes in memory."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from contextlib import suppress
from http import HTTPStatus

from starlette.requests import ClientDisconnect

from cagewise.errors import CagewiseError
from cagewise.web.security.refusal import RefusedError
from cagewise.web.uploads.records import Upload
from cagewise.web.uploads.writer import Writer

BLOCK_BYTES = 1 << 20
"""Written at a time, while the next one is received."""


class Pump:
    """Writes one block in another thread while the next one is received."""

    def __init__(self, writer: Writer) -> None:
        self._writer = writer
        self._parts: list[bytes] = []
        self._size = 0
        self._writing: asyncio.Future[None] | None = None

    async def push(self, piece: bytes) -> None:
        """Take some bytes."""
        self._parts.append(piece)
        self._size += len(piece)
        if self._size >= BLOCK_BYTES:
            await self._turn()

    async def end(self) -> Upload:
        """Write the rest, make it certain, and return how far the file is."""
        await self._turn()
        await self._turn()
        return await asyncio.to_thread(self._writer.keep)

    async def end_as_all(self) -> Upload:
        """As :meth:`end`, of a file whose size was not announced."""
        await self._turn()
        await self._turn()
        await asyncio.to_thread(self._writer.that_is_all)
        return await asyncio.to_thread(self._writer.keep)

    async def give_up(self) -> None:
        """Make certain what there is, after an error; the file can be gone on with."""
        if self._writing is not None:
            await asyncio.wait([self._writing])
            self._writing.exception()
        await asyncio.to_thread(_kept_if_possible, self._writer)

    async def _turn(self) -> None:
        """Wait for the block before, and begin to write this one."""
        if self._writing is not None:
            writing, self._writing = self._writing, None
            await writing
        if self._parts:
            parts, self._parts, self._size = self._parts, [], 0
            self._writing = asyncio.ensure_future(asyncio.to_thread(self._writer.append, parts))


async def pour(stream: AsyncIterator[bytes], writer: Writer) -> Upload:
    """Write all that a request brings.

    Raises
    ------
    StoreError
        If it cannot be written; what is on the disk stays.
    RefusedError
        If it is more than was announced, or the connection broke.
    """
    pump = Pump(writer)
    try:
        async for piece in stream:
            if piece:
                await pump.push(piece)
        return await pump.end()
    except ClientDisconnect as error:
        await asyncio.shield(pump.give_up())
        raise RefusedError(HTTPStatus.BAD_REQUEST, "the connection broke") from error
    except BaseException:
        await asyncio.shield(pump.give_up())
        raise


def _kept_if_possible(writer: Writer) -> None:
    """Keep what was received, if that can be."""
    with suppress(CagewiseError):  # the first error is the one that is told
        writer.keep()
