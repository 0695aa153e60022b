"""Posting a message to a webhook.

Redirects are followed only where the method stays (307, 308 of RFC 9110) and the place is the same:
a receiver must not be able to send a finding, or the header that proves who we are, elsewhere.
Proxies are taken from the environment, as other programs take them (HTTPS_PROXY, NO_PROXY).
"""

from __future__ import annotations

import email.utils
import http.client
import urllib.request
from collections.abc import Mapping
from datetime import UTC, datetime
from email.message import Message as Headers
from typing import Protocol
from urllib.parse import SplitResult, urljoin, urlsplit

from cagewise import __version__
from cagewise.workflows.post_delivery import (
    Attempt,
    Outcome,
    Patience,
    failure,
    security,
    within,
)
from cagewise.workflows.post_file import PORTS, Channel

SENT_AGAIN = frozenset({401, 403, 407, 408, 409, 425, 429})
"""Of 400 to 499: what a later attempt with the same content may well pass. The password was put
right, a repetition came while the first was being worked on, too many came at once."""
KEEP_METHOD = frozenset({307, 308})
MOST_REDIRECTS = 3
LONGEST_WAIT_S = 86400.0
"""For no longer than a day is a receiver's wish to wait believed."""
_MOST_BYTES = 65536
"""Of an answer; nothing in it is used."""


class _Answer(Protocol):
    """What the library gives of an answer."""

    status: int
    headers: Headers

    def read(self, amount: int) -> bytes: ...

    def close(self) -> None: ...


def post(channel: Channel, key: str, content: bytes, patience: Patience) -> Attempt:
    """Post one message; the key goes along, so that the receiver can tell a repetition."""
    return within(patience, lambda: _posted(channel, key, content, patience))


def _posted(channel: Channel, key: str, content: bytes, patience: Patience) -> Attempt:
    """Post, and follow within the same place."""
    headers = {
        **channel.headers,
        "Content-Type": "application/json",
        "User-Agent": f"cagewise/{__version__}",
        "Idempotency-Key": key,
    }
    try:
        opener = _opener(channel)
        address = channel.address
        for _ in range(MOST_REDIRECTS + 1):
            request = urllib.request.Request(  # noqa: S310 - the scheme was looked at
                address.geturl(), data=content, headers=headers, method="POST"
            )
            answer: _Answer = opener.open(request, timeout=patience.step_s)
            try:
                answer.read(_MOST_BYTES)
            finally:
                answer.close()
            if answer.status not in KEEP_METHOD:
                return _judged(answer.status, answer.headers)
            address = urlsplit(urljoin(address.geturl(), answer.headers.get("Location", "")))
            if _place(address) != _place(channel.address):
                return _refused("it sends us on to another place; put that into post.toml")
    except (OSError, http.client.HTTPException, ValueError) as error:
        return failure(error)
    return _refused("it sends us round in circles")


def _opener(channel: Channel) -> urllib.request.OpenerDirector:
    """Return what opens web addresses, and nothing else; it follows nothing by itself."""
    opener = urllib.request.OpenerDirector()
    handlers = (
        urllib.request.ProxyHandler({} if channel.is_local else None),
        urllib.request.HTTPHandler(),
        urllib.request.HTTPSHandler(context=security(channel)),
        urllib.request.UnknownHandler(),
    )
    for handler in handlers:
        opener.add_handler(handler)
    return opener


def _place(address: SplitResult) -> tuple[str, str | None, int | None]:
    """Return scheme, machine and port: the origin of RFC 6454."""
    try:
        port = address.port
    except ValueError:
        port = -1
    return address.scheme, address.hostname, port or PORTS.get(address.scheme)


def _judged(status: int, headers: Headers) -> Attempt:
    """Return what a status means for a message."""
    said = f"it answered {status} {http.client.responses.get(status, '')}".strip()
    if 200 <= status < 300:
        return Attempt(outcome=Outcome.TAKEN)
    if 300 <= status < 500 and status not in SENT_AGAIN:
        return _refused(said)
    return Attempt(outcome=Outcome.FAILED, said=said, wait_s=_asked_to_wait(headers))


def _asked_to_wait(headers: Mapping[str, str] | Headers) -> float:
    """Return what Retry-After says (RFC 9110, section 10.2.3): seconds, or a date."""
    text = (headers.get("Retry-After") or "").strip()
    if text.isascii() and text.isdigit():
        return min(float(text), LONGEST_WAIT_S)
    try:
        moment = email.utils.parsedate_to_datetime(text)
    except ValueError:
        return 0.0
    aware = moment if moment.tzinfo else moment.replace(tzinfo=UTC)
    return min(max((aware - datetime.now(UTC)).total_seconds(), 0.0), LONGEST_WAIT_S)


def _refused(said: str) -> Attempt:
    """Return that a message will not be taken as it is."""
    return Attempt(outcome=Outcome.REFUSED, said=said)
