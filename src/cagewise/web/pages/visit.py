"""A visit: what was brought in, which channel is which, what it is good for, its examination."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from http import HTTPStatus
from typing import Annotated

from fastapi import APIRouter, Query, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from cagewise.errors import CagewiseError, ChannelRoleError, InputError, NotKeptError
from cagewise.measurement import Role
from cagewise.measurement.role_text import RoleText
from cagewise.report import visit_page_wording as words
from cagewise.store import MotorEntry
from cagewise.web.desk import AtDesk, Desk
from cagewise.web.examining import examine_visit, state_and_examine
from cagewise.web.form_fields import Fields, day_in
from cagewise.web.jobs import Job
from cagewise.web.looks import look_at_desk, looked_by_itself
from cagewise.web.numbers import Number
from cagewise.web.security.access import MayRead, MayWrite
from cagewise.web.templating import page
from cagewise.workflows.plant_history import today_of
from cagewise.workflows.plant_roles import ChannelSeen, RolesSeen
from cagewise.workflows.plant_visit import ShownVisit, show_visit

router = APIRouter(include_in_schema=False)

LONGEST_NOTE = 500
OptionalNumber = Annotated[int | None, Query(ge=1, le=(1 << 63) - 1)]


@router.get("/motors/{number}/visits/new", response_class=HTMLResponse)
def new(request: Request, desk: AtDesk, _: MayWrite, number: Number) -> HTMLResponse:
    """Show where to drop files, or begin a visit whose readings are typed in."""
    return _new(request, desk, desk.plant.motors.get(number))


@router.post("/motors/{number}/visits")
def begin(request: Request, desk: AtDesk, _: MayWrite, number: Number, said: Fields) -> Response:
    """Begin a visit without files."""
    entry = desk.plant.motors.get(number)
    try:
        day = _day_of(said)
    except InputError as error:
        return _new(request, desk, entry, error)
    visit = desk.plant.visits.on(entry, day, note=said.get("note", "")[:LONGEST_NOTE])
    place = "sheet" if said.get("then") == "sheet" else ""
    return _to(f"/visits/{visit.id}/{place}".rstrip("/"))


@router.get("/motors/{number}/visits/{day}")
def of_day(desk: AtDesk, _: MayRead, number: Number, day: date) -> Response:
    """Go to the visit of a day."""
    for visit in desk.plant.visits.of(desk.plant.motors.get(number)):
        if visit.day == day:
            return _to(f"/visits/{visit.id}")
    raise NotKeptError(f"there is no visit of {day}")


@router.get("/visits/{number}", response_class=HTMLResponse)
def visit(
    request: Request,
    desk: AtDesk,
    _: MayRead,
    number: Number,
    look: OptionalNumber = None,
    kept: Annotated[str, Query(max_length=300)] = "",
    begun: OptionalNumber = None,
) -> HTMLResponse:
    """Show a visit."""
    shown = show_visit(desk.plant, desk.plant.visits.get(number))
    return _page(request, desk, shown, look=look, kept=kept, begun=begun)


@router.post("/visits/{number}/examine")
def examine(desk: AtDesk, visitor: MayWrite, number: Number, said: Fields) -> Response:
    """Ask for an examination of a visit."""
    found = desk.plant.visits.get(number)
    confirmed = said.get("confirmed") == "yes"
    return _to(f"/jobs/{examine_visit(desk, found, confirmed=confirmed, by=visitor.name).id}")


@router.post("/recordings/{number}/roles")
def roles(
    request: Request, desk: AtDesk, visitor: MayWrite, number: Number, said: Fields
) -> Response:
    """State which channel is which, and ask for an examination."""
    kept = desk.plant.measurements.recording(number)
    found = desk.plant.visits.get(kept.visit_id)
    try:
        seen = look_at_desk(desk, kept)
        naming = _stated(seen, said)
        job = state_and_examine(
            desk, kept, naming, confirmed=said.get("confirmed") == "yes", by=visitor.name
        )
    except ChannelRoleError as error:
        return _page(request, desk, show_visit(desk.plant, found), look=kept.id, error=error)
    return _to(f"/jobs/{job.id}")


def _day_of(said: Mapping[str, str]) -> date:
    """Return the day of a visit that is begun."""
    day = day_in(said.get("day", ""), "day")
    if day is None:
        raise InputError("a visit has a day", where="day", remedy="Choose one.")
    return day


def _stated(seen: RolesSeen, said: Mapping[str, str]) -> dict[str, str]:
    """Return what a form says of the channels, only where it differs from what is taken.

    Raises
    ------
    ChannelRoleError
        If a ratio is none, or two channels are given the same role.
    """
    naming: dict[str, str] = {}
    held: dict[Role, str] = {}
    for place, channel in enumerate(seen.channels):
        role, size = _role(channel, said.get(f"role.{place}")), _ratio(channel, said, place)
        text = str(RoleText(role=role, factor=-size if said.get(f"turned.{place}") else size))
        if role in held and role not in {Role.OTHER, Role.UNASSIGNED}:
            raise ChannelRoleError(
                f"{held[role]!r} and {channel.name!r} cannot both be the {words.ROLE_WORDS[role]}",
                remedy="Give one of them another role.",
            )
        held[role] = channel.name
        if text != channel.text:
            naming[channel.name] = text
    return naming


def _role(channel: ChannelSeen, text: str | None) -> Role:
    """Return the role that was chosen for a channel."""
    try:
        return channel.role if text is None else Role(text)
    except ValueError:
        raise ChannelRoleError(f"what {channel.name!r} was given is no role") from None


def _ratio(channel: ChannelSeen, said: Mapping[str, str], place: int) -> float:
    """Return the ratio that was typed for a channel."""
    try:
        ratio = float(said.get(f"factor.{place}", "").replace(",", ".") or 1.0)
    except ValueError:
        raise ChannelRoleError(
            f"the ratio of {channel.name!r} is no number", remedy="Write as in 60 or 0.5."
        ) from None
    if not 0.0 < ratio < float("inf"):
        raise ChannelRoleError(
            f"the ratio of {channel.name!r} has to be positive",
            remedy='A clamp that is the wrong way round is "reversed".',
        )
    return ratio


def _new(
    request: Request, desk: Desk, entry: MotorEntry, error: CagewiseError | None = None
) -> HTMLResponse:
    """Return the page of a new visit."""
    return page(
        request,
        "visit_new.html",
        title=f"New measurements: {entry.tag}",
        entry=entry,
        error=error,
        today=today_of(desk.plant),
        status_code=HTTPStatus.OK if error is None else HTTPStatus.UNPROCESSABLE_ENTITY,
    )


def _page(
    request: Request,
    desk: Desk,
    shown: ShownVisit,
    *,
    look: int | None = None,
    error: CagewiseError | None = None,
    **after: str | int | None,
) -> HTMLResponse:
    """Return the page of a visit; ``after`` says which sheet was just kept, from which visit."""
    chosen = looked_by_itself(shown.recordings) | {look}
    seen: dict[int, RolesSeen] = {}
    faults: dict[int, CagewiseError] = {}
    for recording in shown.recordings:
        if recording.id in chosen:
            try:
                seen[recording.id] = look_at_desk(desk, recording)
            except CagewiseError as fault:
                faults[recording.id] = fault
    return page(
        request,
        "visit.html",
        title=f"{shown.entry.tag}, {shown.visit.day}",
        shown=shown,
        seen=seen,
        faults=faults,
        error=error,
        look=look,
        kept=after.get("kept", ""),
        begun=after.get("begun"),
        words=words,
        roles=Role,
        zone=desk.plant.about.zone,
        waiting=_waiting(desk, shown),
        status_code=HTTPStatus.OK if error is None else HTTPStatus.UNPROCESSABLE_ENTITY,
    )


def _waiting(desk: Desk, shown: ShownVisit) -> Job | None:
    """Return the job that examines or imports for the motor of this visit now, if there is one."""
    for job in desk.jobs.all(50):
        if job.state.is_over:
            continue
        if job.arguments.get("motor_id") == shown.entry.id:
            return job
    return None


def _to(place: str) -> RedirectResponse:
    return RedirectResponse(place, status_code=HTTPStatus.SEE_OTHER)
