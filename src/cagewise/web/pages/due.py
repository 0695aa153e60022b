"""What is to be measured, by how urgent it is."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse

from cagewise.report.motor_rows import SOON_DAYS, Urgency, due_groups
from cagewise.web.desk import AtDesk
from cagewise.web.security.access import MayRead
from cagewise.web.templating import page
from cagewise.workflows.plant_choice import ListOrder, Wanted
from cagewise.workflows.plant_decided import decided
from cagewise.workflows.plant_search import search_motors

router = APIRouter(include_in_schema=False)

MOST = 50
"""Motors of one group that are shown; the others are counted, with a link to the whole list."""


@router.get("/due", response_class=HTMLResponse)
def due(request: Request, desk: AtDesk, _: MayRead) -> HTMLResponse:
    """Show what is due, the most urgent first."""
    listed = search_motors(desk.plant, Wanted(order=ListOrder.DUE))
    groups = due_groups(listed.view, listed.entries)
    return page(
        request,
        "due.html",
        title="To be measured",
        today=listed.view.today,
        in_all=listed.view.in_all,
        groups=[(urgency, rows) for urgency, rows in groups.items() if rows],
        later=Urgency.LATER,
        soon_days=SOON_DAYS,
        decided=decided(desk.plant, today=listed.view.today),
        most=MOST,
    )
