"""What to measure on a motor: safety first, then each occasion, then a sheet to carry along."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse

from cagewise.decision.cautions import grouped_cautions
from cagewise.decision.plan import Plan
from cagewise.measurement.cautions import DEFERENCE
from cagewise.report import plan_wording, sentences
from cagewise.report.blocks import Block, block_page
from cagewise.report.cautions_text import caution_title
from cagewise.report.plan_text import Occasion, in_short, planned_tests, write_section
from cagewise.web.desk import AtDesk
from cagewise.web.motor_answers import plan_at
from cagewise.web.numbers import Number
from cagewise.web.security.access import MayRead
from cagewise.web.templating import page

router = APIRouter(include_in_schema=False)


@router.get("/motors/{number}/plan", response_class=HTMLResponse)
def plan(request: Request, desk: AtDesk, _: MayRead, number: Number) -> HTMLResponse:
    """Show what to measure on a motor."""
    entry = desk.plant.motors.get(number)
    made = plan_at(desk, entry)
    advice = made.standstill.advice
    tests = planned_tests(made)
    return page(
        request,
        "plan.html",
        title=f"What to measure: {entry.tag}",
        entry=entry,
        motor_words=sentences.motor_title(made.motor),
        warnings=made.motor.warnings,
        short=[(plan_wording.IN_SHORT[at.value], text) for at, text in in_short(made).items()],
        short_note=plan_wording.SHORT_NOTE,
        sections=[(at.value, _blocks(made, at)) for at in Occasion],
        groups=[
            (caution_title(group), group.cautions)
            for group in grouped_cautions(test for at in Occasion for test in tests[at])
            if group.cautions != (DEFERENCE,)
        ],
        deference=DEFERENCE,
        angles=(*advice.shaft_angles_deg, advice.return_angle_deg),
        pairs=["-".join(pair.value) for pair in made.standstill.pairs],
        frequencies=made.standstill.frequencies_hz,
    )


def _blocks(made: Plan, occasion: Occasion) -> tuple[Block, ...]:
    """Return the section of one occasion; its angles stand in the sheet to carry along."""
    written = block_page()
    write_section(written, made, occasion)
    angles = f"{plan_wording.ANGLES_TITLE}:"
    return tuple(each for each in written.blocks if each.kind != "line" and each.text != angles)
