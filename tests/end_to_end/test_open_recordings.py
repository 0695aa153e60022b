"""Recordings nobody on the project made: read, examined where it is a motor, never over-claimed."""

from __future__ import annotations

from pathlib import Path

import pytest

from cagewise.cli.status import ExitStatus
from support.commands import Run, run, write_motor

BENCH_MOTOR = """\
[motor]
tag = "bench"
rated_power_hp = 0.75
rated_voltage_v = 230
rated_frequency_hz = 60
rated_speed_rpm = 1725
rated_current_a = 3.0
poles = 4
"""
"""Nameplate of the inter-turn test bench, as its note states it."""

OTHER_MOTOR = """\
[motor]
tag = "unknown"
rated_power_kw = 5.5
rated_voltage_v = 400
rated_frequency_hz = 50
rated_speed_rpm = 1450
rated_current_a = 11
poles = 4
"""
"""A stand-in where the machine is not stated."""

THREE_ROLES = [f"--role=column {k}=i_{phase}" for k, phase in enumerate("abc", start=1)]


def assert_not_called_a_cage_defect(done: Run) -> None:
    assert done.status is ExitStatus.EXAMINED, done.err
    assert "ROTOR CAGE: NOT DECIDABLE" in done.out


def test_stator_faults_are_not_called_a_cage_defect(open_data: Path, tmp_path: Path) -> None:
    """1 kHz, 5 s, no load, an inter-turn fault switched on within the record: none can decide the
    cage, and the page says what would. Every fifth of the real records is read here."""
    motor = write_motor(tmp_path, BENCH_MOTOR)
    files = sorted((open_data / "itsc-stator-fault" / "RAW_Signals").glob("*.csv"))[::5]
    assert files
    for path in files:
        done = run("assess", motor, path, "--rate", "1000", *THREE_ROLES)
        assert_not_called_a_cage_defect(done)
        text = " ".join(done.out.split())
        assert "What would do instead: " in text
        assert "s of steady load (it was 5.00 s)" in text
        assert "5000 samples per second (it was 1000)" in text


def test_one_current_of_a_second_is_not_called_a_cage_defect(
    open_data: Path, tmp_path: Path
) -> None:
    motor = write_motor(tmp_path, OTHER_MOTOR)
    for path in sorted((open_data / "im-current-unbalance").glob("*.csv")):
        done = run("assess", motor, path, "--rate", "10000", "--role", "column 1=i_a")
        assert_not_called_a_cage_defect(done)


def test_relay_captures_are_examined_or_asked_about(open_data: Path, tmp_path: Path) -> None:
    """Captures of feeders and transformers: nothing in them may be called a cage, sound or not."""
    motor = write_motor(tmp_path, OTHER_MOTOR)
    files = [
        path
        for path in sorted((open_data / "comtrade").rglob("*"))
        if path.suffix.lower() in {".cfg", ".cff"}
    ]
    assert files
    for path in files:
        done = run("assess", motor, path)
        if done.status is ExitStatus.EXAMINED:
            assert_not_called_a_cage_defect(done)
        else:
            assert done.status in (ExitStatus.UNREADABLE, ExitStatus.NEEDS_ANSWER), done.err
            assert done.err.startswith("cagewise: ")


@pytest.mark.parametrize("form", ["json", "html"])
def test_files_are_written_for_a_record_that_cannot_answer(
    open_data: Path, tmp_path: Path, form: str
) -> None:
    motor = write_motor(tmp_path, BENCH_MOTOR)
    path = next((open_data / "itsc-stator-fault" / "RAW_Signals").glob("*.csv"))
    out = tmp_path / f"x.{form}"
    done = run("assess", motor, path, "--rate", "1000", *THREE_ROLES, f"--{form}", out)

    assert done.status is ExitStatus.EXAMINED
    assert "not decidable" in out.read_text(encoding="utf-8")
