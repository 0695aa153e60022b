"""A case laid out for a page: its story entry by entry, and a repair before and after."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from cagewise.history.repair import QuantityComparison
from cagewise.quantities import Estimate
from cagewise.report import history_wording as words
from cagewise.report import numbers
from cagewise.report.case_text import (
    WORST_FIRST,
    against,
    amount,
    due_in_words,
    examined_in_words,
    happened,
    pending_decision,
)
from cagewise.report.history_views import CaseView, RepairView
from cagewise.report.language import retell, say
from cagewise.store import Attachment, Event

MARGIN = 0.06
"""Part of the width left free at both ends of a drawn interval."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """One entry of a story."""

    day: date
    word: str
    text: str
    remark: str = ""
    """In the words of whoever noted it."""
    author: str = ""
    event: Event | None = None
    examination_id: int | None = None
    state: str = ""
    """Of the cage, where it was examined."""
    files: tuple[Attachment, ...] = ()


def told(view: CaseView) -> list[Told]:
    """Return what happened, by day; on one day what was measured stands first."""
    case = view.case
    entries = [
        (0, _examined(each.examination.day, each.examination.id, each.examination.keys.state, text))
        for each in view.examined
        if (text := examined_in_words(each))
    ]
    entries.append((1, Told(day=case.opened_on, word=say(words.WORD_OPENED), text=case.title)))
    entries += [(2, _event(event)) for event in view.events]
    if case.closed_on is not None:
        entries.append(
            (3, Told(day=case.closed_on, word=say(words.WORD_CLOSED), text=case.closing))
        )
    entries.sort(key=lambda each: (each[1].day, each[0]))
    return [entry for _, entry in entries]


def _examined(day: date, number: int, state: str, text: str) -> Told:
    return Told(
        day=day,
        word=say(words.WORD_EXAMINED),
        text=numbers.sentence(text),
        examination_id=number,
        state=state,
    )


def _event(event: Event) -> Told:
    """Return something that somebody noted."""
    word, said = happened(event)
    return Told(
        day=event.day,
        word=word,
        text=numbers.sentence(said),
        remark=event.text,
        author=event.author,
        event=event,
        files=event.attachments,
    )


def verdicts(view: CaseView) -> list[str]:
    """Return our calls against what was found."""
    return [line for event in view.events if (line := against(view, event))]


def pending(view: CaseView) -> str:
    """Return what is decided and not done; empty if nothing is."""
    decision = pending_decision(view)
    if decision is None:
        return ""
    if decision.due_on is None:
        return decision.action
    return due_in_words(decision, decision.due_on, view.today)


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """An interval, percent of the width."""

    low: float
    high: float
    value: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Compared:
    """One reading before and after a repair."""

    title: str
    before: str
    after: str
    drawn_before: Drawn | None
    drawn_after: Drawn | None
    word: str
    because: str
    leads: bool


def compared(repair: RepairView) -> list[Compared]:
    """Return the readings of a repair, those that decide first, of them the worst first."""
    if repair.comparison is None:
        return []
    ordered = sorted(
        repair.comparison.quantities,
        key=lambda each: (not each.leads, WORST_FIRST.index(each.acceptance)),
    )
    return [_compared(each) for each in ordered if each.before or each.after]


def _compared(quantity: QuantityComparison) -> Compared:
    shown = [each for each in (quantity.before, quantity.after) if each is not None]
    low = min(0.0, *(each.low for each in shown))
    high = max(each.high for each in shown)
    room = MARGIN * ((high - low) or 1.0)
    axis = (low - room, high + room)
    return Compared(
        title=retell(quantity.title),
        before=amount(quantity.before, quantity.unit),
        after=amount(quantity.after, quantity.unit),
        drawn_before=_drawn(quantity.before, axis),
        drawn_after=_drawn(quantity.after, axis),
        word=say(words.ACCEPTANCE[quantity.acceptance]),
        because=retell(quantity.because),
        leads=quantity.leads,
    )


def _drawn(value: Estimate | None, axis: tuple[float, float]) -> Drawn | None:
    """Return an interval on an axis; None where there is none."""
    if value is None:
        return None
    begin, end = axis
    low, middle, high = (
        round(100.0 * (each - begin) / (end - begin), 2)
        for each in (value.low, value.value, value.high)
    )
    return Drawn(low=low, high=high, value=middle)
