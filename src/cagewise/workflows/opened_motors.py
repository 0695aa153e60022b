"""Use case: every motor that was opened, with our call before it and what was found."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from cagewise.report.case_text import found_in_words, judged
from cagewise.report.history_views import CallsView
from cagewise.store import Event, Found, KeptExamination, MotorEntry, Outcome, Plant
from cagewise.workflows.plant_history import call_before, calls
from cagewise.workflows.plant_points import standing


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenedMotor:
    """One motor that was opened."""

    motor: MotorEntry
    event: Event
    call: KeptExamination | None
    """Our last examination before it; None if there was none."""
    found: str
    """In words."""
    verdict: str
    """What became of our call; empty where there was none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenedMotors:
    """Every motor that was opened, and what they say of our calls."""

    view: CallsView
    motors: tuple[OpenedMotor, ...]
    """The latest first."""


def opened_motors(
    plant: Plant, *, today: date | None = None, until: date | None = None
) -> OpenedMotors:
    """Return our calls against what was found, motor by motor.

    Parameters
    ----------
    plant
        Open.
    today
        Day on which it is asked; by the plant's calendar if None.
    until
        Motors that were opened after that day are left out; none is if None.
    """
    motors = {motor.id: motor for motor in plant.motors.all()}
    told = []
    for event in standing(plant.cases.outcomes()):
        found = event.what
        if until is not None and event.day > until:
            continue
        if isinstance(found, Outcome) and found.found is not Found.NOT_OPENED:
            call = call_before(plant, event)
            told.append(
                OpenedMotor(
                    motor=motors[event.motor_id],
                    event=event,
                    call=call,
                    found=found_in_words(found),
                    verdict="" if call is None else judged(call.keys, found),
                )
            )
    return OpenedMotors(view=calls(plant, today=today, until=until), motors=tuple(reversed(told)))
