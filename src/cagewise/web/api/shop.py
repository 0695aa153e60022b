"""Papers that go out: the order for the field, and what a repair shop receives and sends back."""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum
from http import HTTPStatus
from typing import Annotated, Any

from fastapi import APIRouter, File, Query, UploadFile
from fastapi.responses import Response
from pydantic import BaseModel, Field
from starlette.datastructures import UploadFile as SentFile

from cagewise.decision.shop_checks import Subject
from cagewise.errors import InputError
from cagewise.report.papers.paper import Paper
from cagewise.report.repair_return_text import beyond_lines
from cagewise.web.api.pictures import DRAWING
from cagewise.web.api.reports import MEDIA, Form, Wished
from cagewise.web.attachments import received
from cagewise.web.desk import AtDesk, Desk
from cagewise.web.numbers import Number
from cagewise.web.security.access import MayRead, MayWrite
from cagewise.workflows import paper_order, paper_repair
from cagewise.workflows.motor_proposal import plain_answer
from cagewise.workflows.repair_return import (
    KeptReturn,
    ReturnReading,
    keep_return,
    read_return,
    view_of,
)

router = APIRouter(tags=["shop"])

PRINTED: dict[int | str, dict[str, Any]] = {
    200: {"content": {media: {} for media in MEDIA.values()}}
}


class SheetForm(StrEnum):
    """Forms in which a return sheet is filled in."""

    TOML = "toml"
    CSV = "csv"
    XLSX = "xlsx"


class Sent(StrEnum):
    """What has a repair specification."""

    CASES = "cases"
    MOTORS = "motors"


SentFor = Annotated[
    list[Subject] | None,
    Query(
        alias="for",
        description="What the motor is sent for; what its last examination doubts if left out.",
    ),
]


class ReturnAnswer(BaseModel):
    """What was understood of a return sheet."""

    motor_id: int
    case_id: int
    kept: bool = Field(description="False after a check, or where the same file was kept before.")
    answers: dict[str, str]
    open_bars: int | None
    bars: list[int]
    changes: list[tuple[str, str, str]] = Field(
        description="Of the motor file: key, before, after."
    )
    motor_file_kept: bool
    warnings: list[str]
    owed: list[str] = Field(description="What the shop was asked and did not state.")
    beyond: list[str] = Field(description="Numbers that lie beyond a limit.")
    missing_photographs: list[str]


@router.get("/motors/{number}/measurement-order.{form}", response_class=Response, responses=PRINTED)
def measurement_order(
    number: Number, form: Form, desk: AtDesk, _: MayRead, wished: Wished
) -> Response:
    """Return the measurement order of a motor: one page for the field."""
    plant = desk.plant
    facts = paper_order.order_of_motor(plant, plant.motors.get(number))
    paper = paper_order.order_paper(facts, wished)
    return _printed(paper, form, paper_order.order_name(facts, form.value))


@router.get(
    "/{sent}/{number}/repair-specification.{form}", response_class=Response, responses=PRINTED
)
def repair_specification(
    sent: Sent,
    number: Number,
    form: Form,
    desk: AtDesk,
    _: MayRead,
    wished: Wished,
    sent_for: SentFor = None,
) -> Response:
    """Return what a repair shop receives with a motor."""
    going = _sending(desk, sent, number, sent_for or ())
    paper = paper_repair.repair_paper(going, wished)
    return _printed(paper, form, paper_repair.file_name(going, form.value))


@router.get("/{sent}/{number}/repair-return.{form}", response_class=Response)
def empty_return(
    sent: Sent,
    number: Number,
    form: SheetForm,
    desk: AtDesk,
    _: MayRead,
    wished: Wished,
    sent_for: SentFor = None,
) -> Response:
    """Return the empty return sheet for the shop to fill in."""
    going = _sending(desk, sent, number, sent_for or ())
    content = paper_repair.return_file(going, f".{form.value}", wished)
    name = paper_repair.file_name(going, form.value, "repair-return")
    return _saved(content, "application/octet-stream", name)


@router.post("/cases/{number}/repair-return", status_code=HTTPStatus.CREATED)
def bring_return(
    number: Number,
    desk: AtDesk,
    by: MayWrite,
    files: Annotated[list[UploadFile], File(description="The sheet first, then photographs.")],
    *,
    check: Annotated[bool, Query(description="Say what is understood and keep nothing.")] = False,
    motor_file: Annotated[bool, Query(description="Take the motor file over.")] = False,
) -> ReturnAnswer:
    """Take in the sheet that a repair shop filled in; impossible answers are refused whole."""
    reading, kept = taken_in(desk, number, files, check=check, take=motor_file, author=by.name)
    view = view_of(reading)
    return ReturnAnswer(
        motor_id=reading.motor.id,
        case_id=reading.case.id,
        kept=kept is not None and bool(kept.events),
        answers={key: plain_answer(each) for key, each in reading.returned.answers.items()},
        open_bars=None if reading.outcome is None else reading.outcome.open_bars,
        bars=[each.bar for each in reading.returned.bars],
        changes=list(view.changes),
        motor_file_kept=kept is not None and kept.motor_file_from is not None,
        warnings=list(view.warnings),
        owed=[each.value for each in reading.owed],
        beyond=beyond_lines(view),
        missing_photographs=list(reading.missing_photographs),
    )


def taken_in(
    desk: Desk,
    number: int,
    files: Sequence[SentFile],
    *,
    check: bool,
    take: bool,
    author: str,
) -> tuple[ReturnReading, KeptReturn | None]:
    """Read a sheet that was sent, and keep it unless it is only checked.

    Raises
    ------
    InputError
        If there is no file.
    SheetError
        If it cannot be used.
    """
    plant = desk.plant
    case = plant.cases.get(number)
    site = plant.motors.get(case.motor_id).site
    with received(files) as paths:
        if not paths:
            raise InputError("there is no sheet", where="files", remedy="Choose the filled-in one.")
        sheet, *photographs = paths
        reading = read_return(plant, sheet, case=str(case.id), site=site, photographs=photographs)
        if check:
            return reading, None
        return reading, keep_return(plant, sheet, reading, author=author, motor_file=take)


def _sending(
    desk: Desk, what: Sent, number: int, sent_for: Sequence[Subject]
) -> paper_repair.Sending:
    """Gather what goes to the shop."""
    plant = desk.plant
    if what is Sent.MOTORS:
        return paper_repair.sending(plant, plant.motors.get(number), subjects=sent_for)
    case = plant.cases.get(number)
    motor = plant.motors.get(case.motor_id)
    return paper_repair.sending(plant, motor, case=case, subjects=sent_for)


def _printed(paper: Paper, form: Form, name: str) -> Response:
    """Return a paper as a file."""
    with DRAWING:
        if form is Form.PDF:
            from cagewise.report.papers.pdf import to_pdf

            content = to_pdf(paper)
        else:
            from cagewise.report.papers.page import to_page

            content = to_page(paper).encode()
    return _saved(content, MEDIA[form], name)


def _saved(content: bytes, media: str, name: str) -> Response:
    headers = {"Content-Disposition": f'attachment; filename="{name}"'}
    return Response(content, media_type=media, headers=headers)
