"""Papers of the field and of the repair shop at the addresses of pages; a sheet brought back."""

from __future__ import annotations

from collections.abc import AsyncIterator
from http import HTTPStatus
from typing import Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.responses import HTMLResponse, Response
from starlette.datastructures import FormData, UploadFile

from cagewise.errors import CagewiseError
from cagewise.report.repair_return_text import return_sections, return_title
from cagewise.web.api.shop import empty_return, measurement_order, repair_specification, taken_in
from cagewise.web.desk import AtDesk
from cagewise.web.numbers import Number
from cagewise.web.problems import status_of
from cagewise.web.security.access import MayWrite
from cagewise.web.templating import page
from cagewise.workflows.repair_return import KeptReturn, ReturnReading, view_of

router = APIRouter(include_in_schema=False)
router.add_api_route(
    "/motors/{number}/measurement-order.{form}", measurement_order, response_class=Response
)
router.add_api_route(
    "/{sent}/{number}/repair-specification.{form}", repair_specification, response_class=Response
)
router.add_api_route("/{sent}/{number}/repair-return.{form}", empty_return, response_class=Response)


async def _form(request: Request) -> AsyncIterator[FormData]:
    async with request.form() as form:
        yield form


@router.get("/cases/{number}/repair-return", response_class=HTMLResponse)
def return_page(request: Request, number: Number, desk: AtDesk, _: MayWrite) -> HTMLResponse:
    """Show the form with which a filled-in sheet is brought back."""
    return _page(request, desk, number)


@router.post("/cases/{number}/repair-return", response_class=HTMLResponse)
def bring(
    request: Request,
    number: Number,
    desk: AtDesk,
    by: MayWrite,
    sent: Annotated[FormData, Depends(_form)],
) -> Response:
    """Take in a sheet, and say what was understood."""
    files = [each for each in sent.getlist("files") if isinstance(each, UploadFile)]
    check = sent.get("what") != "keep"
    take = sent.get("motor_file") == "yes"
    try:
        done = taken_in(desk, number, files, check=check, take=take, author=by.name)
    except CagewiseError as error:
        return _page(request, desk, number, error=error)
    return _page(request, desk, number, done=done)


def _page(
    request: Request,
    desk: AtDesk,
    number: int,
    *,
    done: tuple[ReturnReading, KeptReturn | None] | None = None,
    error: CagewiseError | None = None,
) -> HTMLResponse:
    """Return the page of a case's return sheet."""
    case = desk.plant.cases.get(number)
    view = None if done is None else view_of(done[0])
    return page(
        request,
        "repair_return.html",
        status_code=HTTPStatus.OK if error is None else status_of(error),
        title="Return sheet of the repair shop",
        case=case,
        motor=desk.plant.motors.get(case.motor_id),
        read="" if view is None else return_title(view),
        sections=() if view is None else list(return_sections(view)),
        kept=None if done is None else done[1],
        checked=done is not None and done[1] is None,
        error=error,
    )
