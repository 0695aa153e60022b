"""The command "sheet" as a new user meets it: write, fill in, check, mend, check again."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from openpyxl import load_workbook

from cagewise.cli.status import ExitStatus
from cagewise.readers.test_sheet import read_test_sheet
from support.commands import run, write_motor

MINIMAL = (
    "cagewise test sheet;1\nmotor;P-07\nmeasured_on;2031-05-17\nmeasured_at;switchboard\n"
    "[winding_resistance]\nab_resistance_milliohm;12,3\n"
)


@pytest.mark.parametrize("form", ["toml", "csv", "xlsx"])
def test_an_empty_sheet_says_what_is_missing(tmp_path: Path, form: str) -> None:
    sheet = tmp_path / f"sheet.{form}"
    done = run(
        "sheet", write_motor(tmp_path), "-o", sheet, "--frequency", "50", "--frequency", "200"
    )
    assert done.status is ExitStatus.EXAMINED, done.err
    assert "at 50 and 200 Hz" in done.out
    assert "per pole pair" in done.out

    checked = run("sheet", "--check", sheet)
    assert checked.status is ExitStatus.UNREADABLE
    assert "measured_on: is missing" in checked.err
    assert "measured_at: is missing" in checked.err


def test_filling_in_a_csv_by_hand(tmp_path: Path) -> None:
    sheet = tmp_path / "sheet.csv"
    assert run("sheet", write_motor(tmp_path), "-o", sheet).status is ExitStatus.EXAMINED
    text = sheet.read_text(encoding="utf-8-sig")
    for blank, filled in {
        "measured_on;": "measured_on;17.05.2031",
        "measured_at;": "measured_at;motor terminals",
        "\n0;;;;;;": "\n0;12,5;12,6;12,4;;;",
        "\n7.2;;;;;;": "\n7.2;12,8;12,1;12,2;;;",
        "\n360;;;;;;": "\n360;12,55;12,6;12,4;;;",
        "ab_resistance_ohm;;#": "ab_resistance_ohm;0,41;#",
    }.items():
        assert blank in text
        text = text.replace(blank, filled)
    sheet.write_text(text, encoding="utf-8")

    done = run("sheet", "--check", sheet, "--ascii")
    assert done.status is ExitStatus.EXAMINED, done.err
    lines = [" ".join(line.split()) for line in done.out.splitlines()]
    assert lines[0] == "P-07, measured on 2031-05-17 at the motor terminals"
    assert "ab_inductance_mh 3 12,5 mh 0.0125 H" in lines
    assert "ab_resistance_ohm 1 0,41 ohm 0.41 ohm" in lines
    assert lines[-2].startswith("Not filled in: [conditions], [insulation_resistance]")
    (first, *_) = read_test_sheet(sheet).positions
    assert first.shaft_angle_rad.size == 3  # two angles and the return
    assert first.inductance_h is not None
    assert first.inductance_h.tolist() == [0.0125, 0.0128, 0.01255]


def test_filling_in_a_workbook(tmp_path: Path) -> None:
    sheet = tmp_path / "sheet.xlsx"
    assert run("sheet", write_motor(tmp_path), "-o", sheet).status is ExitStatus.EXAMINED
    book = load_workbook(sheet)
    for row in book.worksheets[0].iter_rows():
        if row[0].value == "measured_on":
            row[1].value = "2031-05-17"
        if row[0].value == "measured_at":
            row[1].value = "panel"
    book.save(sheet)
    refused = run("sheet", "--check", sheet)
    assert refused.status is ExitStatus.UNREADABLE
    assert 'Write "motor terminals" or "switchboard"' in refused.err
    for row in book.worksheets[0].iter_rows():
        if row[0].value == "measured_at":
            row[1].value = "switchboard"
    book.save(sheet)
    done = run("sheet", "--check", sheet)
    assert done.status is ExitStatus.EXAMINED, done.err
    assert "There are no readings in it yet." in done.out


def test_voltage_over_current_is_said(tmp_path: Path) -> None:
    sheet = tmp_path / "sheet.csv"
    body = "[position]\nfrequency_hz;50\nshaft_angle_deg;ab_voltage_v;ab_current_a\n0;10;2\n"
    sheet.write_text(MINIMAL + body)
    assert "Impedance: voltage over current." in run("sheet", "--check", sheet).out


def test_existing_files_and_inputs_are_left_alone(tmp_path: Path) -> None:
    motor, sheet = write_motor(tmp_path), tmp_path / "sheet.csv"
    sheet.write_text("mine")
    done = run("sheet", motor, "-o", sheet)
    assert done.status is ExitStatus.NOT_WRITTEN
    assert "--force" in done.err
    assert sheet.read_text() == "mine"
    assert run("sheet", motor, "-o", sheet, "--force").status is ExitStatus.EXAMINED
    assert run("sheet", motor, "-o", motor, "--force").status is ExitStatus.NOT_WRITTEN
    assert run("sheet", motor, "-o", tmp_path / "sheet.ods").status is ExitStatus.NOT_WRITTEN
    assert not list(tmp_path.glob(".sheet*"))


@pytest.mark.parametrize(
    "arguments",
    [
        (),
        ("motor.toml",),
        ("motor.toml", "--check", "sheet.csv"),
        ("--check", "sheet.csv", "-o", "other.csv"),
        ("motor.toml", "-o", "sheet.xlsx", "--decimal-comma"),
    ],
)
def test_calls_that_mean_nothing(arguments: tuple[str, ...]) -> None:
    done = run("sheet", *arguments)
    assert done.status is ExitStatus.USAGE, done.err


def test_inputs_that_cannot_be_used(tmp_path: Path) -> None:
    motor = write_motor(tmp_path)
    for frequency in ("0", "nan", "1e9"):
        done = run("sheet", motor, "-o", tmp_path / "s.csv", "--frequency", frequency)
        assert done.status is ExitStatus.UNREADABLE
        assert "test frequency" in done.err
    assert run("sheet", "--check", tmp_path / "absent.csv").status is ExitStatus.UNREADABLE
    assert run("sheet", "--check", motor).status is ExitStatus.UNREADABLE


def test_decimal_commas_for_spreadsheets_that_want_them(tmp_path: Path) -> None:
    sheet = tmp_path / "sheet.csv"
    done = run("sheet", write_motor(tmp_path), "-o", sheet, "--decimal-comma")
    assert done.status is ExitStatus.EXAMINED
    assert "\n7,2;" in sheet.read_text(encoding="utf-8-sig")


def test_the_library_of_workbooks_is_loaded_for_workbooks_only(tmp_path: Path) -> None:
    sheet = tmp_path / "sheet.csv"
    sheet.write_text(MINIMAL)
    code = (
        "import sys; from cagewise.cli.run import main;"
        "main(['--help'], out=sys.stderr); main(sys.argv[1:], out=sys.stderr);"
        "heavy = {'openpyxl', 'pyarrow', 'h5py', 'matplotlib', 'pydantic'};"
        "print(sorted(heavy & set(sys.modules)))"
    )
    done = subprocess.run(  # noqa: S603  # our own interpreter
        [sys.executable, "-c", code, "sheet", "--check", str(sheet)],
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stdout.strip() == "[]"
