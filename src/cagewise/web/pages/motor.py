"""A motor: what it is, what is not known of it, its history, what comes next, what is decided."""

from __future__ import annotations

from http import HTTPStatus
from typing import Annotated

from fastapi import APIRouter, Form, Query, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from cagewise.errors import CagewiseError, InputError, UsageError
from cagewise.report import history_wording, missing_wording
from cagewise.report.history_strip import said_of, strip_of
from cagewise.report.html import SHAPES
from cagewise.report.motor_facts import nameplate_facts, sensor_facts
from cagewise.report.motor_rows import row_of
from cagewise.store import MotorEntry, Sensor
from cagewise.web.desk import AtDesk, Desk
from cagewise.web.form_values import LONG, SHORT, Day, Words, said_day, said_number
from cagewise.web.numbers import LARGEST, Number
from cagewise.web.problems import status_of
from cagewise.web.security.access import MayRead, MayWrite
from cagewise.web.templating import page
from cagewise.workflows.motor_story import story_of
from cagewise.workflows.plant_cases import open_case
from cagewise.workflows.plant_sensors import (
    ROLES,
    add_sensor,
    calibrate_sensor,
    note_motor,
    remove_sensor,
)
from cagewise.workflows.plant_signing import Proposal, Signed, propose, sign

router = APIRouter(include_in_schema=False)

VISITS = 40
"""Visits that the page lists at first."""
ALL_VISITS = 100_000
DONE = {
    "sensor": "The sensor is noted.",
    "calibrated": "The calibration is noted.",
    "removed": "The sensor is noted as removed; what it measured stays as it is.",
    "note": "The note is kept.",
    "added": "The motor is added.",
    "edited": "The new version of the motor file is kept; the earlier ones stay.",
}


@router.get("/motors/{number}", response_class=HTMLResponse)
def motor(request: Request, number: Number, desk: AtDesk, _: MayRead) -> HTMLResponse:
    """Show a motor."""
    return _shown(request, desk, desk.plant.motors.get(number))


@router.post("/motors/{number}/notes")
def note(
    request: Request,
    number: Number,
    desk: AtDesk,
    by: MayWrite,
    text: Annotated[Words, Form(max_length=LONG)] = "",
    author: Annotated[Words, Form(max_length=SHORT)] = "",
) -> Response:
    """Note something on the motor itself."""
    entry = desk.plant.motors.get(number)
    try:
        note_motor(desk.plant, entry, text, author=by.name or author)
    except UsageError as error:
        return _shown(request, desk, entry, error)
    return _back(entry, "note")


@router.post("/motors/{number}/sensors")
def sensor(  # noqa: PLR0913, PLR0917 - fields of the form
    request: Request,
    number: Number,
    desk: AtDesk,
    _: MayWrite,
    name: Annotated[Words, Form(max_length=SHORT)] = "",
    role: Annotated[Words, Form(max_length=SHORT)] = "",
    serial: Annotated[Words, Form(max_length=SHORT)] = "",
    ratio: Annotated[Words, Form(max_length=SHORT)] = "",
    mounted: Day = "",
    calibrated: Day = "",
) -> Response:
    """Note a sensor that stays on the motor."""
    entry = desk.plant.motors.get(number)
    try:
        made = Sensor(
            name=name,
            role=role,
            serial=serial,
            ratio=said_number(ratio, "ratio"),
            mounted_on=said_day(mounted, "mounted on"),
            calibrated_on=said_day(calibrated, "calibrated on"),
        )
        add_sensor(desk.plant, entry, made)
    except CagewiseError as error:
        return _shown(request, desk, entry, error)
    return _back(entry, "sensor")


@router.post("/motors/{number}/sensors/{done}")
def changed_sensor(
    request: Request,
    number: Number,
    done: str,
    desk: AtDesk,
    _: MayWrite,
    name: Annotated[Words, Form(max_length=SHORT)],
    on: Day = "",
) -> Response:
    """Note that a sensor was calibrated, or taken off."""
    entry = desk.plant.motors.get(number)
    changes = {"calibrated": calibrate_sensor, "removed": remove_sensor}
    try:
        if done not in changes:
            raise UsageError(f"a sensor is not {done}", where="sensor")
        day = said_day(on, "on")
        if day is None:
            raise InputError("a day is needed", where="on")
        changes[done](desk.plant, entry, name, day)
    except CagewiseError as error:
        return _shown(request, desk, entry, error)
    return _back(entry, done)


@router.post("/motors/{number}/cases")
def new_case(
    request: Request,
    number: Number,
    desk: AtDesk,
    _: MayWrite,
    title: Annotated[Words, Form(max_length=SHORT)] = "",
) -> Response:
    """Open a case."""
    entry = desk.plant.motors.get(number)
    if not title.strip():
        error = UsageError("a case has a title", where="title", remedy="Say what is suspected.")
        return _shown(request, desk, entry, error)
    case = open_case(desk.plant, entry, title.strip())
    return RedirectResponse(f"/cases/{case.id}?done=opened", HTTPStatus.SEE_OTHER)


@router.get("/motors/{number}/decide", response_class=HTMLResponse)
def decide(
    request: Request,
    number: Number,
    desk: AtDesk,
    _: MayWrite,
    examination: Annotated[int | None, Query(ge=1, le=LARGEST)] = None,
) -> HTMLResponse:
    """Show what is advised, to be decided and signed."""
    entry = desk.plant.motors.get(number)
    return _to_decide(request, entry, propose(desk.plant, entry, examination))


@router.post("/motors/{number}/decide", response_class=HTMLResponse)
def decided(  # noqa: PLR0913, PLR0917 - fields of the form
    request: Request,
    number: Number,
    desk: AtDesk,
    by: MayWrite,
    action: Annotated[Words, Form(max_length=LONG)] = "",
    due: Day = "",
    text: Annotated[Words, Form(max_length=LONG)] = "",
    author: Annotated[Words, Form(max_length=SHORT)] = "",
    title: Annotated[Words, Form(max_length=SHORT)] = "",
    examination: Annotated[int | None, Form(ge=1, le=LARGEST)] = None,
) -> Response:
    """Keep a decision with its name, and show its case."""
    entry = desk.plant.motors.get(number)
    proposal = propose(desk.plant, entry, examination)
    fields = {"action": action, "due": due, "text": text, "author": author, "title": title}
    try:
        signed = Signed(
            action=action,
            due_on=said_day(due, "by"),
            text=text,
            author=by.name or author,
            title=title,
        )
        case = sign(desk.plant, entry, proposal, signed)
    except InputError as error:
        return _to_decide(request, entry, proposal, error, fields)
    return RedirectResponse(f"/cases/{case.id}?done=signed", HTTPStatus.SEE_OTHER)


def _to_decide(
    request: Request,
    entry: MotorEntry,
    proposal: Proposal,
    error: CagewiseError | None = None,
    fields: dict[str, str] | None = None,
) -> HTMLResponse:
    """Return the page on which a decision is signed."""
    usual = {
        "action": proposal.action,
        "due": "" if proposal.due_on is None else proposal.due_on.isoformat(),
        "title": proposal.title,
        "text": "",
        "author": "",
    }
    return page(
        request,
        "decide.html",
        status_code=HTTPStatus.OK if error is None else status_of(error),
        title=f"Decide: {entry.tag}",
        motor=entry,
        proposal=proposal,
        fields=fields or usual,
        error=error,
    )


def _back(entry: MotorEntry, done: str) -> RedirectResponse:
    """Return to the motor and say there what was done."""
    return RedirectResponse(f"/motors/{entry.id}?done={done}", HTTPStatus.SEE_OTHER)


def _shown(
    request: Request, desk: Desk, entry: MotorEntry, error: CagewiseError | None = None
) -> HTMLResponse:
    """Return the page of a motor."""
    most = ALL_VISITS if request.query_params.get("visits") == "all" else VISITS
    story = story_of(desk.plant, entry, most_visits=most)
    shown = story.shown
    return page(
        request,
        "motor.html",
        status_code=HTTPStatus.OK if error is None else status_of(error),
        title=entry.tag,
        motor=entry,
        story=story,
        shown=shown,
        row=row_of(story.view, story.ranked, entry),
        facts=nameplate_facts(shown.motor),
        strip=strip_of(story.examined, story.events),
        missing=[(missing_wording.MISSING[m], missing_wording.WHY[m]) for m in shown.missing],
        said_of=said_of,
        shapes={state.value: shape for state, shape in SHAPES.items()},
        sensor_facts=sensor_facts,
        mounted=[each for each in shown.sensors if each.removed_on is None],
        roles=ROLES,
        words=history_wording,
        zone=desk.plant.about.zone,
        error=error,
        done=DONE.get(request.query_params.get("done", ""), ""),
    )
