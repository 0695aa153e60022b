"""Who asks: known before anything of a request is read; without that, only the door is served."""

from __future__ import annotations

from dataclasses import dataclass
from http import HTTPStatus
from http.cookies import SimpleCookie

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import MutableHeaders
from starlette.requests import Request
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from cagewise.web.desk import Desk, desk_of
from cagewise.web.security.forms import new_seed
from cagewise.web.security.refusal import RefusedError
from cagewise.web.security.rights import AT_THIS_MACHINE, NOBODY, Visitor, Way

LOGIN = "/login"
_OPEN = frozenset({LOGIN, "/favicon.ico"})
"""Addresses that are served to everybody, beside the static files."""
_STATIC = "/static/"
_BEARER = "bearer "


@dataclass(slots=True)
class Known:
    """What is known about a request, as ``request.state.known``."""

    visitor: Visitor
    seed: str
    """By which the browser's forms are told; empty of a program that brings a token."""
    session: str = ""
    """What its session cookie holds, if that opens anything."""
    new_seed: bool = False


class Gate:
    """Finds out who asks, and lets nobody in that has to log in first."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve a request, or refuse it."""
        if scope["type"] != "http" or str(scope["path"]).startswith(_STATIC):
            await self._app(scope, receive, send)
            return
        request = Request(scope)
        desk = desk_of(request)
        known = await run_in_threadpool(identify, request, desk)
        request.state.known = known
        request.state.user = known.visitor
        request.state.csrf = desk.forms.mark(known.seed) if known.seed else ""
        if known.visitor.right is None and scope["path"] not in _OPEN:
            raise RefusedError(
                HTTPStatus.UNAUTHORIZED, "this asks for an account", remedy="Log in first."
            )

        async def with_seed(message: Message) -> None:
            if message["type"] == "http.response.start" and known.new_seed:
                headers = MutableHeaders(scope=message)
                if headers.get("content-type", "").startswith("text/html"):
                    headers.append("set-cookie", cookie(desk, request, "seed", known.seed))
            await send(message)

        await self._app(scope, receive, with_seed)


def identify(request: Request, desk: Desk) -> Known:
    """Return who asks.

    Raises
    ------
    RefusedError
        If a token opens nothing.
    """
    stated = request.headers.get("authorization", "")
    if stated.lower().startswith(_BEARER):
        visitor = desk.tokens.find(stated[len(_BEARER) :].strip())
        if visitor is None:
            raise RefusedError(
                HTTPStatus.UNAUTHORIZED,
                "the token opens nothing",
                remedy="It may have ended; make another one on the page of your account.",
            )
        return Known(visitor, seed="")
    session = request.cookies.get(cookie_name(desk, "session", secure=is_secure(request)), "")
    found = desk.sessions.find(session) if session else None
    if found is not None:
        return Known(found, seed=session, session=session)
    seed = request.cookies.get(cookie_name(desk, "seed", secure=is_secure(request)), "")
    nobody = desk.settings.allow_remote or desk.accounts.exist()
    return Known(NOBODY if nobody else AT_THIS_MACHINE, seed=seed or new_seed(), new_seed=not seed)


def cookie_name(desk: Desk, what: str, *, secure: bool) -> str:
    """Return the name of a cookie: browsers share cookies among the ports of a machine."""
    return f"{'__Host-' if secure else ''}cagewise_{what}_{desk.plant.about.plant_id[:8]}"


def cookie(desk: Desk, request: Request, what: str, value: str) -> str:
    """Return the header that sets a cookie until the browser is closed; an empty one removes it."""
    secure = is_secure(request)
    name = cookie_name(desk, what, secure=secure)
    made: SimpleCookie = SimpleCookie()
    made[name] = value
    made[name]["path"] = "/"
    made[name]["httponly"] = True
    made[name]["samesite"] = "strict"
    if secure:
        made[name]["secure"] = True
    if not value:
        made[name]["max-age"] = 0
    return made[name].OutputString()


def is_secure(request: Request) -> bool:
    """Return whether the connection of the browser is encrypted."""
    return request.url.scheme == "https"


def known_of(request: Request) -> Known:
    """Return what is known about a request; of one that never passed the gate, nothing."""
    known: Known = getattr(request.state, "known", None) or Known(NOBODY, seed="")
    return known


def visitor_of(request: Request) -> Visitor:
    """Return who asks."""
    return known_of(request).visitor


def came_by_browser(request: Request) -> bool:
    """Return whether a request bears any sign of a browser: they state whence they write."""
    return any(name in request.headers for name in ("origin", "sec-fetch-site", "cookie"))


def needs_mark(request: Request) -> bool:
    """Return whether a request that changes something has to bear the mark of our forms."""
    way = visitor_of(request).way
    if way is Way.TOKEN:
        return False
    return way is not Way.MACHINE or came_by_browser(request)
