"""Cases: the story of a suspicion, what is owed, and the forms that carry it on."""

from __future__ import annotations

from collections.abc import AsyncIterator, Sequence
from datetime import date
from http import HTTPStatus
from typing import Annotated, Literal

from fastapi import APIRouter, Depends, Form, Query, Request
from fastapi.responses import FileResponse, HTMLResponse, RedirectResponse, Response
from starlette.datastructures import FormData, UploadFile

from cagewise.errors import CagewiseError, InputError, UsageError
from cagewise.history.limits import repair_limits
from cagewise.history.missing import RepairKind
from cagewise.report import history_wording
from cagewise.report.case_page import compared, pending, told, verdicts
from cagewise.report.case_text import owed
from cagewise.report.html import SHAPES
from cagewise.store import Attachment, BarDamage, BarPlace, Case, Found
from cagewise.web.attachments import given_back, image_type, received
from cagewise.web.case_forms import CaseForm, asked_of_shop, form_of, require_content, typed
from cagewise.web.desk import AtDesk, Desk
from cagewise.web.form_values import LONG, Day, Words, said_day
from cagewise.web.numbers import LARGEST, Number
from cagewise.web.problems import status_of
from cagewise.web.security.access import MayRead, MayWrite
from cagewise.web.templating import page
from cagewise.workflows.case_entries import attachment_of, event_of
from cagewise.workflows.plant_cases import Entry, add_event, cases_of, story
from cagewise.workflows.plant_decided import decided

router = APIRouter(include_in_schema=False)

DONE = {
    "signed": "The decision is signed and kept.",
    "opened": "The case is open.",
    "kept": "The entry is kept.",
    "corrected": "The entry is put right; the old one is kept, but not shown.",
    "closed": "The case is closed.",
}


async def _form(request: Request) -> AsyncIterator[FormData]:
    async with request.form() as form:
        yield form


@router.get("/cases", response_class=HTMLResponse)
def cases(
    request: Request,
    desk: AtDesk,
    _: MayRead,
    closed: Annotated[Literal["", "1"], Query(alias="all")] = "",
) -> HTMLResponse:
    """Show the open cases, or all of them."""
    view = cases_of(desk.plant, only_open=not closed)
    waiting = {each.case.id: each for each in decided(desk.plant, today=view.today)}
    ordered = sorted(view.cases, key=lambda each: (not each[1].is_open, -each[1].id))
    return page(
        request,
        "cases.html",
        title="Cases",
        view=view,
        cases=ordered,
        waiting=waiting,
        closed=bool(closed),
    )


@router.get("/cases/{number}", response_class=HTMLResponse)
def case(
    request: Request,
    number: Number,
    desk: AtDesk,
    _: MayRead,
    correct: Annotated[int | None, Query(ge=1, le=LARGEST)] = None,
) -> HTMLResponse:
    """Tell the story of a case."""
    found = desk.plant.cases.get(number)
    form = None if correct is None else form_of(event_of(desk.plant, found, correct))
    return _shown(request, desk, found, form)


@router.post("/cases/{number}/events", response_class=HTMLResponse)
def event(
    request: Request,
    number: Number,
    desk: AtDesk,
    by: MayWrite,
    sent: Annotated[FormData, Depends(_form)],
) -> Response:
    """Keep what happened, with its files."""
    found, form = desk.plant.cases.get(number), typed(sent)
    form.author = by.name or form.author.strip()
    try:
        files = [each for each in sent.getlist("files") if isinstance(each, UploadFile)]
        with received(files) as paths:
            require_content(form, paths)
            entry = Entry(
                text=form.text.strip(),
                author=form.author,
                on=said_day(form.on, "on"),
                files=paths,
                corrects=form.corrects,
            )
            add_event(desk.plant, found, form.what(), entry)
    except (InputError, UsageError) as error:
        return _shown(request, desk, found, form, error)
    return _back(found, "kept" if form.corrects is None else "corrected")


@router.post("/cases/{number}/close", response_class=HTMLResponse)
def close(
    request: Request,
    number: Number,
    desk: AtDesk,
    _: MayWrite,
    why: Annotated[Words, Form(max_length=LONG)] = "",
    on: Day = "",
) -> Response:
    """Close a case, with the reason."""
    found = desk.plant.cases.get(number)
    try:
        desk.plant.cases.close(found, why.strip(), on=said_day(on, "on"))
    except InputError as error:
        return _shown(request, desk, found, None, error)
    return _back(found, "closed")


@router.get("/cases/{number}/files/{event_number}/{checksum}")
def file(
    number: Number, event_number: Number, checksum: str, desk: AtDesk, _: MayRead
) -> FileResponse:
    """Return a photograph to be shown, or a paper to be saved."""
    found = attachment_of(desk.plant, desk.plant.cases.get(number), event_number, checksum)
    return given_back(found, desk.plant.cases.attachments.checked(found.checksum))


def _back(found: Case, done: str) -> RedirectResponse:
    """Return to the case and say there what was done."""
    return RedirectResponse(f"/cases/{found.id}?done={done}", HTTPStatus.SEE_OTHER)


def _shown(
    request: Request,
    desk: Desk,
    found: Case,
    form: CaseForm | None = None,
    error: CagewiseError | None = None,
) -> HTMLResponse:
    """Return the page of a case."""
    view = story(desk.plant, found)
    entries = told(view)
    return page(
        request,
        "case.html",
        status_code=HTTPStatus.OK if error is None else status_of(error),
        title=view.case.title,
        view=view,
        motor=view.motor,
        case=view.case,
        entries=entries,
        last=view.examined[-1] if view.examined else None,
        images=_images(desk, [f for each in entries for f in each.files]),
        pending=pending(view),
        verdicts=verdicts(view),
        owed=owed(view),
        repairs=[(each, compared(each)) for each in view.repairs],
        open_for=_open_for(view.case, view.today),
        shapes={state.value: shape for state, shape in SHAPES.items()},
        words=history_wording,
        form=form or CaseForm(),
        chosen=form.kind if form is not None else "",
        asked=asked_of_shop(),
        kinds=[(kind.value, history_wording.REPAIR_KIND[kind]) for kind in RepairKind],
        founds=[(each.value, history_wording.FOUND[each]) for each in Found],
        damages=[each.value for each in BarDamage],
        places=[(each.value, each.value or "not said") for each in BarPlace],
        error=error,
        done=DONE.get(request.query_params.get("done", ""), ""),
        baseline_days=f"{repair_limits().largest_age_days:.0f}",
    )


def _images(desk: Desk, files: Sequence[Attachment]) -> frozenset[str]:
    """Return which files are images, by their checksums."""
    vault = desk.plant.cases.attachments
    there = {f.checksum: vault.path(f.checksum) for f in files}
    return frozenset(name for name, path in there.items() if path.is_file() and image_type(path))


def _open_for(found: Case, today: date) -> str:
    """Return since when a case is open, or why it was closed."""
    if found.closed_on is None:
        days = (today - found.opened_on).days
        return history_wording.CASE_OPEN.format(day=found.opened_on, days=days)
    return history_wording.CASE_CLOSED.format(
        opened=found.opened_on, closed=found.closed_on, why=found.closing
    )
