"""Examinations: heads, documents, and what other costs would advise."""

from __future__ import annotations

from datetime import date, datetime
from typing import Literal

from fastapi import APIRouter, HTTPException
from fastapi.responses import Response
from pydantic import BaseModel, Field

from cagewise.decision.examination import Examination
from cagewise.machine.motor import Criticality
from cagewise.pipeline.visit import with_criticality
from cagewise.report import cost_text, course_text
from cagewise.store import KeptExamination
from cagewise.web.desk import AtDesk
from cagewise.web.numbers import Number
from cagewise.web.security.access import MayRead
from cagewise.web.templating import environment
from cagewise.workflows.plant_examined import examination_of

router = APIRouter(prefix="/examinations", tags=["examinations"])

LARGEST_COST = 1e15
"""Of any currency: larger numbers are mistakes."""


class Head(BaseModel):
    """An examination without its document."""

    id: int
    visit_id: int
    motor_id: int
    day: date = Field(description="Of the visit.")
    made_at: datetime
    program_version: str
    state: str
    probability: float | None = Field(description="Of a cage defect; null where none is stated.")
    open_bars: float | None
    open_bars_low: float | None
    open_bars_high: float | None
    action: str
    act_by_earliest: date | None
    act_by_latest: date | None

    @classmethod
    def of(cls, kept: KeptExamination) -> Head:
        """Return the head of a kept examination."""
        own = {name: getattr(kept, name) for name in cls.model_fields if hasattr(kept, name)}
        keys = {
            name: getattr(kept.keys, name)
            for name in cls.model_fields
            if name not in own and hasattr(kept.keys, name)
        }
        return cls(**own, **keys)


class Stakes(BaseModel):
    """What being wrong would cost, and what else decides what is advised."""

    level: Literal["low", "normal", "high"] = "normal"
    spare: bool | None = None
    false_pull_cost: float | None = Field(
        default=None, ge=0.0, le=LARGEST_COST, description="Of pulling a sound motor, any currency."
    )
    miss_cost: float | None = Field(
        default=None, ge=0.0, le=LARGEST_COST, description="Of a defect missed, same currency."
    )
    next_outage: date | None = None


class Advice(BaseModel):
    """What would be advised."""

    course: str = Field(description="The one action, stable identifier.")
    action: str = Field(description="The same as a sentence with its days.")
    notes: list[str]
    expected_costs: dict[str, float | None] = Field(
        description="Expected cost of every action that was weighed, in the unit of the stakes."
    )
    costs_html: str = Field(description="The working, as the page shows it.")


@router.get("/{number}")
def examination(number: Number, desk: AtDesk, _: MayRead) -> Head:
    """Return what lists show of an examination."""
    return Head.of(desk.plant.examinations.get(number))


@router.get("/{number}/document", response_class=Response)
def document(number: Number, desk: AtDesk, _: MayRead) -> Response:
    """Return the JSON document of an examination, byte for byte as it was kept."""
    kept = desk.plant.examinations.get(number)
    text = desk.plant.examinations.document(kept).text
    return Response(text, media_type="application/json")


@router.post("/{number}/advice")
def advice(number: Number, stakes: Stakes, desk: AtDesk, _: MayRead) -> Advice:
    """Return what would be advised if being wrong cost this; nothing is kept."""
    shown = examination_of(desk.plant, desk.plant.examinations.get(number))
    if shown.examination is None:
        raise HTTPException(409, shown.reason)
    day = None if stakes.next_outage is None else stakes.next_outage.isoformat()
    other = with_criticality(
        shown.examination,
        Criticality(**stakes.model_dump(exclude={"next_outage"}), next_outage=day),
    )
    return Advice(
        course=other.course.action.value,
        action=course_text.action(other),
        notes=list(course_text.action_notes(other)),
        expected_costs={cost.action.value: cost.expected for cost in other.outlook.costs.costs},
        costs_html=_costs_html(other),
    )


def _costs_html(examination: Examination) -> str:
    """Return the working of the costs as the page shows it."""
    return (
        environment()
        .get_template("costs.html")
        .render(
            examination=examination,
            cost=cost_text,
            weighed=cost_text.costs_shown(examination),
        )
    )
