"""The page of examinations made again, on the terminal: what changed, and why."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from cagewise.decision.costs_policies import CostAction
from cagewise.history.differences import Absent, Kind, Value
from cagewise.report import numbers
from cagewise.report import reexamination_wording as words
from cagewise.report.cost_wording import NAME as ACTIONS
from cagewise.report.facts import Fact
from cagewise.report.history_text import percent
from cagewise.report.page import STYLE_DIM, STYLE_HEADING, Page, page_on
from cagewise.report.reexamination_view import (
    Cause,
    CauseKind,
    Changed,
    Fate,
    ReexaminationView,
    VisitAgain,
)
from cagewise.report.symbols import Symbols
from cagewise.store import ExaminationKeys

if TYPE_CHECKING:
    from rich.console import Console

VISITS_IN_DETAIL = 2
"""Changed visits that are shown in detail when nobody asks for all."""
CHANGES_IN_DETAIL = 14
"""Changes of a visit that are shown when nobody asks for all."""
VISITS_IN_TABLE = 40
"""Changed visits in the table when nobody asks for all."""
LONGEST = 60
"""Letters of a text that is quoted."""


def write_reexamination(
    view: ReexaminationView, console: Console, symbols: Symbols, *, details: bool = False
) -> None:
    """Write what changed on visits that were examined again, and why.

    Parameters
    ----------
    view
        What is written.
    console, symbols
        Where and with which shapes.
    details
        Write every change of every visit.
    """
    page = page_on(console, symbols)
    dry = "" if view.kept else words.DRY
    title = words.TITLE.format(version=view.program_version, dry=dry)
    page.paragraph(title, indent=0, style=STYLE_HEADING)
    if not view.visits:
        page.paragraph(words.NOTHING)
    page.fact_table(_counts(view))
    changed = view.of(Fate.CHANGED)
    if changed:
        _write_changed(page, changed, details=details)
        _write_why(page, changed)
        _write_details(page, changed, details=details)
    _write_refused(page, view.of(Fate.REFUSED))
    if view.kept and any(visit.new is not None for visit in view.visits):
        page.line()
        page.paragraph(words.AFTER, style=STYLE_DIM)


def _counts(view: ReexaminationView) -> list[Fact]:
    """Return how many visits there are of each fate."""
    rows: list[Fact] = []
    for fate, label in words.FATES.items():
        same = view.of(fate)
        if same:
            said = words.COUNTS[fate].format(
                visits=_visits(len(same)),
                states=_others(
                    sum(_state(each.old_keys) != _state(each.new_keys) for each in same)
                ),
                actions=_others(
                    sum(_action(each.old_keys) != _action(each.new_keys) for each in same)
                ),
            )
            rows.append((label, said))
    if view.never_examined:
        count = _visits(view.never_examined)
        rows.append((words.NEVER, words.NEVER_COUNT.format(visits=count)))
    return rows


def _others(count: int) -> str:
    """Return on how many visits something is another."""
    return words.OTHER.format(visits=_visits(count)) if count else words.NO_OTHER


def _visits(count: int) -> str:
    """Return a number of visits in words."""
    return "1 visit" if count == 1 else f"{count} visits"


def _write_changed(page: Page, changed: Sequence[VisitAgain], *, details: bool) -> None:
    """Write one line per visit that changed."""
    page.heading(words.CHANGED_TITLE)
    shown = changed if details else changed[:VISITS_IN_TABLE]
    page.fact_table([(_visit(each), _summary(each)) for each in shown])
    if len(shown) < len(changed):
        page.paragraph(words.MORE_VISITS.format(count=len(changed) - len(shown)))
    for each in shown:
        if each.new is not None and each.new < each.counts:
            said = words.OLDER_COUNTS.format(day=each.day, new=each.new, counts=each.counts)
            page.paragraph(said, style=STYLE_DIM)


def _visit(visit: VisitAgain) -> str:
    """Return which visit it is."""
    site = f"{visit.motor.site}/" if visit.motor.site else ""
    return f"{site}{visit.motor.tag} {visit.day}"


def _summary(visit: VisitAgain) -> str:
    """Return what changed on a visit, in one line."""
    old, new = visit.old_keys, visit.new_keys
    sides = (
        (words.STATE, _state(old), _state(new)),
        (words.PROBABILITY, _probability(old), _probability(new)),
        (words.BARS, _bars(old), _bars(new)),
        (words.ACTION, _action(old), _action(new)),
    )
    said = [f"{name} {_arrow(was, now)}" for name, was, now in sides if was != now]
    readings = {each.name.split(",")[0] for each in visit.changes if each.kind is Kind.READING}
    outside = sum(each.within_interval is False for each in visit.changes)
    if readings:
        said.append(words.READINGS.format(count=len(readings), outside=outside))
    return "; ".join(said) or words.OTHER_CHANGES.format(count=len(visit.changes))


def _arrow(old: str, new: str) -> str:
    """Return two values, or the one if they are the same."""
    return old if old == new else words.ARROW.format(old=old, new=new)


def _state(keys: ExaminationKeys | None) -> str:
    """Return the state of the cage."""
    return "" if keys is None else keys.state


def _action(keys: ExaminationKeys | None) -> str:
    """Return the action in words."""
    if keys is None:
        return ""
    return ACTIONS[CostAction(keys.action)] if keys.action in set(CostAction) else keys.action


def _probability(keys: ExaminationKeys | None) -> str:
    """Return the probability of a defect."""
    if keys is None or keys.probability is None:
        return words.NONE
    return percent(keys.probability)


def _bars(keys: ExaminationKeys | None) -> str:
    """Return the damage in open bars."""
    if keys is None or keys.open_bars is None:
        return words.NONE
    return numbers.bars(keys.open_bars)


def _write_why(page: Page, changed: Sequence[VisitAgain]) -> None:
    """Write what was different from the start, each once with the visits on which it was."""
    page.heading(words.WHY_TITLE)
    seen: dict[CauseKind, dict[str, int]] = {}
    unknown = 0
    for visit in changed:
        unknown += not visit.causes
        for cause in visit.causes:
            counts = seen.setdefault(cause.kind, {})
            counts[_cause(cause)] = counts.get(_cause(cause), 0) + 1
    page.fact_table([(words.CAUSES[kind], _listed(seen[kind], changed)) for kind in seen])
    if unknown:
        said = words.ON_VISITS.format(change=words.UNKNOWN_WHY, visits=_visits(unknown))
        page.fact_table([(words.UNKNOWN, said)])


def _listed(counts: Mapping[str, int], changed: Sequence[VisitAgain]) -> str:
    """Return causes of a kind; of how many visits, where it is not all of them."""
    return "; ".join(
        text
        if count == len(changed)
        else words.ON_VISITS.format(change=text, visits=_visits(count))
        for text, count in counts.items()
    )


def _cause(cause: Cause) -> str:
    """Return what was different from the start."""
    change = _arrow(_value(cause.old), _value(cause.new))
    return words.CAUSE.format(name=cause.name.replace("_", " "), change=change)


def _write_details(page: Page, changed: Sequence[VisitAgain], *, details: bool) -> None:
    """Write every change of a few visits."""
    if not details and len(changed) > VISITS_IN_DETAIL:
        return
    for visit in (each for each in changed if each.changes):
        new = words.NOT_KEPT if visit.new is None else str(visit.new)
        title = words.DETAIL.format(
            tag=visit.motor.tag, day=visit.day, old=visit.old, arrow=words.TO, new=new
        )
        page.heading(title)
        shown = visit.changes if details else visit.changes[:CHANGES_IN_DETAIL]
        page.fact_table([(_name(each), _change(each)) for each in shown])
        if len(shown) < len(visit.changes):
            page.paragraph(words.MORE_CHANGES.format(count=len(visit.changes) - len(shown)))


def _name(changed: Changed) -> str:
    """Return what changed."""
    return f"{words.KINDS.get(changed.kind, changed.kind)}: {changed.name.replace('_', ' ')}"


def _change(changed: Changed) -> str:
    """Return how it changed."""
    said = _arrow(_value(changed.old), _value(changed.new))
    if changed.within_interval is None:
        return said
    return (words.WITHIN if changed.within_interval else words.OUTSIDE).format(change=said)


def _value(value: Value) -> str:
    """Return a value of a document in words."""
    if value is None or isinstance(value, Absent | bool):
        return words.ABSENT if value is Absent.ABSENT else words.PLAIN[value]
    if isinstance(value, int | float):
        return f"{value:.4g}"
    if isinstance(value, str):
        return value if len(value) <= LONGEST else f"{value[:LONGEST]}..."
    if isinstance(value, Mapping):
        return ", ".join(f"{key} {_value(each)}" for key, each in value.items())
    return f"[{', '.join(map(_value, value))}]"


def _write_refused(page: Page, refused: Sequence[VisitAgain]) -> None:
    """Write which visits could not be examined again, those of one reason together."""
    if not refused:
        return
    page.heading(words.REFUSED_TITLE)
    reasons: dict[str, list[str]] = {}
    for visit in refused:
        name = f"{visit.motor.tag} {visit.day}"
        reasons.setdefault(visit.refusal, []).append(name)
    for reason, names in reasons.items():
        page.paragraph(f"{', '.join(names)}: {reason}", first="- ")
