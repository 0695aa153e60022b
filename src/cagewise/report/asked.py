"""What is asked for of a motor, as lists, orders and summaries have it, and what it takes."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Literal, cast

from cagewise.decision.costs_policies import CostAction
from cagewise.decision.limits import load_limits
from cagewise.decision.recommendation import Action, NextMeasurement
from cagewise.decision.verdict import State
from cagewise.history.plant_risk import RankedMotor
from cagewise.report import history_wording
from cagewise.report.history_views import NOT_EXAMINED, REPAIRED, RankingView
from cagewise.report.language import say
from cagewise.report.ranking_text import DOUBTED
from cagewise.store import ExaminationKeys

Asked = Literal[
    "decided", "stop", "plan_repair", "repeat", "watch", "keep", "first", "after_repair"
]
"""``decided`` where somebody said it in words of their own; the actions of an examination; the
first measurement of a motor; the one after a repair of its cage."""

REMOVALS: frozenset[Asked] = frozenset({"stop", "plan_repair"})
ROUTINE: frozenset[Asked] = frozenset({"keep", "first"})
"""What is asked for as a matter of course."""

_TRENDED: frozenset[str] = frozenset({CostAction.KEEP.value, CostAction.WATCH.value})
"""Actions whose measurement is the record that there is."""
_OLDER: Mapping[str, Asked] = MappingProxyType(
    {
        Action.CONTINUE.value: "keep",
        Action.MEASURE_AGAIN.value: "repeat",
        Action.CONFIRM.value: "repeat",
        Action.PLAN_REMOVAL.value: "plan_repair",
    }
)
"""Actions as old examinations call them."""


def asked_of(view: RankingView, motor: RankedMotor) -> Asked:
    """Return what is asked for of a motor of a ranking."""
    state, last = view.cage_state(motor), view.latest.get(motor.tag)
    if state == REPAIRED:
        return "after_repair"
    if state == NOT_EXAMINED or last is None:
        return "first"
    action = last.keys.action
    if action in set(CostAction):
        return cast("Asked", action)
    return _OLDER.get(action, "keep" if last.keys.state == State.SOUND.value else "repeat")


def step_of(keys: ExaminationKeys | None) -> str:
    """Return what to measure next, as :class:`NextMeasurement`; empty for a routine record."""
    if keys is None or keys.action in _TRENDED:
        return ""
    code = keys.next_step or ""
    in_doubt = keys.winding in DOUBTED or keys.insulation in DOUBTED
    return NextMeasurement.PART_TESTS.value if not code and in_doubt else code


def what_of(asked: Asked, keys: ExaminationKeys | None) -> str:
    """Return what is to be done, in a clause."""
    if asked == "first":
        return say(history_wording.NEXT_FIRST[1])
    if asked == "after_repair":
        return say(history_wording.NEXT_AFTER_REPAIR[1])
    if asked in REMOVALS:
        return say(history_wording.NEXT_REMOVAL[asked][1])
    code = step_of(keys)
    return say(history_wording.NEXT_LONG.get(code, code))


def hours_of(asked: Asked, keys: ExaminationKeys | None) -> float | None:
    """Return hours that two people need for a measurement; None where no figure is kept."""
    if asked == "decided" or asked in REMOVALS:
        return None
    effort = load_limits().effort
    code = "" if asked in ("first", "after_repair") else step_of(keys)
    special: Mapping[str, float | None] = {
        NextMeasurement.VOLTAGES.value: effort.voltages_hours,
        NextMeasurement.SECOND_LOAD.value: effort.second_load_hours,
        NextMeasurement.START_UP.value: effort.start_record_hours,
        NextMeasurement.POSITION_TEST.value: effort.position_test_hours,
        NextMeasurement.PART_TESTS.value: None,
        NextMeasurement.ROTOR_BARS.value: None,
    }
    return special.get(code, effort.better_record_hours)
