"""The commands "expect" and "simulate": wiring, tables at several widths, refusals."""

from __future__ import annotations

from pathlib import Path

import pytest

from cagewise.cli.status import ExitStatus
from cagewise.readers import read_recording
from support.commands import MOTOR_FILE, run

SHORT = ("--seconds", "2", "--rate", "2000")


@pytest.fixture
def motor_file(tmp_path: Path) -> Path:
    path = tmp_path / "motor.toml"
    path.write_text(MOTOR_FILE, encoding="utf-8")
    return path


@pytest.mark.parametrize("width", [60, 80, 120])
def test_expect_shows_every_load_within_the_page(motor_file: Path, width: int) -> None:
    done = run("expect", motor_file, "--width", str(width))

    assert done.status is ExitStatus.EXAMINED
    assert [f"{load} % load" in done.out for load in (10, 25, 50, 75, 100)] == [True] * 5
    assert "(5-4s)f" in done.out
    assert max(len(line) for line in done.out.splitlines()) <= width


def test_a_longer_record_shows_smaller_damage(motor_file: Path) -> None:
    short = run("expect", motor_file, "--seconds", "20", "--width", "100")
    long = run("expect", motor_file, "--seconds", "600", "--width", "100")

    assert "record of 20 s" in " ".join(short.out.split())
    assert "record of 600 s" in " ".join(long.out.split())
    assert short.out != long.out


def test_simulate_writes_a_recording_and_says_its_truth(motor_file: Path, tmp_path: Path) -> None:
    out = tmp_path / "made.parquet"
    done = run("simulate", motor_file, "-o", out, "--open-bars", "0,1", *SHORT)

    assert done.status is ExitStatus.EXAMINED
    recording = read_recording(out)
    assert recording.truth["open_bars"] == 2.0
    assert recording.n_samples == 4000
    assert f"{recording.truth['speed_rpm']:.2f} r/min" in done.out


def test_simulate_never_replaces_a_file_unasked(motor_file: Path, tmp_path: Path) -> None:
    out = tmp_path / "kept.csv"
    out.write_text("mine")
    done = run("simulate", motor_file, "-o", out, *SHORT)

    assert done.status is not ExitStatus.EXAMINED
    assert "kept.csv" in done.err
    assert out.read_text() == "mine"


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (("--open-bars", "one"), "--open-bars"),
        (("--cracked", "7:2"), "--cracked"),
        (("--open-bars", "99"), "99"),
        (("--load", "-1"), "load"),
        (("--seconds", "0"), "duration"),
    ],
)
def test_impossible_wishes_are_refused(
    motor_file: Path, tmp_path: Path, options: tuple[str, str], said: str
) -> None:
    out = tmp_path / "never.parquet"
    done = run("simulate", motor_file, "-o", out, *options)

    assert done.status not in (ExitStatus.EXAMINED, ExitStatus.INTERNAL)
    assert said in done.err
    assert not out.exists()
