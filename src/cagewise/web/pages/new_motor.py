"""A motor file as a form and as text: added, and changed by a version that counts from a day."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from http import HTTPStatus

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from cagewise.errors import CagewiseError, InputError, MotorFileError, StoreError
from cagewise.report import motor_file_wording as words
from cagewise.report.missing_wording import MISSING
from cagewise.store import MotorEntry
from cagewise.web.desk import AtDesk, Desk
from cagewise.web.form_fields import Fields, day_in
from cagewise.web.numbers import Number
from cagewise.web.security.access import MayRead, MayWrite
from cagewise.web.templating import page
from cagewise.workflows.motor_form import (
    BEARINGS,
    MOST_BEARINGS,
    FormFault,
    add_motor,
    change_motor,
    faults_of,
    form_of_toml,
    motor_fields,
    toml_of_form,
)
from cagewise.workflows.plant_motors import unknown_in

router = APIRouter(include_in_schema=False)

FORM, TEXT = "form", "text"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Shown:
    """A motor file on its page."""

    entry: MotorEntry | None
    """None for a new motor."""
    view: str = FORM
    said: Mapping[str, str] = field(default_factory=dict)
    """What stands in the fields of the form."""
    toml: str = ""
    before: str = ""
    """The file as it is kept."""
    site: str = ""
    valid_from: str = ""
    note: str = ""
    error: CagewiseError | None = None
    faults: tuple[FormFault, ...] = ()


@router.get("/motors/new", response_class=HTMLResponse)
def new(request: Request, desk: AtDesk, _: MayWrite, view: str = FORM) -> HTMLResponse:
    """Show the empty form of a motor file."""
    return _page(request, desk, _Shown(entry=None, view=TEXT if view == TEXT else FORM))


@router.post("/motors/new")
def add(request: Request, desk: AtDesk, _: MayWrite, said: Fields) -> Response:
    """Add a motor, or change between form and text."""
    return _answer(request, desk, None, said)


@router.get("/motors/{number}/file", response_class=HTMLResponse)
def file(
    request: Request, desk: AtDesk, _: MayRead, number: Number, view: str = FORM
) -> HTMLResponse:
    """Show the motor file that counts today."""
    entry = desk.plant.motors.get(number)
    toml = desk.plant.motors.nameplate(entry).toml
    shown = _Shown(
        entry=entry,
        view=TEXT if view == TEXT else FORM,
        said=form_of_toml(toml),
        toml=toml,
        before=toml,
    )
    return _page(request, desk, shown)


@router.post("/motors/{number}/file")
def change(request: Request, desk: AtDesk, _: MayWrite, number: Number, said: Fields) -> Response:
    """Add a version of a motor file, or change between form and text."""
    return _answer(request, desk, desk.plant.motors.get(number), said)


def _answer(
    request: Request, desk: Desk, entry: MotorEntry | None, said: Mapping[str, str]
) -> Response:
    """Keep what was sent, or show it again: in the other view, or with its faults."""
    before = "" if entry is None else desk.plant.motors.nameplate(entry).toml
    view = TEXT if said.get("view") == TEXT else FORM
    sent = _Shown(
        entry=entry,
        before=before,
        site=said.get("site", ""),
        valid_from=said.get("valid_from", ""),
        note=said.get("note", ""),
    )
    toml = said.get("toml", "")
    try:
        if view == FORM:
            toml = toml_of_form(said, before)
        if said.get("do") == "view":
            other = FORM if view == TEXT else TEXT
            fields = form_of_toml(toml) if other == FORM else {}
            return _page(request, desk, replace(sent, view=other, said=fields, toml=toml))
        return _kept(desk, entry, toml, said)
    except (InputError, StoreError) as error:
        faults = faults_of(error) if isinstance(error, MotorFileError) else ()
        shown = replace(sent, view=view, said=said, toml=toml, error=error, faults=faults)
        return _page(request, desk, shown)


def _kept(
    desk: Desk, entry: MotorEntry | None, toml: str, said: Mapping[str, str]
) -> RedirectResponse:
    """Keep a motor file; go to the page of the motor."""
    valid_from = day_in(said.get("valid_from", ""), "valid from")
    if entry is None:
        site = said.get("site", "").strip()
        entry = add_motor(desk.plant, toml, site=site, valid_from=valid_from)
    else:
        note = said.get("note", "").strip()
        change_motor(desk.plant, entry, toml, valid_from=valid_from, note=note)
    return RedirectResponse(f"/motors/{entry.id}", status_code=HTTPStatus.SEE_OTHER)


def _page(request: Request, desk: Desk, shown: _Shown) -> HTMLResponse:
    """Return the page of a motor file."""
    entry = shown.entry
    fields = motor_fields()
    bearings = sum(
        f"{BEARINGS}.{n}.{each.key}" in shown.said
        for n in range(MOST_BEARINGS)
        for each in fields[BEARINGS][:1]
    )
    versions = () if entry is None else desk.plant.motors.nameplates(entry)
    return page(
        request,
        "motor_file.html",
        title="A new motor" if entry is None else f"Motor file of {entry.tag}",
        shown=shown,
        fields=fields,
        bearings=range(min(bearings + 2, MOST_BEARINGS)),
        words=words,
        by_field={fault.field: fault.text for fault in shown.faults if fault.field},
        others=[fault.text for fault in shown.faults if not fault.field],
        missing=[MISSING[item] for item in unknown_in(shown.before)] if shown.before else [],
        versions=list(reversed(versions)),
        sites=desk.plant.motors.sites(),
        status_code=HTTPStatus.OK if shown.error is None else HTTPStatus.UNPROCESSABLE_ENTITY,
    )
