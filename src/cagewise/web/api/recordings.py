"""Recordings: what was read from a file, which channel is which, and how that was checked."""

from __future__ import annotations

from datetime import datetime
from http import HTTPStatus
from typing import Annotated

from fastapi import APIRouter
from pydantic import BaseModel, ConfigDict, Field

from cagewise.measurement import Role
from cagewise.store import KeptRecording
from cagewise.web.api.jobs import JobAnswer, answer_of
from cagewise.web.desk import AtDesk
from cagewise.web.examining import examine_visit
from cagewise.web.looks import look_at_desk
from cagewise.web.numbers import Number
from cagewise.web.security.access import MayRead, MayWrite
from cagewise.workflows.plant_decode import newest_recordings, state_roles

router = APIRouter(tags=["recordings"])

MOST_ROLES = 256
"""Channels that are named in one request."""


class RecordingHead(BaseModel):
    """A recording that the plant keeps."""

    id: int
    visit_id: int
    source: str = Field(description="Name of its file.")
    part: str = Field(description="Which recording of the file; empty where there is one.")
    format_name: str = Field(description="As it was read.")
    sampling_rate_hz: float
    n_samples: int
    n_channels: int
    started_at: datetime | None = Field(description="As the file says; null if it does not.")

    @classmethod
    def of(cls, kept: KeptRecording) -> RecordingHead:
        """Return a recording as it is answered."""
        return cls(**{name: getattr(kept, name) for name in cls.model_fields})


class ChannelAnswer(BaseModel):
    """One channel as it is taken."""

    name: str
    unit: str
    role: Role
    factor: float = Field(description="As stated: -1 for a reversed clamp; 1 if nothing was said.")
    said: str = Field(description="Role and factor as text, such as -i_b or v_ab*60.")
    stated: bool = Field(description="Somebody said so for this recording.")
    rms: float | None = Field(description="Of its samples without their mean, in its unit.")


class FindingAnswer(BaseModel):
    """One thing that is odd about a recording."""

    code: str
    severity: str = Field(description="note, caution or blocking.")
    message: str
    remedy: str


class QuestionAnswer(BaseModel):
    """What has to be answered before a recording can be examined."""

    what: str
    remedy: str


class RolesAnswer(BaseModel):
    """Which channel is which, how that was checked, and what the recording is good for."""

    recording: RecordingHead
    channels: list[ChannelAnswer]
    proven: bool = Field(description="No other naming of these channels fits.")
    statements: list[str] = Field(description="What the physical checks found to be so.")
    findings: list[FindingAnswer] = Field(description="Worst first.")
    question: QuestionAnswer | None
    proposals: list[dict[str, str]] = Field(
        description="Namings that would fit: channel to what would be said of it."
    )
    frequency_hz: float | None = Field(description="Of the supply.")
    steady_s: float | None = Field(description="Longest steady stretch.")
    starts: int = Field(description="How often the motor is started in it.")


class RolesSaid(BaseModel):
    """Which channel is which."""

    model_config = ConfigDict(extra="forbid")

    roles: dict[Annotated[str, Field(max_length=200)], Annotated[str, Field(max_length=60)]] = (
        Field(
            max_length=MOST_ROLES,
            description="Channel to what is said of it, [-]ROLE[*NUMBER]; others stay as they are.",
        )
    )
    examine: bool = Field(True, description="Examine the visit afterwards.")
    roles_confirmed: bool = Field(
        False, description="They are right, even if the checks find that unlikely."
    )


class RolesKept(BaseModel):
    """What came of stating roles."""

    recording: RecordingHead = Field(description="As it is decoded now; another number.")
    job: JobAnswer | None = Field(description="That examines the visit.")


@router.get("/visits/{number}/recordings")
def recordings(desk: AtDesk, _: MayRead, number: Number) -> list[RecordingHead]:
    """Return the recordings of a visit, each once, as it was last decoded."""
    visit = desk.plant.visits.get(number)
    return [RecordingHead.of(each) for each in newest_recordings(desk.plant, visit)]


@router.get("/recordings/{number}")
def recording(desk: AtDesk, _: MayRead, number: Number) -> RecordingHead:
    """Return a recording without its samples."""
    return RecordingHead.of(desk.plant.measurements.recording(number))


@router.get("/recordings/{number}/roles")
def roles(desk: AtDesk, _: MayRead, number: Number) -> RolesAnswer:
    """Return which channel is which, with the physical checks; all of it is read."""
    kept = desk.plant.measurements.recording(number)
    seen = look_at_desk(desk, kept)
    return RolesAnswer(
        recording=RecordingHead.of(kept),
        channels=[
            ChannelAnswer(
                name=each.name,
                unit=each.unit,
                role=each.role,
                factor=each.factor,
                said=each.text,
                stated=each.stated,
                rms=each.rms,
            )
            for each in seen.channels
        ],
        proven=seen.proven,
        statements=list(seen.statements),
        findings=[
            FindingAnswer(
                code=each.code.value,
                severity=each.severity.value,
                message=each.message,
                remedy=each.remedy,
            )
            for each in seen.quality
        ],
        question=None
        if seen.question is None
        else QuestionAnswer(what=seen.question.what, remedy=seen.question.remedy),
        proposals=[dict(each) for each in seen.proposals],
        frequency_hz=seen.frequency_hz,
        steady_s=seen.steady_s,
        starts=seen.starts,
    )


@router.put("/recordings/{number}/roles", status_code=HTTPStatus.ACCEPTED)
def say_roles(desk: AtDesk, visitor: MayWrite, number: Number, said: RolesSaid) -> RolesKept:
    """State which channel is which; the recording as it was stays for what used it."""
    kept = state_roles(desk.plant, desk.plant.measurements.recording(number), said.roles)
    if not said.examine:
        return RolesKept(recording=RecordingHead.of(kept), job=None)
    visit = desk.plant.visits.get(kept.visit_id)
    job = examine_visit(desk, visit, confirmed=said.roles_confirmed, by=visitor.name)
    return RolesKept(recording=RecordingHead.of(kept), job=answer_of(job, desk))
