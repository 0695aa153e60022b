"""Long work: what there is, asking for more, ending it, and following it."""

from __future__ import annotations

from datetime import datetime
from http import HTTPStatus
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Body, Path, Query, Request
from fastapi.responses import StreamingResponse
from pydantic import BaseModel, Field

from cagewise.web.desk import AtDesk, Desk
from cagewise.web.jobs import Job, State
from cagewise.web.jobs.events import MEDIA_TYPE, follow
from cagewise.web.jobs.kinds import ExamineArguments, ReexamineArguments
from cagewise.web.jobs.shown import EXPORT_TITLE, examine_title, fault_of, reexamine_title
from cagewise.web.security.access import MayRead, MayWrite, Visitor

router = APIRouter(tags=["jobs"])

MOST = 500
MOST_FOLLOWED = 20
JobId = Annotated[int, Path(ge=1, le=2**63 - 1, description="Number of the job.")]


class JobFaultAnswer(BaseModel):
    """Why a job failed."""

    kind: str = Field(description="Kind of the error, as of a problem.")
    what: str = Field(description="What is wrong.")
    where: str = Field(description="File, line, key or value in question.")
    remedy: str = Field(description="What can be done about it.")


class JobAnswer(BaseModel):
    """Long work."""

    id: int
    kind: str = Field(description="import, examine, reexamine or export.")
    title: str = Field(description="What it is, for people.")
    state: State
    progress: float | None = Field(description="Share that is done, 0 to 1; null: nobody can say.")
    words: str = Field(description="What is being done now.")
    result: Any = Field(description="What came of it; null unless it is done.")
    fault: JobFaultAnswer | None = Field(description="Why it failed; null unless it did.")
    see: str = Field(description="Address of the page that shows what came of it; may be empty.")
    by: str = Field(description="Who asked; empty without accounts.")
    made_at: datetime
    started_at: datetime | None
    ended_at: datetime | None
    attempts: int = Field(description="How often it was begun.")
    cancel_asked: bool = Field(description="It is being ended.")


class Examine(ExamineArguments):
    """Examine a visit."""

    kind: Literal["examine"]


class Reexamine(ReexamineArguments):
    """Examine again what an earlier version of the program examined."""

    kind: Literal["reexamine"]


class Export(BaseModel):
    """Write the whole plant into one file."""

    kind: Literal["export"]


Asked = Annotated[Examine | Reexamine | Export, Body(discriminator="kind")]


@router.get("/jobs")
def jobs(
    desk: AtDesk,
    _: MayRead,
    most: Annotated[int, Query(ge=1, le=MOST, description="At most so many.")] = 100,
) -> list[JobAnswer]:
    """Return the jobs: those that are not over first, then the newest."""
    return [answer_of(job, desk) for job in desk.jobs.all(most)]


@router.post("/jobs", status_code=HTTPStatus.ACCEPTED)
def ask(desk: AtDesk, visitor: MayWrite, asked: Asked) -> JobAnswer:
    """Ask for work; the same that waits already is that one. Files are imported elsewhere."""
    return answer_of(submit(desk, visitor, asked), desk)


@router.get(
    "/jobs/events",
    response_class=StreamingResponse,
    responses={200: {"content": {MEDIA_TYPE: {"schema": {"type": "string"}}}}},
)
async def events(
    request: Request,
    desk: AtDesk,
    _: MayRead,
    job_id: Annotated[
        list[Annotated[int, Field(ge=1, le=2**63 - 1)]],
        Query(alias="id", min_length=1, max_length=MOST_FOLLOWED, description="Jobs to follow."),
    ],
) -> StreamingResponse:
    """Follow jobs: an event "job" at every change, "end" when all are over.

    The stream also ends after a minute and when the server does; ask again then.
    """
    return await follow(request, desk, job_id, lambda job: answer_of(job, desk).model_dump_json())


@router.get("/jobs/{job_id}")
def job(desk: AtDesk, _: MayRead, job_id: JobId) -> JobAnswer:
    """Return a job."""
    return answer_of(desk.jobs.get(job_id), desk)


@router.post("/jobs/{job_id}/cancel")
def cancel(desk: AtDesk, _: MayWrite, job_id: JobId) -> JobAnswer:
    """End a job; what it has kept stays. One that runs ends within about a second."""
    return answer_of(desk.jobs.cancel(job_id), desk)


def submit(desk: Desk, visitor: Visitor, asked: Examine | Reexamine | Export) -> Job:
    """Ask for work."""
    arguments = asked.model_dump(mode="json", exclude={"kind"})
    return desk.jobs.submit(asked.kind, arguments, title=_title(desk, asked), by=visitor.name)


def answer_of(job: Job, desk: Desk) -> JobAnswer:
    """Return a job as it is answered."""
    fault = fault_of(job, hide_paths=desk.settings.allow_remote)
    return JobAnswer(
        id=job.id,
        kind=job.kind,
        title=job.title,
        state=job.state,
        progress=job.progress,
        words=job.words,
        result=job.result,
        fault=None
        if fault is None
        else JobFaultAnswer(
            kind=fault.kind, what=fault.what, where=fault.where, remedy=fault.remedy
        ),
        see=job.see,
        by=job.by,
        made_at=job.made_at,
        started_at=job.started_at,
        ended_at=job.ended_at,
        attempts=job.attempts,
        cancel_asked=job.cancel_asked,
    )


def _title(desk: Desk, asked: Examine | Reexamine | Export) -> str:
    """Return what is asked for, for people; a motor that is not there is told now."""
    motors = desk.plant.motors
    if isinstance(asked, Examine):
        return examine_title(motors.get(asked.motor_id), asked.day)
    if isinstance(asked, Reexamine):
        return reexamine_title(None if asked.motor_id is None else motors.get(asked.motor_id))
    return EXPORT_TITLE
