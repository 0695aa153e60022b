"""The process that does one job: it tells how far it is, ends when asked, and dies with its server.

It says everything through one pipe, as lines of JSON; the server writes it down. When the server
is killed the pipe ends, and so does this process: nothing runs that nobody knows of.
"""

from __future__ import annotations

import json
import os
import signal
import threading
import time
import traceback
from collections.abc import Mapping
from contextlib import suppress
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

from cagewise.errors import CagewiseError

TELL_S = 0.2
"""Time between two words about the progress; what is told in between is not passed on."""
NICENESS = 5
"""Pages come first."""
CANCEL = b"cancel"
_ORPHANED = 3
"""Status of a process whose server is gone; nobody reads it."""


class CancelledError(Exception):
    """The work shall end; raised where it tells how far it is."""


class Voice:
    """What a worker says to its server, and hears from it."""

    def __init__(self, pipe: Connection) -> None:
        self._pipe = pipe
        self._cancelled = threading.Event()
        self._last = -TELL_S

    def listen(self) -> None:
        """Hear what the server says until it is gone."""
        try:
            while True:
                if self._pipe.recv_bytes() == CANCEL:
                    self._cancelled.set()
        except (EOFError, OSError):
            os._exit(_ORPHANED)

    def tell(self, share: float | None, words: str) -> None:
        """Say how far the work is.

        Raises
        ------
        CancelledError
            If it shall end.
        """
        if self._cancelled.is_set():
            raise CancelledError
        moment = time.monotonic()
        if moment - self._last >= TELL_S:
            self._last = moment
            self.say({"said": "progress", "share": share, "words": words})

    def say(self, what: Mapping[str, Any]) -> None:
        """Say something."""
        self._pipe.send_bytes(json.dumps(what).encode())


def work(pipe: Connection, folder: str, target: str, arguments: Mapping[str, Any]) -> None:
    """Do a job; the entry point of the process.

    Parameters
    ----------
    pipe
        To the server.
    folder
        Of the plant.
    target
        The function that does it, as ``module:name``.
    arguments
        What it is asked with.
    """
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the server ends us, in its own order
    voice = Voice(pipe)
    threading.Thread(target=voice.listen, daemon=True).start()
    with suppress(AttributeError, OSError):
        os.nice(NICENESS)
    voice.say(_outcome(voice, folder, target, arguments))


def _outcome(
    voice: Voice, folder: str, target: str, arguments: Mapping[str, Any]
) -> dict[str, Any]:
    """Do the work, and return what came of it."""
    try:
        return {"said": "done", "result": _done(voice, folder, target, arguments)}
    except CancelledError:
        return {"said": "cancelled"}
    except CagewiseError as error:
        from cagewise.web.problems import kind_of

        fault = {"kind": kind_of(error), "what": error.what}
        return {"said": "failed", **fault, "where": error.where, "remedy": error.remedy}
    except MemoryError:
        what = "the memory of the machine is too small for this"
        remedy = "End other programs, or record for a shorter time."
        return {"said": "failed", "kind": "memory", "what": what, "where": "", "remedy": remedy}
    except Exception:  # noqa: BLE001 - the end of the process: whatever it is goes into the log
        return {"said": "fault", "trace": traceback.format_exc()}


def _done(voice: Voice, folder: str, target: str, arguments: Mapping[str, Any]) -> Any:  # noqa: ANN401 - any JSON
    """Do the work."""
    from cagewise.store import Plant
    from cagewise.web.jobs.kinds import load

    run = load(target)
    with Plant.open(Path(folder)) as plant:
        return run(plant, arguments, voice.tell)
