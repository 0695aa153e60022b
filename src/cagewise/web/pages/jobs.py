"""Work: what goes on, what came of it, and the plain form that sends files."""

from __future__ import annotations

import asyncio
from datetime import date
from http import HTTPStatus
from typing import Annotated

from fastapi import APIRouter, Form, Path, Request
from fastapi.responses import FileResponse, HTMLResponse, RedirectResponse, Response

from cagewise.errors import InputError, NotKeptError
from cagewise.web.desk import AtDesk, Desk
from cagewise.web.jobs import Job, State
from cagewise.web.jobs.kinds import export_file
from cagewise.web.jobs.shown import EXPORT_TITLE, STATE_WORDS, fault_of, reexamine_title
from cagewise.web.security.access import FIELD, MayRead, MaySend, MayWrite, require_mark
from cagewise.web.templating import page
from cagewise.web.uploads.form import FormReader
from cagewise.web.uploads.hand_in import Ask, import_batch

router = APIRouter(include_in_schema=False)

SHOWN = 100
JobId = Annotated[int, Path(ge=1, le=2**63 - 1)]
MotorId = Annotated[int, Path(ge=1, le=2**63 - 1)]


@router.get("/jobs", response_class=HTMLResponse)
def jobs(request: Request, desk: AtDesk, _: MayRead) -> HTMLResponse:
    """Show what goes on and what was done lately."""
    found = desk.jobs.all(SHOWN)
    return page(
        request,
        "jobs.html",
        title="Work",
        now=[job for job in found if not job.state.is_over],
        over=[(job, fault_of(job, hide_paths=_hides(desk))) for job in found if job.state.is_over],
        words=STATE_WORDS,
        zone=desk.plant.about.zone,
    )


@router.post("/jobs/export")
def export(desk: AtDesk, visitor: MayWrite) -> Response:
    """Ask for the whole plant in one file."""
    return _to(desk.jobs.submit("export", {}, title=EXPORT_TITLE, by=visitor.name))


@router.post("/jobs/reexamine")
def reexamine(desk: AtDesk, visitor: MayWrite) -> Response:
    """Ask for another examination of what an earlier version examined."""
    return _to(desk.jobs.submit("reexamine", {}, title=reexamine_title(None), by=visitor.name))


@router.get("/jobs/{job_id}", response_class=HTMLResponse)
def job(request: Request, desk: AtDesk, _: MayRead, job_id: JobId) -> HTMLResponse:
    """Show one job."""
    return _shown(request, desk, desk.jobs.get(job_id))


@router.post("/jobs/{job_id}/cancel")
def cancel(desk: AtDesk, _: MayWrite, job_id: JobId) -> Response:
    """End a job."""
    return _to(desk.jobs.cancel(job_id))


@router.post("/jobs/{job_id}/again")
def again(
    desk: AtDesk,
    visitor: MayWrite,
    job_id: JobId,
    day: Annotated[str, Form(max_length=10)] = "",
) -> Response:
    """Ask for the same again, of an import with the day stated."""
    found = desk.jobs.get(job_id)
    arguments = dict(found.arguments)
    if day and found.kind == "import":
        arguments["day"] = _day(day).isoformat()
    new = desk.jobs.submit(found.kind, arguments, title=found.title, by=visitor.name)
    if arguments.get("batch"):
        desk.uploads.assign(arguments["batch"], new)
    return _to(new)


@router.get("/jobs/{job_id}/archive")
def archive(desk: AtDesk, _: MayRead, job_id: JobId) -> Response:
    """Give the file that an export has written."""
    found = desk.jobs.get(job_id)
    path = export_file(desk.plant.folder)
    if found.kind != "export" or found.state is not State.DONE or not path.is_file():
        raise NotKeptError("there is no such archive any more", remedy="Export the plant again.")
    return FileResponse(
        path, media_type="application/zip", filename=f"{desk.plant.about.name or 'plant'}.zip"
    )


@router.post("/motors/{motor_id}/files")
async def send(request: Request, desk: AtDesk, visitor: MaySend, motor_id: MotorId) -> Response:
    """Take files from the plain form, and go to the job that imports them."""
    await asyncio.to_thread(desk.plant.motors.get, motor_id)

    def check(fields: dict[str, str]) -> None:
        require_mark(request, fields.get(FIELD, ""))

    reader = FormReader(desk.uploads, motor_id=motor_id, by=visitor.name, check=check)
    sent = await reader.read(request)
    stated = sent.fields.get("day", "")
    ask = Ask(
        motor_id=motor_id,
        day=_day(stated) if stated else None,
        examine=sent.fields.get("examine", "yes") == "yes",
        by=visitor.name,
    )
    return _to(await asyncio.to_thread(import_batch, desk, ask, sent.files[0].batch))


def _shown(request: Request, desk: Desk, job: Job) -> HTMLResponse:
    """Return the page of a job."""
    archive = export_file(desk.plant.folder)
    return page(
        request,
        "job.html",
        title=job.title,
        job=job,
        fault=fault_of(job, hide_paths=_hides(desk)),
        words=STATE_WORDS,
        zone=desk.plant.about.zone,
        has_archive=job.kind == "export" and job.state is State.DONE and archive.is_file(),
        can_try=_can_try(desk, job),
    )


def _can_try(desk: Desk, job: Job) -> bool:
    """Return whether asking for the same again makes sense."""
    if job.kind == "import" and job.arguments.get("batch"):
        left = desk.uploads.of_batch(job.arguments["batch"])
        return job.state.is_over and any(each.is_whole for each in left)
    return job.state in {State.FAILED, State.CANCELLED}


def _day(stated: str) -> date:
    """Return the day that somebody typed."""
    try:
        return date.fromisoformat(stated)
    except ValueError:
        raise InputError(
            "this is not a day", where="day", remedy="Write it as in 2031-05-17."
        ) from None


def _to(job: Job) -> Response:
    return RedirectResponse(f"/jobs/{job.id}", status_code=HTTPStatus.SEE_OTHER)


def _hides(desk: Desk) -> bool:
    return desk.settings.allow_remote
