"""Use case: a visit of the plant to an examination that is kept."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from datetime import date
from typing import Any

from cagewise.decision.examination import Examination, RecordExamination, Settings
from cagewise.errors import NotKeptError
from cagewise.indicators.reading import Reading
from cagewise.indicators.winding.resistance import winding_temperature_degc
from cagewise.machine.motor import Motor
from cagewise.pipeline import Earlier, examine_visit
from cagewise.quantities import Estimate, NotKnown
from cagewise.report.document import SCHEMA_VERSION
from cagewise.report.json_output import to_json
from cagewise.store import (
    ExaminationKeys,
    KeptExamination,
    KeptReading,
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
class ExaminedVisit:
    """An examination that is not kept yet, and what it was made from."""

    examination: Examination
    new: NewExamination
    """What is to be kept."""
    visit: Visit
    recordings: tuple[KeptRecording, ...]
    sheets: tuple[KeptSheet, ...]
    earlier: Baselines


def assess_visit(
    plant: Plant, entry: MotorEntry, options: PlantAssessOptions | None = None
) -> AssessedVisit:
    """Examine a visit with earlier starts and sheets as baselines, and keep the examination.

    Raises
    ------
    NotKeptError, ChannelRoleError, StoreError
        As :func:`examine_kept`, or if the examination cannot be kept.
    """
    return keep_examined(plant, examine_kept(plant, entry, options))


def examine_kept(
    plant: Plant, entry: MotorEntry, options: PlantAssessOptions | None = None
) -> ExaminedVisit:
    """Examine a visit with earlier starts and sheets as baselines; this is the long part.

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
    new = NewExamination(
        document=to_json(examination),
        schema_version=SCHEMA_VERSION,
        program_version=examination.version,
        nameplate_id=nameplate.id,
        keys=keys_of(examination),
        inputs=(*recordings, *sheets),
        readings=readings_of(examination),
        earlier=(*earlier.recordings, *earlier.sheets),
        settings=kept_settings(settings, options),
    )
    return ExaminedVisit(
        examination=examination,
        new=new,
        visit=visit,
        recordings=recordings,
        sheets=sheets,
        earlier=earlier,
    )


def keep_examined(plant: Plant, done: ExaminedVisit) -> AssessedVisit:
    """Keep an examination; inside :meth:`Plant.writing`, together with what else is written."""
    before = {each.id for each in plant.examinations.of_visit(done.visit)}
    kept = plant.examinations.add(done.visit, done.new)
    return AssessedVisit(
        examination=done.examination,
        visit=done.visit,
        kept=kept,
        is_new=kept.id not in before,
        recordings=done.recordings,
        sheets=done.sheets,
        earlier=done.earlier,
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


def keys_of(examination: Examination) -> ExaminationKeys:
    """Return what lists and trends ask of an examination."""
    evidence, verdict, lead = examination.evidence, examination.verdict, examination.leading
    bars, act_by = evidence.pooled.bars, examination.course.act_by
    probability = evidence.probability
    return ExaminationKeys(
        state=verdict.state.value,
        ground=verdict.ground.value,
        probability=None if isinstance(probability, NotKnown) else _finite(probability),
        open_bars=None if bars is None else _finite(bars.value),
        open_bars_low=None if bars is None else _finite(bars.low),
        open_bars_high=None if bars is None else _finite(bars.high),
        upper_limit_bars=_finite(verdict.bound_bars),
        load_fraction=None if lead is None else _load_fraction(lead),
        winding_temperature_degc=_temperature(examination),
        action=examination.course.action.value,
        act_by_earliest=act_by.earliest,
        act_by_latest=act_by.latest,
    )


def readings_of(examination: Examination) -> tuple[KeptReading, ...]:
    """Return the readings that the page shows, as the trend reads them."""
    return tuple(_kept(reading) for source in examination.shown for reading in source.readings)


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


def _load_fraction(lead: RecordExamination) -> float | None:
    """Return the load of the leading record."""
    point = lead.operating_point
    if isinstance(point, NotKnown) or isinstance(point.load_fraction, NotKnown):
        return None
    return _finite(point.load_fraction.value)


def _temperature(examination: Examination) -> float | None:
    """Return the temperature of the winding at rest, where the tests at rest are all there is."""
    sheet = examination.leading_sheet
    if sheet is None or examination.leading is not None:
        return None
    return winding_temperature_degc(sheet.sheet)


def _kept(reading: Reading) -> KeptReading:
    """Return a reading as it is kept."""
    value, low, high = _ends(reading.value)
    bars, bars_low, bars_high = _ends(reading.open_bar_equivalent)
    return KeptReading(
        name=reading.name,
        unit=reading.unit,
        valid=reading.valid,
        value=value,
        low=low,
        high=high,
        open_bars=bars,
        open_bars_low=bars_low,
        open_bars_high=bars_high,
        detection_limit_bars=_finite(reading.detection_limit_bars),
    )


def _ends(estimate: Estimate | None) -> tuple[float | None, float | None, float | None]:
    """Return a value and the ends of its interval."""
    if estimate is None:
        return None, None, None
    return _finite(estimate.value), _finite(estimate.low), _finite(estimate.high)


def _finite(value: float | None) -> float | None:
    """Return a number that a database holds; None for what is not one."""
    return float(value) if value is not None and math.isfinite(value) else None
