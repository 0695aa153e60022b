"""Use cases: the motors of a plant, added, changed and shown."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from cagewise.errors import CagewiseError, MotorFileError, StoreError
from cagewise.history.missing import MissingItem, unknown_of
from cagewise.machine.motor import Motor
from cagewise.machine.motor_file import load_motor
from cagewise.store import (
    Event,
    KeptExamination,
    MotorEntry,
    NameplateVersion,
    Note,
    Plant,
    Sensor,
    Visit,
)
from cagewise.store.motors import parse
from cagewise.workflows.plant_keys import completed
from cagewise.workflows.plant_points import standing


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitCount:
    """One visit and how much of it is kept."""

    visit: Visit
    recordings: int
    sheets: int
    examination: KeptExamination | None
    """The one kept last; None if none was made."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ShownMotor:
    """What the plant knows of one motor."""

    entry: MotorEntry
    motor: Motor
    """As the nameplate that counts today says."""
    versions: Sequence[NameplateVersion]
    """By the day from which they count."""
    version: NameplateVersion
    """The one that counts today."""
    visits: Sequence[VisitCount]
    """The latest first, as many as were asked for."""
    visits_in_all: int
    latest: KeptExamination | None
    """Examination of the latest visit that was examined."""
    missing: tuple[MissingItem, ...]
    """What the motor file does not say, or was never measured."""
    sensors: Sequence[Sensor]
    """That stay on it, removed ones too."""
    notes: Sequence[Event]
    """On the motor itself, without a case, by day; those put right are left out."""


def add_motors(
    plant: Plant, files: Sequence[Path], *, site: str = "", valid_from: date | None = None
) -> tuple[MotorEntry, ...]:
    """Add motors by their motor files, all or none.

    Parameters
    ----------
    plant
        To which they are added.
    files
        One motor file each; without a ``tag`` in it the name of the file is the tag.
    site
        Where they are, in a plant whose sites repeat tags.
    valid_from
        First day on which the nameplates were these, today if None; before it the first one counts.

    Raises
    ------
    MotorFileError
        If a file cannot be used.
    AlreadyKeptError
        If a tag is taken.
    """
    read = [(path, *_read(path)) for path in files]
    added = []
    with plant.writing():
        for path, text, motor in read:
            try:
                added.append(
                    plant.motors.add(text, site=site, tag=motor.tag, valid_from=valid_from)
                )
            except StoreError as error:
                raise _in_file(error, path) from error
    return tuple(added)


def edit_motor(
    plant: Plant, entry: MotorEntry, file: Path, *, valid_from: date | None = None, note: str = ""
) -> NameplateVersion:
    """Add a version of a motor file; the old ones stay.

    Raises
    ------
    MotorFileError
        If the file cannot be used, or is of another motor.
    """
    text, _ = _read(file)
    try:
        return plant.motors.edit(entry, text, valid_from=valid_from, note=note)
    except MotorFileError as error:
        raise _in_file(error, file) from error


def show_motor(plant: Plant, entry: MotorEntry, *, most_visits: int) -> ShownMotor:
    """Return what the plant knows of a motor, with its latest visits."""
    version = plant.motors.nameplate(entry)
    motor = motor_of(version, entry.tag)
    visits = list(reversed(plant.visits.of(entry)))
    examinations = plant.examinations.of_motor(entry)
    last = {each.visit_id: each for each in examinations}
    latest = completed(plant, examinations[-1]) if examinations else None
    return ShownMotor(
        entry=entry,
        motor=motor,
        versions=plant.motors.nameplates(entry),
        version=version,
        visits=[_counted(plant, visit, last.get(visit.id)) for visit in visits[:most_visits]],
        visits_in_all=len(visits),
        latest=latest,
        missing=_missing(motor, latest),
        sensors=plant.motors.sensors(entry),
        notes=[
            event
            for event in standing(plant.cases.events(entry))
            if event.case_id is None and isinstance(event.what, Note)
        ],
    )


def motor_of(version: NameplateVersion, tag: str) -> Motor:
    """Return the motor of a version of its motor file."""
    return parse(version.toml, tag)


def unknown_in(toml: str) -> tuple[MissingItem, ...]:
    """Return what a motor file does not say.

    Raises
    ------
    MotorFileError
        If it cannot be used.
    """
    return unknown_of(parse(toml, "motor"))


def _missing(motor: Motor, latest: KeptExamination | None) -> tuple[MissingItem, ...]:
    """Return what is not known of a motor."""
    never = () if latest is not None else (MissingItem.NEVER_EXAMINED,)
    return (*never, *unknown_of(motor))


def _counted(plant: Plant, visit: Visit, examination: KeptExamination | None) -> VisitCount:
    """Return a visit with what is kept of it."""
    recordings = plant.measurements.recordings(visit)
    return VisitCount(
        visit=visit,
        recordings=len({(each.checksum, each.part) for each in recordings}),
        sheets=len({each.source for each in plant.measurements.sheets(visit)}),
        examination=examination,
    )


def _read(path: Path) -> tuple[str, Motor]:
    """Return the text of a motor file, and its motor: the file is checked before it is kept."""
    motor = load_motor(path)
    return path.read_bytes().decode("utf-8-sig"), motor


def _in_file(error: CagewiseError, path: Path) -> CagewiseError:
    """Return the error with the file that it is about."""
    return type(error)(error.what, where=str(path), remedy=error.remedy)
