"""What a case report says beside the evidence: other causes, costs, growth, the story, repairs."""

from __future__ import annotations

from collections.abc import Iterator

from cagewise.decision.examination import Examination
from cagewise.history.points import TrendPoint
from cagewise.history.trend import NoTrend, Trend
from cagewise.quantities import Estimate
from cagewise.report import (
    cost_text,
    course_text,
    history_wording,
    likelihood_text,
    next_text,
    numbers,
    wording,
)
from cagewise.report.case_page import compared, told
from cagewise.report.case_text import owed
from cagewise.report.explanation_text import explained, not_excluded
from cagewise.report.facts import Fact
from cagewise.report.history_text import (
    day_of,
    needed,
    reason_in_words,
    since_facts,
    trend_facts,
    unknown_in_words,
)
from cagewise.report.history_views import CaseView, RepairView, TrendView
from cagewise.report.html import heads_of
from cagewise.report.language import retell, say
from cagewise.report.papers import case_report_wording as words
from cagewise.report.papers.case_material import CaseMaterial, TrendMaterial
from cagewise.report.papers.case_summary import grouped
from cagewise.report.papers.paper import (
    Block,
    Box,
    Column,
    Drawing,
    Facts,
    Heading,
    Items,
    Paragraph,
    Table,
    Tone,
)
from cagewise.store import Outcome, Repair

PERCENT = 100.0


def causes(made: Examination) -> Iterator[Block]:
    """Yield what else it could be with its weights, what was not excluded, what to measure next."""
    section = explained(made)
    yield Heading(text=say(words.SECTION["causes"]))
    yield from (Paragraph(text=line) for line in likelihood_text.probability_lines(made))
    if section.rows:
        yield Paragraph(text=say(words.CAUSES_HOW))
        heads = heads_of(section)
        shares = (0.7, 1.8, 2.6, 2.2)
        yield Table(
            columns=tuple(
                Column(head=head, share=share) for head, share in zip(heads, shares, strict=False)
            ),
            rows=tuple(
                (row.weight, row.cause, row.why, row.test)[: len(heads)] for row in section.rows
            ),
            row_heads=False,
        )
    if section.together:
        yield Items(items=section.together)
    if section.note:
        yield Paragraph(text=section.note, tone=Tone.NOTE)
    spots = not_excluded(made)
    if spots:
        yield Heading(text=say(words.SECTION["not_excluded"]), level=2)
        yield Items(
            items=tuple(f"{text} {say(wording.WOULD_TELL, what=remedy)}" for text, remedy in spots)
        )
    yield from _next(made)


def _next(made: Examination) -> Iterator[Block]:
    """Yield what to measure next, the most telling per hour first."""
    rows = next_text.next_rows(made)
    yield Heading(text=say(words.SECTION["next"]), level=2)
    if not rows:
        yield Paragraph(text=say(words.NEXT_NONE))
        return
    shares = (2.4, 2.2, 1.8)
    yield Table(
        columns=tuple(
            Column(head=say(head), share=share)
            for head, share in zip(words.NEXT_HEADS, shares, strict=True)
        ),
        rows=tuple((row.what, row.why, row.worth) for row in rows),
        row_heads=False,
    )
    note = next_text.next_note(made)
    if note:
        yield Paragraph(text=note, tone=Tone.NOTE)


def costs(made: Examination) -> Iterator[Block]:
    """Yield what being wrong costs, with its working where it is shown."""
    decision = made.outlook.costs
    yield Heading(text=say(words.SECTION["costs"]))
    lead = cost_text.cost_lead(made)
    notes = course_text.action_notes(made)
    if notes:
        yield Paragraph(text=" ".join(notes))
    if not cost_text.costs_shown(made):
        yield Paragraph(text=lead)
        return
    yield Paragraph(text=f"{lead} {say(words.COST_HOW)}")
    heads, rows = cost_text.cost_table(decision)
    columns = [Column(head=heads[0], share=1.4)]
    columns += [Column(head=head, numbers=True) for head in heads[1:]]
    yield Table(
        columns=tuple(columns),
        rows=tuple((name, *map(grouped, numbered)) for name, *numbered in rows),
    )
    yield Facts(rows=tuple(cost_text.cost_rows(decision)))
    yield Paragraph(text=cost_text.cost_note(decision), tone=Tone.NOTE)


def trend(material: TrendMaterial) -> Iterator[Block]:
    """Yield how the damage developed, with band and covariates; or what a trend would need."""
    view = material.view
    yield Heading(text=say(words.SECTION["trend"]))
    if isinstance(view.trend, NoTrend):
        yield Paragraph(text=reason_in_words(view.trend))
    else:
        level = numbers.bars_interval(view.trend.level_bars)
        call = history_wording.CALL_SENTENCE[view.trend.call]
        yield Paragraph(text=say(call, level=level))
    yield from _growth(material)
    if isinstance(view.trend, Trend):
        yield Facts(rows=tuple(trend_facts(view, view.trend)))
    else:
        yield Items(items=tuple(needed(view)))
        rows: list[Fact] = since_facts(view)
        if rows:
            yield Facts(rows=tuple(rows))
    unknown = unknown_in_words(view)
    if unknown:
        yield Paragraph(text=unknown, tone=Tone.NOTE)


def _growth(material: TrendMaterial) -> Iterator[Drawing]:
    """Yield the drawing of a trend, where there is a point."""
    points = _points(material.view)
    if not points:
        return
    from cagewise.figures.growth import GrowthLabels, GrowthPoint, growth
    from cagewise.figures.svg import svg_text

    label = {key: say(text) for key, text in words.TREND_LABELS.items() if key != "limit"}
    limit = say(words.TREND_LABELS["limit"], bars=f"{material.limit_bars:g}")
    fitted = material.view.trend
    curve = fitted.curve if isinstance(fitted, Trend) else ()
    figure = growth(
        [
            GrowthPoint(
                day=day_of(point.day),
                bars=point.bars,
                is_limit=point.is_limit,
                used=used,
                load_percent=PERCENT * point.load_fraction.value
                if isinstance(point.load_fraction, Estimate)
                else None,
            )
            for point, used in points
        ],
        [(day_of(each.day), each.bars) for each in curve],
        [
            (event.day, say(history_wording.WORD_REPAIRED))
            if isinstance(event.what, Repair)
            else (event.day, say(history_wording.WORD_FOUND))
            for event in material.events
            if isinstance(event.what, Repair | Outcome)
        ],
        material.limit_bars,
        GrowthLabels(**label, limit=limit),
    )
    yield Drawing(
        svg=svg_text(figure, "growth").encode(),
        alt=say(words.TREND_ALT),
        caption=say(words.TREND_CAPTION),
    )


def _points(view: TrendView) -> list[tuple[TrendPoint, bool]]:
    """Return the points of the reading that is followed, used and set aside, by day."""
    used = [(point, True) for point in view.points.points]
    reading = used[0][0].reading if used else ""
    aside = [(a.point, False) for a in view.points.set_aside if a.point.reading == reading]
    return sorted([*used, *aside], key=lambda each: each[0].day)


def story(material: CaseMaterial) -> Iterator[Block]:
    """Yield what happened, what was measured before and after a repair, and what is owed."""
    view = material.case
    if view is None:
        return
    yield Heading(text=say(words.SECTION["story"]))
    shares = (0.75, 0.75, 5.0)
    yield Table(
        columns=tuple(
            Column(head=say(head), share=share)
            for head, share in zip(words.STORY_HEADS, shares, strict=True)
        ),
        rows=_entries(view),
    )
    for repair in view.repairs:
        yield from _repair(repair)
    lines = owed(view)
    if lines:
        yield Box(title=say(words.OWED_TITLE), items=lines)


def _entries(view: CaseView) -> tuple[tuple[str, str, str], ...]:
    """Return the entries of a story."""
    rows = []
    for entry in told(view):
        author = say(words.AUTHOR, author=entry.author) if entry.author else ""
        said = " ".join(filter(None, (entry.text, entry.remark, author)))
        rows.append((entry.day.isoformat(), entry.word, said))
    return tuple(rows)


def _repair(repair: RepairView) -> Iterator[Block]:
    """Yield the readings before and after a repair."""
    day, kind = repair.event.day.isoformat(), say(history_wording.REPAIR_KIND[repair.kind])
    if repair.comparison is None:
        yield Heading(text=say(words.REPAIR_TITLE_OPEN, day=day, kind=kind), level=2)
        yield Paragraph(text=say(words.REPAIR_UNMEASURED))
        return
    accepted = say(history_wording.ACCEPTANCE[repair.comparison.acceptance])
    title = say(words.REPAIR_TITLE, day=day, kind=kind, acceptance=accepted)
    yield Heading(text=title, level=2)
    yield Paragraph(text=numbers.sentence(retell(repair.comparison.because)))
    shares = (1.9, 1.4, 1.4, 0.9, 2.2)
    yield Table(
        columns=tuple(
            Column(head=say(head), share=share)
            for head, share in zip(words.REPAIR_HEADS, shares, strict=True)
        ),
        rows=tuple(
            (each.title, each.before, each.after, each.word, each.because)
            for each in compared(repair)
        ),
    )
