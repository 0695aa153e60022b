"""The position test on the page of the plan: a sheet to carry to the motor."""

from __future__ import annotations

from cagewise.decision.standstill_plan import StandstillPlan
from cagewise.machine.positions import PositionAdvice
from cagewise.report import numbers
from cagewise.report import plan_wording as words
from cagewise.report.facts import Fact
from cagewise.report.language import decimal, retell, say
from cagewise.report.page import STYLE_DIM, Page
from cagewise.report.plan_numbers import up_to

ANGLE_WIDTH = 8
"""Columns of one shaft angle."""


def write_standstill(page: Page, plan: StandstillPlan) -> None:
    """Write the section of the position test."""
    page.heading(say(words.STANDSTILL_TITLE))
    page.paragraph(say(words.STATOR_FIRST))
    page.fact_table(_facts(plan))
    page.paragraph(say(words.ANGLES_HEAD, title=say(words.ANGLES_TITLE)))
    for row in angle_rows(plan.advice, page.width):
        page.line(row)
    for sentence in counts(plan.advice):
        page.paragraph(sentence)
    for note in plan.advice.notes:
        page.paragraph(f"{numbers.begins(retell(note))}.")
    page.paragraph(say(words.SUPPLY_VOLTAGE))
    page.paragraph(
        say(
            words.STANDSTILL_NOTE,
            repeatability=f"{100.0 * plan.repeatability:g}",
            anisotropy=f"{100.0 * plan.sound_anisotropy:g}",
        ),
        style=STYLE_DIM,
    )


def _facts(plan: StandstillPlan) -> list[Fact]:
    """Return the test, labelled."""
    advice, label = plan.advice, words.STANDSTILL_FACTS
    spans = (
        say(words.SPAN_ONE) if advice.pole_pairs == 1 else say(words.SPAN_MANY, n=advice.pole_pairs)
    )
    back = say(words.BACK, angle=f"{advice.return_angle_deg:g}")
    positions = say(
        words.POSITIONS,
        count=advice.positions_per_pole_pair,
        spans=spans,
        total=len(advice.shaft_angles_deg),
        back=back,
    )
    angle = say(
        words.ANGLE,
        step=numbers.significant(advice.step_deg),
        good=numbers.significant(advice.angle_tolerance_deg, 2),
        worst=numbers.significant(advice.tolerable_angle_deg, 2),
    )
    pairs = ", ".join("-".join(pair.value) for pair in plan.pairs)
    first, second = (f"{frequency:g}" for frequency in plan.frequencies_hz)
    shows = say(words.SHOWS, bars=up_to(plan.bars), noise=up_to(plan.instrument_bars))
    return [
        (say(label["positions"]), positions),
        (say(label["angle"]), angle),
        (say(label["pairs"]), say(words.PAIRS, pairs=pairs)),
        (say(label["frequency"]), say(words.FREQUENCY, first=first, second=second)),
        (say(label["readings"]), say(words.READINGS, readings=plan.readings)),
        (say(label["shows"]), shows),
    ]


def angle_rows(advice: PositionAdvice, width: int) -> list[str]:
    """Return the shaft angles, return reading last, in as many columns as fit."""
    angles = [
        decimal(f"{angle:.1f}") for angle in (*advice.shaft_angles_deg, advice.return_angle_deg)
    ]
    across = max(1, (width - 2) // ANGLE_WIDTH)
    return [
        "  " + "".join(text.rjust(ANGLE_WIDTH) for text in angles[start : start + across])
        for start in range(0, len(angles), across)
    ]


def counts(advice: PositionAdvice) -> list[str]:
    """Return which other counts are safe, and which would invent a defect, and as what."""
    if len(advice.rotor_bars) != 1:
        return [say(words.AVOID_UNKNOWN)]
    others = [str(n) for n in advice.safe if n != advice.positions_per_pole_pair]
    parts = [
        say(
            words.AVOID_ORDER,
            order=order,
            counts=", ".join(str(a.positions) for a in advice.avoid if a.appears_as == order),
        )
        for order in sorted({alias.appears_as for alias in advice.avoid})
    ]
    sentences = [say(words.SAFE, counts=", ".join(others))] if others else []
    return sentences + ([say(words.AVOID, counts=". ".join(parts))] if parts else [])
