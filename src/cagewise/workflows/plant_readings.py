"""Use case: the readings of all examinations, as a workbook or as comma-separated values."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from contextlib import ExitStack
from itertools import chain
from pathlib import Path
from typing import Any, BinaryIO, TextIO

from cagewise import __version__
from cagewise.errors import DamagedFileError
from cagewise.report import readings_wording as words
from cagewise.report.language import say
from cagewise.report.readings_rows import (
    MOTOR_COLUMNS,
    READING_COLUMNS,
    ExaminedReadings,
    motor_rows,
    reading_rows,
)
from cagewise.report.spreadsheet_text import Cell, csv_row
from cagewise.report.workbook import Sheet, write_workbook
from cagewise.store import KeptExamination, MotorEntry, Plant
from cagewise.workflows.files import replacing
from cagewise.workflows.plant_history import rank
from cagewise.workflows.plant_points import last_of_visits, name_of

FROZEN = 2
"""Columns that stay in view: site and tag."""
ABOUT_WIDTHS = (30.0, 100.0)


def chosen_motors(
    plant: Plant, tags: Sequence[str], *, site: str | None = None
) -> tuple[MotorEntry, ...]:
    """Return the motors of some tags, each once, or all of a plant or a site.

    Raises
    ------
    NotKeptError
        If there is no such motor.
    """
    if not tags:
        return tuple(plant.motors.all(site=site))
    found = {motor.id: motor for motor in (plant.motors.find(tag, site=site) for tag in tags)}
    return tuple(found.values())


def write_xlsx(
    plant: Plant,
    motors: Sequence[MotorEntry],
    target: Path | BinaryIO,
    *,
    overwrite: bool = False,
) -> None:
    """Write a workbook of readings and motors.

    Parameters
    ----------
    plant
        Open.
    motors
        Whose readings are written.
    target
        A file, or a stream that can be searched.
    overwrite
        Whether an existing file may be replaced.

    Raises
    ------
    OutputError
        If the file cannot be written.
    MissingExtraError
        If the optional library is not installed.
    """
    with ExitStack() as stack:
        if isinstance(target, Path):
            where, stream = str(target), stack.enter_context(replacing(target, overwrite=overwrite))
        else:
            where, stream = "xlsx", target
        write_workbook(stream, _sheets(plant, motors), where)


def write_csv(
    plant: Plant, motors: Sequence[MotorEntry], target: Path | TextIO, *, overwrite: bool = False
) -> None:
    """Write readings as comma-separated values, heads as they are named in ``docs/exports.md``.

    Parameters
    ----------
    plant, motors, target, overwrite
        As :func:`write_xlsx`; a stream takes text.

    Raises
    ------
    OutputError
        If the file cannot be written.
    """
    if not isinstance(target, Path):
        target.writelines(csv_lines(plant, motors))
        return
    with replacing(target, overwrite=overwrite) as stream:
        stream.writelines(line.encode("utf-8") for line in csv_lines(plant, motors))


def csv_lines(plant: Plant, motors: Sequence[MotorEntry]) -> Iterator[str]:
    """Yield the rows of comma-separated values, their heads first."""
    yield csv_row(tuple(READING_COLUMNS))
    yield from map(csv_row, _rows(plant, motors))


def _sheets(plant: Plant, motors: Sequence[MotorEntry]) -> tuple[Sheet, ...]:
    """Return the worksheets."""
    names = {motor.id: name_of(motor) for motor in motors}
    return (
        _sheet(words.READINGS, READING_COLUMNS, _rows(plant, motors)),
        _sheet(words.MOTORS, MOTOR_COLUMNS, motor_rows(rank(plant), motors, names)),
        Sheet(
            title=say(words.ABOUT),
            heads=(say(words.ABOUT), ""),
            widths=ABOUT_WIDTHS,
            rows=_about(plant),
        ),
    )


def _sheet(title: str, columns: Mapping[str, float], rows: Iterator[tuple[Cell, ...]]) -> Sheet:
    """Return a worksheet."""
    return Sheet(
        title=say(title),
        heads=[say(words.HEADS[name]) for name in columns],
        widths=tuple(columns.values()),
        rows=rows,
        frozen=FROZEN,
    )


def _about(plant: Plant) -> Iterator[tuple[Cell, ...]]:
    """Yield what the workbook is, and what its columns hold."""
    yield say(words.ABOUT_PLANT), plant.about.name
    yield say(words.ABOUT_ID), plant.about.plant_id
    yield say(words.ABOUT_PROGRAM), say(words.PROGRAM, version=__version__)
    yield say(words.ABOUT_COLUMNS), ""
    for name in READING_COLUMNS:
        yield say(words.HEADS[name]), say(words.MEANING[name])


def _rows(plant: Plant, motors: Sequence[MotorEntry]) -> Iterator[tuple[Cell, ...]]:
    """Yield the readings of motors, one motor at a time in memory."""
    examined = chain.from_iterable(_examined(plant, motor) for motor in motors)
    return chain.from_iterable(map(reading_rows, examined))


def _examined(plant: Plant, motor: MotorEntry) -> Iterator[ExaminedReadings]:
    """Yield the examinations of a motor with their readings, by day."""
    made = plant.examinations.of_motor(motor)
    readings = plant.examinations.readings(motor)
    last = {each.id for each in last_of_visits(made)}
    for each in made:
        document = _document(plant, each)
        yield ExaminedReadings(
            motor=motor,
            examination=each,
            counts=each.id in last,
            fingerprint=plant.examinations.fingerprint(each),
            readings=readings.get(each.id, ()),
            said=document.get("indicators") or (),
            slip=(document.get("operating_point") or {}).get("slip"),
        )


def _document(plant: Plant, examination: KeptExamination) -> Mapping[str, Any]:
    """Return the document of an examination; an empty one where it is damaged."""
    try:
        found: Mapping[str, Any] = json.loads(plant.examinations.document(examination).text)
    except DamagedFileError:
        return {}
    return found
