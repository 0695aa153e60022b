"""The plant: every motor by risk, searched, sorted and narrowed by a plain form."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal
from urllib.parse import urlencode

from fastapi import APIRouter, Query, Request
from fastapi.responses import HTMLResponse

from cagewise.report import history_wording, missing_wording
from cagewise.report.motor_rows import row_of
from cagewise.report.ranking_text import in_short, missing_rows
from cagewise.web.desk import AtDesk
from cagewise.web.security.access import MayRead
from cagewise.web.templating import page
from cagewise.workflows.plant_choice import STATES, ListOrder, Wanted
from cagewise.workflows.plant_search import search_motors

router = APIRouter(include_in_schema=False)

ROWS = 100
"""Motors on one page: what a browser draws at once."""
LONGEST = 200
MOST_PAGES = 100_000


StateWord = Literal[
    "", "sound", "suspect", "defective", "not decidable", "not examined", "repaired"
]
"""Of :data:`STATES`; none stands for all."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What the form of the list says."""

    q: str = ""
    state: str = ""
    due: str = ""
    sort: ListOrder = ListOrder.RISK
    page: int = 1

    @property
    def narrows(self) -> bool:
        """Whether it leaves motors out."""
        return bool(self.q.strip() or self.state or self.due)

    def to(self, **other: str | int) -> str:
        """Return the address of the same list, but for something."""
        said = {"q": self.q, "state": self.state, "due": self.due, "sort": self.sort.value}
        usual = {"q": "", "state": "", "due": "", "sort": ListOrder.RISK.value, "page": 1}
        said |= {name: str(value) for name, value in other.items()}
        kept = {name: value for name, value in said.items() if str(usual[name]) != value}
        return f"/?{urlencode(kept)}" if kept else "/"


@router.get("/", response_class=HTMLResponse)
def plant(  # noqa: PLR0913, PLR0917 - fields of the form
    request: Request,
    desk: AtDesk,
    _: MayRead,
    q: Annotated[str, Query(max_length=LONGEST)] = "",
    state: StateWord = "",
    due: Literal["", "1"] = "",
    sort: ListOrder = ListOrder.RISK,
    number: Annotated[int, Query(alias="page", ge=1, le=MOST_PAGES)] = 1,
) -> HTMLResponse:
    """Show the motors of the plant, the greatest risk first."""
    asked = Asked(q=q, state=state, due=due, sort=sort, page=number)
    wanted = Wanted(states=frozenset({asked.state} - {""}), due=bool(asked.due), order=asked.sort)
    listed = search_motors(desk.plant, wanted, asked.q)
    view, motors = listed.view, listed.view.ranking.motors
    first = (asked.page - 1) * ROWS
    return page(
        request,
        "plant.html",
        title="Motors",
        view=view,
        asked=asked,
        states=STATES,
        short=in_short(view, "·"),
        words=history_wording,
        why_missing=missing_wording.WHY,
        rows=[row_of(view, m, listed.entries[m.tag]) for m in motors[first : first + ROWS]],
        found=len(motors),
        first=first,
        pages=-(-len(motors) // ROWS),
        missing=missing_rows(motors),
    )
