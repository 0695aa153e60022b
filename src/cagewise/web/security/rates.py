"""How often somebody may ask: in the memory of the server, forgotten when it ends."""

from __future__ import annotations

import math
import time
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass
from http import HTTPStatus
from threading import Lock

from starlette.types import ASGIApp, Receive, Scope, Send

from cagewise.web.security.refusal import RefusedError
from cagewise.web.settings import WebSettings

_MOST_KEPT = 10_000
"""Keys that are remembered; the one that was silent longest is forgotten first."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rate:
    """How often: so many at once, and so many per second after that."""

    at_once: int
    per_s: float


LOGIN_OF_NAME_FROM_ADDRESS = Rate(at_once=5, per_s=1 / 60)
"""Wrong passwords for one name from one address: five, then one a minute."""
LOGIN_FROM_ADDRESS = Rate(at_once=20, per_s=1 / 15)
"""Wrong passwords from one address, whatever the names."""
LOGIN_OF_NAME = Rate(at_once=50, per_s=1 / 60)
"""Wrong passwords for one name from everywhere: many, so that nobody can lock another out soon."""
REQUESTS = Rate(at_once=300, per_s=50.0)
"""Of one address: a page asks for some ten files at once, zooming for ten windows a second."""


class Buckets:
    """Counts what happened by key; each key has a bucket that leaks."""

    def __init__(self, rate: Rate, clock: Callable[[], float] = time.monotonic) -> None:
        self._rate = rate
        self._clock = clock
        self._lock = Lock()
        self._full: OrderedDict[str, tuple[float, float]] = OrderedDict()

    def wait_s(self, key: str) -> float:
        """Return how long a key has to wait; 0 if it may go on."""
        with self._lock:
            return self._wait_s(self._level(key))

    def add(self, key: str) -> float:
        """Count one more if there is room for it, and return how long to wait if there is none."""
        with self._lock:
            level = self._level(key)
            waited = self._wait_s(level)
            if not waited:
                self._full[key] = (level + 1.0, self._clock())
                self._full.move_to_end(key)
                while len(self._full) > _MOST_KEPT:
                    self._full.popitem(last=False)
            return waited

    def clear(self, key: str) -> None:
        """Forget a key."""
        with self._lock:
            self._full.pop(key, None)

    def _level(self, key: str) -> float:
        """Return what is left in a bucket now."""
        level, since = self._full.get(key, (0.0, 0.0))
        return max(0.0, level - (self._clock() - since) * self._rate.per_s)

    def _wait_s(self, level: float) -> float:
        """Return the time until there is room for one more."""
        return max(0.0, (level + 1.0 - self._rate.at_once) / self._rate.per_s)


class LoginRates:
    """How often a wrong password may be tried."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        rates = (LOGIN_OF_NAME_FROM_ADDRESS, LOGIN_FROM_ADDRESS, LOGIN_OF_NAME)
        self._buckets = tuple(Buckets(rate, clock) for rate in rates)

    def require(self, name: str, address: str) -> None:
        """Count an attempt before its password is looked at.

        Raises
        ------
        RefusedError
            If there were too many.
        """
        pairs = tuple(zip(self._buckets, _keys(name, address), strict=True))
        waits = [bucket.wait_s(key) for bucket, key in pairs]
        if max(waits) > 0.0:
            raise too_often(max(waits), "there were too many attempts to log in")
        for bucket, key in pairs:
            bucket.add(key)

    def forget(self, name: str, address: str) -> None:
        """Forget the attempts of somebody who got in."""
        for bucket, key in zip(self._buckets, _keys(name, address), strict=True):
            bucket.clear(key)


class RequestRates:
    """Refuses more requests of one address than a person with a browser makes."""

    def __init__(self, app: ASGIApp, *, settings: WebSettings) -> None:
        self._app = app
        self._buckets = Buckets(REQUESTS) if settings.allow_remote else None

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve a request, or refuse it."""
        if scope["type"] == "http" and self._buckets is not None:
            waited = self._buckets.add(address_of(scope))
            if waited > 0.0:
                raise too_often(waited, "there were too many requests")
        await self._app(scope, receive, send)


def address_of(scope: Scope) -> str:
    """Return the address of whoever asks."""
    client = scope.get("client")
    return str(client[0]) if client else ""


def too_often(wait_s: float, what: str) -> RefusedError:
    """Return the refusal of one request too many."""
    seconds = max(1, math.ceil(wait_s))
    return RefusedError(
        HTTPStatus.TOO_MANY_REQUESTS,
        what,
        remedy=f"Try again in {seconds} seconds.",
        retry_after_s=seconds,
    )


def _keys(name: str, address: str) -> tuple[str, str, str]:
    """Return what the three buckets count by."""
    key = name.strip().casefold()[:64]
    return f"{address} {key}", address, key
