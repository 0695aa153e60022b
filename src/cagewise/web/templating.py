"""Pages from templates: what comes from outside is escaped, nothing is left undefined."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

from fastapi import Request
from fastapi.responses import HTMLResponse
from jinja2 import Environment, FileSystemLoader, StrictUndefined

from cagewise import __version__
from cagewise.web.desk import desk_of
from cagewise.web.security.rights import NOBODY, Right
from cagewise.web.static_files import static

FOLDER = Path(__file__).parent / "templates"


@cache
def environment() -> Environment:
    """Return the environment of all templates."""
    made = Environment(
        loader=FileSystemLoader(FOLDER),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.globals["version"] = __version__
    made.globals["static"] = static
    made.globals["Right"] = Right
    return made


def page(request: Request, template: str, *, status_code: int = 200, **shown: Any) -> HTMLResponse:  # noqa: ANN401  # a template takes anything
    """Return a page.

    Parameters
    ----------
    request
        What was asked.
    template
        File name of the template; it extends ``base.html``.
    status_code
        Of the answer.
    shown
        What the template shows. ``title`` is required by ``base.html``. Every template also has
        ``plant`` (what plant.toml says), ``user`` (:class:`~cagewise.web.security.rights.Visitor`:
        ``user.may(Right.WRITE)``), ``csrf`` and ``static(name)``.
    """
    desk = desk_of(request)
    html = (
        environment()
        .get_template(template)
        .render(
            request=request,
            plant=desk.plant.about,
            csrf=getattr(request.state, "csrf", ""),
            user=getattr(request.state, "user", NOBODY),
            **shown,
        )
    )
    return HTMLResponse(html, status_code=status_code)
