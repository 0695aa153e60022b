"""Use case: a visit of the plant to an examination that is kept."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from datetime import date, datetime
from typing import Any

from cagewise.decision.examination import Examination, Settings
from cagewise.errors import NotKeptError
from cagewise.machine.motor import Motor
from cagewise.pipeline import Earlier, examine_visit
from cagewise.report.document import SCHEMA_VERSION
from cagewise.report.json_output import to_json
from cagewise.store import (
    KeptExamination,
    KeptRecording,
    KeptSheet,
    MotorEntry,
    NewExamination,
    Plant,
    Visit,
)
from cagewise.workflows.assess import AssessOptions, motor_file_doubted, settings_of
from cagewise.workflows.plant_baselines import Baselines, baselines_of
from cagewise.workflows.plant_decode import load, load_sheet, recordings_of, sheets_of
from cagewise.workflows.plant_keys import keys_of, readings_of
from cagewise.workflows.plant_motors import motor_of

DAYS_NAMED = 5
"""Visits that a message names."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlantAssessOptions:
    """What the user states about a visit of the plant."""

    visit: date | None = None
    """Day of the visit; the latest with measurements if None."""
    roles: Mapping[str, str] = field(default_factory=dict)
    """Channel name to role, beside what was stated at the import."""
    speed_rpm: float | None = None
    prevalence: float | None = None
    roles_confirmed: bool = False
    made_at: datetime | None = None
    """When the examination was made, where it is told afterwards; now if None."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AssessedVisit:
    """An examination and what it was made from."""

    examination: Examination
    visit: Visit
    kept: KeptExamination
    is_new: bool
    """False if the same was kept before."""
    recordings: tuple[KeptRecording, ...]
    """Of the visit."""
    sheets: tuple[KeptSheet, ...]
    """Of the visit."""
    earlier: Baselines
    """What was compared with."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MadeExamination:
    """An examination of a visit that is not kept yet."""

    examination: Examination
    visit: Visit
    new: NewExamination
    """What would be kept."""
    recordings: tuple[KeptRecording, ...]
    """Of the visit."""
    sheets: tuple[KeptSheet, ...]
    """Of the visit."""
    earlier: Baselines
    """What was compared with."""
    made_at: datetime | None
    """When it was made; the moment of keeping if None."""


def assess_visit(
    plant: Plant, entry: MotorEntry, options: PlantAssessOptions | None = None
) -> AssessedVisit:
    """Examine a visit with earlier starts and sheets as baselines, and keep the examination.

    Raises
    ------
    NotKeptError, ChannelRoleError, StoreError
        As :func:`make_examination`, or if the examination cannot be kept.
    """
    return keep_examination(plant, make_examination(plant, entry, options))


def make_examination(
    plant: Plant, entry: MotorEntry, options: PlantAssessOptions | None = None
) -> MadeExamination:
    """Examine a visit as :func:`assess_visit`, and keep nothing of it; this is the long part.

    Only a recording that has to be decoded in another way than before is kept.

    Parameters
    ----------
    plant
        Open for writing.
    entry
        The motor.
    options
        What the user states.

    Raises
    ------
    NotKeptError
        If there is no such visit, or nothing was measured on it.
    ChannelRoleError
        If it is not certain which channel is which.
    StoreError
        If something that was kept is not there or damaged.
    """
    options = options or PlantAssessOptions()
    visit = find_visit(plant, entry, options.visit)
    nameplate = plant.motors.nameplate(entry, on=visit.day)
    motor = motor_of(nameplate, entry.tag)
    settings = _settings(options)
    recordings = recordings_of(plant, visit, motor, options.roles)
    sheets = sheets_of(plant, visit)
    earlier = baselines_of(plant, entry, visit, settings)
    examination = _examined(plant, motor, settings, (recordings, sheets), earlier)
    return MadeExamination(
        examination=examination,
        visit=visit,
        new=NewExamination(
            document=to_json(examination),
            schema_version=SCHEMA_VERSION,
            program_version=examination.version,
            nameplate_id=nameplate.id,
            keys=keys_of(examination),
            inputs=(*recordings, *sheets),
            readings=readings_of(examination),
            earlier=(*earlier.recordings, *earlier.sheets),
            settings=kept_settings(settings, options),
        ),
        recordings=recordings,
        sheets=sheets,
        earlier=earlier,
        made_at=options.made_at,
    )


def keep_examination(plant: Plant, made: MadeExamination) -> AssessedVisit:
    """Keep an examination, once; inside :meth:`Plant.writing`, with what else is written."""
    before = {each.id for each in plant.examinations.of_visit(made.visit)}
    kept = plant.examinations.add(made.visit, made.new, made_at=made.made_at)
    return AssessedVisit(
        examination=made.examination,
        visit=made.visit,
        kept=kept,
        is_new=kept.id not in before,
        recordings=made.recordings,
        sheets=made.sheets,
        earlier=made.earlier,
    )


def find_visit(plant: Plant, entry: MotorEntry, day: date | None = None) -> Visit:
    """Return the visit of a day, the latest on which something was measured if None.

    Raises
    ------
    NotKeptError
        If there is none, with the days that there are.
    """
    visits = plant.visits.of(entry)
    for visit in reversed(visits):
        wanted = day is None or visit.day == day
        if wanted and (plant.measurements.recordings(visit) or plant.measurements.sheets(visit)):
            return visit
    if not visits:
        raise NotKeptError(
            f"nothing was measured on {entry.tag!r} yet",
            remedy=f'Import it first: "cagewise import FILES --motor {entry.tag}".',
        )
    days = ", ".join(visit.day.isoformat() for visit in visits[-DAYS_NAMED:])
    raise NotKeptError(
        f"nothing was measured on {entry.tag!r}" + ("" if day is None else f" on {day}"),
        where="--visit",
        remedy=f"The latest visits: {days}.",
    )


def kept_settings(settings: Settings, options: PlantAssessOptions) -> dict[str, Any]:
    """Return the settings with which an examination can be run again; JSON values only."""
    return {
        "roles": dict(options.roles),
        "speed_rpm": options.speed_rpm,
        "prevalence": options.prevalence,
        "roles_confirmed": options.roles_confirmed,
        "limits": asdict(settings.limits),
    }


def _settings(options: PlantAssessOptions) -> Settings:
    """Return the settings of the chain."""
    return settings_of(
        AssessOptions(
            speed_rpm=options.speed_rpm,
            prevalence=options.prevalence,
            roles_confirmed=options.roles_confirmed,
        )
    )


def _examined(
    plant: Plant,
    motor: Motor,
    settings: Settings,
    now: tuple[tuple[KeptRecording, ...], tuple[KeptSheet, ...]],
    earlier: Baselines,
) -> Examination:
    """Return the examination of what is kept; one recording at a time is in memory."""
    recordings, sheets = now
    with motor_file_doubted(motor):
        return examine_visit(
            motor,
            load(plant, recordings),
            settings,
            sheets=[load_sheet(plant, sheet) for sheet in sheets],
            earlier=Earlier(
                recordings=load(plant, earlier.recordings),
                sheets=[load_sheet(plant, sheet) for sheet in earlier.sheets],
            ),
        )
