"""The visits shipped for the demo: what is in the files, and that the committed generator makes
them."""

from __future__ import annotations

import importlib.util
import json
import sys
from importlib.resources import files
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import pytest

from cagewise.machine.motor_file import load_motor
from cagewise.measurement import Recording, Role
from cagewise.readers import read_recording
from cagewise.readers.test_sheet import is_test_sheet, read_test_sheet

FOLDER = Path(str(files("cagewise.workflows"))) / "demo_data"
GENERATOR = Path(__file__).resolve().parents[3] / "examples" / "make_demo_visits.py"
ENTRIES: list[dict[str, Any]] = json.loads((FOLDER / "visits.json").read_text(encoding="utf-8"))
NAMES = [str(entry["name"]) for entry in ENTRIES]


@pytest.fixture(scope="module")
def generator() -> ModuleType:
    spec = importlib.util.spec_from_file_location("make_demo_visits", GENERATOR)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


def _paths(entry: dict[str, Any]) -> list[Path]:
    return [FOLDER / name for name in (*entry["files"], *entry["earlier"])]


def test_the_visits_add_less_than_three_megabytes() -> None:
    names = {path for entry in ENTRIES for path in _paths(entry)}
    assert sum(path.stat().st_size for path in names) < 3.0e6


@pytest.mark.parametrize("entry", ENTRIES, ids=NAMES)
def test_every_visit_has_a_running_record_a_start_and_a_sheet(entry: dict[str, Any]) -> None:
    now = [FOLDER / name for name in entry["files"]]
    assert [is_test_sheet(path) for path in now] == [False, False, True]
    running, start = (read_recording(path) for path in now[:2])
    assert running.duration_s >= 30.0
    assert _rms(running, 0.0, 1.0) == pytest.approx(
        _rms(start, start.duration_s - 1.0, 1.0), rel=0.1
    )


@pytest.mark.parametrize("entry", ENTRIES, ids=NAMES)
def test_no_file_tells_its_truth(entry: dict[str, Any]) -> None:
    for path in _paths(entry):
        if is_test_sheet(path):
            assert not read_test_sheet(path).truth
        else:
            assert not read_recording(path).truth


@pytest.mark.parametrize("entry", ENTRIES, ids=NAMES)
def test_starts_hold_rest_run_up_and_running(entry: dict[str, Any]) -> None:
    """Half a second of rest; the starting current, which damage makes beat; after the truth's
    time to speed it falls."""
    rated = load_motor(FOLDER / entry["motor"]).nameplate.rated_current_a
    for path in (p for p in _paths(entry) if p.stem.endswith("-start")):
        truth, recording = entry["truth"][path.name], read_recording(path)
        assert _rms(recording, 0.0, 0.4) < 0.02 * rated
        assert 4.8 < _rms(recording, 0.6, 0.5) / rated < 5.8
        reached = 0.5 + truth["time_to_speed_s"]
        assert _rms(recording, reached + 0.5, 0.5) < rated
        assert recording.duration_s > reached + 2.0
        currents = [c for c in recording.channels if c.unit == "A"]
        assert all(np.abs(c.raw).max() < (c.range_high or np.inf) for c in currents)


def _rms(recording: Recording, from_s: float, for_s: float) -> float:
    channel = recording.find(Role.CURRENT_A)
    assert channel is not None
    first = round(from_s * recording.sampling_rate_hz)
    cut = channel.samples[first : first + round(for_s * recording.sampling_rate_hz)]
    return float(np.sqrt(np.mean(cut**2)))


def test_the_damage_came_after_the_earlier_visits() -> None:
    entry = next(e for e in ENTRIES if e["name"] == "whole-visit")
    assert [entry["truth"][name]["open_bars"] for name in entry["files"]] == [1.0] * 3
    assert [entry["truth"][name]["open_bars"] for name in entry["earlier"]] == [0.0] * 6
    assert all(t["rotor_bars"] == 44.0 for t in entry["truth"].values())


def test_the_damp_motor_is_damp() -> None:
    """Below the 100 MOhm of a form-wound winding (IEEE 43-2013, quoted in trade texts) by far."""
    entry = next(e for e in ENTRIES if e["name"] == "damp-motor")
    (sheet,) = (read_test_sheet(p) for p in _paths(entry) if is_test_sheet(p))
    (test,) = sheet.insulation
    assert test.resistance_ohm[3] < 3e7
    assert test.resistance_ohm[-1] / test.resistance_ohm[3] < 1.4
    assert sheet.dew_point_degc is not None
    assert sheet.winding_temperature_degc is not None
    assert sheet.dew_point_degc < sheet.winding_temperature_degc


@pytest.mark.slow
def test_the_generator_makes_the_sheet(generator: ModuleType) -> None:
    """Equal but for the last shown digit: processors may order sums differently."""
    visit = next(v for v in generator.VISITS if v.name == "damp-motor")
    made = generator.sheet(visit, visit.now, load_motor(FOLDER / generator.MOTOR_FILE))
    shipped = read_test_sheet(FOLDER / "damp-motor.sheet.toml")
    for ours, theirs in zip(made.positions, shipped.positions, strict=True):
        assert ours.inductance_h == pytest.approx(theirs.inductance_h, rel=2e-4)
        assert ours.resistance_ohm == pytest.approx(theirs.resistance_ohm, rel=2e-4)
        assert ours.shaft_angle_rad == pytest.approx(theirs.shaft_angle_rad, abs=1e-9)
    assert made.measured_on == shipped.measured_on


@pytest.mark.slow
def test_the_generator_makes_the_start(generator: ModuleType) -> None:
    visit = next(v for v in generator.VISITS if v.name == "whole-visit")
    made = generator.start(visit, visit.now, load_motor(FOLDER / generator.MOTOR_FILE))
    shipped = read_recording(FOLDER / "whole-visit-start.parquet")
    for ours, theirs in zip(made.channels, shipped.channels, strict=True):
        assert ours.name == theirs.name
        difference = np.abs(ours.raw.astype(np.int64) - theirs.raw.astype(np.int64))
        assert difference.max() <= 1
        assert np.mean(difference) < 1e-3
