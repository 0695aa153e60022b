"""What became of a case, on page one of its report: calls, repairs, and who decided what."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from cagewise.decision.costs_policies import CostAction
from cagewise.report import history_wording, numbers
from cagewise.report.case_page import verdicts
from cagewise.report.language import retell, say
from cagewise.report.papers import case_report_wording as words
from cagewise.report.papers.case_material import CaseMaterial
from cagewise.report.papers.paper import Block, Box, Paragraph, Signatures, Tone
from cagewise.store import Decision, Event, Outcome, Repair

SHOWN_STORY = 4
"""Things that became of a case that page one names: the last ones."""
MOST_CHARACTERS = 330
"""Of what somebody wrote, on page one; all of it stands in the story."""
MOST_NAME = 60


def became(material: CaseMaterial) -> Iterator[Box]:
    """Yield what became of the case: our calls against what was found, repairs, the closing."""
    view = material.case
    if view is None:
        return
    items = list(verdicts(view))
    for repair in view.repairs:
        day = repair.event.day.isoformat()
        if repair.comparison is None:
            items.append(say(words.STORY_REPAIR_OPEN, day=day))
            continue
        items.append(
            say(
                words.STORY_REPAIR,
                day=day,
                acceptance=say(history_wording.ACCEPTANCE[repair.comparison.acceptance]),
                because=numbers.sentence(retell(repair.comparison.because)),
            )
        )
    if view.case.closed_on is not None:
        why = numbers.sentence(view.case.closing)
        items.append(say(words.CLOSED, day=view.case.closed_on.isoformat(), why=why))
    if items:
        shown = tuple(shortened(item) for item in items[-SHOWN_STORY:])
        yield Box(title=say(words.STORY_TITLE), items=shown)


def shortened(text: str, most: int = MOST_CHARACTERS) -> str:
    """Return the beginning of what somebody wrote, where page one has no room for all of it."""
    return text if len(text) <= most else text[: most - 1].rstrip() + "\N{HORIZONTAL ELLIPSIS}"


def signed(material: CaseMaterial) -> Iterator[Block]:
    """Yield who decided what, or lines for whoever does."""
    view = material.case
    event = None if view is None or not view.case.is_open else last_signed(view.events)
    stale = event is not None and event.day < material.measured_on
    if event is not None and isinstance(event.what, Decision) and not stale:
        yield Paragraph(text=_decided(event, event.what, material))
        return
    closed = view is not None and not view.case.is_open
    if not closed and material.examination.course.action is not CostAction.KEEP:
        yield Paragraph(text=say(words.UNDECIDED), tone=Tone.NOTE)
        yield Signatures(roles=tuple(say(role) for role in words.ROLES))


def last_signed(events: tuple[Event, ...]) -> Event | None:
    """Return the last decision after which nothing was found or repaired; events by day."""
    last: Event | None = None
    for event in events:
        if isinstance(event.what, Decision):
            last = event
        elif isinstance(event.what, Repair | Outcome):
            last = None
    return last


def _decided(event: Event, what: Decision, material: CaseMaterial) -> str:
    """Return a decision with its day and its name, and whether it is later than advised."""
    action = numbers.sentence(shortened(what.action))
    said = (
        say(words.SIGNED, action=action)
        if what.due_on is None
        else say(words.SIGNED_DUE, action=action, day=what.due_on.isoformat())
    )
    day = event.day.isoformat()
    by = (
        say(words.SIGNED_BY, author=shortened(event.author, MOST_NAME), day=day)
        if event.author
        else say(words.SIGNED_NOBODY, day=day)
    )
    latest: date | None = material.examination.course.act_by.latest
    late = latest is not None and what.due_on is not None and what.due_on > latest
    return " ".join([said, by, *([say(words.SIGNED_LATE)] if late else [])])
