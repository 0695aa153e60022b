"""Every error of a request, answered in one place: a page for people, a problem for programs."""

from __future__ import annotations

import logging
import secrets
from http import HTTPStatus
from urllib.parse import quote

from fastapi import Request
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from cagewise.errors import CagewiseError
from cagewise.web.desk import desk_of
from cagewise.web.problems import MEDIA_TYPE, Problem, Told, told
from cagewise.web.routers import API
from cagewise.web.security.gate import LOGIN
from cagewise.web.security.origins import SAFE
from cagewise.web.security.refusal import RefusedError
from cagewise.web.templating import page

log = logging.getLogger("cagewise.web")


class Faults:
    """Answers whatever went wrong inside, if nothing was answered yet."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve a request."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        answered = False

        async def noting(message: Message) -> None:
            nonlocal answered
            answered = True
            await send(message)

        try:
            await self._app(scope, receive, noting)
        except Exception as error:
            response = answer(Request(scope), error)
            if answered:  # half a page is sent: the connection ends, and the reader sees that
                raise
            await response(scope, receive, send)


def answer(request: Request, error: Exception) -> Response:
    """Return the answer to an error; what the program is to blame for goes into the log."""
    reference = ""
    if not isinstance(error, CagewiseError):
        cause = error.__cause__
        error = cause if isinstance(cause, RefusedError) else error
    if _is_fault(error):
        reference = secrets.token_hex(4)
        log.error("fault %s: %s %r", reference, request.method, request.url.path, exc_info=error)
    said = told(error, reference=reference, hide_paths=desk_of(request).settings.allow_remote)
    response = _response(request, said)
    response.headers.update(said.headers)
    if isinstance(error, RefusedError) and request.method not in SAFE:
        response.headers["connection"] = "close"  # what is still being sent is not read
    return response


def _is_fault(error: Exception) -> bool:
    """Return whether an error tells nobody what to do: a fault of the program."""
    return not isinstance(error, (CagewiseError, HTTPException, RequestValidationError))


def _response(request: Request, said: Told) -> Response:
    """Return an answer in the form in which the visitor reads."""
    problem = said.problem
    if said.bare:
        return PlainTextResponse(_line(problem), status_code=problem.status)
    if not wants_page(request):
        content = problem.model_dump_json(exclude_defaults=True)
        return Response(content, status_code=problem.status, media_type=MEDIA_TYPE)
    unknown = problem.status == HTTPStatus.UNAUTHORIZED
    if unknown and request.method in SAFE:
        wanted = request.url.path + (f"?{request.url.query}" if request.url.query else "")
        to = LOGIN if wanted == "/" else f"{LOGIN}?next={quote(wanted)}"
        return RedirectResponse(to, status_code=HTTPStatus.SEE_OTHER)
    return page(
        request, "error.html", status_code=problem.status, title=problem.title, problem=problem
    )


def wants_page(request: Request) -> bool:
    """Return whether a person is to read the answer."""
    path = request.url.path
    if path.startswith(f"{API}/") or path == API:
        return False
    accepted = request.headers.get("accept", "")
    return "text/html" in accepted or "json" not in accepted


def _line(problem: Problem) -> str:
    """Return a problem as plain text."""
    return " ".join(filter(None, (problem.detail, problem.remedy))) + "\n"
