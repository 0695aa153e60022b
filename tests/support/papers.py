"""A paper with every block there is, as a motor's case would have it."""

from __future__ import annotations

from datetime import date

import numpy as np

from cagewise.report.papers.paper import (
    Blank,
    Block,
    Box,
    Cards,
    Column,
    Drawing,
    Facts,
    Heading,
    Items,
    Paper,
    PaperSize,
    Paragraph,
    Shape,
    Signatures,
    Table,
    Tone,
    Verdict,
)

DAY = date(2031, 3, 4)


def drawing_svg(points: int = 400, salt: str = "a") -> bytes:
    """Return a drawing in the house style."""
    from cagewise.figures.svg import svg_text
    from cagewise.figures.trend import current_trend

    time_s = np.linspace(0.0, 20.0, points)
    current_a = 212.0 + 3.0 * np.sin(2 * np.pi * 0.8 * time_s)
    return svg_text(current_trend(time_s, current_a, ("Time, s", "Current, A")), salt).encode()


def summary() -> tuple[Block, ...]:
    """Return a first page."""
    return (
        Verdict(
            shape=Shape.FILLED,
            word="Defective",
            sentence="The cage of P-101 is damaged: two to four adjacent bars are open.",
        ),
        Cards(
            cards=(
                ("What is it?", "Two to four adjacent open bars in the rotor cage, 95 %."),
                (
                    "How sure is it?",
                    (
                        "97 % that at least one bar is open. Three independent classes "
                        "of evidence agree: side lines, start, leakage field."
                    ),
                ),
                (
                    "What is to be done, and by when?",
                    (
                        "Take the rotor out in the shutdown of "
                        "2031-04-12; until then no more than two starts an hour."
                    ),
                ),
                (
                    "What does it cost to be wrong?",
                    (
                        "Waiting until September: 31 000 EUR expected. "
                        "Opening a sound motor: 9 400 EUR."
                    ),
                ),
                (
                    "What was not excluded?",
                    (
                        "An end ring that is cracked beside the broken bars "
                        "looks the same and is repaired in the same way."
                    ),
                ),
            )
        ),
        Box(
            title="Before the terminal box is opened",
            items=(
                "Switch off, lock, prove dead, earth and short-circuit, cover what stays live.",
                "Capacitors for power-factor correction hold their charge for minutes.",
            ),
            tone=Tone.DANGER,
        ),
        Paragraph(
            text="Made from three recordings and one start of 2031-03-03 at 92 % of rated current.",
            tone=Tone.NOTE,
        ),
    )


def body() -> tuple[Block, ...]:
    """Return what follows: each block once at least."""
    return (
        Heading(text="What was measured", new_page=True),
        Paragraph(
            text="The side lines of the supply frequency stand at 2.3 % of the current, nine times "
            "what the load can explain.",
            tone=Tone.LEAD,
        ),
        Paragraph(
            text="Currents and voltages of three phases were recorded for 60 s at 10 kHz. The load "
            "was steady within 0.4 %; no other motor started on the same bus bar."
        ),
        Facts(
            rows=(
                ("Motor", "P-101, feed pump, 315 kW, 690 V, 4 poles"),
                ("Rated speed", "1485 1/min"),
                ("Bars in the rotor", "58"),
                ("Read by", Blank.LINE),
                ("Cooling air checked", Blank.BOX),
            )
        ),
        Heading(text="Each reading", level=2),
        Table(
            caption="What every reading says of the cage",
            columns=(
                Column(head="Reading", share=2.2),
                Column(head="Value", numbers=True),
                Column(head="Limit", numbers=True),
                Column(head="What it says", share=2.6),
            ),
            rows=(
                ("Lower side line", "2.31 %", "0.42 %", "for damage; 2.1 to 3.9 open bars"),
                ("Upper side line", "1.87 %", "0.42 %", "for damage; 1.8 to 4.4 open bars"),
                ("Direct component", "0.0112", "0.0021", "for damage; 2.0 to 3.6 open bars"),
                ("Leakage field, 7th harmonic", "", "", "not read: the record is too short"),
            ),
        ),
        Drawing(
            svg=drawing_svg(),
            alt="Line current over 20 s; it swings by 3 A around 212 A, 16 times.",
            caption="Line current, rms, while the pump ran at 92 % of its rated current.",
        ),
        Box(
            title="Not excluded",
            items=("A rotor with four axial ducts swings in the same way.",),
        ),
        Heading(text="What the shop fills in", new_page=True),
        Paragraph(text="Do not run up the motor before the bars were tested.", tone=Tone.DANGER),
        Items(items=("Mark the drive end.", "Pull the rotor.", "Test each bar."), numbered=True),
        Items(items=("growler", "single-phase test")),
        Table(
            columns=(
                Column(head="Test"),
                Column(head="Limit", numbers=True),
                Column(head="Found"),
                Column(head="Passed", share=0.5),
            ),
            rows=(
                ("Insulation resistance, 1 min, 40 °C", "≥ 100 MΩ", Blank.LINE, Blank.BOX),
                ("Polarization index", "≥ 2.0", Blank.LINE, Blank.BOX),
                ("Run-out at the rotor core", "≤ 0.05 mm", Blank.LINE, Blank.BOX),
            ),
        ),
        Verdict(shape=Shape.HOLLOW, word="Sound", sentence="The winding is sound."),
        Verdict(shape=Shape.HALF, word="Suspect", sentence="The drive-end bearing is suspect."),
        Verdict(shape=Shape.CROSS, word="Not decidable", sentence="The insulation was not tested."),
        Signatures(roles=("Measured by", "Released by")),
    )


def whole_paper(
    size: PaperSize = PaperSize.A4, language: str = "en", *, contents: bool = True
) -> Paper:
    """Return the paper."""
    return Paper(
        title="Case report: feed pump P-101",
        subtitle="Rotor cage, case 12 · plant North",
        day=DAY,
        blocks=summary() + body(),
        foot="P-101 · case 12 · cagewise 0.1.0",
        contents=contents,
        language=language,
        size=size,
        keywords=("P-101", "rotor cage"),
    )
