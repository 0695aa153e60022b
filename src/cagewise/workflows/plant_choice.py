"""Use case: a list of motors, those that are wanted in the order that is wanted."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from enum import StrEnum
from typing import TypeVar

from cagewise.decision.verdict import State
from cagewise.history.plant_risk import RankedMotor
from cagewise.report.history_views import NOT_EXAMINED, REPAIRED, RankingView
from cagewise.store import MotorEntry, Plant
from cagewise.workflows.plant_history import rank, today_of
from cagewise.workflows.plant_points import name_of

_Value = TypeVar("_Value")


class ListOrder(StrEnum):
    """What comes first."""

    RISK = "risk"
    """The greatest risk."""
    DUE = "due"
    """The longest overdue, then what is due next."""
    BARS = "bars"
    """The most open bars; motors without a number last."""
    MOTOR = "motor"
    """By tag."""


STATES = (*(state.value for state in State), NOT_EXAMINED, REPAIRED)
"""What can be asked for."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """What a list shows."""

    states: frozenset[str] = frozenset()
    """Of :data:`STATES`: motors of which cage, winding or insulation is so; all if empty."""
    due: bool = False
    """Only what is due on the day of the list."""
    order: ListOrder | None = None
    """By risk if None; what is due by its day."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ListedMotors:
    """A list of motors with their latest examinations."""

    view: RankingView
    """The motors that were asked for, in their order, with what is due."""
    entries: Mapping[str, MotorEntry]
    """All motors, by the name that the view has."""


def list_motors(
    plant: Plant, wanted: Wanted | None = None, *, site: str | None = None, on: date | None = None
) -> ListedMotors:
    """Return motors with their latest examination and what is due; by site and tag if not said.

    Parameters
    ----------
    plant
        Open.
    wanted
        Which motors, and in which order.
    site
        Only this one.
    on
        Day on which something is due or not; today if None.
    """
    wanted = wanted or Wanted()
    day = on or today_of(plant)
    order = wanted.order or (None if wanted.due else ListOrder.MOTOR)
    return ListedMotors(
        view=narrowed(rank(plant, site=site, today=day), replace(wanted, order=order)),
        entries={name_of(each): each for each in plant.motors.all(site=site, on=day)},
    )


def narrowed(view: RankingView, wanted: Wanted) -> RankingView:
    """Return a ranking with the motors that are wanted, in their order; ranks stay."""
    motors = [motor for motor in view.ranking.motors if _is_wanted(view, motor, wanted)]
    order = wanted.order or (ListOrder.DUE if wanted.due else ListOrder.RISK)
    if order is ListOrder.DUE:
        motors.sort(key=lambda motor: (motor.due_on, motor.rank))
    elif order is ListOrder.MOTOR:
        motors.sort(key=lambda motor: motor.tag.casefold())
    elif order is ListOrder.BARS:
        motors.sort(key=lambda motor: (-_bars(view, motor), motor.rank))
    return with_only(view, motors)


def with_only(view: RankingView, motors: Sequence[RankedMotor]) -> RankingView:
    """Return a ranking with some of its motors, in this order; ranks stay."""
    return replace(
        view,
        ranking=replace(view.ranking, motors=tuple(motors)),
        latest=_of(motors, view.latest),
        open_cases=_of(motors, view.open_cases),
    )


def _is_wanted(view: RankingView, motor: RankedMotor, wanted: Wanted) -> bool:
    """Return whether a motor belongs into the list."""
    if wanted.due and motor.overdue_days < 0.0:
        return False
    if not wanted.states:
        return True
    latest = view.latest.get(motor.tag)
    states = {view.cage_state(motor)}
    if latest is not None:
        states |= {latest.keys.winding or "", latest.keys.insulation or ""}
    return not wanted.states.isdisjoint(states)


def _bars(view: RankingView, motor: RankedMotor) -> float:
    """Return the open bars of the last examination, less than none where there is no number."""
    latest = view.latest.get(motor.tag)
    bars = None if latest is None else latest.keys.open_bars
    return -1.0 if bars is None or view.cage_state(motor) == REPAIRED else bars


def _of(motors: Iterable[RankedMotor], values: Mapping[str, _Value]) -> dict[str, _Value]:
    """Return the values of some motors."""
    return {motor.tag: values[motor.tag] for motor in motors if motor.tag in values}
