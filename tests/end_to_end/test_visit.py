"""Whole visits through the command, as a user makes them, with the mistakes users make."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from cagewise.cli.status import ExitStatus
from cagewise.readers import write_recording
from support.commands import run
from support.visits import VisitFiles, small_start, write_visit


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> VisitFiles:
    """Return a visit to a sound motor, and files of a year before."""
    return write_visit(tmp_path_factory.mktemp("visit"), earlier=1)


def changed(files: VisitFiles, folder: Path, **values: str) -> Path:
    """Return a copy of the sheet in which single values are others."""
    text = files.sheet.read_text(encoding="utf-8")
    for key, value in values.items():
        text, count = re.subn(rf"(?m)^{key} = [^#\n]*", f"{key} = {value} ", text)
        assert count, key
    path = folder / "changed.toml"
    path.write_text(text, encoding="utf-8")
    return path


def in_unit(files: VisitFiles, folder: Path, unit: str) -> Path:
    """Return a copy of the sheet whose insulation readings stand under another unit."""
    text = files.sheet.read_text(encoding="utf-8")
    path = folder / "unit.toml"
    path.write_text(text.replace("resistance_megaohm", f"resistance_{unit}"), encoding="utf-8")
    return path


def test_a_whole_visit_states_cage_winding_and_insulation_at_its_head(files: VisitFiles) -> None:
    said = run("assess", files.motor, *files.paths, "--gate", "--width", "80")
    head = said.out.partition("What to do")[0]

    assert said.status is ExitStatus.EXAMINED
    states = [line for line in head.splitlines() if line.isupper()]
    assert states == ["ROTOR CAGE: SOUND", "STATOR WINDING: SOUND", "STATOR INSULATION: SOUND"]


def test_poor_insulation_keeps_no_motor_in_service(files: VisitFiles, tmp_path: Path) -> None:
    """A sound cage says nothing of a winding that may not be energised."""
    sheet = in_unit(files, tmp_path, "kiloohm")
    said = run("assess", files.motor, files.running, sheet, "--gate", "--width", "80")
    head = said.out.partition("How many open bars")[0]

    assert said.status is ExitStatus.NOT_SOUND
    assert "ROTOR CAGE: SOUND" in head
    assert "STATOR INSULATION: SUSPECT" in head
    assert "Do not energise the motor" in head
    assert "Keep the motor in service" not in said.out


def test_a_forgotten_temperature_makes_no_sound_insulation(
    files: VisitFiles, tmp_path: Path
) -> None:
    sheet = changed(files, tmp_path, winding_temperature_degc='""')
    said = run("assess", files.motor, sheet, "--gate", "--width", "100")

    assert said.status is ExitStatus.NOT_DECIDABLE
    assert "STATOR INSULATION: NOT DECIDABLE" in said.out
    assert "the winding temperature is not given" in said.out


def test_a_winding_below_the_dew_point_is_not_judged(files: VisitFiles, tmp_path: Path) -> None:
    sheet = changed(files, tmp_path, winding_temperature_degc="12", relative_humidity_percent="95")
    said = run("assess", files.motor, sheet, "--gate", "--width", "100")

    assert said.status is ExitStatus.NOT_DECIDABLE
    assert "below the dew point of the air" in said.out


def test_a_short_capture_of_a_start_is_no_bad_running_record(
    files: VisitFiles, tmp_path: Path
) -> None:
    """What a relay keeps of a start lacks no load and has no wrong transformer ratio."""
    start = small_start()
    capture = tmp_path / "relay.cfg"
    write_recording(start.section(0, round(1.0 * start.sampling_rate_hz)), capture)
    said = run("assess", files.motor, capture, "--gate", "--width", "200")

    assert said.status is ExitStatus.NOT_DECIDABLE
    assert "the record ends" in said.out
    for untrue in ("transformer ratio", "ran steadily", "What would do instead"):
        assert untrue not in said.out


def test_sheets_alone_ask_for_the_motor_running_not_for_another_load(
    files: VisitFiles,
) -> None:
    said = run("assess", files.motor, files.sheet, "--width", "200").out
    said = said.partition("What to measure next")[2]

    assert "Record the motor running under load" in said
    assert "clearly different load" not in said


def test_earlier_files_that_nothing_is_compared_with_are_named(
    files: VisitFiles, tmp_path: Path
) -> None:
    later = changed(files, tmp_path, measured_on="2032-01-05")
    old_start, old_sheet = files.earlier
    given = (files.running, later, old_start)
    earlier = [part for path in given for part in ("--earlier", str(path))]
    said = run("assess", files.motor, files.sheet, *earlier, "--width", "200").out
    lines = said.partition("What was measured on this visit")[2].partition("\n\n")[0]

    assert (
        "running.parquet, of an earlier occasion: not compared, no start was found in it" in lines
    )
    assert "changed.toml, of an earlier occasion: not compared, its tests of 2032-01-05" in lines
    assert "start-2030.parquet, of an earlier occasion: not compared, no start of this" in lines
    assert "Compared with" not in said

    said = run("assess", files.motor, files.sheet, "--earlier", old_sheet, "--width", "200").out
    assert "not compared" not in said
    assert "Compared with  sheet-2030.toml" in said


def test_readings_of_two_sheets_name_their_sheet(files: VisitFiles, tmp_path: Path) -> None:
    other = changed(files, tmp_path, measured_on="2031-03-05")
    said = run("assess", files.motor, files.sheet, other, "--width", "200").out

    for named in ("(sheet.toml, 2031-03-04)", "(changed.toml, 2031-03-05)"):
        assert f"insulation resistance after 1 min at 40 degC {named}" in said


def test_a_sheet_in_the_place_of_the_motor_file_is_called_one(files: VisitFiles) -> None:
    said = run("assess", files.sheet, files.motor)

    assert said.status is ExitStatus.UNREADABLE
    assert "this is a test sheet, not a motor file. The motor file comes first" in said.err
