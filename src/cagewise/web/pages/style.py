"""Every part of the style sheet once, for whoever makes a page."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse

from cagewise.web.security.access import MayRead
from cagewise.web.templating import page

router = APIRouter(include_in_schema=False)


@router.get("/style", response_class=HTMLResponse)
def style(request: Request, _: MayRead) -> HTMLResponse:
    """Show the parts."""
    return page(request, "style.html", title="Parts of a page")
