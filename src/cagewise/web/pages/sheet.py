"""A test sheet as a form: typed in beside the motor, checked at once, kept as a file."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from http import HTTPStatus
from typing import Annotated
from urllib.parse import urlencode

from fastapi import APIRouter, Query, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from cagewise.decision.cautions import grouped_cautions
from cagewise.errors import CagewiseError, InputError, MissingExtraError, StoreError
from cagewise.measurement.cautions import DEFERENCE
from cagewise.measurement.test_sheet import Place
from cagewise.readers.test_sheet import Form
from cagewise.report import sheet_page_wording as words
from cagewise.report.cautions_text import caution_title
from cagewise.report.motor_file_wording import faults_in
from cagewise.store import KeptSheet, Visit
from cagewise.web.desk import AtDesk, Desk
from cagewise.web.form_fields import Fields
from cagewise.web.numbers import Number
from cagewise.web.security.access import MayRead, MayWrite
from cagewise.web.templating import page
from cagewise.workflows.plant_sheets import (
    blank_form,
    form_of_kept,
    keep_form,
    sheet_to_correct,
)
from cagewise.workflows.sheet_form import TESTS, checked, form_from_fields, with_table
from cagewise.workflows.sheet_tables import READS, tables_of

router = APIRouter(include_in_schema=False)

ADD = "add."
"""Before the kind of table that a button adds."""
OptionalNumber = Annotated[int | None, Query(ge=1, le=(1 << 63) - 1)]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sheet:
    """A sheet on its page."""

    visit: Visit
    form: Form
    reads: str = "lr"
    corrects: KeptSheet | None = None
    error: CagewiseError | None = None
    understood: str = ""


@router.get("/visits/{number}/sheet", response_class=HTMLResponse)
def sheet(
    request: Request,
    desk: AtDesk,
    _: MayRead,
    number: Number,
    of: OptionalNumber = None,
    reads: Annotated[str, Query(max_length=2)] = "lr",
) -> HTMLResponse:
    """Show an empty sheet, or one that is kept."""
    visit = desk.plant.visits.get(number)
    corrects = None if of is None else sheet_to_correct(desk.plant, visit, of)
    form = blank_form(desk.plant, visit) if corrects is None else form_of_kept(desk.plant, corrects)
    return _page(request, desk, _Sheet(visit=visit, form=form, reads=reads, corrects=corrects))


@router.post("/visits/{number}/sheet")
def send(request: Request, desk: AtDesk, _: MayWrite, number: Number, said: Fields) -> Response:
    """Keep a sheet, check it, or add a table to it."""
    visit = desk.plant.visits.get(number)
    corrects = _corrected(desk, visit, said)
    form = form_from_fields(said)
    shown = _Sheet(visit=visit, form=form, reads=said.get("reads", "lr"), corrects=corrects)
    do = said.get("do", "keep")
    if do.startswith(ADD):
        with_table(form, do.removeprefix(ADD))
        return _page(request, desk, shown)
    try:
        if do == "check":
            return _page(request, desk, _understood(desk, shown))
        if do == "reads":
            return _page(request, desk, shown)
        kept = keep_form(desk.plant, visit, form, corrects=corrects)
    except (InputError, StoreError, MissingExtraError) as error:
        return _page(
            request,
            desk,
            _Sheet(visit=visit, form=form, reads=shown.reads, corrects=corrects, error=error),
        )
    query = urlencode({"kept": kept.source, "begun": visit.id})
    return RedirectResponse(f"/visits/{kept.visit_id}?{query}", status_code=HTTPStatus.SEE_OTHER)


def _corrected(desk: Desk, visit: Visit, said: Mapping[str, str]) -> KeptSheet | None:
    """Return the sheet that is put right, None for a new one."""
    of = said.get("of", "")
    if not (of.isascii() and of.isdecimal() and len(of) < len(str(1 << 63))):
        return None
    return sheet_to_correct(desk.plant, visit, int(of))


def _understood(desk: Desk, shown: _Sheet) -> _Sheet:
    """Return a sheet with what was understood of it."""
    entry = desk.plant.motors.get(shown.visit.motor_id)
    reading = checked(shown.form, entry)
    found = [each.place for each in reading.tables if each.measured and each.name in TESTS]
    said = ", ".join(found) if found else "no readings yet"
    return _Sheet(
        visit=shown.visit,
        form=shown.form,
        reads=shown.reads,
        corrects=shown.corrects,
        understood=f"Everything can be read: {said}. Nothing is kept yet.",
    )


def _page(request: Request, desk: Desk, shown: _Sheet) -> HTMLResponse:
    """Return the page of a sheet."""
    entry = desk.plant.motors.get(shown.visit.motor_id)
    tables = tables_of(shown.form, shown.reads)
    tests = dict.fromkeys(TESTS[each.name] for each in tables if each.name in TESTS)
    return page(
        request,
        "sheet.html",
        title=f"Test sheet: {entry.tag}, {shown.visit.day}",
        entry=entry,
        visit=shown.visit,
        tables=tables,
        corrects=shown.corrects,
        reads=shown.reads if shown.reads in READS else "lr",
        error=shown.error,
        faults=faults_in(shown.error.what) if shown.error is not None else (),
        understood=shown.understood,
        groups=[
            (caution_title(group), group.cautions)
            for group in grouped_cautions(tests)
            if group.cautions != (DEFERENCE,)
        ],
        deference=DEFERENCE,
        places=[place.value for place in Place],
        words=words,
        status_code=HTTPStatus.OK if shown.error is None else HTTPStatus.UNPROCESSABLE_ENTITY,
    )
