"""What was understood of a return sheet, in lines: for the terminal and for a page."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from cagewise.decision.repair_acceptance import Beyond
from cagewise.decision.repair_specification import LimitKind
from cagewise.history.missing import MissingItem
from cagewise.report import numbers
from cagewise.report.history_wording import MISSING
from cagewise.report.language import say
from cagewise.report.papers import repair_return_wording as words
from cagewise.store import Outcome, Repair

_PARTS = frozenset(
    {
        LimitKind.UNBALANCE_FORM,
        LimitKind.UNBALANCE_RANDOM,
        LimitKind.AIR_GAP,
        LimitKind.CORE_RISE,
        LimitKind.NO_LOAD_VOLTAGE,
        LimitKind.NO_LOAD_CURRENT,
    }
)


@dataclass(frozen=True, slots=True, kw_only=True)
class ReturnView:
    """What a page of a return sheet shows."""

    motor: str
    case: int
    answers: int
    bars: int
    photographs: int
    repair: Repair | None
    kind: str
    repaired_on: date
    outcome: Outcome | None
    beyond: tuple[Beyond, ...]
    changes: tuple[tuple[str, str, str], ...]
    """Key, before, after."""
    changed_from: date
    warnings: tuple[str, ...]
    owed: tuple[MissingItem, ...]
    missing_photographs: tuple[str, ...]
    carried: tuple[str, ...]


def return_title(view: ReturnView) -> str:
    """Return what was read, in a line."""
    return say(
        words.READ,
        motor=view.motor,
        case=view.case,
        answers=view.answers,
        bars=view.bars,
        photographs=view.photographs,
    )


def return_sections(view: ReturnView) -> Iterator[tuple[str, list[str]]]:
    """Yield titles with their lines."""
    yield say(words.UNDERSTOOD), list(_understood(view))
    yield say(words.BEYOND), beyond_lines(view) or [say(words.NOTHING_BEYOND)]
    changes = [_change(*each) for each in view.changes]
    yield say(words.CHANGES, day=view.changed_from), changes or [say(words.NO_CHANGES)]
    if view.warnings:
        yield say(words.WARNINGS), [numbers.sentence(each) for each in view.warnings]
    owed = [say(MISSING[item]) for item in view.owed]
    yield say(words.OWED), owed or [say(words.NOTHING_OWED)]


def beyond_lines(view: ReturnView) -> list[str]:
    """Return what lies beyond a limit, a line each."""
    return [_beyond(each) for each in view.beyond]


def _understood(view: ReturnView) -> Iterator[str]:
    """Yield what the sheet makes of the case."""
    if view.outcome is not None:
        bars = view.outcome.open_bars
        counted = say(words.NOT_COUNTED) if bars is None else str(bars)
        yield say(words.OUTCOME_KEPT, found=say(view.outcome.found.value), bars=counted)
    if view.repair is None:
        yield say(words.INTERIM)
    else:
        yield say(
            words.REPAIR_KEPT, day=view.repaired_on, action=view.repair.action, kind=say(view.kind)
        )
    if view.carried:
        yield say(words.CARRIED, names=", ".join(view.carried))
    if view.missing_photographs:
        yield say(words.PHOTOGRAPHS_MISSING, names=", ".join(view.missing_photographs))


def _change(key: str, before: str, after: str) -> str:
    """Return one change of a motor file."""
    if not before:
        return say(words.ADDED, key=key, after=after)
    template = words.CHANGE if after else words.DROPPED
    return say(template, key=key, before=before, after=after)


def _beyond(found: Beyond) -> str:
    """Return a number beyond its limit."""
    value, limit = (_written(found.kind, each) for each in (found.value, found.limit))
    return say(words.BEYOND_LINE, what=say(words.BEYOND_WHAT[found.kind]), value=value, limit=limit)


def _written(kind: LimitKind, value: float) -> str:
    """Return a value in the unit in which its limit is stated."""
    if kind in _PARTS:
        return say(words.PERCENT, value=f"{100.0 * value:.2g}")
    if kind is LimitKind.INSULATION_MIN:
        return numbers.plain(float(f"{value:.3g}"), "ohm")
    return f"{value:.3g}"
