"""The page of a case on the terminal: its story, where it stands, what is still owed."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import TYPE_CHECKING

from cagewise.decision.verdict import State
from cagewise.history.limits import repair_limits
from cagewise.history.repair import Acceptance, QuantityComparison
from cagewise.quantities import Estimate, NotKnown
from cagewise.report import history_wording as words
from cagewise.report import number_wording, numbers, wording
from cagewise.report.facts import Fact
from cagewise.report.history_text import percent, title
from cagewise.report.history_views import CaseView, ExaminedView, RepairView
from cagewise.report.language import retell, say
from cagewise.report.likelihood_wording import CAUSE
from cagewise.report.page import STYLE_DIM, STYLE_HEADING, Page, page_on
from cagewise.report.symbols import Symbols
from cagewise.store import BarDamage, Decision, Event, ExaminationKeys, Found, Outcome, Repair

if TYPE_CHECKING:
    from rich.console import Console


def write_case(view: CaseView, console: Console, symbols: Symbols) -> None:
    """Write the story of a case in the order of days."""
    page, case = page_on(console, symbols), view.case
    title(page, view.motor)
    heading = say(words.CASE_TITLE, number=case.id, title=case.title)
    page.paragraph(heading, indent=0, style=STYLE_HEADING)
    if case.closed_on is None:
        days = (view.today - case.opened_on).days
        page.paragraph(numbers.sentence(say(words.CASE_OPEN, day=case.opened_on, days=days)))
    else:
        said = say(
            words.CASE_CLOSED, opened=case.opened_on, closed=case.closed_on, why=case.closing
        )
        page.paragraph(numbers.sentence(said))
    page.heading(say(words.STORY))
    page.fact_table(_story(view))
    if view.corrected:
        page.paragraph(say(words.CORRECTED, count=view.corrected), style=STYLE_DIM)
    _stands(page, view)
    for repair in view.repairs:
        _repair(page, repair)
    page.heading(say(words.OWED))
    for line in owed(view) or (say(words.OWED_NOTHING),):
        page.paragraph(line, first=f"{symbols.bullet} ")


def _story(view: CaseView) -> list[Fact]:
    """Return what happened, by day; on one day what was measured stands first."""
    case = view.case
    told = [(case.opened_on, 1, say(words.WORD_OPENED), case.title)]
    told += [
        (e.examination.day, 0, say(words.WORD_EXAMINED), examined_in_words(e))
        for e in view.examined
    ]
    told += [(event.day, 2, *_event(event)) for event in view.events]
    if case.closed_on is not None:
        told.append((case.closed_on, 3, say(words.WORD_CLOSED), case.closing))
    told.sort(key=lambda each: each[:2])
    return [(f"{day} {word}", text) for day, _, word, text in told]


def examined_in_words(view: ExaminedView) -> str:
    """Return an examination in a line."""
    keys, counts = view.examination.keys, ""
    parts = "".join(say(words.EXAMINED_PART, part=part) for part, _ in view.parts)
    if not isinstance(view.methods_agreeing, NotKnown) and view.methods_agreeing:
        counts = say(
            words.EXAMINED_COUNTS, methods=view.methods_agreeing, classes=view.classes_agreeing
        )
    known = keys.probability is not None
    return say(
        words.EXAMINED,
        state=say(wording.STATE[State(keys.state)]),
        bars=_bars(keys),
        probability=say(words.EXAMINED_PROBABILITY, probability=percent(keys.probability or 0.0))
        if known
        else "",
        counts=counts,
        cause=_cause(view),
        parts=parts,
    )


def _cause(view: ExaminedView) -> str:
    """Return what else makes the lines, as a clause."""
    if view.cause is None:
        return ""
    cause, weight = view.cause
    return say(words.EXAMINED_CAUSE, cause=say(CAUSE[cause]), weight=percent(weight))


def _bars(keys: ExaminationKeys) -> str:
    """Return the open bars of an examination as a clause, empty where it stated none.

    Of a sound cage it is the bound: what is read of it is its own unevenness.
    """
    damage = damage_of(keys)
    if State(keys.state) is State.SOUND and keys.upper_limit_bars is not None:
        return say(words.EXAMINED_BOUND, bars=numbers.bars_up(keys.upper_limit_bars))
    return "" if damage is None else say(words.EXAMINED_BARS, bars=numbers.bars_interval(damage))


def damage_of(keys: ExaminationKeys) -> Estimate | None:
    """Return the damage that an examination stated."""
    if keys.open_bars is None or keys.open_bars_low is None or keys.open_bars_high is None:
        return None
    return Estimate(keys.open_bars, keys.open_bars_low, keys.open_bars_high)


def _event(event: Event) -> tuple[str, str]:
    """Return the word and the text of an event."""
    word, said = happened(event)
    author = say(words.BY, author=event.author) if event.author else ""
    files = ", ".join(each.name for each in event.attachments)
    attached = numbers.sentence(say(words.ATTACHED, names=files)) if files else ""
    parts = [numbers.sentence(part) for part in (said, event.text)]
    return word, " ".join(filter(None, (*parts, attached, author)))


def happened(event: Event) -> tuple[str, str]:
    """Return the word for a kind of event, and what it says."""
    match event.what:
        case Decision(action=action, due_on=due):
            said = action if due is None else say(words.DUE_BY, action=action, day=due)
            return say(words.WORD_DECIDED), said
        case Repair(action=action):
            return say(words.WORD_REPAIRED), action
        case Outcome() as outcome:
            return say(words.WORD_FOUND), found_in_words(outcome)
        case _:
            return say(words.WORD_NOTED), ""


def found_in_words(outcome: Outcome) -> str:
    """Return what was found: state, number and places of the bars."""
    said = [say(words.FOUND[outcome.found])]
    named = sum(bar.damage is BarDamage.OPEN for bar in outcome.bars)
    if outcome.open_bars and outcome.open_bars != named:
        said.append(say(words.FOUND_COUNT, count=outcome.open_bars))
    alike: dict[tuple[str, str], list[int]] = {}
    for bar in outcome.bars:
        alike.setdefault((bar.damage.value, bar.place.value), []).append(bar.bar)
    for (damage, place), bars in alike.items():
        where = say(words.AT_PLACE, place=say(place)) if place else ""
        form = words.FOUND_ONE if len(bars) == 1 else words.FOUND_MORE
        said.append(say(form, bars=_listed(bars), damage=say(damage), place=where))
    return ", ".join(said)


def _listed(bars: Sequence[int]) -> str:
    """Return numbers as "4", "4 and 5", "4, 5 and 6"."""
    return numbers.listed(list(map(str, bars)))


def _stands(page: Page, view: CaseView) -> None:
    """Write the last examination, what is decided and not done, and our call against the truth."""
    rows: list[Fact] = []
    if view.examined:
        last = view.examined[-1]
        rows.append((f"{last.examination.day}", last.statement or examined_in_words(last)))
        rows += [
            ("", numbers.sentence(say(words.PART_SAID, part=part, said=said)))
            for part, said in last.parts
        ]
        if view.case.is_open and last.advice:
            rows.append((say(words.ADVISED), last.advice))
    pending = pending_decision(view)
    if pending is not None and pending.due_on is not None:
        rows.append((say(words.WORD_DECIDED), due_in_words(pending, pending.due_on, view.today)))
    if rows:
        page.heading(say(words.STANDS))
        page.fact_table(rows)
    lines = [line for event in view.events if (line := against(view, event))]
    if lines:
        page.heading(say(words.AGAINST))
        for line in lines:
            page.paragraph(line)


def pending_decision(view: CaseView) -> Decision | None:
    """Return the last decision of an open case after which nothing was found or repaired."""
    return last_decision(view.events) if view.case.is_open else None


def last_decision(events: Sequence[Event]) -> Decision | None:
    """Return the last decision after which nothing was found or repaired; events by day."""
    event = waiting_decision(events)
    return event.what if event is not None and isinstance(event.what, Decision) else None


def waiting_decision(events: Sequence[Event]) -> Event | None:
    """Return the entry of the last decision after which nothing was found or repaired."""
    last: Event | None = None
    for event in events:
        if isinstance(event.what, Decision):
            last = event
        elif isinstance(event.what, Repair | Outcome):
            last = None
    return last


def due_in_words(decision: Decision, due_on: date, today: date) -> str:
    """Return a decision with the days that are left."""
    when = overdue_days_in_words(due_on, today)
    return say(words.PENDING, action=decision.action, day=due_on, when=when)


def overdue_days_in_words(due_on: date, today: date) -> str:
    """Return the days that are left to a day, or those since it."""
    days = (due_on - today).days
    return say(words.IN_DAYS, days=days) if days >= 0 else say(words.OVERDUE, days=-days)


def against(view: CaseView, event: Event) -> str:
    """Return our last call before an opening, against what was found; empty where there is none."""
    outcome, call = event.what, view.calls.get(event.id)
    if not isinstance(outcome, Outcome) or outcome.found is Found.NOT_OPENED or call is None:
        return ""
    return say(
        words.CALLED,
        verdict=_verdict(State(call.examination.keys.state), outcome.found),
        day=call.examination.day,
        statement=call.statement or numbers.sentence(examined_in_words(call)),
        found_on=event.day,
        found=found_in_words(outcome),
        held=_held(call.examination.keys, outcome),
    )


def judged(keys: ExaminationKeys, outcome: Outcome) -> str:
    """Return what became of a call, and whether the bars found lie where we said."""
    return _verdict(State(keys.state), outcome.found) + _held(keys, outcome)


def _held(keys: ExaminationKeys, outcome: Outcome) -> str:
    """Return whether the bars found lie where we said; empty where that cannot be told."""
    damage, count, bound = damage_of(keys), outcome.open_bars, keys.upper_limit_bars
    if count is None or outcome.found is not Found.DAMAGED:
        return ""
    if State(keys.state) is State.SOUND and bound is not None:
        return "" if count <= bound else say(words.ABOVE)
    if damage is None:
        return ""
    if damage.low <= count <= damage.high:
        return say(words.HELD)
    return say(words.NOT_HELD, low=numbers.bars(damage.low), high=numbers.bars(damage.high))


def _verdict(said: State, found: Found) -> str:
    """Return what became of a call."""
    if said is State.NOT_DECIDABLE:
        return say(words.NOT_DECIDED)
    if (said is not State.SOUND) == (found is Found.DAMAGED):
        return say(words.RIGHT)
    return say(words.MISSED) if found is Found.DAMAGED else say(words.FALSE_WARNING)


def _repair(page: Page, view: RepairView) -> None:
    """Write whether a repair is accepted, with the leading readings before and after it."""
    limits, comparison = repair_limits(), view.comparison
    if comparison is None or view.baseline is None:
        page.heading(
            say(words.REPAIR, day=view.event.day, acceptance=say(words.REPAIR_KIND[view.kind]))
        )
        page.paragraph(say(words.NO_BASELINE, days=f"{limits.largest_age_days:.0f}"))
        return
    acceptance = say(words.ACCEPTANCE[comparison.acceptance])
    page.heading(say(words.REPAIR, day=view.event.day, acceptance=acceptance))
    days = (view.baseline.day - view.event.day).days
    page.paragraph(numbers.sentence(retell(comparison.because)))
    page.paragraph(say(words.BASELINE, day=view.baseline.day, days=days), style=STYLE_DIM)
    leading = [q for q in comparison.quantities if q.leads]
    leading.sort(key=lambda each: WORST_FIRST.index(each.acceptance))
    page.fact_table([(say(words.ACCEPTANCE[q.acceptance]), _compared(q)) for q in leading])


WORST_FIRST = (Acceptance.NOT_ACCEPTED, Acceptance.CANNOT_TELL, Acceptance.ACCEPTED)


def _compared(quantity: QuantityComparison) -> str:
    """Return one reading before and after; why, where it is not accepted."""
    form = words.COMPARED_NEW if quantity.before is None else words.COMPARED
    said = say(
        form,
        title=retell(quantity.title),
        before=amount(quantity.before, quantity.unit),
        after=amount(quantity.after, quantity.unit),
    )
    accepted = quantity.acceptance is Acceptance.ACCEPTED
    return said if accepted else say(words.BECAUSE, said=said, why=retell(quantity.because))


def amount(value: Estimate | None, unit: str) -> str:
    """Return a quantity of a reading; a dash where there is none."""
    if value is None:
        return "\N{EN DASH}"
    if unit == "open bars":
        return f"{numbers.bars_interval(value)} {say(number_wording.OPEN_BARS)}"
    return numbers.measured(value, unit)


def owed(view: CaseView) -> tuple[str, ...]:
    """Return what is still owed: by the shop, to be measured, to be told."""
    lines = []
    for repair in view.repairs:
        if repair.owed:
            items = "; ".join(say(words.MISSING[item]) for item in repair.owed)
            lines.append(say(words.OWED_SHOP, items=items))
        missing = () if repair.comparison is None else repair.comparison.missing
        if missing:
            lines.append(
                say(words.OWED_MEASUREMENT, items="; ".join(retell(item) for item in missing))
            )
    return (*lines, *_owed_outcome(view))


def _owed_outcome(view: CaseView) -> list[str]:
    """Return what nobody has told of the open motor."""
    found = [event for event in view.events if isinstance(event.what, Outcome)]
    if not found:
        return [say(words.OWED_OUTCOME)] if view.repairs else []
    lines, last = [], found[-1].what
    if isinstance(last, Outcome) and last.found is Found.DAMAGED and last.open_bars is None:
        lines.append(say(words.OWED_COUNT))
    if not any(event.attachments for event in found):
        lines.append(say(words.OWED_PHOTOGRAPH))
    return lines
