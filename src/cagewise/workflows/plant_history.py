"""Use cases: the trend of a motor, every motor by risk, our calls against what was found."""

from __future__ import annotations

import math
from collections import Counter
from datetime import date, datetime

from cagewise.decision.verdict import State
from cagewise.history.change import find_change
from cagewise.history.missing import unknown_of
from cagewise.history.outcomes import CALLED, Outcome, report_calls
from cagewise.history.plant_risk import rank_plant
from cagewise.history.points import Comparable
from cagewise.history.time_to_limit import time_to_limit
from cagewise.history.trend import Trend, fit_trend
from cagewise.quantities import Estimate
from cagewise.report.history_views import CallsView, RankingView, TrendView
from cagewise.store import Case, Event, Found, KeptExamination, MotorEntry, Plant, Repair
from cagewise.store import Outcome as FoundOutcome
from cagewise.workflows.plant_keys import completed
from cagewise.workflows.plant_points import (
    cage_repairs,
    described,
    last_cage_repair,
    last_of_visits,
    motor_of,
    name_of,
    source_of,
    standing,
    summary_of,
    trend_points,
)


def today_of(plant: Plant) -> date:
    """Return the day that the plant's calendar shows."""
    return datetime.now(plant.about.zone).date()


def trend_of(
    plant: Plant,
    motor: MotorEntry,
    *,
    reading: str = "",
    limit_bars: float | None = None,
    today: date | None = None,
) -> TrendView:
    """Return the trend of a motor since the last repair of its cage.

    Parameters
    ----------
    plant
        Open.
    motor
        The motor.
    reading
        Name of the reading; the one with the most points if empty.
    limit_bars
        Damage whose time is forecast, in open bars; the limit in force if None.
    today
        Day on which it is asked; by the plant's calendar if None.
    """
    points = trend_points(plant, motor)
    repaired_on = last_cage_repair(plant.cases.events(motor))
    trend = fit_trend(
        points,
        reading=reading,
        since_day=-math.inf if repaired_on is None else float(repaired_on.toordinal()),
    )
    known = trend if isinstance(trend, Trend) else None
    return TrendView(
        motor=motor,
        today=today or today_of(plant),
        trend=trend,
        change=None if known is None else find_change(known),
        limit=None if known is None else time_to_limit(known, limit_bars=limit_bars),
        repaired_on=repaired_on,
        visits=len(last_of_visits(plant.examinations.of_motor(motor))),
        unknown=unknown_of(motor_of(plant, motor)),
        programs=_programs(plant, motor, trend.points),
    )


def _programs(plant: Plant, motor: MotorEntry, used: Comparable) -> Counter[str]:
    """Return how many points of a trend each version of the program has examined."""
    made = plant.examinations.of_motor(motor)
    versions = {source_of(each): each.program_version for each in made}
    return Counter(versions[point.source] for point in used.points)


def rank(
    plant: Plant,
    *,
    site: str | None = None,
    today: date | None = None,
    as_of: bool = False,
) -> RankingView:
    """Return every motor of a plant or a site, the greatest risk first.

    Parameters
    ----------
    plant
        Open.
    site
        Only this one.
    today
        Day for which it holds; by the plant's calendar if None.
    as_of
        What was measured, repaired, opened or closed after that day is left out.
    """
    day = today or today_of(plant)
    until = day if as_of else None
    motors = plant.motors.all(site=site, on=day)
    last = plant.examinations.latest(until=until)
    latest = {each.motor_id: completed(plant, each) for each in last}
    repaired = cage_repairs(plant, until=until)
    cases: dict[int, list[Case]] = {}
    for case in open_cases(plant, until=until):
        cases.setdefault(case.motor_id, []).append(case)
    bare = [motor for motor in motors if motor.facts is None]
    files = plant.motors.files(bare) if bare else {}
    ranking = rank_plant(
        [
            summary_of(m, described(m, files.get(m.id, "")), latest.get(m.id), repaired.get(m.id))
            for m in motors
        ],
        float(day.toordinal()),
    )
    return RankingView(
        plant=plant.about.name,
        today=day,
        in_all=len(motors),
        due_in_all=len(ranking.due),
        cases_in_all=sum(len(cases.get(motor.id, ())) for motor in motors),
        ranking=ranking,
        latest={name_of(m): latest[m.id] for m in motors if m.id in latest},
        open_cases={name_of(m): tuple(cases.get(m.id, ())) for m in motors},
    )


def open_cases(plant: Plant, *, until: date | None = None) -> list[Case]:
    """Return the open cases, the oldest first: those of now, or those at the end of a day."""
    if until is None:
        return list(plant.cases.all(only_open=True))
    return [
        case
        for case in plant.cases.all()
        if case.opened_on <= until and (case.closed_on is None or case.closed_on > until)
    ]


def calls(plant: Plant, *, today: date | None = None, until: date | None = None) -> CallsView:
    """Return our calls against what was found, of all motors opened, or opened until a day."""
    found = [
        event
        for event in standing(plant.cases.outcomes())
        if isinstance(event.what, FoundOutcome)
        and event.what.found is not Found.NOT_OPENED
        and (until is None or event.day <= until)
    ]
    outcomes = [_outcome(plant, event) for event in found]
    known = [outcome for outcome in outcomes if outcome is not None]
    return CallsView(
        today=today or today_of(plant),
        report=report_calls(known),
        without_call=len(outcomes) - len(known),
    )


def call_before(plant: Plant, event: Event) -> KeptExamination | None:
    """Return our last examination before a motor was opened.

    One of the day of the opening counts, one of the day of the repair does not.
    """
    motor = plant.motors.get(event.motor_id)
    repairs = [
        each.day
        for each in standing(plant.cases.events(motor))
        if isinstance(each.what, Repair)
        and (each.case_id == event.case_id or each.day >= event.day)
    ]
    before = min(repairs, default=date.max)
    made = [
        each
        for each in last_of_visits(plant.examinations.of_motor(motor))
        if each.day <= event.day and each.day < before
    ]
    return made[-1] if made else None


def _outcome(plant: Plant, event: Event) -> Outcome | None:
    """Return what was found with our call before it, None where we had made none."""
    found, call = event.what, call_before(plant, event)
    if call is None or not isinstance(found, FoundOutcome):
        return None
    state, sound = State(call.keys.state), found.found is Found.SOUND
    case = None if event.case_id is None else plant.cases.get(event.case_id)
    return Outcome(
        state=state,
        defective=not sound,
        because_of_call=_because_of_call(case, state),
        probability=call.keys.probability,
        damage_bars=_damage(call),
        found_bars=0.0 if sound else _counted(found),
    )


def _because_of_call(case: Case | None, state: State) -> bool:
    """Return whether a motor was opened because of us: within a case that we raised or warned in.

    In doubt it was: then nothing is concluded from it on what we miss.
    """
    return case is not None and (case.examination_id is not None or state in CALLED)


def _damage(call: KeptExamination) -> Estimate | None:
    """Return the damage that an examination stated."""
    keys = call.keys
    if keys.open_bars is None or keys.open_bars_low is None or keys.open_bars_high is None:
        return None
    return Estimate(keys.open_bars, keys.open_bars_low, keys.open_bars_high)


def _counted(found: FoundOutcome) -> float | None:
    """Return the bars found fully open, None where nobody counted."""
    return None if found.open_bars is None else float(found.open_bars)
