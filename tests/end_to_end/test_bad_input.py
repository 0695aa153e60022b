"""Files and nameplates that cannot be used: one message, a status of its own, nothing written."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest

from cagewise.cli.status import ExitStatus
from cagewise.workflows.demo import find_case
from support.commands import MOTOR_FILE, Run, run, write_motor

HUGE_WAV = (
    b"RIFF\xff\xff\xff\xffWAVEfmt \x10\0\0\0\1\0\1\0\0\0\1\0\0\0\2\0\2\0\x10\0data\xff\xff\xff\xff"
)
"""A header that declares four gigabytes, and nothing behind it."""


def assert_one_message(done: Run, *statuses: ExitStatus) -> None:
    assert done.status in statuses, done.err
    assert done.out == ""
    assert done.err.startswith("cagewise: ")
    assert "Traceback" not in done.err
    assert "fault of the program" not in done.err


def csv(path: Path, columns: dict[str, np.ndarray]) -> Path:
    names = list(columns)
    rows = np.column_stack([columns[name] for name in names])
    lines = [",".join(names), *(",".join(f"{v:.6g}" for v in row) for row in rows)]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def three_currents(seconds: float, rate_hz: float = 5000.0, amplitude: float = 100.0) -> dict:  # type: ignore[type-arg]  # columns
    time_s = np.arange(round(seconds * rate_hz)) / rate_hz
    phase = 2.0 * np.pi * 50.0 * time_s - 0.5
    currents = {
        f"i_{name} [A]": amplitude * np.cos(phase - 2.0 * np.pi / 3.0 * k)
        for k, name in enumerate("abc")
    }
    return {"time [s]": time_s, **currents}


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("empty.csv", b""),
        ("empty.cfg", b""),
        ("noise.bin", bytes(range(256)) * 40),
        ("text.csv", b"hello\nworld\n"),
        ("broken.mat", b"MATLAB 5.0 MAT-file" + b"\0" * 40),
        ("broken.parquet", b"PAR1" + b"\0" * 100),
        ("broken.npz", b"PK\x03\x04" + b"\0" * 100),
        ("huge.wav", HUGE_WAV),
        ("broken.cfg", b"station,1,1999\n999999,999999A,0D\n"),
    ],
)
def test_files_that_are_not_recordings(tmp_path: Path, name: str, content: bytes) -> None:
    path = tmp_path / name
    path.write_bytes(content)

    assert_one_message(run("assess", write_motor(tmp_path), path), ExitStatus.UNREADABLE)


def test_missing_files(tmp_path: Path) -> None:
    motor = write_motor(tmp_path)
    assert_one_message(run("assess", motor, tmp_path / "no.csv"), ExitStatus.UNREADABLE)
    assert_one_message(run("assess", tmp_path / "no.toml", motor), ExitStatus.UNREADABLE)
    assert_one_message(run("assess", tmp_path, tmp_path), ExitStatus.UNREADABLE)


def test_a_truncated_recording_is_refused_or_said_to_be_short(tmp_path: Path) -> None:
    case = find_case("idle")
    for suffix in (".cfg", ".dat"):
        content = case.file.with_suffix(suffix).read_bytes()
        kept = content if suffix == ".cfg" else content[: len(content) // 3]
        (tmp_path / f"idle{suffix}").write_bytes(kept)
    done = run("assess", case.motor, tmp_path / "idle.cfg")

    assert done.status in (ExitStatus.UNREADABLE, ExitStatus.EXAMINED)
    assert "fault of the program" not in done.err
    assert re.search(r"short|fewer|missing|less|truncated", done.err + done.out)


@pytest.mark.parametrize("seconds", [0.0002, 0.01, 0.3, 1.0])
def test_a_recording_that_is_too_short_is_not_decidable(tmp_path: Path, seconds: float) -> None:
    path = csv(tmp_path / "short.csv", three_currents(seconds))
    done = run("assess", write_motor(tmp_path), path)

    if done.status is ExitStatus.EXAMINED:
        assert "ROTOR CAGE: NOT DECIDABLE" in done.out
    else:
        assert_one_message(done, ExitStatus.UNREADABLE, ExitStatus.NEEDS_ANSWER)


def test_a_recording_of_zeros_is_not_decidable(tmp_path: Path) -> None:
    path = csv(tmp_path / "zero.csv", three_currents(10.0, 1000.0, amplitude=0.0))
    done = run("assess", write_motor(tmp_path), path)

    if done.status is ExitStatus.EXAMINED:
        assert "ROTOR CAGE: NOT DECIDABLE" in done.out
    else:
        assert_one_message(done, ExitStatus.NEEDS_ANSWER, ExitStatus.UNREADABLE)


def test_a_recording_full_of_nan_is_not_decidable(tmp_path: Path) -> None:
    columns = three_currents(10.0, 1000.0)
    for name in list(columns)[1:]:
        columns[name] = np.full_like(columns[name], np.nan)
    done = run("assess", write_motor(tmp_path), csv(tmp_path / "nan.csv", columns))

    if done.status is ExitStatus.EXAMINED:
        assert "ROTOR CAGE: NOT DECIDABLE" in done.out
    else:
        assert_one_message(done, ExitStatus.NEEDS_ANSWER, ExitStatus.UNREADABLE)


def test_a_clean_sine_has_no_slip_to_read(tmp_path: Path) -> None:
    """Three perfect currents: nothing tells the speed, so nothing is said of the cage."""
    path = csv(tmp_path / "sine.csv", three_currents(20.0, 2000.0, amplitude=120.0))
    done = run("assess", write_motor(tmp_path), path)

    assert done.status is ExitStatus.EXAMINED, done.err
    assert "ROTOR CAGE: NOT DECIDABLE" in done.out


def test_channels_that_nobody_can_name_are_asked_about(tmp_path: Path) -> None:
    columns = three_currents(5.0, 2000.0)
    renamed = dict(zip(["time [s]", "x1", "x2", "x3"], columns.values(), strict=True))
    done = run("assess", write_motor(tmp_path), csv(tmp_path / "x.csv", renamed))

    assert_one_message(done, ExitStatus.NEEDS_ANSWER)
    assert "--role" in done.err


def test_a_role_for_a_channel_that_does_not_exist() -> None:
    case = find_case("sound")
    done = run("assess", case.motor, case.file, "--role", "nobody=i_a")

    assert_one_message(done, ExitStatus.NEEDS_ANSWER)
    assert "I L1" in done.err


@pytest.mark.parametrize(
    "change",
    [
        ("rated_speed_rpm = 1475", "rated_speed_rpm = 1575"),
        ("rated_power_kw = 55", "rated_power_kw = nan"),
        ("poles = 4", "poles = 3"),
        ("rated_current_a = 99", "rated_current_a = 9900"),
        ("tag =", "tga ="),
    ],
)
def test_impossible_nameplates(tmp_path: Path, change: tuple[str, str]) -> None:
    motor = write_motor(tmp_path, MOTOR_FILE.replace(*change))

    assert_one_message(run("plan", motor), ExitStatus.UNREADABLE)


def test_nothing_is_written_when_the_input_is_bad(tmp_path: Path) -> None:
    bad = tmp_path / "bad.csv"
    bad.write_bytes(b"")
    motor = write_motor(tmp_path)
    out = tmp_path / "x.json"
    run("assess", motor, bad, "--json", out, "--html", tmp_path / "x.html")

    assert sorted(p.name for p in tmp_path.iterdir()) == ["bad.csv", "motor.toml"]


def test_one_recording_given_twice_is_no_second_witness(tmp_path: Path) -> None:
    motor = write_motor(tmp_path)
    path = csv(tmp_path / "a.csv", three_currents(5.0, 2000.0))
    copy = tmp_path / "b.csv"
    copy.write_bytes(path.read_bytes())

    assert_one_message(run("assess", motor, path, path), ExitStatus.UNREADABLE)
    done = run("assess", motor, path, copy)
    assert_one_message(done, ExitStatus.UNREADABLE)
    assert "cannot confirm itself" in done.err


@pytest.mark.parametrize("rate_hz", [250.0, 25_000.0])
def test_a_wrong_sampling_rate_is_named_not_believed(rate_hz: float) -> None:
    """The demo's damaged motor at a tenth and ten times its rate: 5 Hz and 500 Hz are no mains."""
    case = find_case("cracked")
    done = run("assess", case.motor, case.file, "--rate", str(rate_hz))

    assert done.status is ExitStatus.EXAMINED, done.err
    assert "ROTOR CAGE: NOT DECIDABLE" in done.out
    assert "check the sampling rate" in " ".join(done.out.split()[:80]).lower()


def test_a_nameplate_that_is_odd_is_named_before_roles_are_changed(tmp_path: Path) -> None:
    case = find_case("cracked")
    text = case.motor.read_text(encoding="utf-8").replace("power_kw = 315", "power_hp = 315")
    odd = "\n".join(
        line for line in text.splitlines() if not line.startswith(("power_factor", "efficiency"))
    )
    done = run("assess", write_motor(tmp_path, odd), case.file)
    if done.status is ExitStatus.NEEDS_ANSWER:
        assert "the power is in kW, not hp" in done.err
    else:
        assert "the power is in kW, not hp" in " ".join(done.out.split())
    planned = run("plan", tmp_path / "motor.toml").out
    assert "the power is in kW, not hp" in " ".join(planned.split())


def test_the_length_that_counts_is_that_of_the_steady_stretch(tmp_path: Path) -> None:
    """Seven of ten seconds are missing: what would do is compared with the three that are left."""
    columns = three_currents(10.0, 2000.0, amplitude=120.0)
    for name in list(columns)[1:]:
        columns[name][:14_000] = np.nan
    done = run("assess", write_motor(tmp_path), csv(tmp_path / "torn.csv", columns))

    assert done.status is ExitStatus.EXAMINED, done.err
    said = re.search(r"60 s of steady load \(it was ([0-9.]+) s\)", " ".join(done.out.split()))
    assert said is not None
    assert 2.0 < float(said[1]) < 3.1


def test_roles_of_another_recorder_do_not_stop_a_recording(tmp_path: Path) -> None:
    """The motor file names the channels of the plant's recorder; this is a file of another one."""
    path = csv(tmp_path / "a.csv", three_currents(5.0, 2000.0, amplitude=120.0))
    other = '\n[sensors]\nroles = { "CT L1" = "i_a", "CT L2" = "i_b" }\n'
    assert run("assess", write_motor(tmp_path, MOTOR_FILE + other), path).status is (
        ExitStatus.EXAMINED
    )
    half = other.replace("CT L1", "i_a")
    done = run("assess", write_motor(tmp_path, MOTOR_FILE + half), path)
    assert_one_message(done, ExitStatus.NEEDS_ANSWER)
    assert "[sensors] roles in the motor file" in done.err
