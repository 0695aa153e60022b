"""The case report: one page for whoever decides, then everything that page stands on."""

from __future__ import annotations

from dataclasses import replace

from cagewise.decision.verdict import State
from cagewise.report import numbers, sentences
from cagewise.report.language import current, say
from cagewise.report.papers import case_report_wording as words
from cagewise.report.papers.case_context import causes, costs, story, trend
from cagewise.report.papers.case_evidence import evidence
from cagewise.report.papers.case_material import CaseLook, CaseMaterial
from cagewise.report.papers.case_outcome import shortened
from cagewise.report.papers.case_records import appendix, parts, records, safety
from cagewise.report.papers.case_summary import summary
from cagewise.report.papers.paper import Block, Heading, Paper

MOST_TITLE = 60
"""Characters of what somebody wrote at the head of page one."""


def case_report(material: CaseMaterial, look: CaseLook | None = None) -> Paper:
    """Return the case report, in the language and the units of the moment.

    Parameters
    ----------
    material
        The result, its pictures, and what is known of the motor beside it.
    look
        How it is printed.
    """
    made, size = material.examination, (look or CaseLook()).size
    subtitle = _subtitle(material)
    page_one = summary(material, subtitle, size)
    return Paper(
        title=say(words.TITLE, tag=made.motor.tag),
        subtitle=subtitle,
        day=material.day,
        blocks=(*page_one, *_sections(material)),
        foot=_foot(material),
        contents=True,
        language=current(),
        size=size,
        keywords=tuple(say(word) for word in words.KEYWORDS),
    )


def _sections(material: CaseMaterial) -> list[Block]:
    """Return the sections in their order; where the cage is no question, the other parts lead."""
    made = material.examination
    doubted = any(part.doubted for part in made.parts)
    leads = doubted and made.verdict.state not in (State.DEFECTIVE, State.SUSPECT)
    others = list(parts(material))
    blocks: list[Block] = []
    if leads:
        first, *rest = others
        blocks += [replace(first, new_page=True), *rest] if isinstance(first, Heading) else others
    blocks += [*evidence(material, new_page=not leads), *causes(made), *costs(made)]
    if material.trend is not None:
        blocks += trend(material.trend)
    blocks += story(material)
    if not leads:
        blocks += others
    return [*blocks, *records(made), *safety(made), *appendix(material)]


def _subtitle(material: CaseMaterial) -> str:
    """Return which motor it is, and when it was measured."""
    motor = material.examination.motor
    named = replace(motor, description=shortened(motor.description, MOST_TITLE))
    facts = [
        sentences.motor_title(named).removeprefix(motor.tag).strip(" \N{MIDDLE DOT}"),
        shortened(material.site, MOST_TITLE),
        say(words.MEASURED, day=material.measured_on.isoformat()),
    ]
    if material.case is not None and material.case.case.is_open:
        facts.append(_case(material))
    return " \N{MIDDLE DOT} ".join(filter(None, facts))


def _case(material: CaseMaterial) -> str:
    """Return which open case it belongs to."""
    view = material.case
    assert view is not None  # noqa: S101 - asked by the caller
    return say(
        words.OPEN_CASE,
        number=view.case.id,
        day=view.case.opened_on.isoformat(),
        title=numbers.sentence(shortened(view.case.title, MOST_TITLE)),
    )


def _foot(material: CaseMaterial) -> str:
    """Return what stands at the foot of every page."""
    made, day = material.examination, material.measured_on.isoformat()
    template = words.FOOT if material.number is None else words.FOOT_NUMBER
    return say(template, tag=made.motor.tag, number=material.number, day=day, version=made.version)
