"""What may stand in a motor file, and what follows from one: the plan, what bars would show."""

from __future__ import annotations

from collections.abc import Sequence

from fastapi import APIRouter
from pydantic import BaseModel, Field

from cagewise.decision.cautions import grouped_cautions
from cagewise.decision.expect import rows
from cagewise.quantities import NotKnown
from cagewise.report.plan_text import Occasion, in_short, planned_tests
from cagewise.web.desk import AtDesk
from cagewise.web.motor_answers import expectation_at, plan_at
from cagewise.web.numbers import Number
from cagewise.web.security.access import MayRead
from cagewise.workflows.motor_form import motor_fields

router = APIRouter(tags=["plans"])


class FieldAnswer(BaseModel):
    """One key of a motor file."""

    section: str
    key: str
    kind: str = Field(description="number, whole number, text, choice, yes or no, day, or pairs.")
    needed: bool
    choices: list[str]
    low: float | None
    low_excluded: bool
    high: float | None
    high_excluded: bool
    default: str = Field(description="What holds if it is left out; empty for not known.")


class TestPlan(BaseModel):
    """What to measure on one occasion."""

    occasion: str
    in_short: str
    tests: list[str]


class CautionAnswer(BaseModel):
    """One thing to mind."""

    id: str
    text: str
    source: str
    tests: list[str]


class PlanAnswer(BaseModel):
    """What to measure on a motor."""

    cautions: list[CautionAnswer] = Field(description="Read these first.")
    occasions: list[TestPlan]
    sampling_rate_hz: float
    bits: int
    record_s: float
    load_fraction_min: float
    load_fraction_good: float
    current_range_peak_a: float
    start_record_s: float | None = Field(description="Null where no start is read.")
    shaft_angles_deg: list[float] = Field(description="Of the position test, the return last.")
    frequencies_hz: list[float] = Field(description="Of the position test.")
    smallest_damage_bars: float = Field(description="That a record at the load to aim for shows.")


class ExpectedAnswer(BaseModel):
    """One number of what open bars would show."""

    load_fraction: float
    open_bars: int | None = Field(description="Null: the detection limit, in open bars.")
    quantity: str
    unit: str
    value: float
    low: float = Field(description="Of the 95 % interval of what this motor may be.")
    high: float


@router.get("/motor-file/schema")
def schema(_: MayRead) -> list[FieldAnswer]:
    """Return what may stand in a motor file."""
    return [
        FieldAnswer(
            section=each.section,
            key=each.key,
            kind=each.kind.value,
            needed=each.needed,
            choices=list(each.choices),
            low=each.low,
            low_excluded=each.low_excluded,
            high=each.high,
            high_excluded=each.high_excluded,
            default=each.default,
        )
        for fields in motor_fields().values()
        for each in fields
    ]


@router.get("/motors/{number}/plan")
def plan(desk: AtDesk, _: MayRead, number: Number) -> PlanAnswer:
    """Return what to measure on a motor, what hurts first."""
    made = plan_at(desk, desk.plant.motors.get(number))
    tests, short, advice = planned_tests(made), in_short(made), made.standstill.advice
    start = made.start.record
    return PlanAnswer(
        cautions=[
            CautionAnswer(
                id=each.id,
                text=each.text,
                source=each.source,
                tests=[test.value for test in group.tests],
            )
            for group in grouped_cautions(test for at in Occasion for test in tests[at])
            for each in group.cautions
        ],
        occasions=[
            TestPlan(
                occasion=at.value, in_short=short[at], tests=[test.value for test in tests[at]]
            )
            for at in Occasion
        ],
        sampling_rate_hz=made.record.sampling_rate_hz,
        bits=made.record.bits,
        record_s=made.record.record_s,
        load_fraction_min=made.record.load_fraction_min,
        load_fraction_good=made.record.load_fraction_good,
        current_range_peak_a=made.record.current_range_peak_a,
        start_record_s=None if isinstance(start, NotKnown) else start.record_s,
        shaft_angles_deg=[*advice.shaft_angles_deg, advice.return_angle_deg],
        frequencies_hz=list(made.standstill.frequencies_hz),
        smallest_damage_bars=made.aimed.direct_bars.value,
    )


@router.get("/motors/{number}/expect")
def expected(desk: AtDesk, _: MayRead, number: Number) -> Sequence[ExpectedAnswer]:
    """Return what 0 to 3 open bars would show on a motor, from light to full load."""
    made = expectation_at(desk, desk.plant.motors.get(number))
    return [
        ExpectedAnswer(
            load_fraction=each.load_fraction,
            open_bars=each.open_bars,
            quantity=each.quantity,
            unit=each.unit,
            value=each.value.value,
            low=each.value.low,
            high=each.value.high,
        )
        for each in rows(made)
    ]
