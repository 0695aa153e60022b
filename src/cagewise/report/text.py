"""An examination on the terminal: the face of the product."""

from __future__ import annotations

from typing import TYPE_CHECKING

from cagewise.decision.examination import Examination
from cagewise.decision.verdict import State
from cagewise.report import (
    cost_text,
    cost_wording,
    course_text,
    facts,
    sentences,
    visit_wording,
    wording,
)
from cagewise.report.explanation_text import not_excluded
from cagewise.report.forest_page import STYLES, write_forest
from cagewise.report.language import say
from cagewise.report.likelihood_page import (
    write_explanations,
    write_next,
    write_patterns,
    write_probability,
)
from cagewise.report.page import (
    INDENT,
    STYLE_AGAINST,
    STYLE_DIM,
    STYLE_FOR,
    STYLE_HEADING,
    Page,
    page_on,
)
from cagewise.report.symbols import Symbols
from cagewise.report.visit_facts import (
    cautions_of,
    caveats,
    decided_rows,
    is_said_above,
    judged_parts,
    part_title,
    part_verdict,
    start_facts,
    trended_facts,
    visit_lines,
)

if TYPE_CHECKING:
    from rich.console import Console


def write_text(examination: Examination, console: Console, symbols: Symbols) -> None:
    """Write the whole report.

    Parameters
    ----------
    examination
        What to report.
    console
        Where to write; its width decides the layout, its colour system the styles.
    symbols
        Unicode or ASCII shapes.
    """
    page = page_on(console, symbols)
    _head(page, examination)
    write_patterns(page, examination)
    _forest(page, examination)
    write_explanations(page, examination)
    _not_excluded(page, examination)
    _costs(page, examination)
    _parts(page, examination)
    _how_it_ran(page, examination)
    _start(page, examination)
    _motor_file(page, examination)
    _recording(page, examination)
    write_next(page, examination)
    _cautions(page, examination)
    _provenance(page, examination)


def _head(page: Page, examination: Examination) -> None:
    """Write motor, state, verdict, action."""
    page.paragraph(sentences.title(examination), indent=0)
    page.line(page.symbols.rule * page.width, STYLE_DIM)
    page.line(sentences.state(examination.verdict).upper(), _style_of(examination.verdict.state))
    page.paragraph(sentences.verdict(examination), indent=0, style=STYLE_HEADING)
    for sentence in sentences.grounds(examination):
        page.paragraph(sentence, indent=0)
    write_probability(page, examination)
    for part in judged_parts(examination):
        page.line(part_title(part).upper(), _style_of(part.state))
        if is_said_above(part):
            page.paragraph(part_verdict(part), indent=0)
    page.heading(say(wording.SECTION["action"]))
    page.paragraph(course_text.action(examination))
    for note in course_text.action_notes(examination):
        page.paragraph(note, style=STYLE_DIM)


def _forest(page: Page, examination: Examination) -> None:
    """Write the forest plot of the leading record and the pooled line of the visit."""
    if examination.shown_findings:
        page.heading(say(wording.SECTION["forest"]))
        write_forest(page, examination)
    lines = visit_lines(examination)
    if lines:
        page.heading(say(wording.SECTION["records"]))
        for line in lines:
            page.paragraph(line, first=f"{page.symbols.bullet} ")


def _not_excluded(page: Page, examination: Examination) -> None:
    """Write what stays possible."""
    spots = not_excluded(examination)
    if spots:
        page.heading(say(wording.SECTION["not_excluded"]))
    for text, remedy in spots:
        page.paragraph(
            f"{text} {say(wording.WOULD_TELL, what=remedy)}", first=f"{page.symbols.bullet} "
        )


def _costs(page: Page, examination: Examination) -> None:
    """Write what being wrong costs: every action in either case, and the working."""
    costs, shown = examination.outlook.costs, cost_text.costs_shown(examination)
    page.heading(say(cost_wording.SECTION))
    page.paragraph(cost_text.cost_lead(examination))
    if shown:
        page.table(*cost_text.cost_table(costs))
        page.fact_table(cost_text.cost_rows(costs))
        page.paragraph(cost_text.cost_note(costs), style=STYLE_DIM)


def _how_it_ran(page: Page, examination: Examination) -> None:
    """Write the operating point."""
    if examination.leading is not None:
        page.heading(say(wording.SECTION["operating_point"]))
        page.fact_table(facts.operating_facts(examination.leading))
    readings = facts.reading_facts(examination)
    if readings:
        page.heading(say(wording.SECTION["readings"]))
        page.fact_table(readings)


def _start(page: Page, examination: Examination) -> None:
    """Write how the motor started."""
    start = examination.leading_start
    if start is not None:
        page.heading(say(wording.SECTION["start"]))
        page.fact_table(start_facts(start))
        for caveat in caveats(start.readings):
            page.paragraph(caveat, first=f"{page.symbols.bullet} ", style=STYLE_DIM)


def _parts(page: Page, examination: Examination) -> None:
    """Write winding and insulation: what a limit decides, then what is to be trended."""
    for part in examination.parts:
        page.heading(part_title(part))
        if not is_said_above(part):
            page.paragraph(part_verdict(part))
        for row in decided_rows(part):
            style = STYLES[row.support]
            page.paragraph(row.line, first=f"{page.symbols.point(row.support)} ", style=style)
            for note in row.notes:
                page.paragraph(note, indent=2 * INDENT, style=STYLE_DIM)
        trended = trended_facts(part)
        if trended:
            page.paragraph(say(visit_wording.TRENDED))
            page.fact_table(trended, indent=2 * INDENT)


def _motor_file(page: Page, examination: Examination) -> None:
    """Write what is odd about the nameplate: every number rests on it."""
    if examination.warnings:
        page.heading(say(wording.SECTION["motor_file"]))
        for warning in examination.warnings:
            page.paragraph(warning, first=f"{page.symbols.bullet} ")


def _recording(page: Page, examination: Examination) -> None:
    """Write what was recorded and how good it is."""
    if examination.leading is None:
        return
    page.heading(say(wording.SECTION["quality"]))
    page.fact_table(facts.recording_facts(examination.leading))
    found = facts.quality_lines(examination.leading)
    for severity, text in found:
        page.paragraph(f"{severity}: {text}", first=f"{page.symbols.bullet} ")
    if not found:
        page.paragraph(say(wording.QUALITY_GOOD))


def _cautions(page: Page, examination: Examination) -> None:
    """Write the cautions of what was measured and of what is to be measured next."""
    page.heading(say(wording.SECTION["cautions"]))
    for caution in cautions_of(examination):
        page.paragraph(caution, first=f"{page.symbols.bullet} ")


def _provenance(page: Page, examination: Examination) -> None:
    """Write where the numbers come from."""
    page.heading(say(wording.SECTION["provenance"]))
    page.fact_table(facts.provenance_facts(examination))


def _style_of(state: State) -> str:
    """Return the style of the state; the word carries the meaning."""
    return STYLE_FOR if state in (State.DEFECTIVE, State.SUSPECT) else STYLE_AGAINST
