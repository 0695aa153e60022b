"""What is due in a plant: decisions that wait, and what is advised and not decided."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from cagewise.report.asked import REMOVALS, Asked, asked_of, hours_of, what_of
from cagewise.report.history_text import day_of
from cagewise.report.language import say
from cagewise.report.papers import plant_summary_wording as words
from cagewise.report.papers.plant_material import OpenCase, PlantMaterial
from cagewise.store import Decision


@dataclass(frozen=True, slots=True, kw_only=True)
class Due:
    """One thing that is to be done."""

    name: str
    """Of the motor."""
    day: date | None
    """By which; None where nobody has set one, or any day will do."""
    what: str
    """In words."""
    asked: Asked
    hours: float | None = None
    """Of two people; None where no figure is kept."""

    @property
    def decided(self) -> bool:
        """Whether somebody has decided it."""
        return self.asked == "decided"

    @property
    def is_measurement(self) -> bool:
        """Whether it is a measurement that an examination, or nobody yet, asks for."""
        return not self.decided and self.asked not in REMOVALS


def due_things(material: PlantMaterial) -> tuple[Due, ...]:
    """Return everything that is to be done, the longest overdue first; what has no day last."""
    found = [*_decisions(material), *_advice(material)]
    return tuple(sorted(found, key=lambda due: (due.day or date.max, due.name)))


def overdue(material: PlantMaterial) -> tuple[Due, ...]:
    """Return what should have been done before the day."""
    return tuple(d for d in due_things(material) if d.day is not None and d.day < material.day)


def decided_later(material: PlantMaterial) -> list[tuple[OpenCase, date, date]]:
    """Return the cases decided for a later day than is advised, with both days."""
    found = []
    for each in material.cases:
        what = None if each.decided is None else each.decided.what
        last = material.ranking.latest.get(each.name)
        latest = None if last is None else last.keys.act_by_latest
        due = what.due_on if isinstance(what, Decision) else None
        if due is not None and latest is not None and due > latest:
            found.append((each, due, latest))
    return found


def _decisions(material: PlantMaterial) -> list[Due]:
    """Return the decisions that wait."""
    waiting = []
    for each in material.cases:
        what = None if each.decided is None else each.decided.what
        if isinstance(what, Decision):
            said = say(words.WHAT_DECIDED, what=what.action, case=each.case.id)
            waiting.append(Due(name=each.name, day=what.due_on, what=said, asked="decided"))
    return waiting


def _advice(material: PlantMaterial) -> list[Due]:
    """Return what is advised where nobody has decided anything since."""
    view = material.ranking
    decided: dict[str, date] = {}
    for each in material.cases:
        if each.decided is not None:
            decided[each.name] = max(each.decided.day, decided.get(each.name, date.min))
    advised = []
    for motor in view.ranking.motors:
        last, asked = view.latest.get(motor.tag), asked_of(view, motor)
        newest = decided.get(motor.tag)
        if newest is not None and last is not None and last.day <= newest:
            continue
        keys = None if last is None else last.keys
        advised.append(
            Due(
                name=motor.tag,
                day=None if asked == "first" else day_of(motor.due_on),
                what=what_of(asked, keys),
                asked=asked,
                hours=hours_of(asked, keys),
            )
        )
    return advised
