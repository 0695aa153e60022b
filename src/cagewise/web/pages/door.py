"""Logging in and out."""

from __future__ import annotations

import logging
from http import HTTPStatus
from typing import Annotated

from fastapi import APIRouter, Form, Query, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from cagewise.web.desk import AtDesk
from cagewise.web.security.access import Anybody
from cagewise.web.security.gate import LOGIN, cookie, known_of
from cagewise.web.security.passwords import LONGEST
from cagewise.web.security.rates import address_of
from cagewise.web.security.rights import Way
from cagewise.web.templating import page

router = APIRouter(include_in_schema=False)
log = logging.getLogger("cagewise.web")

WRONG = "No account has this name and this password."
"""Which of the two is wrong is not said."""


@router.get(LOGIN, response_class=HTMLResponse)
def door(
    request: Request,
    visitor: Anybody,
    wanted: Annotated[str, Query(alias="next", max_length=2000)] = "/",
) -> Response:
    """Ask who it is."""
    if visitor.way is not Way.NOBODY:
        return RedirectResponse(local_path(wanted), status_code=HTTPStatus.SEE_OTHER)
    return _form(request, wanted)


@router.post(LOGIN, response_class=HTMLResponse)
def log_in(
    request: Request,
    desk: AtDesk,
    _: Anybody,
    name: Annotated[str, Form(max_length=LONGEST)],
    password: Annotated[str, Form(max_length=LONGEST)],
    wanted: Annotated[str, Form(alias="next", max_length=2000)] = "/",
) -> Response:
    """Begin a session."""
    address = address_of(request.scope)
    desk.logins.require(name, address)
    account = desk.accounts.check(name, password)
    if account is None:
        log.warning("login refused: %r from %s", name, address)
        return _form(request, wanted, name=name, wrong=WRONG)
    desk.logins.forget(name, address)
    log.info("login: %r from %s", account.name, address)
    secret = desk.sessions.begin(account, former=known_of(request).session)
    response = RedirectResponse(local_path(wanted), status_code=HTTPStatus.SEE_OTHER)
    response.headers.append("set-cookie", cookie(desk, request, "session", secret))
    return response


@router.post("/logout")
def log_out(request: Request, desk: AtDesk, _: Anybody) -> Response:
    """End the session."""
    session = known_of(request).session
    if session:
        desk.sessions.end(session)
    response = RedirectResponse(LOGIN, status_code=HTTPStatus.SEE_OTHER)
    response.headers.append("set-cookie", cookie(desk, request, "session", ""))
    return response


def local_path(wanted: str) -> str:
    """Return an address of this workbench: what leads elsewhere leads to its first page."""
    outside = not wanted.startswith("/") or wanted[1:2] in ("/", "\\")
    return "/" if outside or not wanted.isprintable() or "\\" in wanted else wanted


def _form(request: Request, wanted: str, *, name: str = "", wrong: str = "") -> HTMLResponse:
    """Return the page of the door."""
    return page(
        request,
        "login.html",
        status_code=HTTPStatus.UNPROCESSABLE_ENTITY if wrong else HTTPStatus.OK,
        title="Log in",
        wanted=local_path(wanted),
        name=name,
        wrong=wrong,
    )
