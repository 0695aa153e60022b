"""What changed in a plant, entry by entry, in words."""

from __future__ import annotations

from cagewise.report.case_text import found_in_words
from cagewise.report.language import say
from cagewise.report.papers import plant_summary_wording as words
from cagewise.report.papers.plant_material import Change, ChangeKind
from cagewise.report.papers.plant_words import damage_in_words, state_in_words
from cagewise.report.ranking_text import parts_doubted
from cagewise.store import Decision, Outcome, Repair

_STOPS = " .\n"


def change_in_words(change: Change) -> str:
    """Return a change as a sentence."""
    if change.kind is ChangeKind.STATE:
        return _state(change)
    if change.kind is ChangeKind.PART and change.after is not None:
        parts = parts_doubted(change.after.keys)
        return say(words.PARTS, day=change.day, motor=change.motor.tag, parts=parts)
    author = "" if change.event is None else change.event.author
    nobody = change.kind is ChangeKind.DECIDED and not author
    return say(
        words.DECIDED_NOBODY if nobody else words.CHANGED[change.kind],
        day=change.day,
        motor=change.motor.tag,
        case="" if change.case is None else change.case.id,
        text=_text(change).strip(_STOPS),
        author=author,
    )


def _text(change: Change) -> str:
    """Return what was noted."""
    if change.kind is ChangeKind.OPENED:
        return "" if change.case is None else change.case.title
    if change.kind is ChangeKind.CLOSED:
        return "" if change.case is None else change.case.closing
    what = None if change.event is None else change.event.what
    if isinstance(what, Outcome):
        return found_in_words(what)
    return what.action if isinstance(what, Decision | Repair) else ""


def _state(change: Change) -> str:
    """Return the change of a cage."""
    if change.after is None:
        return ""
    damage = damage_in_words(change.after.keys)
    said = {
        "day": change.day,
        "motor": change.motor.tag,
        "after": state_in_words(change.after.keys.state),
        "damage": damage,
    }
    if change.before is None:
        return say(words.STATE_FIRST if damage else words.STATE_FIRST_ONLY, **said)
    said["before"] = state_in_words(change.before.keys.state)
    return say(words.STATE_CHANGED if damage else words.STATE_CHANGED_ONLY, **said)
