"""The plant: its motors by risk, what is due, our calls against what was found."""

from __future__ import annotations

from datetime import date
from typing import Annotated

from fastapi import APIRouter, Query
from pydantic import BaseModel, Field

from cagewise.report.motor_rows import SOON_DAYS, Urgency, due_groups
from cagewise.web.api.motors import ListedMotor
from cagewise.web.desk import AtDesk
from cagewise.web.security.access import MayRead
from cagewise.workflows.opened_motors import opened_motors
from cagewise.workflows.plant_choice import ListOrder, Wanted
from cagewise.workflows.plant_search import search_motors

router = APIRouter(tags=["plant"])

MOST = 10_000


class PlantAnswer(BaseModel):
    """A plant in short, with its motors by risk."""

    name: str
    day: date = Field(description="For which it holds.")
    motors_in_all: int
    due_in_all: int
    open_cases: int
    risk_per_month: float = Field(
        description="Expected cost of cage failures in the next month, of all motors."
    )
    in_currency: bool = Field(
        description="Whether that is in the currency of the motor files; else in removals of a "
        "sound motor."
    )
    motors: list[ListedMotor] = Field(description="The greatest risk first.")


class DueMotor(BaseModel):
    """Something that is to be done."""

    motor_id: int
    tag: str
    urgency: str = Field(
        description="asked: a repair or a stop; repaired: not measured since; overdue; never "
        f"measured; soon: within {SOON_DAYS} days."
    )
    by: str = Field(description='Day, or "now".')
    overdue: bool
    what: str = Field(description="In words.")
    cases: list[int] = Field(description="Open ones.")


class Opened(BaseModel):
    """A motor that was opened, and our call before it."""

    motor_id: int
    tag: str
    case_id: int | None
    day: date = Field(description="On which it was found.")
    found: str = Field(description="In words.")
    examination_id: int | None = Field(description="Our call; null if there was none.")
    called: str | None = Field(description="State that we called.")
    verdict: str = Field(description="What became of the call, in words.")


class StateCount(BaseModel):
    """What was found behind one call."""

    state: str
    found_defective: int
    of: int


class CallsAnswer(BaseModel):
    """Our calls against what was found."""

    day: date
    outcomes: int = Field(description="Motors opened after an examination.")
    without_call: int = Field(description="Motors opened that were never examined before.")
    by_state: list[StateCount]
    motors: list[Opened] = Field(description="The latest first.")


@router.get("/plant")
def plant(
    desk: AtDesk, _: MayRead, most: Annotated[int, Query(ge=0, le=MOST)] = MOST
) -> PlantAnswer:
    """Return the motors of the plant by risk."""
    listed = search_motors(desk.plant, Wanted())
    view = listed.view
    return PlantAnswer(
        name=view.plant,
        day=view.today,
        motors_in_all=view.in_all,
        due_in_all=view.due_in_all,
        open_cases=view.cases_in_all,
        risk_per_month=view.ranking.expected_cost_per_month,
        in_currency=view.ranking.in_currency,
        motors=[ListedMotor.of(listed, motor) for motor in view.ranking.motors[:most]],
    )


@router.get("/due")
def due(desk: AtDesk, _: MayRead) -> list[DueMotor]:
    """Return what is to be done now and soon, the most urgent first."""
    listed = search_motors(desk.plant, Wanted(order=ListOrder.DUE))
    groups = due_groups(listed.view, listed.entries)
    return [
        DueMotor(
            motor_id=row.number,
            tag=row.tag,
            urgency=urgency.value,
            by=row.due,
            overdue=row.overdue,
            what=row.next,
            cases=[case.id for case in row.cases],
        )
        for urgency, rows in groups.items()
        if urgency is not Urgency.LATER
        for row in rows
    ]


@router.get("/calls")
def calls(desk: AtDesk, _: MayRead) -> CallsAnswer:
    """Return our calls against what was found."""
    opened = opened_motors(desk.plant)
    report = opened.view.report
    return CallsAnswer(
        day=opened.view.today,
        outcomes=report.outcomes,
        without_call=opened.view.without_call,
        by_state=[
            StateCount(
                state=one.state.value,
                found_defective=one.found_defective.events,
                of=one.found_defective.cases,
            )
            for one in report.by_state
        ],
        motors=[
            Opened(
                motor_id=each.motor.id,
                tag=each.motor.tag,
                case_id=each.event.case_id,
                day=each.event.day,
                found=each.found,
                examination_id=None if each.call is None else each.call.id,
                called=None if each.call is None else each.call.keys.state,
                verdict=each.verdict,
            )
            for each in opened.motors
        ],
    )
