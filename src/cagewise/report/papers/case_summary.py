"""Page one of a case report: what it is, how sure, what to do by when, what stays open."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta

from cagewise.decision.costs_policies import CostAction
from cagewise.decision.costs_result import StakesGround
from cagewise.decision.examination import Examination
from cagewise.decision.parts import PartVerdict
from cagewise.decision.verdict import State, StateGround
from cagewise.evidence.explanations import Cause
from cagewise.evidence.findings import BlindSpot
from cagewise.evidence.probability import probability_interval
from cagewise.history.growth_model import DAYS_PER_YEAR
from cagewise.history.time_to_limit import TimeToLimit
from cagewise.history.trend import Trend, TrendCall
from cagewise.indicators.reading import Part
from cagewise.quantities import NotKnown
from cagewise.report import (
    cost_text,
    course_text,
    history_wording,
    likelihood_text,
    numbers,
    sentences,
    visit_facts,
    visit_wording,
)
from cagewise.report.explanation_text import explained
from cagewise.report.history_text import day_of
from cagewise.report.html import SHAPES
from cagewise.report.language import retell, say
from cagewise.report.next_text import next_rows
from cagewise.report.papers import case_report_wording as words
from cagewise.report.papers.case_material import CaseMaterial
from cagewise.report.papers.case_outcome import became, signed
from cagewise.report.papers.case_page_one import Piece, fitted
from cagewise.report.papers.paper import (
    Block,
    Box,
    Cards,
    PaperSize,
    Paragraph,
    Shape,
    Tone,
)
from cagewise.report.papers.paper import Verdict as VerdictBlock

WORST_FIRST = (State.DEFECTIVE, State.SUSPECT, State.NOT_DECIDABLE, State.SOUND)
SHOWN_OPEN = 3
"""Things not excluded that page one names; the others are counted."""
GROUPED_FROM = 5
"""Digits from which on a number is written in groups."""
SHOWN_NEXT = 3
"""Measurements that page one names where there is no verdict."""
_SHAPED = (
    StateGround.SHAPE_EXPLAINS,
    StateGround.SUPPLY_NOT_EXCLUDED,
    StateGround.PAIR_NOT_EXCLUDED,
)
"""Undecided although something was read."""
_SAME = {
    BlindSpot.LOAD_OSCILLATION: Cause.LOAD_OSCILLATION,
    BlindSpot.SUPPLY_MODULATION: Cause.SUPPLY_MODULATION,
    BlindSpot.ANISOTROPIC_ROTOR: Cause.ROTOR_SHAPE,
}
"""Blind spots that are causes, which have a weight."""


def summary(material: CaseMaterial, subtitle: str, size: PaperSize) -> list[Block]:
    """Return page one, on one page.

    Parameters
    ----------
    material
        What is told.
    subtitle
        Of the paper.
    size
        Of the sheet.
    """
    return fitted(_pieces(material), subtitle, size)


def _pieces(material: CaseMaterial) -> Iterator[Piece]:
    """Yield what page one says, and how soon it gives way: other sections say that too."""
    made = material.examination
    yield from (Piece(block) for block in _states(made))
    for number, block in enumerate(_whys(made)):
        stays = number == 0 or block.tone is Tone.DANGER
        yield Piece(block, gives_way=0 if stays else 1)
    yield from (Piece(block, gives_way=2) for block in _others(made))
    development = _development(material)
    if development:
        yield Piece(Paragraph(text=development), gives_way=3)
    if material.not_as_kept:
        reason = retell(material.not_as_kept)
        yield Piece(Paragraph(text=say(words.NOT_AS_KEPT, reason=reason)))
    yield Piece(Cards(cards=cards(made)))
    yield from (Piece(block) for block in _missing(made))
    yield from (Piece(block) for block in became(material))
    for each in signed(material):
        note = isinstance(each, Paragraph) and each.tone is Tone.NOTE
        yield Piece(each, gives_way=4 if note else 0)
    notes = course_text.action_notes(made)
    if notes:
        yield Piece(Paragraph(text=" ".join(notes), tone=Tone.NOTE), gives_way=4)


def _states(made: Examination) -> list[VerdictBlock]:
    """Return the states of the cage and of parts that are not sound, the worst first."""
    cage = VerdictBlock(
        shape=Shape(SHAPES[made.verdict.state]),
        word=sentences.state(made.verdict),
        sentence=sentences.verdict(made),
    )
    ranked = [(WORST_FIRST.index(made.verdict.state), cage)]
    for part in visit_facts.judged_parts(made):
        if part.state is State.SOUND:
            continue
        block = VerdictBlock(
            shape=Shape(SHAPES[part.state]),
            word=visit_facts.part_title(part),
            sentence=_sentence(part),
        )
        ranked.append((WORST_FIRST.index(part.state), block))
    return [block for _, block in sorted(ranked, key=lambda each: each[0])]


def _sentence(part: PartVerdict) -> str:
    """Return what the tests of a part amount to, without what stands as a danger below."""
    said = visit_facts.part_verdict(part)
    return said.removesuffix(say(visit_wording.PART_INSULATION)).strip()


def _whys(made: Examination) -> Iterator[Paragraph]:
    """Yield plain reasons, of what is in doubt first, and what nobody may do meanwhile."""
    reasons = [
        say(words.PART_WHY[part.part])
        for part in made.parts
        if part.doubted and part.part in words.PART_WHY
    ]
    reasons.append(
        " ".join(filter(None, (say(words.WHY[made.verdict.ground]), sentences.explanation(made))))
    )
    if made.verdict.state in (State.DEFECTIVE, State.SUSPECT):
        reasons = [*reasons[-1:], *reasons[:-1]]
    first, *others = reasons
    yield Paragraph(text=first, tone=Tone.LEAD)
    yield from (Paragraph(text=each) for each in others)
    if any(part.part is Part.INSULATION and part.doubted for part in made.parts):
        yield Paragraph(text=say(visit_wording.PART_INSULATION), tone=Tone.DANGER)


def _others(made: Examination) -> Iterator[Paragraph]:
    """Yield which other parts were tested and found sound."""
    sound = [p for p in visit_facts.judged_parts(made) if p.state is State.SOUND]
    if sound:
        names = ", ".join(retell(part.part.value) for part in sound)
        yield Paragraph(
            text=say(words.PART_SOUND, parts=names, section=say(words.SECTION["parts"]))
        )


def _development(material: CaseMaterial) -> str:
    """Return how the damage grows and when it reaches the limit; nothing where it is not seen."""
    if material.trend is None:
        return ""
    view = material.trend.view
    if not isinstance(view.trend, Trend) or view.trend.call is not TrendCall.GROWING:
        return ""
    level = numbers.bars_interval(view.trend.level_bars)
    said = [say(history_wording.CALL_SENTENCE[view.trend.call], level=level)]
    if view.limit is not None:
        said.append(_reaches(view.limit))
    return " ".join(said)


def _reaches(limit: TimeToLimit) -> str:
    """Return when damage reaches a limit, if it goes on like this."""
    bars = f"{limit.limit_bars:g}"
    if isinstance(limit.p10_years, NotKnown) or isinstance(limit.p50_years, NotKnown):
        return say(words.GROWS_BEYOND, bars=bars, years=f"{limit.horizon_years:g}")
    early, likely = (
        (day_of(limit.from_day) + timedelta(days=years * DAYS_PER_YEAR)).isoformat()
        for years in (limit.p10_years, limit.p50_years)
    )
    return say(words.GROWS_TO, bars=bars, early=early, likely=likely)


def cards(made: Examination) -> tuple[tuple[str, str], ...]:
    """Return the questions of whoever decides, with their answers."""
    answers = (
        (words.CARD_WHAT, _what(made)),
        (words.CARD_SURE, _sure(made)),
        (words.CARD_DO, [course_text.action(made)]),
        (words.CARD_WHEN, _when(made)),
        (words.CARD_COST, _costs(made)),
        (words.CARD_OPEN, _open(made)),
    )
    return tuple((say(question), " ".join(answer)) for question, answer in answers)


def _what(made: Examination) -> Iterator[str]:
    """Yield what it is: parts in doubt first."""
    doubted = [part for part in made.parts if part.doubted]
    yield from (numbers.sentence(visit_facts.part_title(part)) for part in doubted)
    verdict = made.verdict
    if verdict.ground in _SHAPED:
        yield say(words.WHAT_SHAPED)
    elif verdict.ground is StateGround.NOTHING_READ:
        yield say(words.WHAT_UNREAD)
    elif verdict.state in (State.DEFECTIVE, State.SUSPECT) and verdict.damage_bars is not None:
        bars = verdict.damage_bars
        yield say(
            words.WHAT[verdict.state],
            bars=numbers.bars(bars.value),
            low=numbers.bars_down(bars.low),
            high=numbers.bars_up(bars.high),
        )
    elif verdict.state in (State.SOUND, State.NOT_DECIDABLE) and verdict.bound_bars is not None:
        yield say(words.WHAT[verdict.state], bound=numbers.bars_up(verdict.bound_bars))
    else:
        yield say(words.WHAT_WITHOUT[verdict.state])


def _sure(made: Examination) -> Iterator[str]:
    """Yield how sure it is: a probability where one may be stated, and what agrees."""
    yield _probability(made)
    verdict, evidence = made.verdict, made.evidence
    if verdict.classes_agreeing:
        yield say(
            words.SURE_COUNT,
            methods=verdict.methods_agreeing,
            classes=verdict.classes_agreeing,
            asked=len(evidence.classes_for) + len(evidence.classes_against),
        )
    yield from (_sure_of(part) for part in made.parts if part.doubted)


def _sure_of(part: PartVerdict) -> str:
    """Return how many kinds of test speak against another part."""
    kinds = {finding.independence_class for finding in part.speaking}
    name = numbers.begins(retell(part.part.value))
    return say(words.SURE_PART, part=name, count=len(kinds))


def _probability(made: Examination) -> str:
    """Return the probability of a damaged cage, or why there is none."""
    posterior = made.evidence.posterior
    if isinstance(posterior, NotKnown):
        return say(words.SURE_NOT, reason=retell(posterior.reason))
    interval = probability_interval(posterior)
    if interval is None:
        return say(words.SURE_NOT, reason=retell(posterior.not_calibrated_because))
    said = posterior.probability_of_defect
    held = words.SURE_HELD_MORE if said > posterior.prior.prevalence else words.SURE_HELD_LESS
    low, high = interval
    return say(
        held if posterior.guarded else words.SURE,
        value=likelihood_text.percent(said),
        low=likelihood_text.percent(low),
        high=likelihood_text.percent(high),
    )


def _when(made: Examination) -> Iterator[str]:
    """Yield the window."""
    course = made.course
    at_once = course.action is CostAction.STOP or course.act_by.latest_days <= 0.0
    by = sentences.act_by(course.act_by)
    if course.action in (CostAction.KEEP, CostAction.WATCH):
        yield say(words.WHEN_NEXT, by=by)
    else:
        yield say(words.WHEN_FIRST[at_once], by=by)
    if course.act_by.outage is not None:
        yield say(words.WHEN_OUTAGE, day=course.act_by.outage.isoformat())


def _costs(made: Examination) -> Iterator[str]:
    """Yield what being wrong costs, or what is missing to say it."""
    costs = made.outlook.costs
    stakes = costs.stakes
    if any(part.doubted for part in made.parts):
        yield say(words.COST_CAGE)
    if stakes.ground is not StakesGround.GIVEN:
        yield say(words.COST_MISSING)
        yield say(words.COST_JUDGED, ratio=cost_text.ratio(stakes.ratio))
        return
    template = words.COST_GIVEN if stakes.false_pull > 0.0 else words.COST_FREE
    yield say(
        template,
        false_pull=grouped(cost_text.cost_in_words(stakes.false_pull, costs)),
        miss=grouped(cost_text.cost_in_words(stakes.miss, costs)),
    )
    expected = next((c.expected for c in costs.costs if c.action is made.course.action), None)
    if expected is not None:
        yield say(words.COST_EXPECTED, cost=grouped(cost_text.cost_in_words(expected, costs)))


def grouped(amount: str) -> str:
    """Return an amount of five digits and more in groups of three."""
    whole, point, rest = amount.partition(".")
    if not whole.isdecimal() or len(whole) < GROUPED_FROM:
        return amount
    return f"{int(whole):,}".replace(",", " ") + point + rest


def _open(made: Examination) -> Iterator[str]:
    """Yield what was not excluded, the likeliest first."""
    everything = [*_open_causes(made), *_open_spots(made)]
    yield from everything[:SHOWN_OPEN]
    if not everything:
        yield say(words.OPEN_NOTHING)
    if len(everything) > SHOWN_OPEN:
        count = len(everything) - SHOWN_OPEN
        yield say(words.OPEN_MORE, count=count, section=say(words.SECTION["causes"]))


def _open_causes(made: Examination) -> Iterator[str]:
    """Yield the causes behind the first one that have a weight or could not be weighed."""
    section = explained(made)
    found = [one for one in made.outlook.explanations if one.cause in section.causes]
    weighed = [one for one in found if not isinstance(one.weight, NotKnown)]
    for one, row in zip(weighed[1:], section.rows[1:], strict=False):
        yield say(words.OPEN_CAUSE, cause=say(words.OPEN_CAUSES[one.cause]), weight=row.weight)
    for one in found:
        if isinstance(one.weight, NotKnown):
            yield say(words.OPEN_ALONE, cause=say(words.OPEN_CAUSES[one.cause]))


def _open_spots(made: Examination) -> Iterator[str]:
    """Yield what these measurements cannot see."""
    causes = explained(made).causes
    for spot in made.evidence.blind_spots:
        if _SAME.get(spot) not in causes:
            yield say(words.OPEN_SPOTS[spot])


def _missing(made: Examination) -> Iterator[Box]:
    """Yield what would allow a verdict, where there is none."""
    undecided = made.verdict.state is State.NOT_DECIDABLE
    if not undecided and not any(part.unanswered for part in made.parts):
        return
    lacked = [sentences.shortfall(made)] if sentences.shortfall(made) else []
    steps = [row.what for row in next_rows(made)]
    items = [*lacked, *steps][:SHOWN_NEXT]
    if items:
        yield Box(title=say(words.MISSING_TITLE), items=tuple(items))
