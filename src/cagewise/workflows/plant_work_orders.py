"""Use case: what is to be done in a plant, as work orders for another program."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from cagewise import __version__
from cagewise.history.limits import repair_limits
from cagewise.history.plant_risk import RankedMotor
from cagewise.report.asked import ROUTINE, Asked, asked_of
from cagewise.report.case_text import waiting_decision
from cagewise.report.history_text import day_of
from cagewise.report.history_views import RankingView
from cagewise.report.language import current
from cagewise.report.work_order import SCHEMA_VERSION, WorkOrdersDocument
from cagewise.report.work_order_codes import taxonomy
from cagewise.report.work_order_text import OrderView, work_order
from cagewise.store import (
    Case,
    Decision,
    Event,
    KeptExamination,
    MotorEntry,
    Outcome,
    Plant,
    Repair,
)
from cagewise.workflows.plant_history import rank, today_of
from cagewise.workflows.plant_points import last_of_visits, name_of, standing

ID_CHARACTERS = 8
"""Of the identity of the plant in every key: enough to tell the plants of an owner apart."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OrdersWanted:
    """Which orders are exported."""

    names: tuple[str, ...] = ()
    """Tags of motors and numbers of cases; all if empty."""
    motors: tuple[int, ...] = ()
    """Numbers of motors, beside the names."""
    cases: tuple[int, ...] = ()
    """Numbers of cases, beside the names."""
    site: str | None = None
    since: date | None = None
    """Older ones are left out."""
    routine: bool = False
    """Routine measurements, and the first of a motor, too."""
    base: str = ""
    """Address of the workbench, for the links."""
    on: date | None = None
    """Day for which it holds; today if None."""

    @property
    def is_narrow(self) -> bool:
        """Whether only some motors or cases are wanted."""
        return bool(self.names or self.motors or self.cases)


def work_orders(plant: Plant, wanted: OrdersWanted | None = None) -> WorkOrdersDocument:
    """Return the open orders of a plant, of some motors, or of some cases; the most urgent first.

    Parameters
    ----------
    plant
        Open.
    wanted
        Which of them.

    Raises
    ------
    NotKeptError
        If there is no such motor or case.
    """
    wanted = wanted or OrdersWanted()
    day = wanted.on or today_of(plant)
    views = [
        replace(view, base=wanted.base.rstrip("/"))
        for view in order_views(plant, wanted, day)
        if wanted.since is None or view.since >= wanted.since
    ]
    views.sort(key=lambda view: (view.latest or date.max, name_of(view.motor), view.key))
    return WorkOrdersDocument(
        schema_version=SCHEMA_VERSION,
        program_version=__version__,
        plant=plant.about.name,
        plant_id=plant.about.plant_id,
        day=day.isoformat(),
        since=None if wanted.since is None else wanted.since.isoformat(),
        language=current(),
        taxonomy=taxonomy(),
        work_orders=tuple(map(work_order, views)),
    )


def order_views(plant: Plant, wanted: OrdersWanted, day: date) -> Iterator[OrderView]:
    """Yield what every order that is wanted is written from."""
    ranking = rank(plant, site=wanted.site, today=day)
    motors = {name_of(each): each for each in plant.motors.all(site=wanted.site, on=day)}
    only, cases = _asked_for(plant, wanted)
    for ranked in ranking.ranking.motors:
        motor = motors[ranked.tag]
        if wanted.is_narrow and motor.id not in only:
            continue
        for view in _of_motor(plant, ranking, ranked, motor):
            routine = view.asked in ROUTINE and not wanted.routine
            other = only.get(motor.id) is not None and not _is_of(view, cases)
            if not routine and not other:
                yield view


def _asked_for(plant: Plant, wanted: OrdersWanted) -> tuple[dict[int, Case | None], set[int]]:
    """Return the motors that are asked for, with the case where only one is; and those cases."""
    numbers = (*wanted.cases, *(int(name) for name in wanted.names if name.isdecimal()))
    cases = [plant.cases.get(number) for number in numbers]
    only: dict[int, Case | None] = {case.motor_id: case for case in cases}
    for name in wanted.names:
        if not name.isdecimal():
            only[plant.motors.find(name, site=wanted.site).id] = None
    only |= {plant.motors.get(number).id: None for number in wanted.motors}
    return only, {case.id for case in cases}


def _is_of(view: OrderView, cases: set[int]) -> bool:
    """Return whether an order is of one of these cases."""
    return view.case is not None and view.case.id in cases


def _of_motor(
    plant: Plant, ranking: RankingView, ranked: RankedMotor, motor: MotorEntry
) -> Iterator[OrderView]:
    """Yield the decisions that wait, then what is advised and was not decided since."""
    last, newest = ranking.latest.get(ranked.tag), date.min
    cases = ranking.open_cases.get(ranked.tag, ())
    for case in cases:
        events = plant.cases.events(case)
        event = waiting_decision(standing(events))
        if event is not None:
            newest = max(newest, event.day)
            yield _decision(plant, motor, case, events, event, last)
    asked = asked_of(ranking, ranked)
    if last is None or last.day > newest or asked == "after_repair":
        followed = cases[-1] if cases else None
        yield _advice(plant, ranked, motor, followed, last, asked)


def _decision(
    plant: Plant,
    motor: MotorEntry,
    case: Case,
    events: Sequence[Event],
    event: Event,
    last: KeptExamination | None,
) -> OrderView:
    """Return a decision that waits."""
    what = event.what
    assert isinstance(what, Decision)  # noqa: S101 - chosen so by the caller
    return OrderView(
        key=_key(plant, "decision", _root(events, event)),
        replaces=tuple(_replaced(plant, motor, events, event)),
        asked="decided",
        motor=motor,
        case=case,
        decided=event,
        examination=last,
        repaired_on=None,
        earliest=None,
        latest=what.due_on,
        since=max(event.day, _local(plant, event.recorded_at)),
    )


def _replaced(
    plant: Plant, motor: MotorEntry, events: Sequence[Event], event: Event
) -> Iterator[str]:
    """Yield the keys in whose place a decision comes: earlier ones that waited, and the advice."""
    waiting: list[Event] = []
    for each in standing(events):
        if each.id == event.id:
            break
        waiting = [] if isinstance(each.what, Repair | Outcome) else [*waiting, each]
    for each in waiting:
        if isinstance(each.what, Decision):
            yield _key(plant, "decision", _root(events, each))
    made = [e for e in last_of_visits(plant.examinations.of_motor(motor)) if e.day <= event.day]
    yield _key(plant, "visit", made[-1].visit_id) if made else _key(plant, "first", motor.id)


def _advice(
    plant: Plant,
    ranked: RankedMotor,
    motor: MotorEntry,
    case: Case | None,
    last: KeptExamination | None,
    asked: Asked,
) -> OrderView:
    """Return what is advised."""
    repaired = asked == "after_repair"
    latest = None if asked == "first" else day_of(ranked.due_on)
    repaired_on = None
    if repaired and latest is not None:
        repaired_on = latest - timedelta(days=repair_limits().largest_age_days)
    measured = None if repaired else last
    return OrderView(
        key=_advice_key(plant, motor, measured, repaired_on),
        replaces=tuple(_before(plant, motor, last, repaired=repaired)),
        asked=asked,
        motor=motor,
        case=case,
        decided=None,
        examination=measured,
        repaired_on=repaired_on,
        earliest=None if measured is None else measured.keys.act_by_earliest,
        latest=latest,
        since=_advised_on(plant, motor, measured, repaired_on),
    )


def _advice_key(
    plant: Plant, motor: MotorEntry, last: KeptExamination | None, repaired_on: date | None
) -> str:
    """Return the key of an advice: that of its visit, so that examining it again changes it."""
    if repaired_on is not None:
        return _key(plant, f"repair-{motor.id}", f"{repaired_on:%Y%m%d}")
    return _key(plant, "first", motor.id) if last is None else _key(plant, "visit", last.visit_id)


def _before(
    plant: Plant, motor: MotorEntry, last: KeptExamination | None, *, repaired: bool
) -> Iterator[str]:
    """Yield the key of what was advised before."""
    if last is None:
        if repaired:
            yield _key(plant, "first", motor.id)
        return
    made = last_of_visits(plant.examinations.of_motor(motor))
    earlier = [e for e in made if repaired or e.visit_id != last.visit_id]
    if earlier:
        yield _key(plant, "visit", earlier[-1].visit_id)
    else:
        yield _key(plant, "first", motor.id)


def _advised_on(
    plant: Plant, motor: MotorEntry, last: KeptExamination | None, repaired_on: date | None
) -> date:
    """Return since when something is advised."""
    if last is not None:
        return max(last.day, _local(plant, last.made_at))
    return repaired_on or motor.valid_from


def _root(events: Sequence[Event], event: Event) -> int:
    """Return the number of the entry that an entry puts right in the end; its own if none."""
    by_number = {each.id: each for each in events}
    while event.corrects_id in by_number:
        event = by_number[event.corrects_id]
    return event.id


def _key(plant: Plant, sort: str, number: int | str) -> str:
    """Return a key that no other plant gives."""
    return f"{plant.about.plant_id[:ID_CHARACTERS]}-{sort}-{number}"


def _local(plant: Plant, moment: datetime) -> date:
    """Return the day of a moment by the calendar of the plant."""
    return moment.astimezone(plant.about.zone).date()
