"""The rest of a case report: winding and insulation, quality of the records, safety, appendix."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from cagewise.decision.examination import (
    Examination,
    RecordExamination,
    SheetExamination,
    StartExamination,
)
from cagewise.decision.parts import PartVerdict
from cagewise.pictures.picture import Picture
from cagewise.report import facts, numbers, visit_facts, visit_wording, wording
from cagewise.report.facts import Fact
from cagewise.report.html import SHAPES
from cagewise.report.language import retell, say
from cagewise.report.papers import case_appendix_wording as appendix_words
from cagewise.report.papers import case_report_wording as words
from cagewise.report.papers.case_evidence import picture_blocks, pictures_of
from cagewise.report.papers.case_material import CaseMaterial
from cagewise.report.papers.case_summary import WORST_FIRST
from cagewise.report.papers.paper import (
    Block,
    Box,
    Column,
    Facts,
    Heading,
    Items,
    Paragraph,
    Shape,
    Table,
    Tone,
    Verdict,
)


def parts(material: CaseMaterial) -> Iterator[Block]:
    """Yield winding and insulation where they were tested."""
    made = material.examination
    if not made.parts:
        return
    yield Heading(text=say(words.SECTION["parts"]))
    for part in sorted(made.parts, key=lambda each: WORST_FIRST.index(each.state)):
        yield from _part(part, list(pictures_of(material.pictures)))


def _part(part: PartVerdict, pictures: Sequence[Picture]) -> Iterator[Block]:
    """Yield one part: its state, what its tests mean, their pictures, their numbers."""
    yield Verdict(
        shape=Shape(SHAPES[part.state]),
        word=visit_facts.part_title(part),
        sentence=visit_facts.part_verdict(part),
    )
    kinds = dict.fromkeys(finding.independence_class for finding in part.findings)
    yield Items(items=tuple(say(words.CLASS_PLAIN[kind]) for kind in kinds))
    names = {finding.reading for finding in part.findings}
    for each in pictures:
        if names & set(each.readings):
            yield from picture_blocks(each)
    rows = visit_facts.decided_rows(part)
    if rows:
        shares = (2.0, 1.3, 2.0, 2.4)
        yield Table(
            columns=tuple(
                Column(head=say(head), share=share)
                for head, share in zip(words.PART_HEADS, shares, strict=True)
            ),
            rows=tuple(
                (row.title, row.value, row.limit if row.value else "", _said(row)) for row in rows
            ),
        )
    trended = visit_facts.trended_facts(part)
    if trended:
        yield Paragraph(text=say(visit_wording.TRENDED), tone=Tone.NOTE)
        yield Facts(rows=tuple(trended))


def _said(row: visit_facts.TestRow) -> str:
    """Return what a test says, and what is to be known of it."""
    return " ".join([numbers.sentence(row.why), *row.notes])


def records(made: Examination) -> Iterator[Block]:
    """Yield how good everything is that was looked at."""
    yield Heading(text=say(words.SECTION["records"]))
    for record in made.records:
        yield from _record(record, leads=record is made.leading and len(made.records) > 1)
    for start in made.starts:
        yield from _start(start)
    for sheet in made.sheets:
        yield _sheet_title(sheet)
        yield Facts(rows=tuple(_sheet(sheet)))
    aside = [
        say(words.ASIDE, source=one.source, reason=retell(one.reason)) for one in made.set_aside
    ]
    if aside:
        yield Items(items=tuple(aside))
    if made.warnings:
        yield Box(title=say(wording.SECTION["motor_file"]), items=tuple(map(retell, made.warnings)))


def _record(record: RecordExamination, *, leads: bool) -> Iterator[Block]:
    """Yield a recording of the running motor."""
    title = words.RECORD_LEADS if leads else words.RECORD_TITLE
    yield Heading(text=say(title, source=record.provenance.source), level=2)
    yield Facts(rows=(*facts.recording_facts(record), *facts.operating_facts(record)))
    if record.stopped:
        yield Paragraph(text=say(words.RECORD_STOPPED, reason=retell(record.stopped)))
    found = facts.quality_lines(record)
    if found:
        yield Items(
            items=tuple(say(words.QUALITY, severity=kind, text=text) for kind, text in found)
        )
    else:
        yield Paragraph(text=say(wording.QUALITY_GOOD))


def _start(start: StartExamination) -> Iterator[Block]:
    """Yield a start."""
    yield Heading(text=say(words.START_TITLE, source=start.provenance.source), level=2)
    yield Facts(rows=tuple(visit_facts.start_facts(start)))
    notes = visit_facts.caveats(start.readings)
    if notes:
        yield Items(items=tuple(notes))


def _sheet_title(sheet: SheetExamination) -> Heading:
    return Heading(text=say(words.SHEET_TITLE, source=sheet.sheet.provenance.source), level=2)


def _sheet(sheet: SheetExamination) -> Iterator[Fact]:
    """Yield what is to be known of a test sheet."""
    measured, tests, compared = (say(label) for label in words.SHEET_FACTS)
    yield measured, sheet.sheet.measured_on.isoformat()
    kinds = dict.fromkeys(reading.independence_class for reading in sheet.readings)
    yield tests, "; ".join(retell(kind.value) for kind in kinds)
    yield compared, ", ".join(sheet.earlier) or say(words.SHEET_FIRST)


def safety(made: Examination) -> Iterator[Block]:
    """Yield what has to be minded."""
    yield Heading(text=say(words.SECTION["safety"]))
    cautions = tuple(visit_facts.cautions_of(made))
    yield Box(title=say(words.SAFETY_HOW), items=cautions, tone=Tone.DANGER)


def appendix(material: CaseMaterial) -> Iterator[Block]:
    """Yield methods with sources, data with versions, and words with meanings."""
    made = material.examination
    yield Heading(text=say(words.SECTION["appendix"]))
    yield Heading(text=say(words.SECTION["methods"]), level=2)
    yield _table(appendix_words.METHOD_HEADS, (1.3, 2.6, 2.8), _methods(material))
    yield Paragraph(text=say(appendix_words.SOURCES_NOTE), tone=Tone.NOTE)
    measured = facts.reading_facts(made)
    if measured:
        yield Heading(text=say(words.SECTION["measured"]), level=2)
        yield _table(appendix_words.READINGS_HEADS, (2.0, 2.0), measured)
        yield Paragraph(text=say(appendix_words.READINGS_NOTE), tone=Tone.NOTE)
    yield Heading(text=say(words.SECTION["versions"]), level=2)
    yield Facts(rows=tuple(facts.provenance_facts(made)))
    yield Heading(text=say(words.SECTION["glossary"]), level=2)
    rows = [(say(word), say(meaning)) for word, meaning in appendix_words.GLOSSARY.items()]
    yield _table(appendix_words.GLOSSARY_HEADS, (1.2, 4.0), rows)


def _methods(material: CaseMaterial) -> list[tuple[str, ...]]:
    """Return the methods that this report stands on."""
    made = material.examination
    used = {reading.independence_class for source in made.shown for reading in source.readings}
    shown = [each for each in appendix_words.METHODS if each.kinds & used]
    shown += appendix_words.ALWAYS
    if material.trend is not None:
        shown.append(appendix_words.TREND_METHOD)
    return [(say(each.name), say(each.how), say(each.sources)) for each in shown]


def _table(heads: Sequence[str], shares: Sequence[float], rows: Sequence[tuple[str, ...]]) -> Table:
    """Return a table with these heads."""
    columns = tuple(
        Column(head=say(head), share=share) for head, share in zip(heads, shares, strict=True)
    )
    return Table(columns=columns, rows=tuple(rows))
