"""Streams of events: a page follows its jobs without asking again and again."""

from __future__ import annotations

import asyncio
import threading
import time
from collections.abc import AsyncIterator, Callable, Sequence

from fastapi import Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import StreamingResponse

from cagewise.web.desk import Desk
from cagewise.web.jobs.records import Job
from cagewise.web.security.rates import address_of, too_often

MEDIA_TYPE = "text/event-stream"
TICK_S = 0.4
"""Time between two looks."""
HEARTBEAT_S = 10.0
"""Time after which something is sent even if nothing changed, so that a broken line shows."""
LONGEST_S = 60.0
"""Then the stream ends and the page asks anew: who lost the right to read is noticed there."""
AGAIN_MS = 1000
"""Time after which a page asks anew."""
MOST_STREAMS = 64
MOST_OF_ADDRESS = 12
"""Streams at the same time; a browser opens six connections to a server at most."""
_RETRY_S = 5.0


class Streams:
    """Counts the streams of a server."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._open: dict[str, int] = {}

    def take(self, address: str) -> None:
        """Count one more.

        Raises
        ------
        RefusedError
            If there are too many.
        """
        with self._lock:
            own = self._open.get(address, 0)
            if own >= MOST_OF_ADDRESS or sum(self._open.values()) >= MOST_STREAMS:
                raise too_often(_RETRY_S, "too many pages follow jobs")
            self._open[address] = own + 1

    def give(self, address: str) -> None:
        """Count one less."""
        with self._lock:
            left = self._open[address] - 1
            if left:
                self._open[address] = left
            else:
                del self._open[address]


async def follow(
    request: Request, desk: Desk, ids: Sequence[int], told: Callable[[Job], str]
) -> StreamingResponse:
    """Return a stream of what becomes of jobs.

    Parameters
    ----------
    request
        What was asked.
    desk
        Of the server.
    ids
        Numbers of the jobs.
    told
        A job as one line of JSON.

    Raises
    ------
    NotKeptError
        If one of them is not there.
    RefusedError
        If there are too many streams.
    """
    wanted = tuple(dict.fromkeys(ids))
    for each in wanted:
        await run_in_threadpool(desk.jobs.get, each)
    streams: Streams = request.app.state.streams
    address = address_of(request.scope)
    streams.take(address)

    async def counted() -> AsyncIterator[str]:
        try:
            async for line in _lines(request, desk, wanted, told):
                yield line
        finally:
            streams.give(address)

    return StreamingResponse(counted(), media_type=MEDIA_TYPE, headers={"x-accel-buffering": "no"})


async def _lines(
    request: Request, desk: Desk, ids: Sequence[int], told: Callable[[Job], str]
) -> AsyncIterator[str]:
    """Yield the events."""
    leaving: threading.Event = request.app.state.leaving
    begin = last = time.monotonic()
    sent: dict[int, str] = {}
    yield f"retry: {AGAIN_MS}\n\n"
    while time.monotonic() - begin < LONGEST_S and not leaving.is_set():
        jobs = [await run_in_threadpool(desk.jobs.get, each) for each in ids]
        for job in jobs:
            line = told(job)
            if sent.get(job.id) != line:
                sent[job.id], last = line, time.monotonic()
                yield f"event: job\ndata: {line}\n\n"
        if all(job.state.is_over for job in jobs):
            yield "event: end\ndata: {}\n\n"
            return
        if time.monotonic() - last >= HEARTBEAT_S:
            last = time.monotonic()
            yield ": still here\n\n"
        await asyncio.sleep(TICK_S)
