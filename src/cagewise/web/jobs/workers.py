"""The workers of a server: so many jobs at the same time, each in a process of its own."""

from __future__ import annotations

import logging
import multiprocessing
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from multiprocessing.connection import wait
from pathlib import Path

from cagewise.errors import CagewiseError
from cagewise.web.jobs.queue import Jobs
from cagewise.web.jobs.records import Job
from cagewise.web.jobs.running import LOOK_S, Running

log = logging.getLogger("cagewise.web")

IDLE_S = 1.0
"""Time between two looks for work that another server was asked for, or that another has lost."""
TROUBLED_S = 5.0
"""Time until the next look when the workbench could not be read or written."""
_JOIN_S = 10.0
"""Time that the end of all workers may take."""


class Workers:
    """Does what is asked for, in a thread that only looks after processes.

    Parameters
    ----------
    jobs
        What is asked for.
    folder
        Of the plant.
    most
        Jobs that run at the same time.
    ended
        Called with every job that ended here, in the thread of the workers.
    """

    def __init__(
        self, jobs: Jobs, folder: Path, most: int, ended: Callable[[Job], None] = lambda _: None
    ) -> None:
        self._jobs = jobs
        self._folder = folder
        self._most = most
        self._ended = ended
        self._running: list[Running] = []
        self._stopping = threading.Event()
        self._bell, self._ring = multiprocessing.Pipe(duplex=False)
        self._ring_lock = threading.Lock()
        self._recover_at = 0.0
        self._thread = threading.Thread(target=self._serve, name="workers", daemon=True)

    def start(self) -> None:
        """Begin."""
        self._jobs.on_change = self.wake
        self._thread.start()

    def stop(self) -> None:
        """End all processes; their jobs wait for the next server."""
        self._jobs.on_change = lambda: None
        self._stopping.set()
        self.wake()
        self._thread.join(_JOIN_S)
        with self._ring_lock:
            self._ring.close()
        self._bell.close()

    def wake(self) -> None:
        """Look at once."""
        with self._ring_lock, suppress(OSError):
            if not self._bell.poll():  # one ring is enough
                self._ring.send_bytes(b".")

    def _serve(self) -> None:
        """Look after the processes until the server ends."""
        while not self._stopping.is_set():
            pause_s = LOOK_S if self._running else IDLE_S
            try:
                self._turn()
            except CagewiseError as error:
                log.warning("jobs: %s", error)
                pause_s = TROUBLED_S
            except Exception:
                log.exception("jobs: a fault of the program")
                pause_s = TROUBLED_S
            self._pause(LOOK_S if self._running and pause_s == IDLE_S else pause_s)
        self._end_all()

    def _turn(self) -> None:
        """Attend to what runs, and begin what waits."""
        for each in tuple(self._running):
            if each.attend():
                self._running.remove(each)
                self._tell_end(each)
        moment = time.monotonic()
        if moment >= self._recover_at:
            self._recover_at = moment + IDLE_S
            self._jobs.recover()
        while len(self._running) < self._most and not self._stopping.is_set():
            claim = self._jobs.claim()
            if claim is None:
                return
            self._running.append(Running(self._jobs, claim, self._folder))

    def _pause(self, seconds: float) -> None:
        """Wait until something is said, asked for, or the time is over."""
        pipes = [each.pipe for each in self._running if not each.pipe.closed]
        for ready in wait([self._bell, *pipes], seconds):
            if ready is self._bell:
                self._bell.recv_bytes()

    def _tell_end(self, running: Running) -> None:
        """Tell of a job that ended."""
        job = self._jobs.get(running.claim.job.id)
        if job.state.is_over:
            self._ended(job)

    def _end_all(self) -> None:
        """End all processes."""
        for each in self._running:
            try:
                each.abandon()
            except CagewiseError as error:
                log.warning("jobs: %s", error)  # its lease runs out
        self._running.clear()


@contextmanager
def at_work(workers: Workers) -> Iterator[None]:
    """Let workers do what is asked for, inside the block."""
    workers.start()
    try:
        yield
    finally:
        workers.stop()
