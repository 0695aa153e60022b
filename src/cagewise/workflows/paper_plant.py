"""Use case: the summary of a plant for the meeting of a month."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from datetime import date, timedelta

from cagewise import __version__
from cagewise.errors import UsageError
from cagewise.report.case_text import waiting_decision
from cagewise.report.history_views import RankingView
from cagewise.report.papers.plant_material import (
    Change,
    ChangeKind,
    OpenCase,
    OpenedCall,
    PlantMaterial,
    StatedCosts,
)
from cagewise.report.ranking_text import DOUBTED
from cagewise.store import Case, Decision, Event, KeptExamination, MotorEntry, Outcome, Plant
from cagewise.workflows.opened_motors import opened_motors
from cagewise.workflows.plant_history import open_cases, rank, today_of
from cagewise.workflows.plant_points import described, name_of, standing

DECEMBER = 12
_MONTH = re.compile(r"((?:19|2[01])[0-9]{2})-(0[1-9]|1[0-2])")


def plant_material(
    plant: Plant, month: date | None = None, *, today: date | None = None
) -> PlantMaterial:
    """Return a plant at the end of a month, as far as it was known from what lies before.

    Parameters
    ----------
    plant
        Open.
    month
        Any day of it; the last month that is over if None. One that has not begun says what will
        be due.
    today
        By the plant's calendar if None; a month that is not over ends on it.
    """
    today = today or today_of(plant)
    first = (month or today.replace(day=1) - timedelta(days=1)).replace(day=1)
    last = _last_of(first)
    day = min(last, today) if first <= today else last
    view = rank(plant, today=day, as_of=True)
    motors = {name_of(each): each for each in plant.motors.all(on=day)}
    numbers = {motor.id: name for name, motor in motors.items()}
    opened = opened_motors(plant, today=day, until=day)
    changes = tuple(sorted(_changes(plant, view, motors, first, day), key=_order))
    changed = {change.motor.id for change in changes if change.after is not None}
    measured = [name for name, each in view.latest.items() if each.day >= first]
    return PlantMaterial(
        version=__version__,
        plant=plant.about.name,
        first=first,
        day=day,
        ranking=view,
        motors=motors,
        costs=_costs(plant, motors),
        measured=len(measured),
        unchanged=tuple(sorted(name for name in measured if motors[name].id not in changed)),
        changes=changes,
        cases=tuple(_open(plant, motors, numbers, day)),
        calls=opened.view,
        opened=tuple(
            OpenedCall(motor=each.motor, event=each.event, outcome=each.event.what, call=each.call)
            for each in opened.motors
            if isinstance(each.event.what, Outcome)
        ),
    )


def month_of(text: str) -> date | None:
    """Return the first day of a month as it was written; None where none is said.

    Raises
    ------
    UsageError
        If it is no month from 1900 to 2199.
    """
    if not text:
        return None
    found = _MONTH.fullmatch(text)
    if found is None:
        raise UsageError(f"must be a month as in 2031-02, got {text!r}", where="month")
    return date(int(found[1]), int(found[2]), 1)


def _last_of(first: date) -> date:
    """Return the last day of a month."""
    if first.month == DECEMBER:
        return first.replace(day=31)
    return first.replace(month=first.month + 1) - timedelta(days=1)


def _costs(plant: Plant, motors: Mapping[str, MotorEntry]) -> dict[str, StatedCosts]:
    """Return what motor files state of costs."""
    bare = [motor for motor in motors.values() if motor.facts is None]
    files = plant.motors.files(bare) if bare else {}
    stated = {}
    for name, motor in motors.items():
        said = described(motor, files.get(motor.id, "")).criticality
        if said.false_pull_cost is not None or said.miss_cost is not None:
            stated[name] = StatedCosts(false_pull=said.false_pull_cost, miss=said.miss_cost)
    return stated


def _order(change: Change) -> tuple[date, int, str]:
    return change.day, tuple(ChangeKind).index(change.kind), name_of(change.motor)


def _changes(
    plant: Plant, view: RankingView, motors: Mapping[str, MotorEntry], first: date, day: date
) -> Iterator[Change]:
    """Yield what changed from the first of a month to a day."""
    before = plant.examinations.latest(until=first - timedelta(days=1))
    earlier = {each.motor_id: each for each in before}
    for name, last in view.latest.items():
        if last.day >= first:
            yield from _state(motors[name], earlier.get(last.motor_id), last)
    by_number = {motor.id: motor for motor in motors.values()}
    for case in plant.cases.all():
        motor = by_number.get(case.motor_id)
        if motor is not None and case.opened_on <= day and (case.closed_on or day) >= first:
            yield from _of_case(plant, case, motor, first, day)
    for event in (*plant.cases.repairs(), *standing(plant.cases.outcomes())):
        motor = by_number.get(event.motor_id)
        if motor is not None and first <= event.day <= day:
            found = isinstance(event.what, Outcome)
            kind = ChangeKind.FOUND if found else ChangeKind.REPAIRED
            yield Change(day=event.day, motor=motor, kind=kind, event=event)


def _state(
    motor: MotorEntry, before: KeptExamination | None, after: KeptExamination
) -> Iterator[Change]:
    """Yield the change of a cage, and that of another part, if it is one."""
    kinds = []
    if before is None or before.keys.state != after.keys.state:
        kinds.append(ChangeKind.STATE)
    if _parts(after) - (set() if before is None else _parts(before)):
        kinds.append(ChangeKind.PART)
    for kind in kinds:
        yield Change(day=after.day, motor=motor, kind=kind, before=before, after=after)


def _parts(examination: KeptExamination) -> set[tuple[str, str]]:
    """Return the parts beside the cage that are in doubt, with their states."""
    states = (("winding", examination.keys.winding), ("insulation", examination.keys.insulation))
    return {(part, state) for part, state in states if state in DOUBTED}


def _of_case(
    plant: Plant, case: Case, motor: MotorEntry, first: date, day: date
) -> Iterator[Change]:
    """Yield what changed in a case."""
    if case.opened_on >= first:
        yield Change(day=case.opened_on, motor=motor, kind=ChangeKind.OPENED, case=case)
    for event in standing(plant.cases.events(case)):
        if isinstance(event.what, Decision) and first <= event.day <= day:
            yield Change(
                day=event.day, motor=motor, kind=ChangeKind.DECIDED, case=case, event=event
            )
    if case.closed_on is not None and first <= case.closed_on <= day:
        yield Change(day=case.closed_on, motor=motor, kind=ChangeKind.CLOSED, case=case)


def _open(
    plant: Plant, motors: Mapping[str, MotorEntry], names: Mapping[int, str], day: date
) -> Iterator[OpenCase]:
    """Yield the cases that are open on a day, with the decision that waits then."""
    for case in open_cases(plant, until=day):
        name = names.get(case.motor_id)
        if name is not None:
            decided = waiting_decision(_until(standing(plant.cases.events(case)), day))
            yield OpenCase(case=case, motor=motors[name], name=name, decided=decided)


def _until(events: tuple[Event, ...], day: date) -> list[Event]:
    return [event for event in events if event.day <= day]
