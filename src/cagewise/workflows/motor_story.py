"""Use case: one motor with its whole history, and what is due."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from cagewise.history.plant_risk import RankedMotor, rank_plant
from cagewise.report.history_views import RankingView
from cagewise.store import Case, Event, KeptExamination, MotorEntry, Plant
from cagewise.workflows.plant_history import today_of
from cagewise.workflows.plant_motors import ShownMotor, show_motor
from cagewise.workflows.plant_points import (
    described,
    last_cage_repair,
    last_of_visits,
    name_of,
    standing,
    summary_of,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class MotorStory:
    """What the plant knows of one motor, in the order of days."""

    shown: ShownMotor
    view: RankingView
    """The motor as a list has it; its risk is in needless removals, not in a currency."""
    ranked: RankedMotor
    examined: tuple[KeptExamination, ...]
    """The last examination of every visit, by day."""
    events: tuple[Event, ...]
    """What happened, of all cases, by day; what was put right is left out."""
    cases: Sequence[Case]
    """The oldest first."""


def story_of(
    plant: Plant, motor: MotorEntry, *, most_visits: int, today: date | None = None
) -> MotorStory:
    """Return one motor with its history.

    Parameters
    ----------
    plant
        Open.
    motor
        The motor.
    most_visits
        Visits of which is counted what is kept, the latest first.
    today
        Day on which something is due or not; by the plant's calendar if None.
    """
    day = today or today_of(plant)
    shown = show_motor(plant, motor, most_visits=most_visits)
    events = plant.cases.events(motor)
    cases = plant.cases.all(motor)
    file = shown.version.toml if motor.facts is None else ""
    summary = summary_of(motor, described(motor, file), shown.latest, last_cage_repair(events))
    ranking = rank_plant([summary], float(day.toordinal()))
    name = name_of(motor)
    still = tuple(case for case in cases if case.is_open)
    return MotorStory(
        shown=shown,
        view=RankingView(
            plant=plant.about.name,
            today=day,
            in_all=1,
            due_in_all=len(ranking.due),
            cases_in_all=len(still),
            ranking=ranking,
            latest={} if shown.latest is None else {name: shown.latest},
            open_cases={name: still},
        ),
        ranked=ranking.motors[0],
        examined=last_of_visits(plant.examinations.of_motor(motor)),
        events=standing(events),
        cases=cases,
    )
