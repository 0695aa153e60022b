"""What became of one attempt to deliver a message, whichever way it went."""

from __future__ import annotations

import ssl
import threading
from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum, auto

from cagewise.workflows.post_file import Channel


class Outcome(Enum):
    """What an attempt came to."""

    TAKEN = auto()
    """The other side confirmed that it has the message."""
    FAILED = auto()
    """It did not, or nobody knows: the same message is to be sent again."""
    REFUSED = auto()
    """It will never take this message as it is."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Attempt:
    """One attempt."""

    outcome: Outcome
    said: str = ""
    """Why not, as a clause; nothing secret in it."""
    wait_s: float = 0.0
    """For how long the other side asked not to be asked again."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Patience:
    """How long an attempt may take."""

    step_s: float = 10.0
    """Connecting, and each wait for bytes. Common practice, no source."""
    whole_s: float = 30.0
    """Everything, the look-up of the name included; far below the claim on a message."""


Deliver = Callable[[Channel, str, bytes, Patience], Attempt]
"""Deliver the content of a message, given its key."""


def within(patience: Patience, work: Callable[[], Attempt]) -> Attempt:
    """Return what work came to, or that it took too long.

    The look-up of a name has no limit of its own, and a receiver can send one byte at a time for
    ever; work that is given up ends in a thread that hinders nobody.
    """
    done: list[Attempt] = []
    thread = threading.Thread(target=lambda: done.append(work()), daemon=True)
    thread.start()
    thread.join(patience.whole_s)
    if done:
        return done[0]
    return Attempt(outcome=Outcome.FAILED, said=f"no answer within {patience.whole_s:g} s")


def security(channel: Channel) -> ssl.SSLContext:
    """Return how a connection is encrypted: certificate and name are checked."""
    cafile = None if channel.ca_file is None else str(channel.ca_file)
    return ssl.create_default_context(cafile=cafile)


def failure(error: Exception) -> Attempt:
    """Return a failure of the connection in words."""
    reason = getattr(error, "reason", error)
    if isinstance(reason, ssl.SSLCertVerificationError):
        said = f"its certificate is not to be trusted ({reason.verify_message})"
    elif isinstance(reason, TimeoutError):
        said = "it does not answer in time"
    elif isinstance(reason, ConnectionRefusedError):
        said = "nothing listens there"
    elif isinstance(reason, OSError):
        said = f"no connection ({reason.strerror or reason})"
    else:
        said = f"the connection broke ({reason or type(reason).__name__})"
    return Attempt(outcome=Outcome.FAILED, said=said)
