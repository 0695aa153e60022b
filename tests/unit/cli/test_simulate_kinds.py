"""The command "simulate" with --start and --standstill: files, truth on the screen, refusals."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from cagewise.cli.status import ExitStatus
from cagewise.measurement import TerminalPair
from cagewise.readers import read_recording
from cagewise.readers.test_sheet import read_test_sheet
from support.commands import run, write_motor


@pytest.fixture
def motor_file(tmp_path: Path) -> Path:
    return write_motor(tmp_path)


def test_a_start_is_long_enough_by_itself(motor_file: Path, tmp_path: Path) -> None:
    out = tmp_path / "start.parquet"
    done = run("simulate", motor_file, "-o", out, "--start", "--open-bars", "3", "--width", "70")

    assert done.status is ExitStatus.EXAMINED
    recording = read_recording(out)
    time_to_speed = recording.truth["time_to_speed_s"]
    assert recording.truth["open_bars"] == 1.0
    assert recording.duration_s > 0.5 + time_to_speed + 2.0
    assert f"{time_to_speed:.3f} s" in done.out
    assert "Computed in" in done.out
    assert max(len(line) for line in done.out.splitlines()) <= 70


def test_a_relay_capture_of_one_current(motor_file: Path, tmp_path: Path) -> None:
    out = tmp_path / "relay.cfg"
    wishes = ("--rate", "1600", "--seconds", "2", "--channels", "i_a", "--range", "3")
    done = run("simulate", motor_file, "-o", out, "--start", *wishes)

    recording = read_recording(out)
    assert recording.n_samples == 3200
    assert len(recording.channels) == 1
    assert "the range is too small" in done.out


def test_channels_can_be_chosen_for_the_running_motor_too(motor_file: Path, tmp_path: Path) -> None:
    out = tmp_path / "one.npz"
    run("simulate", motor_file, "-o", out, "--seconds", "1", "--channels", "i_a,v_ab")

    assert sorted(role.value for role in read_recording(out).roles) == ["i_a", "v_ab"]


@pytest.mark.parametrize("starting", ["soft-starter", "converter"])
def test_other_ways_to_start(motor_file: Path, tmp_path: Path, starting: str) -> None:
    out = tmp_path / "start.parquet"
    gentle = run(
        "simulate", motor_file, "-o", out, "--start", "--starting", starting, "--ramp", "2"
    )

    assert gentle.status is ExitStatus.EXAMINED
    assert read_recording(out).truth["starting_current_rms_a"] < 0.6 * 6.0 * 99.0


@pytest.mark.parametrize("ending", [".toml", ".csv"])
def test_a_test_sheet_can_be_read_again(motor_file: Path, tmp_path: Path, ending: str) -> None:
    out = tmp_path / f"sheet{ending}"
    wishes = ("--date", "2031-03-04", "--open-bars", "3", "--insulation", "120", "--swap", "ab,ca")
    done = run("simulate", motor_file, "-o", out, "--standstill", *wishes)

    assert done.status is ExitStatus.EXAMINED
    sheet = read_test_sheet(out)
    assert sheet.motor_tag == "P-07"
    assert sheet.measured_on == date(2031, 3, 4)
    assert [series.pair for series in sheet.positions] == list(TerminalPair)
    assert sheet.insulation[0].resistance_ohm[3] == pytest.approx(120e6, rel=0.05)
    assert "120 Mohm" in done.out


@pytest.mark.parametrize(
    ("name", "wishes", "said"),
    [
        ("a.parquet", ("--start", "--standstill"), "two files"),
        ("a.parquet", ("--voltage", "0.9"), "Add --start"),
        ("a.parquet", ("--start", "--bad-joint", "0.1"), "--bad-joint: belongs to --standstill"),
        ("a.toml", (), "Add --standstill"),
        ("a.parquet", ("--start", "--channels", "i_x"), "--channels"),
        ("a.parquet", ("--start", "--channels", "v_a"), "no channel v_a"),
        ("a.toml", ("--standstill", "--swap", "ab"), "--swap"),
        ("a.toml", ("--standstill", "--date", "yesterday"), "--date"),
        ("a.toml", ("--standstill", "--positions", "2"), "positions"),
        ("a.parquet", ("--start", "--load", "75"), "75 %"),
    ],
)
def test_what_cannot_be_meant_is_refused(
    motor_file: Path, tmp_path: Path, name: str, wishes: tuple[str, ...], said: str
) -> None:
    done = run("simulate", motor_file, "-o", tmp_path / name, *wishes)

    assert done.status not in (ExitStatus.EXAMINED, ExitStatus.INTERNAL)
    assert said in done.err
    assert not (tmp_path / name).exists()
