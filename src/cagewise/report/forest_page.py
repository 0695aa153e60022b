"""The forest plot laid out on the terminal page: one line per reading, two where it is narrow."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass

from cagewise.decision.examination import Examination
from cagewise.evidence.findings import ClassVerdict, Finding, Ground, Hypothesis, Pooled, Support
from cagewise.quantities import Estimate
from cagewise.report import (
    forest_text,
    likelihood_text,
    likelihood_wording,
    numbers,
    sentences,
    wording,
)
from cagewise.report.forest_text import Axis
from cagewise.report.language import retell, say
from cagewise.report.page import INDENT, ROOMY, STYLE_AGAINST, STYLE_DIM, STYLE_FOR, Page

VALUE_COLUMNS = 19
"""Room for "12.3 (10.1 to 14.9)"."""
WORD_COLUMNS = 11
"""Room for "cannot tell"."""
LABEL_SHARE = 0.3
"""Part of a roomy page that the names of the readings take."""
GAP = 2
"""Blank columns between plot, number and word."""

STYLES = {
    Support.FOR: STYLE_FOR,
    Support.AGAINST: STYLE_AGAINST,
    Support.CANNOT_TELL: STYLE_DIM,
}


def write_forest(page: Page, examination: Examination, *, notes: bool = True) -> None:
    """Write axis, classes, readings and the pooled line.

    With ``notes`` also the readings that have no open bars, and how to read the pooled line.
    """
    cage = cage_findings(examination)
    pooled = examination.evidence.pooled
    roomy = page.width >= ROOMY
    label = 2 * INDENT + (round(page.width * LABEL_SHARE) if roomy else 2)
    columns = page.width - label - VALUE_COLUMNS - GAP - (WORD_COLUMNS + GAP if roomy else 0)
    axis = forest_text.axis_for(cage, pooled, columns)
    said = sentences.reason_in_verdict(examination)
    layout = _Layout(page=page, axis=axis, label_columns=label, roomy=roomy, said=said)
    for verdict in examination.shown_classes:
        layout.class_head(verdict)
        members = [f for f in cage if f.independence_class is verdict.independence_class]
        for finding in members:
            if finding.ground not in _WITHOUT_BARS:
                layout.reading(finding)
        for ground in _WITHOUT_BARS if notes else ():
            layout.without_bars([f for f in members if f.ground is ground], len(members))
    if any(finding.bars is not None for finding in cage):
        _write_together(layout, examination, notes=notes)
    if missing := sentences.not_measured(examination):
        page.paragraph(missing, style=STYLE_DIM)


def _write_together(layout: _Layout, examination: Examination, *, notes: bool) -> None:
    """Write the lines over all classes, the axis and what the shapes mean."""
    layout.pooled(examination.evidence.pooled)
    posterior = likelihood_text.stated_posterior(examination)
    if posterior is not None:
        layout.weighed(posterior.open_bars)
    layout.ruler()
    layout.legend()
    if notes:
        layout.page.paragraph(together_note(examination), style=STYLE_DIM)


def together_note(examination: Examination) -> str:
    """Return how to read the lines over all classes."""
    weighed = likelihood_text.stated_posterior(examination) is not None
    return " ".join(
        [say(wording.POOLED_NOTE), *([say(likelihood_wording.WEIGHED_NOTE)] if weighed else [])]
    )


def pooled_label(pooled: Pooled) -> str:
    """Return the name of the pooled line and how it came about."""
    said = say(wording.POOLED[pooled.ground])
    return say(wording.POOLED_LABEL, title=say(wording.POOLED_TITLE), said=said)


def cage_findings(examination: Examination) -> tuple[Finding, ...]:
    """Return the findings on the cage of the sources that the report shows."""
    return tuple(f for f in examination.shown_findings if f.hypothesis is Hypothesis.CAGE_DEFECT)


@dataclass(frozen=True)
class _Layout:
    """Where the columns of the plot stand."""

    page: Page
    axis: Axis
    label_columns: int
    roomy: bool
    said: str
    """Reason that stands in the verdict already and is not written again."""

    def class_head(self, verdict: ClassVerdict) -> None:
        """Write the name of a class and its vote."""
        name = retell(verdict.independence_class.value)
        self.page.paragraph(
            say(wording.CLASS_VOTE, name=name, word=say(wording.SUPPORT[verdict.support]))
        )

    def reading(self, finding: Finding) -> None:
        """Write one reading: name, plot, number, word; the ground below it."""
        style, word = STYLES[finding.support], say(wording.SUPPORT[finding.support])
        name = f"{self.page.symbols.point(finding.support)} {retell(finding.title)}"
        if finding.bars is None and "limit_bars" not in finding.numbers:
            self._name_and_word(name, word, style)
        else:
            plot = forest_text.draw_reading(finding, self.axis, self.page.symbols)
            value = "" if finding.bars is None else numbers.bars_interval(finding.bars)
            self._row(name, plot, value, word, style)
        if finding.ground not in _SAID_BY_THE_PLOT:
            self._ground(finding)

    def without_bars(self, findings: Sequence[Finding], class_size: int) -> None:
        """Write the readings that have no open bars, those with one reason together."""
        for note in dict.fromkeys(finding.note for finding in findings):
            same = [finding for finding in findings if finding.note == note]
            support = same[0].support
            names = "; ".join(retell(finding.title) for finding in same)
            if len(same) == class_size and class_size > 1:
                names = say(wording.ALL_OF_CLASS)
            name = f"{self.page.symbols.point(support)} {names}"
            self._name_and_word(name, say(wording.SUPPORT[support]), STYLES[support])
            self._ground(same[0])

    def pooled(self, pooled: Pooled) -> None:
        """Write the line over all classes."""
        symbols = self.page.symbols
        plot = forest_text.draw_together(pooled.bars, symbols.pooled, self.axis, symbols)
        value = "" if pooled.bars is None else numbers.bars_interval(pooled.bars)
        name = f"{symbols.pooled} {pooled_label(pooled)}"
        self._row(name, plot, value, "", "bold")

    def weighed(self, bars: Estimate) -> None:
        """Write the credible interval of the fusion."""
        symbols = self.page.symbols
        plot = forest_text.draw_together(bars, symbols.weighed, self.axis, symbols)
        name = f"{symbols.weighed} {say(likelihood_wording.WEIGHED_TITLE)}"
        self._row(name, plot, numbers.bars_interval(bars), "", "bold")

    def ruler(self) -> None:
        """Write the axis below the plot."""
        ruler, labels = forest_text.draw_axis(self.axis, self.page.symbols)
        blank = " " * self.label_columns
        self.page.line(f"{blank}{ruler}{' ' * GAP}{say(wording.AXIS_LABEL)}", STYLE_DIM)
        self.page.line(f"{blank}{labels}", STYLE_DIM)

    def legend(self) -> None:
        """Write what the shapes mean."""
        symbols = self.page.symbols
        self.page.paragraph(
            say(
                wording.LEGEND,
                speaks_for=symbols.speaks_for,
                speaks_against=symbols.speaks_against,
                cannot_tell=symbols.cannot_tell,
                interval=symbols.interval_low + symbols.interval + symbols.interval_high,
                hidden=symbols.hidden * 2,
                guide=symbols.guide,
            ),
            style=STYLE_DIM,
        )

    def _ground(self, finding: Finding) -> None:
        """Write why a finding is what it is."""
        said = finding.note and finding.note == self.said
        text = say(wording.NOT_READ_AS_SAID) if said else sentences.ground(finding)
        self.page.paragraph(text, indent=3 * INDENT, style=STYLE_DIM)

    def _row(self, name: str, plot: str, value: str, word: str, style: str) -> None:
        """Write a row with its plot; a long name takes lines of its own above."""
        room = self.label_columns - 2 * INDENT
        lead = " " * 2 * INDENT
        if not self.roomy:
            self._name_and_word(name, word, style)
            self.page.line(f"{lead}  {plot}{' ' * GAP}{value}".rstrip(), style)
            return
        *above, last = textwrap.wrap(name, room - 1, subsequent_indent="  ")
        for part in above:
            self.page.line(f"{lead}{part}", style)
        text = f"{lead}{last.ljust(room)}{plot}{' ' * GAP}{value.ljust(VALUE_COLUMNS)}"
        self.page.line(f"{text}{' ' * GAP}{word}".rstrip(), style)

    def _name_and_word(self, name: str, word: str, style: str) -> None:
        """Write a name with its word at the right margin."""
        lead = " " * 2 * INDENT
        room = self.page.width - len(lead) - WORD_COLUMNS - GAP
        *above, last = textwrap.wrap(name, room, subsequent_indent="  ")
        for part in above:
            self.page.line(f"{lead}{part}", style)
        self.page.line(f"{lead}{last.ljust(room)}{' ' * GAP}{word}".rstrip(), style)


_WITHOUT_BARS = (Ground.NOT_IN_BARS, Ground.NOT_READ)
_SAID_BY_THE_PLOT = frozenset({Ground.DAMAGE_ESTABLISHED, Ground.NO_MORE_THAN})
