"""What a visit gave beside the running record: starts, tests of winding and insulation."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from cagewise.decision.cautions import TestKind, grouped_cautions
from cagewise.decision.examination import (
    Examination,
    RecordExamination,
    SheetExamination,
    Source,
    StartExamination,
)
from cagewise.decision.parts import PartGround, PartVerdict
from cagewise.decision.recommendation import NextMeasurement
from cagewise.decision.verdict import State
from cagewise.evidence.findings import Finding, Ground, Support
from cagewise.indicators.reading import Part, Reading, ReferenceLimit
from cagewise.measurement import Provenance, TestSheet
from cagewise.report import numbers, sentences, visit_wording, wording
from cagewise.report.facts import quantity_in_words
from cagewise.report.language import decimal, retell, say
from cagewise.report.next_text import next_rows


@dataclass(frozen=True, slots=True, kw_only=True)
class TestRow:
    """One test of a part beside the cage, worded."""

    title: str
    value: str
    """As measured, empty when it could not be read."""
    limit: str
    """What it is compared with, and where that stands."""
    support: Support
    why: str
    notes: tuple[str, ...]

    @property
    def line(self) -> str:
        """The row as one sentence."""
        template = visit_wording.TEST_LINE if self.value else visit_wording.TEST_LINE_NOT_READ
        return say(template, title=self.title, value=self.value, limit=self.limit, why=self.why)


def part_title(verdict: PartVerdict) -> str:
    """Return part and state, as in "Stator winding: sound"."""
    name = numbers.begins(retell(verdict.part.value))
    return say(wording.PART_AND_STATE, part=name, state=say(wording.STATE[verdict.state]))


def part_verdict(verdict: PartVerdict) -> str:
    """Return what the tests of a part amount to."""
    said = say(
        visit_wording.PART_VERDICT[verdict.ground],
        tests=_titles(verdict.speaking),
        undecided=_titles(verdict.undecided),
        refused="; ".join(_refused(f) for f in verdict.main_refused),
        reason=next(
            (retell(f.note) for f in verdict.findings if f.note), say(wording.NOTHING_VALID)
        ),
    )
    if verdict.part is Part.INSULATION and verdict.doubted:
        said = f"{said} {say(visit_wording.PART_INSULATION)}"
    if verdict.part is Part.INSULATION and verdict.ground is PartGround.AT_LIMIT:
        said = f"{said} {say(visit_wording.PART_INSULATION_NEAR)}"
    return said


def judged_parts(examination: Examination) -> list[PartVerdict]:
    """Return the parts whose state stands beside that of the cage: not what is only trended."""
    return [p for p in examination.parts if p.state is not State.NOT_DECIDABLE or p.unanswered]


def is_said_above(verdict: PartVerdict) -> bool:
    """Return whether what a part's tests amount to stands at the head of the report."""
    return verdict.doubted or verdict.unanswered


def _titles(findings: Iterable[Finding]) -> str:
    """Return the tests that findings stand on, each once."""
    return "; ".join(dict.fromkeys(retell(finding.title) for finding in findings))


def _refused(finding: Finding) -> str:
    """Return a test that was refused, and why."""
    return say(visit_wording.REFUSED, title=retell(finding.title), reason=retell(finding.note))


def decided_rows(verdict: PartVerdict) -> list[TestRow]:
    """Return the tests that a limit or a change decides, and those that were refused.

    Tests that were refused for one reason are one row.
    """
    rows: list[TestRow] = []
    for finding in verdict.findings:
        row = _row(finding)
        if finding.ground is Ground.NO_LIMIT:
            continue
        if rows and not row.value and not rows[-1].value and rows[-1].why == row.why:
            row = replace(row, title=f"{rows.pop().title}; {row.title}")
        rows.append(row)
    said = part_verdict(verdict)
    rows = _noted_once(rows)
    return [replace(r, why=say(wording.NOT_READ_AS_SAID)) if _is_said(r, said) else r for r in rows]


def _noted_once(rows: list[TestRow]) -> list[TestRow]:
    """Return rows in which what is said of several tests stands at the first of them."""
    said: set[str] = set()
    once = []
    for row in rows:
        once.append(replace(row, notes=tuple(note for note in row.notes if note not in said)))
        said.update(row.notes)
    return once


def _is_said(row: TestRow, said: str) -> bool:
    """Return whether the reason of a refusal stands in the verdict of the part already."""
    reason = row.why.removeprefix(say(wording.GROUND[Ground.NOT_READ], note=""))
    return not row.value and bool(reason) and reason in said


def trended_facts(verdict: PartVerdict) -> list[tuple[str, str]]:
    """Return the values that nothing limits: they are compared with the motor's own past."""
    rows = [_row(f) for f in verdict.findings if f.ground is Ground.NO_LIMIT]
    return [(row.title, row.value) for row in rows]


def _row(finding: Finding) -> TestRow:
    """Return one test."""
    read = finding.ground is not Ground.NOT_READ and finding.value is not None
    return TestRow(
        title=retell(finding.title),
        value=numbers.measured(finding.value, finding.unit) if read and finding.value else "",
        limit=_limit(finding.limit, finding.unit),
        support=finding.support,
        why=sentences.ground(finding),
        notes=tuple(numbers.sentence(retell(caveat)) for caveat in finding.caveats),
    )


def _limit(limit: ReferenceLimit | None, unit: str) -> str:
    """Return a published limit with its source."""
    if limit is None:
        return say(visit_wording.NO_LIMIT)
    template = visit_wording.LIMIT_FORM if limit.form else visit_wording.LIMIT
    return say(
        template,
        sense=say(visit_wording.SENSE[limit.sense]),
        value=numbers.plain(limit.value, unit),
        source=retell(limit.source),
        form=retell(limit.form),
    )


def visit_lines(examination: Examination) -> list[str]:
    """Return one line for everything that was examined, and for what was given in vain.

    Nothing for a visit that is one recording or one sheet: the page is about it.
    """
    aside = [
        say(visit_wording.VISIT_ASIDE, source=one.source, reason=retell(one.reason))
        for one in examination.set_aside
    ]
    if not aside and len(examination.sources) == 1:
        return []
    return [*(_line(source) for source in examination.sources), *aside]


def provenance_of(source: Source) -> Provenance:
    """Return where a source came from."""
    return source.sheet.provenance if isinstance(source, SheetExamination) else source.provenance


def all_findings(source: Source) -> tuple[Finding, ...]:
    """Return what a source says of every part of the motor."""
    others = source.findings if isinstance(source, SheetExamination) else ()
    return (*source.evidence.findings, *others)


def _line(source: Source) -> str:
    """Return one source in one line."""
    if isinstance(source, RecordExamination):
        return sentences.record_line(source)
    says = "; ".join(
        say(
            visit_wording.SAYS,
            name=retell(vote.independence_class.value),
            word=say(wording.SUPPORT[vote.support]),
        )
        for vote in source.evidence.classes
    )
    says = says or say(visit_wording.SAYS_NOTHING)
    if isinstance(source, SheetExamination):
        day = source.sheet.measured_on.isoformat()
        name = source.sheet.provenance.source
        return say(visit_wording.VISIT_SHEET, source=name, day=day, says=says)
    return say(
        visit_wording.VISIT_START,
        source=source.provenance.source,
        second=_second(source),
        says=says,
    )


def _second(source: StartExamination) -> str:
    """Return when in its recording a motor was switched on."""
    return decimal(f"{source.start.switched_on / source.sampling_rate_hz:.2f}")


def caveats(readings: Iterable[Reading]) -> list[str]:
    """Return the caveats of valid readings, one text per reading, each caveat at its first."""
    said: set[str] = set()
    texts = []
    for reading in readings:
        own = [c for c in dict.fromkeys(reading.caveats) if reading.valid and c not in said]
        said.update(own)
        if own:
            text = " ".join(numbers.sentence(retell(caveat)) for caveat in own)
            title = numbers.begins(retell(reading.title))
            texts.append(say(visit_wording.CAVEATS, title=title, caveats=text))
    return texts


def start_facts(source: StartExamination) -> list[tuple[str, str]]:
    """Return how the motor started, or why the start was not read."""
    words, facts = visit_wording.START_FACT, source.facts
    rows = [
        (say(words["switched_on"]), say(visit_wording.START_SECONDS, second=_second(source))),
        (say(words["kind"]), retell(source.start.kind.value)),
    ]
    if facts is None:
        return [*rows, (say(words["refused"]), retell(source.start.refused))]
    count = len(source.earlier)
    compared = say(visit_wording.EARLIER_STARTS[min(count, 2)], n=count)
    return [
        *rows,
        (say(words["time"]), quantity_in_words(facts.time_to_speed_s, "s")),
        (
            say(words["voltage"]),
            quantity_in_words(facts.mean_voltage_pu, say(visit_wording.OF_RATED_VOLTAGE), 100.0),
        ),
        (say(words["initial"]), quantity_in_words(facts.initial_current_rms_a, "A")),
        (
            say(words["initial_pu"]),
            quantity_in_words(facts.initial_current_pu, say(visit_wording.TIMES_RATED)),
        ),
        (say(words["compared"]), compared),
    ]


def cautions_of(examination: Examination) -> list[str]:
    """Return the cautions of what was measured and of what is to be measured next, each once."""
    kinds: list[TestKind] = []
    steps = {kind for row in next_rows(examination) for kind in row.kinds}
    if examination.records or steps - {NextMeasurement.POSITION_TEST, NextMeasurement.START_UP}:
        kinds.append(TestKind.RUNNING_RECORD)
    if examination.starts or NextMeasurement.START_UP in steps:
        kinds.append(TestKind.START_RECORD)
    for sheet in examination.sheets:
        kinds += _tests_of(sheet.sheet)
    if NextMeasurement.POSITION_TEST in steps:
        kinds.append(TestKind.POSITION)
    return [retell(c.text) for group in grouped_cautions(kinds) for c in group.cautions]


def _tests_of(sheet: TestSheet) -> list[TestKind]:
    """Return the kinds of test that a sheet holds."""
    made = {
        TestKind.RESISTANCE: sheet.resistance is not None,
        TestKind.POSITION: bool(sheet.positions),
        TestKind.INSULATION: bool(sheet.insulation),
        TestKind.STEP_VOLTAGE: bool(sheet.steps),
        TestKind.DISSIPATION: bool(sheet.dissipation),
        TestKind.TURN: sheet.turns is not None,
    }
    return [kind for kind, there in made.items() if there]
