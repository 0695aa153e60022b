"""Visits: one occasion of measuring, what was brought in, and its examination."""

from __future__ import annotations

from datetime import date, datetime
from http import HTTPStatus
from typing import Annotated

from fastapi import APIRouter, Body
from pydantic import BaseModel, ConfigDict, Field

from cagewise.store import Visit
from cagewise.web.api.jobs import JobAnswer, answer_of
from cagewise.web.api.recordings import RecordingHead
from cagewise.web.desk import AtDesk
from cagewise.web.examining import examine_visit
from cagewise.web.numbers import Number
from cagewise.web.security.access import MayRead, MayWrite
from cagewise.workflows.plant_visit import show_visit

router = APIRouter(tags=["visits"])

LONGEST_NOTE = 500


class VisitHead(BaseModel):
    """A visit."""

    id: int
    motor_id: int
    day: date = Field(description="By the calendar of the plant.")
    note: str

    @classmethod
    def of(cls, visit: Visit) -> VisitHead:
        """Return a visit as it is answered."""
        return cls(id=visit.id, motor_id=visit.motor_id, day=visit.day, note=visit.note)


class SheetHead(BaseModel):
    """A test sheet that is kept."""

    id: int
    visit_id: int
    source: str = Field(description="Name of its file.")
    measured_on: date


class ExaminationMade(BaseModel):
    """An examination of a visit."""

    id: int
    made_at: datetime
    program_version: str
    state: str


class WholeVisit(VisitHead):
    """A visit with what is kept of it."""

    recordings: list[RecordingHead]
    sheets: list[SheetHead] = Field(description="Of several of one name the one that counts.")
    examinations: list[ExaminationMade] = Field(description="The newest first.")
    unexamined: list[str] = Field(
        description="Names of recordings and sheets that the newest examination did not look at."
    )


class VisitBegun(BaseModel):
    """A visit that is begun."""

    model_config = ConfigDict(extra="forbid")

    day: date
    note: str = Field("", max_length=LONGEST_NOTE)


class Confirmed(BaseModel):
    """What is said for an examination."""

    model_config = ConfigDict(extra="forbid")

    roles_confirmed: bool = Field(
        False,
        description="The channel roles are right as they stand, even if the checks find that "
        "unlikely. What contradicts physics is refused all the same.",
    )


@router.get("/motors/{number}/visits")
def visits(desk: AtDesk, _: MayRead, number: Number) -> list[VisitHead]:
    """Return the visits to a motor, the oldest first."""
    return [VisitHead.of(each) for each in desk.plant.visits.of(desk.plant.motors.get(number))]


@router.post("/motors/{number}/visits", status_code=HTTPStatus.CREATED)
def begin(desk: AtDesk, _: MayWrite, number: Number, begun: VisitBegun) -> VisitHead:
    """Begin the visit of a day; of a day that has one, it is that one."""
    entry = desk.plant.motors.get(number)
    return VisitHead.of(desk.plant.visits.on(entry, begun.day, note=begun.note))


@router.get("/visits/{number}")
def visit(desk: AtDesk, _: MayRead, number: Number) -> WholeVisit:
    """Return a visit with what is kept of it."""
    shown = show_visit(desk.plant, desk.plant.visits.get(number))
    return WholeVisit(
        **VisitHead.of(shown.visit).model_dump(),
        recordings=[RecordingHead.of(each) for each in shown.recordings],
        sheets=[
            SheetHead(
                id=each.id,
                visit_id=each.visit_id,
                source=each.source,
                measured_on=each.measured_on,
            )
            for each in shown.sheets
        ],
        examinations=[
            ExaminationMade(
                id=each.id,
                made_at=each.made_at,
                program_version=each.program_version,
                state=each.keys.state,
            )
            for each in shown.examinations
        ],
        unexamined=list(shown.unexamined),
    )


@router.post("/visits/{number}/examinations", status_code=HTTPStatus.ACCEPTED)
def examine(
    desk: AtDesk,
    visitor: MayWrite,
    number: Number,
    confirmed: Annotated[Confirmed | None, Body()] = None,
) -> JobAnswer:
    """Ask for an examination of a visit; a job does it."""
    said = confirmed or Confirmed(roles_confirmed=False)
    found = desk.plant.visits.get(number)
    job = examine_visit(desk, found, confirmed=said.roles_confirmed, by=visitor.name)
    return answer_of(job, desk)
