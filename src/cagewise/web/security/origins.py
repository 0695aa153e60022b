"""Under which names the workbench is reached, and from whose pages."""

from __future__ import annotations

import ipaddress
import socket
from http import HTTPStatus
from urllib.parse import urlsplit

from starlette.datastructures import Headers
from starlette.types import ASGIApp, Receive, Scope, Send

from cagewise.web.security.refusal import RefusedError
from cagewise.web.settings import WebSettings

_LOCAL = "localhost"
SAFE = frozenset({"GET", "HEAD", "OPTIONS"})
"""Methods that change nothing."""
_OURS = {"same-origin", "none"}
"""Values of Sec-Fetch-Site of a page of ours, and of an address that a person typed."""


class Origins:
    """Refuses requests under a foreign name, and those that another site's page has caused.

    A page of another site can make its own name point to this machine (DNS rebinding); the browser
    then sends that name. An address in figures cannot be made to point elsewhere.
    """

    def __init__(self, app: ASGIApp, *, settings: WebSettings) -> None:
        self._app = app
        self._remote = settings.allow_remote
        self._names = _names(settings)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve a request, or refuse it."""
        if scope["type"] == "http":
            headers = Headers(scope=scope)
            self._require_our_name(headers)
            _require_our_page(str(scope["method"]), headers)
        await self._app(scope, receive, send)

    def _require_our_name(self, headers: Headers) -> None:
        """Refuse a name that is not ours."""
        stated = headers.getlist("host")
        if len(stated) == 1 and self._is_ours(host_of(stated[0])):
            return
        raise RefusedError(
            HTTPStatus.MISDIRECTED_REQUEST,
            "nothing is served under this name",
            remedy="Whoever runs the workbench can add the name with --name.",
            bare=True,
        )

    def _is_ours(self, host: str) -> bool:
        """Return whether a host is this server."""
        try:
            address = ipaddress.ip_address(host)
        except ValueError:
            return host in self._names
        return self._remote or address.is_loopback


def _require_our_page(method: str, headers: Headers) -> None:
    """Refuse what a page of another site asks for; following a link to us is allowed."""
    site = headers.get("sec-fetch-site", "none")
    followed = method in SAFE and headers.get("sec-fetch-mode") == "navigate"
    origin = headers.get("origin")
    foreign = site not in _OURS and not followed
    if method not in SAFE and origin is not None:
        foreign = foreign or urlsplit(origin).netloc.lower() != headers.get("host", "").lower()
    if foreign:
        raise RefusedError(
            HTTPStatus.FORBIDDEN, "a page of another site has asked for this", bare=True
        )


def host_of(stated: str) -> str:
    """Return the host of a Host header: without its port, in small letters; empty if it is none."""
    try:
        parts = urlsplit(f"//{stated}")
        _ = parts.port
    except ValueError:
        return ""
    if parts.username is not None or parts.path or parts.query or parts.fragment:
        return ""
    return (parts.hostname or "").rstrip(".")


def is_loopback(host: str) -> bool:
    """Return whether a host can be reached from this machine only."""
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return host.lower() == _LOCAL


def _names(settings: WebSettings) -> frozenset[str]:
    """Return the names under which the workbench may be reached."""
    names = {_LOCAL, *settings.names}
    if not is_loopback(settings.host):
        names |= {settings.host, socket.gethostname()}
    return frozenset(name.lower().rstrip(".") for name in names)
