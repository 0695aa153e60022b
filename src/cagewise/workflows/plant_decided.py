"""Use case: what was decided in open cases and is not done yet."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from cagewise.report.case_text import last_decision, overdue_days_in_words
from cagewise.store import Case, Decision, MotorEntry, Plant
from cagewise.workflows.plant_points import standing


@dataclass(frozen=True, slots=True, kw_only=True)
class Decided:
    """A decision that waits."""

    case: Case
    motor: MotorEntry
    decision: Decision
    when: str
    """Days that are left, in words; empty where no day was set."""


def decided(plant: Plant, *, today: date) -> tuple[Decided, ...]:
    """Return the decisions of open cases after which nothing was found or repaired.

    Parameters
    ----------
    plant
        Open.
    today
        Day on which it is asked.
    """
    motors = {motor.id: motor for motor in plant.motors.all()}
    waiting = []
    for case in plant.cases.all(only_open=True):
        last = last_decision(standing(plant.cases.events(case)))
        if last is not None:
            when = "" if last.due_on is None else overdue_days_in_words(last.due_on, today)
            waiting.append(
                Decided(case=case, motor=motors[case.motor_id], decision=last, when=when)
            )
    return tuple(sorted(waiting, key=lambda each: each.decision.due_on or date.max))
