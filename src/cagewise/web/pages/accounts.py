"""The accounts: who may come in, and what they may do."""

from __future__ import annotations

from http import HTTPStatus
from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from cagewise.errors import AlreadyKeptError, CagewiseError, InputError
from cagewise.web.desk import AtDesk, Desk
from cagewise.web.numbers import Number
from cagewise.web.problems import status_of
from cagewise.web.security.access import MayAdmin
from cagewise.web.security.passwords import LONGEST
from cagewise.web.security.rights import Right
from cagewise.web.templating import page

router = APIRouter(include_in_schema=False)

RightWord = Annotated[str, Form(alias="right", pattern="^(read|write|admin)$")]


@router.get("/accounts", response_class=HTMLResponse)
def accounts(request: Request, desk: AtDesk, _: MayAdmin) -> HTMLResponse:
    """Show all accounts."""
    return _shown(request, desk)


@router.post("/accounts", response_class=HTMLResponse)
def add(
    request: Request,
    desk: AtDesk,
    _: MayAdmin,
    name: Annotated[str, Form(max_length=LONGEST)],
    password: Annotated[str, Form(max_length=LONGEST)],
    word: RightWord,
) -> Response:
    """Add an account."""
    try:
        desk.accounts.add(name, password, Right.of(word))
    except (InputError, AlreadyKeptError) as error:
        return _shown(request, desk, error=error, name=name)
    return _back("added")


@router.post("/accounts/{account_id}/right", response_class=HTMLResponse)
def change_right(
    request: Request, desk: AtDesk, _: MayAdmin, account_id: Number, word: RightWord
) -> Response:
    """Change what an account may do."""
    try:
        desk.accounts.change_right(account_id, Right.of(word))
    except InputError as error:
        return _shown(request, desk, error=error)
    return _back("right")


@router.post("/accounts/{account_id}/password", response_class=HTMLResponse)
def set_password(
    request: Request,
    desk: AtDesk,
    _: MayAdmin,
    account_id: Number,
    password: Annotated[str, Form(max_length=LONGEST)],
) -> Response:
    """Give an account another password."""
    try:
        desk.accounts.set_password(account_id, password)
    except InputError as error:
        return _shown(request, desk, error=error)
    return _back("password")


@router.post("/accounts/{account_id}/remove", response_class=HTMLResponse)
def remove(request: Request, desk: AtDesk, _: MayAdmin, account_id: Number) -> Response:
    """Remove an account."""
    try:
        desk.accounts.remove(account_id)
    except InputError as error:
        return _shown(request, desk, error=error)
    return _back("removed")


def _back(done: str) -> RedirectResponse:
    """Return to the list and say there what was done."""
    return RedirectResponse(f"/accounts?done={done}", status_code=HTTPStatus.SEE_OTHER)


def _shown(
    request: Request, desk: Desk, *, error: CagewiseError | None = None, name: str = ""
) -> HTMLResponse:
    """Return the page."""
    return page(
        request,
        "accounts.html",
        status_code=HTTPStatus.OK if error is None else status_of(error),
        title="Accounts",
        accounts=desk.accounts.all(),
        zone=desk.plant.about.zone,
        error=error,
        name=name,
        done=request.query_params.get("done", ""),
    )
