"""The position test on the page of the plan: a sheet to carry to the motor."""

from __future__ import annotations

from cagewise.decision.standstill_plan import StandstillPlan
from cagewise.machine.positions import PositionAdvice
from cagewise.report import numbers
from cagewise.report import plan_wording as words
from cagewise.report.facts import Fact
from cagewise.report.page import STYLE_DIM, Page
from cagewise.report.plan_numbers import up_to

ANGLE_WIDTH = 8
"""Columns of one shaft angle."""


def write_standstill(page: Page, plan: StandstillPlan) -> None:
    """Write the section of the position test."""
    page.heading(words.STANDSTILL_TITLE)
    page.paragraph(words.STATOR_FIRST)
    page.fact_table(_facts(plan))
    page.paragraph(f"{words.ANGLES_TITLE}:")
    for row in angle_rows(plan.advice, page.width):
        page.line(row)
    for sentence in counts(plan.advice):
        page.paragraph(sentence)
    for note in plan.advice.notes:
        page.paragraph(f"{note[0].upper()}{note[1:]}.")
    page.paragraph(words.SUPPLY_VOLTAGE)
    page.paragraph(
        words.STANDSTILL_NOTE.format(
            repeatability=f"{100.0 * plan.repeatability:g}",
            anisotropy=f"{100.0 * plan.sound_anisotropy:g}",
        ),
        style=STYLE_DIM,
    )


def _facts(plan: StandstillPlan) -> list[Fact]:
    """Return the test, labelled."""
    advice, label = plan.advice, words.STANDSTILL_FACTS
    spans = (
        words.SPAN_ONE if advice.pole_pairs == 1 else words.SPAN_MANY.format(n=advice.pole_pairs)
    )
    back = words.BACK.format(angle=f"{advice.return_angle_deg:g}")
    positions = words.POSITIONS.format(
        count=advice.positions_per_pole_pair,
        spans=spans,
        total=len(advice.shaft_angles_deg),
        back=back,
    )
    angle = words.ANGLE.format(
        step=numbers.significant(advice.step_deg),
        good=numbers.significant(advice.angle_tolerance_deg, 2),
        worst=numbers.significant(advice.tolerable_angle_deg, 2),
    )
    pairs = ", ".join("-".join(pair.value) for pair in plan.pairs)
    first, second = (f"{frequency:g}" for frequency in plan.frequencies_hz)
    shows = words.SHOWS.format(bars=up_to(plan.bars), noise=up_to(plan.instrument_bars))
    return [
        (label["positions"], positions),
        (label["angle"], angle),
        (label["pairs"], words.PAIRS.format(pairs=pairs)),
        (label["frequency"], words.FREQUENCY.format(first=first, second=second)),
        (label["readings"], words.READINGS.format(readings=plan.readings)),
        (label["shows"], shows),
    ]


def angle_rows(advice: PositionAdvice, width: int) -> list[str]:
    """Return the shaft angles, return reading last, in as many columns as fit."""
    angles = [f"{angle:.1f}" for angle in (*advice.shaft_angles_deg, advice.return_angle_deg)]
    across = max(1, (width - 2) // ANGLE_WIDTH)
    return [
        "  " + "".join(text.rjust(ANGLE_WIDTH) for text in angles[start : start + across])
        for start in range(0, len(angles), across)
    ]


def counts(advice: PositionAdvice) -> list[str]:
    """Return which other counts are safe, and which would invent a defect, and as what."""
    if len(advice.rotor_bars) != 1:
        return [words.AVOID_UNKNOWN]
    others = [str(n) for n in advice.safe if n != advice.positions_per_pole_pair]
    parts = [
        words.AVOID_ORDER.format(
            order=order,
            counts=", ".join(str(a.positions) for a in advice.avoid if a.appears_as == order),
        )
        for order in sorted({alias.appears_as for alias in advice.avoid})
    ]
    sentences = [words.SAFE.format(counts=", ".join(others))] if others else []
    return sentences + ([words.AVOID.format(counts=". ".join(parts))] if parts else [])
