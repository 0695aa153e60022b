"""Recordings nobody on the project made: read, examined where it is a motor, never over-claimed."""

from __future__ import annotations

import re
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
        length = re.search(r"60 s of steady load \(it was ([0-9.]+) s\)", text)
        assert length is not None
        assert float(length[1]) <= 5.0
        assert "60 % load (what it was is not known)" in text
        assert "6400 samples per second (it was 1000)" in text


def test_the_stated_ratio_shows_that_no_load_cannot_decide(open_data: Path, tmp_path: Path) -> None:
    """The bench ran empty. Its amperes are doubtful (5 A of a 3 A motor); at a ratio that gives a
    usual no-load current the load is read as light, and the page asks for more."""
    motor = write_motor(tmp_path, BENCH_MOTOR)
    path = open_data / "itsc-stator-fault" / "RAW_Signals" / "SC_HLT_001.csv"
    roles = [f"{role}*0.35" for role in THREE_ROLES]
    done = run("assess", motor, path, "--rate", "1000", *roles)
    assert_not_called_a_cage_defect(done)
    assert re.search(r"60 % load \(it was \d %\)", " ".join(done.out.split()))


def test_every_file_is_examined_or_refused_with_one_message(
    open_data: Path, tmp_path: Path
) -> None:
    """Recordings of anything and files of every other kind: never a crash, never a claim. The
    records of one folder are alike; every fifth of a long folder is read."""
    motor = write_motor(tmp_path, OTHER_MOTOR)
    folders: dict[Path, list[Path]] = {}
    for path in sorted(p for p in open_data.rglob("*") if p.is_file()):
        folders.setdefault(path.parent, []).append(path)
    chosen = [p for files in folders.values() for p in files[:: 5 if len(files) > 20 else 1]]
    assert len(chosen) > 60
    for path in chosen:
        done = run("assess", motor, path)
        if done.status is ExitStatus.EXAMINED:
            assert_not_called_a_cage_defect(done)
        else:
            assert done.status in (ExitStatus.UNREADABLE, ExitStatus.NEEDS_ANSWER), done.err
            assert done.out == ""
            assert done.err.startswith("cagewise: ")
            assert path.stem in done.err
            assert "Traceback" not in done.err


def test_one_current_of_a_second_is_not_called_a_cage_defect(
    open_data: Path, tmp_path: Path
) -> None:
    motor = write_motor(tmp_path, OTHER_MOTOR)
    for path in sorted((open_data / "im-current-unbalance").glob("*.csv")):
        done = run("assess", motor, path, "--rate", "10000", "--role", "column 1=i_a")
        assert_not_called_a_cage_defect(done)


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
