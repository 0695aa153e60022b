"""The commands for the field and the repair shop, in a plant of one motor."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from cagewise.cli.status import ExitStatus
from cagewise.store import Plant
from support.commands import run, write_motor
from support.plants import motor_file
from support.returns import ANSWERS, BARS, empty, fill


@pytest.fixture
def plant(tmp_path: Path) -> Path:
    folder = tmp_path / "plant"
    with Plant.create(folder) as made:
        motor = made.motors.add(motor_file(), valid_from=date(2020, 1, 1))
        made.cases.open(motor, "a bar is open", on=date(2031, 1, 5))
    return folder


def test_a_specification_is_written_with_the_sheet_beside_it(plant: Path, tmp_path: Path) -> None:
    out, sheet = tmp_path / "spec.html", tmp_path / "sheet.csv"
    done = run("repair-specification", "P-101", "--plant", plant, "--html", "-o", out,
               "--sheet", sheet, "--on", "2031-02-01")  # fmt: skip

    assert done.status is ExitStatus.EXAMINED, done.err
    assert "The rotor cage" in out.read_text(encoding="utf-8")
    assert "rotor_bars;" in sheet.read_text(encoding="utf-8-sig")
    again = run("repair-specification", "1", "--plant", plant, "--html", "-o", out)
    assert again.status is not ExitStatus.EXAMINED
    assert "--force" in again.err


def test_what_a_motor_is_sent_for_may_be_said(plant: Path, tmp_path: Path) -> None:
    out = tmp_path / "spec.html"
    done = run("repair-specification", "1", "--plant", plant, "--html", "-o", out,
               "--for", "winding", "--for", "bearings")  # fmt: skip

    assert done.status is ExitStatus.EXAMINED, done.err
    said = out.read_text(encoding="utf-8")
    assert "The stator winding: turns" in said
    assert "Growler test" in said


def test_a_return_is_checked_then_kept(plant: Path, tmp_path: Path) -> None:
    path = fill(tmp_path / "sheet.toml", ANSWERS, BARS, sheet=empty("P-101", 1))
    checked = run("repair-return", path, "--plant", plant, "--check")
    kept = run("repair-return", path, "--plant", plant, "--motor-file")

    assert "Nothing was kept" in checked.out
    assert "Kept in case 1." in kept.out, kept.err
    assert "counts from 2031-03-28 on" in kept.out
    assert "nothing was added" in run("repair-return", path, "--plant", plant).out


def test_a_bad_return_is_no_result(plant: Path, tmp_path: Path) -> None:
    path = fill(tmp_path / "sheet.toml", {**ANSWERS, "rotor_bars": "3"}, sheet=empty("P-101", 1))
    done = run("repair-return", path, "--plant", plant)

    assert done.status is ExitStatus.UNREADABLE
    assert "between 6 and 240" in done.err


def test_the_order_comes_with_the_plan_of_a_file_or_a_tag(plant: Path, tmp_path: Path) -> None:
    by_file, by_tag = tmp_path / "file.html", tmp_path / "tag.html"
    file = run("plan", write_motor(tmp_path), "--only", "start", "--html", by_file)
    tag = run("plan", "P-101", "--plant", plant, "--only", "start", "--html", by_tag)

    assert file.status is tag.status is ExitStatus.EXAMINED, file.err + tag.err
    assert "Measurement order" in file.out
    assert "P-07" in by_file.read_text(encoding="utf-8")
    assert "P-101" in by_tag.read_text(encoding="utf-8")
    refused = run("plan", write_motor(tmp_path), "--plant", plant)
    assert refused.status is not ExitStatus.EXAMINED
