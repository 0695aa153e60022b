"""Which right a route asks for. Every route takes exactly one of these as a parameter."""

from __future__ import annotations

from http import HTTPStatus
from typing import Annotated

from fastapi import Depends, Request

from cagewise.web.desk import desk_of
from cagewise.web.security.gate import known_of, needs_mark, visitor_of
from cagewise.web.security.origins import SAFE
from cagewise.web.security.refusal import RefusedError
from cagewise.web.security.rights import Right, Visitor

HEADER = "x-csrf-token"
"""Header in which scripts send the mark that the page has in ``<meta name="csrf">``."""
FIELD = "csrf"
"""Field in which forms send it."""
_FORMS = ("application/x-www-form-urlencoded", "multipart/form-data")


async def _anybody(request: Request) -> Visitor:
    await _require_mark(request)
    return visitor_of(request)


async def _reader(request: Request) -> Visitor:
    return await _require(request, Right.READ)


async def _writer(request: Request) -> Visitor:
    return await _require(request, Right.WRITE)


async def _admin(request: Request) -> Visitor:
    return await _require(request, Right.ADMIN)


async def _sender(request: Request) -> Visitor:
    return _with_right(request, Right.WRITE)


async def _require(request: Request, right: Right) -> Visitor:
    """Return who asks, if they have a right."""
    visitor = _with_right(request, right)
    await _require_mark(request)
    return visitor


def _with_right(request: Request, right: Right) -> Visitor:
    """Return who asks, if they have a right."""
    visitor = visitor_of(request)
    if not visitor.may(right):
        raise RefusedError(
            HTTPStatus.FORBIDDEN,
            f"this asks for the right {right.word}",
            remedy="Whoever manages the accounts can give it to you.",
        )
    return visitor


async def _require_mark(request: Request) -> None:
    """Refuse a change that was not asked for by a page of ours."""
    if request.method in SAFE or not needs_mark(request):
        return
    mark = request.headers.get(HEADER, "")
    if not mark and request.headers.get("content-type", "").startswith(_FORMS):
        field = (await request.form()).get(FIELD)
        mark = field if isinstance(field, str) else ""
    require_mark(request, mark)


def require_mark(request: Request, mark: str) -> None:
    """Refuse a change whose mark is not that of a page of ours.

    Raises
    ------
    RefusedError
        If it is not.
    """
    if not needs_mark(request):
        return
    if not desk_of(request).forms.fits(mark, known_of(request).seed):
        raise RefusedError(
            HTTPStatus.FORBIDDEN,
            "the form does not bear the mark of a page of this workbench",
            remedy="Load the page again and repeat what you did; somebody may have logged in or "
            "out meanwhile.",
        )


Anybody = Annotated[Visitor, Depends(_anybody)]
"""For the door only: logging in."""
MayRead = Annotated[Visitor, Depends(_reader)]
MayWrite = Annotated[Visitor, Depends(_writer)]
MayAdmin = Annotated[Visitor, Depends(_admin)]
MaySend = Annotated[Visitor, Depends(_sender)]
"""As :data:`MayWrite`, for a form with files that is read while it comes: the route itself has to
call :func:`require_mark` with the field that stands before the files."""

GUARDS = (_anybody, _reader, _writer, _admin, _sender)
"""A test holds every route against them."""
__all__ = [
    "GUARDS",
    "Anybody",
    "MayAdmin",
    "MayRead",
    "MaySend",
    "MayWrite",
    "Right",
    "Visitor",
    "require_mark",
]
