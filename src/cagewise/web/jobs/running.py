"""One job that runs: its process, what it said, and how it is ended."""

from __future__ import annotations

import json
import logging
import multiprocessing
import secrets
import signal
import time
from contextlib import suppress
from dataclasses import dataclass
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

from cagewise.web.jobs.kinds import target_of
from cagewise.web.jobs.queue import LEASE, Jobs
from cagewise.web.jobs.records import Claim, JobFault
from cagewise.web.jobs.worker import CANCEL, work

log = logging.getLogger("cagewise.web")

BEAT_S = 0.5
"""Time between two notes of the progress in the workbench."""
LOOK_S = 0.2
"""Time between two looks whether a job shall end."""
ASK_S = 0.3
"""Time that work gets to end by itself when it is asked; then its process is ended."""
TERMINATE_S = 0.25
"""Time that a process gets to end; then it is killed."""
_RENEW_S = LEASE.total_seconds() / 5.0

_CONTEXT = multiprocessing.get_context("spawn")
"""A new interpreter: a server has threads, and a copy of those would not work."""


@dataclass(slots=True)
class _Heard:
    """What a worker said last."""

    share: float | None = None
    words: str = ""
    end: dict[str, Any] | None = None
    """Its last word."""


class Running:
    """A job and the process that does it.

    Parameters
    ----------
    jobs
        Where it is written down.
    claim
        The right to it.
    folder
        Of the plant.
    """

    def __init__(self, jobs: Jobs, claim: Claim, folder: Path) -> None:
        self.claim = claim
        self._jobs = jobs
        self.pipe: Connection
        self.pipe, theirs = _CONTEXT.Pipe()
        self._process = _CONTEXT.Process(
            target=work,
            args=(theirs, str(folder), target_of(claim.job.kind), claim.job.arguments),
            name=f"job {claim.job.id}",
            daemon=True,
        )
        self._heard = _Heard()
        self._noted: tuple[float | None, str] = (None, "")
        self._beat_at = self._look_at = time.monotonic()
        self._ending_since: float | None = None
        self._lost = False
        self._silent = False
        self._process.start()
        theirs.close()

    def attend(self) -> bool:
        """Listen, write down, end what shall end; return whether the job is over for us."""
        self._listen()
        if self._heard.end is not None or not self._process.is_alive():
            self._listen()
            self._conclude()
            return True
        moment = time.monotonic()
        if moment >= self._look_at:
            self._look_at = moment + LOOK_S
            self._look(moment)
        if self._ending_since is not None:
            self._press(moment - self._ending_since)
        return False

    def abandon(self) -> None:
        """End the process and let the job wait again: the server ends."""
        self._stop()
        self._listen()
        if self._heard.end is None and not self._lost:
            self._jobs.give_back(self.claim)
        else:
            self._conclude()

    def _listen(self) -> None:
        """Take in what the worker said."""
        try:
            while not self._silent and self.pipe.poll():
                said = json.loads(self.pipe.recv_bytes())
                if said["said"] == "progress":
                    self._heard.share, self._heard.words = said["share"], said["words"]
                else:
                    self._heard.end = said
        except (EOFError, OSError):
            self._silent = True

    def _look(self, moment: float) -> None:
        """Write down how far it is, and look whether it shall end."""
        asked = self._jobs.asked_to_cancel(self.claim)
        if asked is None:
            log.warning("job %d was taken over by another server", self.claim.job.id)
            self._lost = True
            self._stop()
        elif asked and self._ending_since is None:
            self._ending_since = moment
            with suppress(OSError):
                self.pipe.send_bytes(CANCEL)
        told = (self._heard.share, self._heard.words)
        since = moment - self._beat_at
        if since >= _RENEW_S or (told != self._noted and since >= BEAT_S):
            self._beat_at, self._noted = moment, told
            self._jobs.beat(self.claim, *told)

    def _press(self, waited_s: float) -> None:
        """End a process that does not end by itself."""
        if waited_s > ASK_S + TERMINATE_S:
            self._process.kill()
        elif waited_s > ASK_S:
            self._process.terminate()

    def _stop(self) -> None:
        """End the process now."""
        self._process.terminate()
        self._process.join(TERMINATE_S)
        if self._process.is_alive():
            self._process.kill()

    def _conclude(self) -> None:
        """Write down what came of it."""
        self._process.join()
        status = self._process.exitcode
        self._process.close()
        self.pipe.close()
        if not self._lost:
            self._write(self._heard.end or {"said": "nothing"}, status)

    def _write(self, said: dict[str, Any], status: int | None) -> None:
        """Write down the last word of a worker, or that there was none."""
        if said["said"] == "done":
            self._jobs.finish(self.claim, said["result"])
        elif said["said"] == "cancelled" or self._ending_since is not None:
            self._jobs.cancelled(self.claim)
        elif said["said"] == "failed":
            parts = {name: str(said[name]) for name in ("kind", "what", "where", "remedy")}
            self._jobs.fail(self.claim, JobFault(**parts))
        elif said["said"] == "fault":
            self._jobs.fail(self.claim, _fault(self.claim, said["trace"]))
        else:
            how = _how(status)
            log.error("job %d: its process ended, %s", self.claim.job.id, how)
            self._jobs.crashed(self.claim, how)


def _fault(claim: Claim, trace: str) -> JobFault:
    """Return what is said of a fault of the program; the rest goes into the log."""
    reference = secrets.token_hex(4)
    log.error("fault %s: job %d\n%s", reference, claim.job.id, trace)
    return JobFault(
        kind="fault",
        what="this is a fault of the program",
        remedy=f"Please report it with the reference {reference} and what the log says under it.",
    )


def _how(status: int | None) -> str:
    """Return how a process ended."""
    if status is not None and status < 0:
        try:
            return f"killed by {signal.Signals(-status).name}"
        except ValueError:
            return f"killed by signal {-status}"
    return f"with status {status}"
