"""Use case: old visits examined again by the present program; what changed, and why.

The settings are those that the old examination was made with, unless others are stated; the limits
are those of the present program. The old examination stays. One visit is worked on at a time, and
each is kept by itself: killed anywhere, running again goes on where it was.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any

from cagewise import __version__
from cagewise.errors import (
    CagewiseError,
    StoreFullError,
    StoreLockedError,
    StoreReadOnlyError,
    StoreUnreachableError,
)
from cagewise.history.differences import ExaminationDifference, compare_examinations
from cagewise.report.document import SCHEMA_VERSION
from cagewise.report.reexamination_view import Changed, Fate, VisitAgain
from cagewise.store import ExaminationDocument, KeptExamination, MotorEntry, Plant
from cagewise.workflows.assess import AssessOptions, settings_of
from cagewise.workflows.plant_assess import (
    MadeExamination,
    PlantAssessOptions,
    keep_examination,
    kept_settings,
    make_examination,
)
from cagewise.workflows.plant_baselines import could_be_baselines
from cagewise.workflows.plant_causes import causes_of
from cagewise.workflows.plant_decode import recordings_of, sheets_of
from cagewise.workflows.plant_motors import motor_of
from cagewise.workflows.plant_points import last_of_visits

_ENDS_THE_WORK = (StoreFullError, StoreLockedError, StoreUnreachableError)
"""Errors that the next visit would meet too."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReexamineOptions:
    """What the user states; what is left out is as it was at the old examination."""

    roles: Mapping[str, str] = field(default_factory=dict)
    """Channel name to role, beside what was stated before."""
    speed_rpm: float | None = None
    prevalence: float | None = None
    roles_confirmed: bool = False
    again: bool = False
    """Examine also what is up to date."""
    keep: bool = True
    """Keep the new examinations; else the plant may be open to be read only."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Due:
    """A visit with the examination that counts."""

    motor: MotorEntry
    last: KeptExamination


def examined_visits(
    plant: Plant, motors: Iterable[MotorEntry], *, since: date | None = None
) -> tuple[list[Due], int]:
    """Return the examined visits of motors by day, and how many were never examined.

    Parameters
    ----------
    plant
        Open.
    motors
        Whose visits are wanted.
    since
        Only visits of this day and later.
    """
    due: list[Due] = []
    never = 0
    for motor in motors:
        last = last_of_visits(plant.examinations.of_motor(motor))
        examined = [each for each in last if since is None or each.day >= since]
        visits = [v for v in plant.visits.of(motor) if since is None or v.day >= since]
        due += [Due(motor=motor, last=each) for each in examined]
        never += len(visits) - len(examined)
    return due, never


def reexamine_visit(plant: Plant, due: Due, options: ReexamineOptions) -> VisitAgain:
    """Examine a visit again; what is wrong with its measurements alone is its result.

    Raises
    ------
    StoreError
        If the next visit would meet the same: no space, a lock, a place that does not answer.
    """
    try:
        return _reexamined(plant, due, options)
    except _ENDS_THE_WORK:
        raise
    except StoreReadOnlyError as error:
        if options.keep:
            raise
        return _refused(due, error)
    except CagewiseError as error:
        return _refused(due, error)


def _reexamined(plant: Plant, due: Due, options: ReexamineOptions) -> VisitAgain:
    """Return a visit that was examined again."""
    last = due.last
    before = plant.examinations.document(last)
    stated = _stated(last.day, before.settings, options)
    if not options.again and _is_up_to_date(plant, due, before, stated):
        return _visit(due, Fate.UP_TO_DATE)
    made = make_examination(plant, due.motor, stated)
    found = compare_examinations(json.loads(before.text), json.loads(made.new.document))
    kept = keep_examination(plant, made).kept if options.keep else None
    causes = causes_of(plant, last, before, made, found)
    fate = Fate.CHANGED if _says_otherwise(last, made, found) else Fate.UNCHANGED
    return replace(
        _visit(due, fate),
        new=None if kept is None else kept.id,
        counts=last.id if kept is None else max(last.id, kept.id),
        new_keys=made.new.keys,
        changes=tuple(
            Changed(
                kind=each.kind,
                name=each.name,
                old=each.old,
                new=each.new,
                within_interval=each.within_interval,
            )
            for each in found.differences
            if each not in found.causes
        ),
        causes=causes,
    )


def _stated(day: date, kept: Mapping[str, Any], options: ReexamineOptions) -> PlantAssessOptions:
    """Return what was stated at the old examination, and what is stated now."""
    return PlantAssessOptions(
        visit=day,
        roles={**kept.get("roles", {}), **options.roles},
        speed_rpm=_number(options.speed_rpm, kept.get("speed_rpm")),
        prevalence=_number(options.prevalence, kept.get("prevalence")),
        roles_confirmed=options.roles_confirmed or kept.get("roles_confirmed") is True,
    )


def _number(now: float | None, kept: object) -> float | None:
    """Return what is stated now, else what was kept if it is a number."""
    if now is not None:
        return now
    return float(kept) if isinstance(kept, int | float) else None


def _is_up_to_date(
    plant: Plant, due: Due, before: ExaminationDocument, stated: PlantAssessOptions
) -> bool:
    """Return whether the present program would examine the same in the same way.

    Nothing is examined for the answer; in doubt it is no.
    """
    last = due.last
    if (last.program_version, before.schema_version) != (__version__, SCHEMA_VERSION):
        return False
    settings = settings_of(
        AssessOptions(
            speed_rpm=stated.speed_rpm,
            prevalence=stated.prevalence,
            roles_confirmed=stated.roles_confirmed,
        )
    )
    nameplate = plant.motors.nameplate(due.motor, on=last.day)
    same_settings = before.settings == json.loads(json.dumps(kept_settings(settings, stated)))
    if last.nameplate_id != nameplate.id or not same_settings:
        return False
    visit = plant.visits.get(last.visit_id)
    motor = motor_of(nameplate, due.motor.tag)
    now = {each.id for each in recordings_of(plant, visit, motor, stated.roles)}
    now_sheets = {each.id for each in sheets_of(plant, visit)}
    return (now, now_sheets) == _looked_at(before, earlier=False) and could_be_baselines(
        plant, due.motor, visit
    ) == _looked_at(before, earlier=True)


def _looked_at(document: ExaminationDocument, *, earlier: bool) -> tuple[set[int], set[int]]:
    """Return the numbers of the recordings and sheets that an examination looked at."""
    mine = [each for each in document.inputs if each.earlier is earlier]
    recordings = {each.recording_id for each in mine if each.recording_id is not None}
    return recordings, {each.test_sheet_id for each in mine if each.test_sheet_id is not None}


def _says_otherwise(
    last: KeptExamination, made: MadeExamination, found: ExaminationDifference
) -> bool:
    """Return whether a new examination says anything else than the old one."""
    return last.keys != made.new.keys or len(found.differences) > len(found.causes)


def _refused(due: Due, error: CagewiseError) -> VisitAgain:
    """Return a visit that could not be examined again."""
    return replace(_visit(due, Fate.REFUSED), refusal=str(error))


def _visit(due: Due, fate: Fate) -> VisitAgain:
    """Return a visit with what is known before it is examined again."""
    return VisitAgain(
        motor=due.motor,
        day=due.last.day,
        fate=fate,
        old=due.last.id,
        counts=due.last.id,
        old_version=due.last.program_version,
        old_keys=due.last.keys,
    )
