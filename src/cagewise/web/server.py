"""The server: one process that serves one plant until it is told to stop."""

from __future__ import annotations

import errno
import logging.config
import socket
import webbrowser
from collections.abc import Callable
from contextlib import closing, suppress

import uvicorn
from fastapi import FastAPI

from cagewise.errors import CagewiseError, InputError, UsageError
from cagewise.web.app import create_app
from cagewise.web.desk import open_desk
from cagewise.web.security.passwords import prepare
from cagewise.web.settings import WebSettings

_PATIENCE_S = 3
"""Time that requests under way get to end when the server is stopped."""
_WAITING = 128
"""Connections that may wait to be taken."""
_PROXY = "127.0.0.1,::1"
_EVERYWHERE = {"0.0.0.0", "::"}  # noqa: S104 - compared with, not bound
_LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"line": {"format": "%(asctime)s %(levelname)s %(message)s"}},
    "handlers": {"stderr": {"class": "logging.StreamHandler", "formatter": "line"}},
    "loggers": {
        "cagewise.web": {"level": "INFO", "handlers": ["stderr"], "propagate": False},
        "uvicorn": {"level": "WARNING", "handlers": ["stderr"], "propagate": False},
    },
}


def serve(settings: WebSettings, say: Callable[[str], None], *, browse: bool = False) -> None:
    """Serve a plant until the keyboard or the system stops it.

    Parameters
    ----------
    settings
        Which plant, where, for whom.
    say
        Gets the address when the workbench can be reached.
    browse
        Open the address in the browser of this machine.

    Raises
    ------
    UsageError
        If the port is taken, the host is none, or others would get in without an account.
    InputError
        If the certificate cannot be used.
    StoreError
        If the plant cannot be opened.
    """
    with open_desk(settings):
        pass  # what is wrong with the plant is told before anything is served
    if settings.allow_remote:
        prepare()
    with closing(bound(settings)) as listening:
        address = address_of(settings, listening)

        def started() -> None:
            say(address)
            if browse:
                webbrowser.open(address)

        app = create_app(settings)
        server = _Server(app, _configuration(settings, app), started)
        with suppress(KeyboardInterrupt):  # passed on when all work has ended
            server.run(sockets=[listening])
    if not server.was_started:
        raise CagewiseError("the workbench could not be started", remedy="See the lines above.")


class _Server(uvicorn.Server):
    """The server of the library, but it says when it can be reached."""

    def __init__(self, app: FastAPI, config: uvicorn.Config, on_start: Callable[[], None]) -> None:
        super().__init__(config)
        self._app = app
        self._on_start = on_start
        self.was_started = False

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        """Start."""
        await super().startup(sockets)
        if self.started:
            self.was_started = True
            self._on_start()

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        """End; streams of events are told first, for they would go on."""
        self._app.state.leaving.set()
        await super().shutdown(sockets)


def bound(settings: WebSettings) -> socket.socket:
    """Return a socket that listens where the settings say.

    Raises
    ------
    UsageError
        If it cannot.
    """
    try:
        family, kind, protocol, _, where = socket.getaddrinfo(
            settings.host, settings.port, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE
        )[0]
    except OSError as error:
        raise UsageError(
            f"this machine has no such address ({error.strerror})", where="--host"
        ) from error
    listening = socket.socket(family, kind, protocol)
    listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listening.bind(where)
        listening.listen(_WAITING)
    except OSError as error:
        listening.close()
        raise _not_bound(error, settings) from error
    return listening


def address_of(settings: WebSettings, listening: socket.socket) -> str:
    """Return the address to type into a browser."""
    port = listening.getsockname()[1]
    host = socket.gethostname() if settings.host in _EVERYWHERE else settings.host
    shown = f"[{host}]" if ":" in host else host
    return f"{'http' if settings.certificate is None else 'https'}://{shown}:{port}/"


def _not_bound(error: OSError, settings: WebSettings) -> UsageError:
    """Return why nothing can be served there."""
    if error.errno == errno.EADDRINUSE:
        return UsageError(
            f"something else is served on port {settings.port} already",
            where="--port",
            remedy="Choose another one (0 takes any), or end what uses it.",
        )
    if error.errno == errno.EACCES:
        return UsageError(
            f"this user may not serve on port {settings.port}",
            where="--port",
            remedy="Choose one above 1023.",
        )
    return UsageError(f"nothing can be served there ({error.strerror})", where="--host")


def _configuration(settings: WebSettings, app: FastAPI) -> uvicorn.Config:
    """Return what the server library is told."""
    logging.config.dictConfig(_LOGGING)
    config = uvicorn.Config(
        app,
        log_config=None,
        access_log=False,
        server_header=False,
        proxy_headers=settings.behind_proxy,
        forwarded_allow_ips=_PROXY,
        lifespan="on",
        ws="none",
        timeout_graceful_shutdown=_PATIENCE_S,
        ssl_certfile=settings.certificate,
        ssl_keyfile=settings.key,
    )
    try:
        config.load()
    except OSError as error:  # ssl.SSLError is one
        raise InputError(
            f"the certificate and its key cannot be used ({error})",
            where=str(settings.certificate),
            remedy="Both are PEM files; the key must belong to the certificate.",
        ) from error
    return config
