"""What if: what open bars would show on a motor, against its load."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query, Request
from fastapi.responses import HTMLResponse

from cagewise.decision.expect import COUNTS, LINE_NAMES, LOADS
from cagewise.report import expect_wording as words
from cagewise.report import numbers, sentences
from cagewise.report.expect_text import damage_rows
from cagewise.web.desk import AtDesk
from cagewise.web.motor_answers import expectation_at
from cagewise.web.numbers import Number
from cagewise.web.security.access import MayRead
from cagewise.web.templating import page
from cagewise.workflows.pictures import OF_MOTOR

router = APIRouter(include_in_schema=False)

LAST = len(LOADS) - 1
Bars = Annotated[int, Query(ge=0, le=max(COUNTS))]
Load = Annotated[int, Query(ge=0, le=LAST)]


@router.get("/motors/{number}/expect", response_class=HTMLResponse)
def expected(
    request: Request,
    desk: AtDesk,
    _: MayRead,
    number: Number,
    bars: Bars = 1,
    load: Load = LAST - 1,
) -> HTMLResponse:
    """Show what open bars would show."""
    entry = desk.plant.motors.get(number)
    made = expectation_at(desk, entry)
    heads = (*words.SIDE_HEADS, *words.HARMONIC_HEADS[1:])
    points = [
        (
            at,
            numbers.significant(100.0 * at.damages[0].slip.value, 2),
            numbers.significant(at.pole_pass_frequency_hz.value, 2),
            damage_rows(at, heads),
        )
        for at in made.points
    ]
    return page(
        request,
        "expect.html",
        title=f"What would open bars show? {entry.tag}",
        entry=entry,
        motor_words=sentences.motor_title(made.motor),
        points=points,
        heads=heads,
        lines=set(LINE_NAMES.values()),
        bars=bars,
        load=load,
        counts=COUNTS,
        introduction=words.INTRODUCTION,
        notes=[
            note.format(seconds=_seconds([at.detection.record_s for at in made.points]))
            for note in words.NOTES
        ],
        bars_unknown="" if made.motor.cage.rotor_bars else words.BARS_UNKNOWN,
        pictures=[(each.name, each.title) for each in OF_MOTOR],
    )


def _seconds(lengths: list[float]) -> str:
    """Return the shortest and longest record that the limits stand for."""
    return " to ".join(f"{length:.0f}" for length in sorted({min(lengths), max(lengths)}))
