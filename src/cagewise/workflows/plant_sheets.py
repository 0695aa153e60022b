"""Use cases: test sheets of the plant, begun, opened, and kept as files.

What is typed stays as it was typed: the file holds the very figures, and every check is that of a
sheet that came as a file.
"""

from __future__ import annotations

import tempfile
from pathlib import Path

from cagewise.errors import NotKeptError, SheetError
from cagewise.measurement.test_sheet import TestSheet
from cagewise.readers.test_sheet import Form, read_test_sheet, write_form
from cagewise.readers.test_sheet.build import sheet_of
from cagewise.readers.test_sheet.sheet_form import form_of
from cagewise.store import KeptSheet, MotorEntry, Plant, Visit
from cagewise.store.motors import tag_key
from cagewise.workflows.plant_decode import load_sheet, sheets_of
from cagewise.workflows.plant_motors import motor_of
from cagewise.workflows.sheet import template_of
from cagewise.workflows.sheet_form import (
    MOST_ROWS,
    NO_TESTS,
    OFFERED,
    fill_head,
    provenance_of,
    written_form,
)


def blank_form(plant: Plant, visit: Visit) -> Form:
    """Return the empty sheet of the motor of a visit; the day is filled in."""
    entry = plant.motors.get(visit.motor_id)
    motor = motor_of(plant.motors.nameplate(entry, on=visit.day), entry.tag)
    form = template_of(motor).form
    form.tables = [table for table in form.tables if table.name in OFFERED]
    fill_head(form, "measured_on", visit.day.isoformat())
    return form


def form_of_kept(plant: Plant, kept: KeptSheet) -> Form:
    """Return a sheet that the plant keeps as a form.

    Raises
    ------
    SheetError, MissingFileError, DamagedFileError
        As :func:`~cagewise.workflows.plant_decode.load_sheet`.
    """
    form = form_of(load_sheet(plant, kept))
    form.tables = [table for table in form.tables if table.name != "truth"]
    longest = max((len(entry.cells) for table in form.tables for entry in table.columns), default=0)
    if longest > MOST_ROWS:
        raise SheetError(
            f"holds {longest} readings below one heading, too many for a form",
            where=kept.source,
            remedy="Put it right in its file and bring that in again.",
        )
    return form


def keep_form(
    plant: Plant, visit: Visit, form: Form, *, corrects: KeptSheet | None = None
) -> KeptSheet:
    """Keep a form as the file of a test sheet.

    Parameters
    ----------
    plant
        Open for writing.
    visit
        Whose motor was measured; a new sheet of another day goes to the visit of that day.
    form
        What was typed.
    corrects
        The sheet that this one takes the place of: it gets the same name, and is of the same day.

    Raises
    ------
    SheetError
        If anything in it cannot be used, or nothing was measured.
    """
    entry = plant.motors.get(visit.motor_id)
    written = written_form(form, entry)
    reading = sheet_of(written, provenance_of(b""), where="test sheet")
    if not any(each.measured for each in reading.tables if each.name not in NO_TESTS):
        raise SheetError("no reading was filled in", where="test sheet", remedy="Fill in one.")
    day = reading.sheet.measured_on
    if corrects is not None and corrects.measured_on != day:
        raise SheetError(
            f"it was measured on {corrects.measured_on}, and now it would be of {day}",
            where="measured_on",
            remedy="Keep the day, or fill in a new sheet for the other one.",
        )
    target = visit if day == visit.day else plant.visits.on(entry, day)
    name = corrects.source if corrects is not None else _free_name(plant, target)
    return _kept(plant, entry, name, _file(written, name))


def keep_toml(plant: Plant, visit: Visit, toml: str) -> KeptSheet:
    """Keep the text of a sheet file as a new sheet of the motor of a visit.

    Raises
    ------
    SheetError
        If it cannot be used, or is of another motor.
    """
    entry = plant.motors.get(visit.motor_id)
    content = toml.encode("utf-8")
    sheet = _read(content, "test-sheet.toml")
    target = plant.visits.on(entry, sheet.measured_on)
    return _kept(plant, entry, _free_name(plant, target), content)


def sheet_to_correct(plant: Plant, visit: Visit, number: int) -> KeptSheet:
    """Return a sheet of a visit.

    Raises
    ------
    NotKeptError
        If the visit has no such sheet.
    """
    kept = plant.measurements.sheet(number)
    if kept.visit_id != visit.id:
        raise NotKeptError(f"this visit has no test sheet number {number}")
    return kept


def _kept(plant: Plant, entry: MotorEntry, name: str, content: bytes) -> KeptSheet:
    """Keep a file, read back before it is."""
    sheet = _read(content, name)
    if tag_key(sheet.motor_tag) != tag_key(entry.tag):
        raise SheetError(
            f"this sheet is of motor {sheet.motor_tag!r}, not of {entry.tag!r}",
            where="motor",
            remedy="Correct the tag in the sheet, or choose the motor.",
        )
    original = plant.measurements.keep_original(content, name)
    with plant.writing():
        target = plant.visits.on(entry, sheet.measured_on)
        return plant.measurements.add_sheet(target, original, measured_on=sheet.measured_on)


def _read(content: bytes, name: str) -> TestSheet:
    """Return the sheet that a file is."""
    with tempfile.TemporaryDirectory(prefix="cagewise-") as folder:
        path = Path(folder) / name
        path.write_bytes(content)
        return read_test_sheet(path)


def _file(form: Form, name: str) -> bytes:
    """Return a form as the file that its name asks for."""
    with tempfile.TemporaryDirectory(prefix="cagewise-") as folder:
        path = Path(folder) / Path(name).name
        write_form(form, path)
        return path.read_bytes()


def _free_name(plant: Plant, visit: Visit) -> str:
    """Return a name that no sheet of a visit has."""
    taken = {sheet.source for sheet in sheets_of(plant, visit)}
    number, name = 1, "test-sheet.toml"
    while name in taken:
        number += 1
        name = f"test-sheet-{number}.toml"
    return name
