"""A motor by its tag, or by what somebody remembers of it."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from cagewise.web.desk import AtDesk
from cagewise.web.security.access import MayRead
from cagewise.web.templating import page
from cagewise.workflows.find_motor import find_motors

router = APIRouter(include_in_schema=False)

LONGEST = 200


@router.get("/find", response_class=HTMLResponse)
def find(
    request: Request,
    desk: AtDesk,
    _: MayRead,
    tag: Annotated[str, Query(max_length=LONGEST)] = "",
) -> Response:
    """Go to the motor of a tag, or show those that fit."""
    found = find_motors(desk.plant, tag)
    if found.exact is not None:
        return RedirectResponse(f"/motors/{found.exact.id}", status_code=303)
    return page(request, "find.html", title="Find a motor", words=tag, found=found)
