"""An examination as one self-contained HTML page: no requests, and the same bytes each time."""

from __future__ import annotations

from importlib import resources
from typing import TYPE_CHECKING

from cagewise.decision.examination import Examination
from cagewise.decision.verdict import State
from cagewise.evidence.findings import Finding, Ground
from cagewise.report import (
    cost_text,
    cost_wording,
    course_text,
    facts,
    likelihood_text,
    likelihood_wording,
    next_text,
    numbers,
    sentences,
    visit_facts,
    visit_wording,
    wording,
)
from cagewise.report.drawings import drawings, inline
from cagewise.report.explanation_text import Explained, explained, not_excluded
from cagewise.report.forest_page import cage_findings, pooled_label, together_note
from cagewise.report.forest_text import axis_for
from cagewise.report.language import retell, say, say_each

if TYPE_CHECKING:
    from markupsafe import Markup

    from cagewise.figures.forest import ForestRow

SHAPES = {
    State.SOUND: "hollow",
    State.SUSPECT: "half",
    State.DEFECTIVE: "filled",
    State.NOT_DECIDABLE: "cross",
}
"""Shape beside the state, so that it reads without colour."""


def to_html(examination: Examination) -> str:
    """Return the report as one HTML document."""
    from jinja2 import Environment, StrictUndefined
    from markupsafe import Markup

    folder = resources.files(__package__)
    environment = Environment(
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        finalize=_keep_percent_signs,
    )
    environment.filters["capitalize_first"] = _capitalize_first
    template = environment.from_string(folder.joinpath("page.html").read_text(encoding="utf-8"))
    section = explained(examination)
    style = folder.joinpath("page.css").read_text(encoding="utf-8")
    return template.render(
        style=Markup(style),  # noqa: S704  # our own file
        shape=SHAPES[examination.verdict.state],
        examination=examination,
        lead=examination.leading,
        visit=visit_facts,
        visit_wording=visit_wording,
        sections={key: say(text) for key, text in wording.SECTION.items()},
        wording=wording,
        sentences=sentences,
        course=course_text,
        cost=cost_text,
        cost_wording=cost_wording,
        facts=facts,
        readings=_readings(examination),
        forest=_forest(examination),
        together_note=together_note(examination),
        likelihood=likelihood_text,
        likelihood_words=likelihood_wording,
        patterns=_patterns(examination),
        explained=section,
        heads=heads_of(section),
        not_excluded=not_excluded(examination),
        next=next_text,
        drawings=drawings(examination),
    )


def _keep_percent_signs(value: object) -> object:
    """Return text in which a percent sign stays with its number at the end of a line."""
    return value.replace(" %", "\N{NO-BREAK SPACE}%") if type(value) is str else value


def _capitalize_first(text: str) -> str:
    """Return text that begins a line."""
    return text[:1].upper() + text[1:]


def heads_of(section: Explained) -> tuple[str, ...]:
    """Return the heads of the table of causes; no column for tests where none is named."""
    heads = likelihood_wording.EXPLANATION_HEADS
    return say_each(heads if any(row.test for row in section.rows) else heads[:3])


def _patterns(examination: Examination) -> Markup | None:
    """Return the bars of the likeliest patterns, None where no list is needed."""
    from cagewise.figures.pattern import PatternBar, patterns

    bars = [
        PatternBar(
            label=row.label[0].upper() + row.label[1:],
            probability=row.probability,
            text=f"{row.percent} %",
            sound=row.sound,
        )
        for row in likelihood_text.pattern_rows(examination)
    ]
    return inline(patterns(bars), "patterns") if bars else None


def _readings(examination: Examination) -> list[tuple[str, str, str, str]]:
    """Return what every reading says of the cage: title, value as measured, word, why.

    Readings without a value that say the same for the same reason share a row.
    """
    values = {
        reading.name: facts.reading_value(reading)
        for source in examination.shown
        for reading in source.readings
    }
    said = sentences.reason_in_verdict(examination)
    rows: list[tuple[str, str, str, str]] = []
    for finding in cage_findings(examination):
        as_said = finding.ground is Ground.NOT_READ and finding.note == said
        why = say(wording.NOT_READ_AS_SAID) if as_said else sentences.ground(finding)
        value, word, title = (
            values[finding.reading],
            say(wording.SUPPORT[finding.support]),
            retell(finding.title),
        )
        if rows and not value and rows[-1][1:] == ("", word, why):
            title = f"{rows.pop()[0]}; {title}"
        rows.append((title, value, word, why))
    return rows


def _forest(examination: Examination) -> Markup | None:
    """Return the forest plot, or None when no reading has a number."""
    from cagewise.figures.forest import forest

    cage = cage_findings(examination)
    if not any(finding.bars is not None for finding in cage):
        return None
    axis = axis_for(cage, examination.evidence.pooled, columns=60)
    figure = forest(forest_rows(examination, cage), axis.top_bars, wording.AXIS_LABEL)
    return inline(figure, "forest")


def forest_rows(examination: Examination, cage: tuple[Finding, ...]) -> list[ForestRow]:
    """Return the rows of the forest plot, worded."""
    from cagewise.figures.forest import ForestRow

    rows = []
    for vote in examination.shown_classes:
        name, word = retell(vote.independence_class.value), say(wording.SUPPORT[vote.support])
        rows.append(ForestRow(label=name, heading=True, support=vote.support, word=word))
        rows += [
            ForestRow(
                label=retell(finding.title),
                support=finding.support,
                bars=finding.bars,
                limit_bars=finding.numbers.get("limit_bars"),
                value_text="" if finding.bars is None else numbers.bars_interval(finding.bars),
                word=say(wording.SUPPORT[finding.support]),
            )
            for finding in cage
            if finding.independence_class is vote.independence_class
            and finding.ground not in (Ground.NOT_IN_BARS, Ground.NOT_READ)
        ]
    pooled = examination.evidence.pooled
    rows.append(
        ForestRow(
            label=pooled_label(pooled),
            pooled=True,
            bars=pooled.bars,
            value_text="" if pooled.bars is None else numbers.bars_interval(pooled.bars),
        )
    )
    posterior = likelihood_text.stated_posterior(examination)
    if posterior is not None:
        bars = posterior.open_bars
        text, label = numbers.bars_interval(bars), say(likelihood_wording.WEIGHED_TITLE)
        rows.append(ForestRow(label=label, pooled=True, bars=bars, value_text=text))
    return rows
