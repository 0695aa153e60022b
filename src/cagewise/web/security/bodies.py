"""What a request may bring: so much, and not compressed."""

from __future__ import annotations

import re
from http import HTTPStatus

from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from cagewise.web.security.refusal import RefusedError
from cagewise.web.settings import MEBIBYTE, WebSettings

UPLOADS = re.compile(
    r"(?:/api/v1)?/(?:motors/\d+/files|uploads/[\w-]+|cases/\d+/(?:events|files))/?", re.ASCII
)
"""Addresses that take files; all others take forms."""


class Bodies:
    """Ends a request that brings more than it may while it is read, and refuses compressed ones.

    Nothing here unpacks what is sent: a small body cannot become a large one.
    """

    def __init__(self, app: ASGIApp, *, settings: WebSettings) -> None:
        self._app = app
        self._settings = settings

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve a request, or refuse it."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        if headers.get("content-encoding", "identity").lower() != "identity":
            raise RefusedError(
                HTTPStatus.UNSUPPORTED_MEDIA_TYPE,
                "the content of the request is compressed",
                remedy="Send it as it is.",
            )
        most = self._most(str(scope["path"]))
        announced = headers.get("content-length", "0")
        if announced.isascii() and announced.isdecimal() and int(announced) > most:
            raise _too_large(most)
        brings = announced != "0" or "transfer-encoding" in headers
        counted = _Counted(most, receive, send, brings=brings)
        try:
            await self._app(scope, counted.receive, counted.send)
        except Exception:
            if not counted.refused:
                raise
        if counted.refused:
            raise _too_large(most)

    def _most(self, path: str) -> int:
        """Return how many bytes an address takes."""
        files = UPLOADS.fullmatch(path)
        return self._settings.largest_upload_bytes if files else self._settings.largest_form_bytes


class _Counted:
    """A request whose bytes are counted; an answer to one that is too large is not sent.

    If the answer comes before the request has ended, the connection ends with it: else the rest
    would be received for nothing.
    """

    def __init__(self, most: int, receive: Receive, send: Send, *, brings: bool) -> None:
        self._left = most
        self._most = most
        self._receive = receive
        self._send = send
        self._answered = False
        self._more = brings
        self.exceeded = False

    @property
    def refused(self) -> bool:
        """Whether it was too large before anything was answered."""
        return self.exceeded and not self._answered

    async def receive(self) -> Message:
        """Return the next part of the body."""
        message = await self._receive()
        self._more = bool(message.get("more_body", False))
        self._left -= len(message.get("body", b""))
        if self._left < 0:
            self.exceeded = True
            raise _too_large(self._most)
        return message

    async def send(self, message: Message) -> None:
        """Pass a part of the answer on."""
        if self.refused:
            return
        self._answered = True
        if message["type"] == "http.response.start" and self._more:
            MutableHeaders(scope=message)["connection"] = "close"
        await self._send(message)


def _too_large(most: int) -> RefusedError:
    """Return the refusal of too large a body."""
    return RefusedError(
        HTTPStatus.REQUEST_ENTITY_TOO_LARGE,
        f"the request brings more than {most / MEBIBYTE:.0f} MiB",
        remedy="Send less, or start the workbench with a larger limit.",
    )
