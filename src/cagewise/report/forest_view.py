"""The forest plot as data for a page on which every reading can be opened."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from cagewise.decision.examination import Examination, Source
from cagewise.evidence.findings import Finding, Ground, Support
from cagewise.indicators.reading import Reading
from cagewise.quantities import Estimate
from cagewise.report import facts, likelihood_text, likelihood_wording, numbers, sentences, wording
from cagewise.report.forest_page import cage_findings, pooled_label
from cagewise.report.forest_text import axis_for
from cagewise.report.language import decimal, retell, say

COLUMNS = 60
"""Room for ticks, in characters of the terminal's plot: so wide that every half bar is labelled."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stroke:
    """Where a value stands on the axis, as parts of its length."""

    value: float | None
    """None where it lies beyond the axis."""
    low: float
    high: float
    beyond: bool
    """Whether the interval goes on beyond the axis."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingRow:
    """One reading of the plot and what opens below it."""

    name: str
    """Stable identifier of the reading."""
    title: str
    support: Support
    word: str
    """Of the support."""
    bars_text: str
    """In open bars with interval, empty where there are none."""
    stroke: Stroke | None
    hidden: float | None
    """Part of the axis in which damage would not have shown."""
    value_text: str
    """As measured."""
    why: str
    caveats: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ClassRows:
    """Readings that share data and physics: one vote."""

    name: str
    support: Support
    word: str
    rows: tuple[ReadingRow, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class TogetherRow:
    """A line over all classes."""

    label: str
    text: str
    stroke: Stroke | None
    weighed: bool
    """Whether it is the credible interval of the fusion."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ForestView:
    """The whole plot."""

    classes: tuple[ClassRows, ...]
    together: tuple[TogetherRow, ...]
    ticks: tuple[tuple[float, str], ...]
    """Place on the axis and label."""
    guide: float
    """Place of one open bar."""
    not_measured: str
    """Which classes were not measured, as a sentence; empty where all were."""


def forest_view(examination: Examination) -> ForestView | None:
    """Return the forest plot of an examination, None where no reading of the cage was made."""
    cage = cage_findings(examination)
    if not cage:
        return None
    axis = axis_for(cage, examination.evidence.pooled, COLUMNS)
    readings = {r.name: r for source in examination.shown for r in source.readings}
    said = sentences.reason_in_verdict(examination)
    classes = tuple(
        ClassRows(
            name=retell(vote.independence_class.value),
            support=vote.support,
            word=say(wording.SUPPORT[vote.support]),
            rows=tuple(
                _row(finding, readings, axis.top_bars, said)
                for finding in cage
                if finding.independence_class is vote.independence_class
            ),
        )
        for vote in examination.shown_classes
    )
    shown = any(finding.bars is not None for finding in cage)
    return ForestView(
        classes=tuple(each for each in classes if each.rows),
        together=tuple(_together(examination, axis.top_bars)) if shown else (),
        ticks=tuple((value / axis.top_bars, decimal(f"{value:g}")) for value in axis.ticks_bars),
        guide=1.0 / axis.top_bars,
        not_measured=sentences.not_measured(examination),
    )


def source_of(examination: Examination, reading: str) -> Source | None:
    """Return the source whose reading of this name the page shows."""
    for source in examination.shown:
        if any(each.name == reading for each in source.readings):
            return source
    return None


def _row(finding: Finding, readings: Mapping[str, Reading], top: float, said: str) -> ReadingRow:
    """Return one reading of the cage."""
    reading = readings[finding.reading]
    as_said = finding.ground is Ground.NOT_READ and finding.note == said
    limit = finding.numbers.get("limit_bars")
    return ReadingRow(
        name=finding.reading,
        title=retell(finding.title),
        support=finding.support,
        word=say(wording.SUPPORT[finding.support]),
        bars_text="" if finding.bars is None else numbers.bars_interval(finding.bars),
        stroke=None if finding.bars is None else _stroke(finding.bars, top),
        hidden=None if limit is None else min(limit / top, 1.0),
        value_text=facts.reading_value(reading),
        why=say(wording.NOT_READ_AS_SAID) if as_said else sentences.ground(finding),
        caveats=tuple(retell(caveat) for caveat in reading.caveats),
    )


def _together(examination: Examination, top: float) -> Iterator[TogetherRow]:
    """Yield the lines over all classes."""
    pooled = examination.evidence.pooled
    yield TogetherRow(
        label=pooled_label(pooled),
        text="" if pooled.bars is None else numbers.bars_interval(pooled.bars),
        stroke=None if pooled.bars is None else _stroke(pooled.bars, top),
        weighed=False,
    )
    posterior = likelihood_text.stated_posterior(examination)
    if posterior is not None:
        yield TogetherRow(
            label=say(likelihood_wording.WEIGHED_TITLE),
            text=numbers.bars_interval(posterior.open_bars),
            stroke=_stroke(posterior.open_bars, top),
            weighed=True,
        )


def _stroke(bars: Estimate, top: float) -> Stroke:
    """Return where an estimate stands on an axis that ends at ``top``."""
    return Stroke(
        value=max(bars.value / top, 0.0) if bars.value <= top else None,
        low=min(max(bars.low / top, 0.0), 1.0),
        high=min(max(bars.high / top, 0.0), 1.0),
        beyond=bars.high > top,
    )
