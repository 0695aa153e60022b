"""Our calls against what was found."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse

from cagewise.report import history_wording, wording
from cagewise.report.html import SHAPES
from cagewise.report.plant_text import call_facts
from cagewise.web.desk import AtDesk
from cagewise.web.security.access import MayRead
from cagewise.web.templating import page
from cagewise.workflows.opened_motors import opened_motors

router = APIRouter(include_in_schema=False)


@router.get("/calls", response_class=HTMLResponse)
def calls(request: Request, desk: AtDesk, _: MayRead) -> HTMLResponse:
    """Show our calls against what was found."""
    opened = opened_motors(desk.plant)
    report = opened.view.report
    return page(
        request,
        "calls.html",
        title="Calls and findings",
        view=opened.view,
        opened=opened.motors,
        rows=[
            (SHAPES[one.state], wording.STATE[one.state], one.found_defective)
            for one in report.by_state
        ],
        facts=call_facts(report),
        shapes={state.value: shape for state, shape in SHAPES.items()},
        words=history_wording,
    )
