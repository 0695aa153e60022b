"""Who I am here: my right, my password, the tokens of my programs."""

from __future__ import annotations

from http import HTTPStatus
from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from cagewise.errors import CagewiseError, InputError, NotKeptError
from cagewise.web.desk import AtDesk, Desk
from cagewise.web.numbers import Number
from cagewise.web.problems import status_of
from cagewise.web.security.access import MayRead
from cagewise.web.security.gate import cookie
from cagewise.web.security.passwords import LONGEST
from cagewise.web.security.rates import address_of
from cagewise.web.security.rights import Right, Visitor, Way
from cagewise.web.templating import page

router = APIRouter(include_in_schema=False)


@router.get("/account", response_class=HTMLResponse)
def account(request: Request, desk: AtDesk, visitor: MayRead) -> HTMLResponse:
    """Show who I am."""
    return _shown(request, desk, visitor)


@router.post("/account/password", response_class=HTMLResponse)
def change_password(
    request: Request,
    desk: AtDesk,
    visitor: MayRead,
    former: Annotated[str, Form(max_length=LONGEST)],
    password: Annotated[str, Form(max_length=LONGEST)],
) -> Response:
    """Change my password; every other browser and program of mine has to log in again."""
    account_id = _own(visitor)
    address = address_of(request.scope)
    desk.logins.require(visitor.name, address)
    found = desk.accounts.check(visitor.name, former)
    if found is None:
        wrong = InputError("this is not your present password", where="former")
        return _shown(request, desk, visitor, error=wrong)
    desk.logins.forget(visitor.name, address)
    try:
        desk.accounts.set_password(account_id, password)
    except InputError as error:
        return _shown(request, desk, visitor, error=error)
    response = RedirectResponse("/account?done=password", status_code=HTTPStatus.SEE_OTHER)
    secret = desk.sessions.begin(found)
    response.headers.append("set-cookie", cookie(desk, request, "session", secret))
    return response


@router.post("/account/tokens", response_class=HTMLResponse)
def make_token(
    request: Request,
    desk: AtDesk,
    visitor: MayRead,
    name: Annotated[str, Form(max_length=64)],
    right: Annotated[str, Form(pattern="^(read|write|admin)$")],
    days: Annotated[int, Form(ge=1, le=366)],
) -> HTMLResponse:
    """Make a token for a program of mine; this page shows it, and nothing ever again."""
    try:
        secret = desk.tokens.issue(_own(visitor), name=name, right=Right.of(right), days=days)
    except InputError as error:
        return _shown(request, desk, visitor, error=error)
    return _shown(request, desk, visitor, secret=secret)


@router.post("/account/tokens/{token_id}/revoke")
def revoke_token(token_id: Number, desk: AtDesk, visitor: MayRead) -> Response:
    """End a token of mine."""
    desk.tokens.revoke(_own(visitor), token_id)
    return RedirectResponse("/account?done=revoked", status_code=HTTPStatus.SEE_OTHER)


def _own(visitor: Visitor) -> int:
    """Return the account of somebody who came by a session; a token makes no further ones."""
    if visitor.account_id is None or visitor.way is not Way.SESSION:
        raise NotKeptError("you have no account here", remedy="Log in first.")
    return visitor.account_id


def _shown(
    request: Request,
    desk: Desk,
    visitor: Visitor,
    *,
    secret: str = "",
    error: CagewiseError | None = None,
) -> HTMLResponse:
    """Return the page."""
    tokens = () if visitor.account_id is None else desk.tokens.of(visitor.account_id)
    return page(
        request,
        "account.html",
        status_code=HTTPStatus.OK if error is None else status_of(error),
        title="Your account",
        tokens=tokens,
        zone=desk.plant.about.zone,
        secret=secret,
        error=error,
        done=request.query_params.get("done", ""),
    )
