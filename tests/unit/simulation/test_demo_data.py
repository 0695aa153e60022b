"""The recordings shipped for the demo are those the committed generator makes, and small."""

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
from cagewise.readers import read_recording

FOLDER = Path(str(files("cagewise.workflows"))) / "demo_data"
GENERATOR = Path(__file__).resolve().parents[3] / "examples" / "make_demo_recordings.py"
ENTRIES: list[dict[str, Any]] = json.loads((FOLDER / "truth.json").read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def generator() -> ModuleType:
    spec = importlib.util.spec_from_file_location("make_demo_recordings", GENERATOR)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


def test_the_files_are_small_enough_to_ship() -> None:
    sizes = [path.stat().st_size for path in FOLDER.iterdir() if path.is_file()]
    assert max(sizes) <= 2.0e6
    assert sum(sizes) <= 7.0e6


@pytest.mark.parametrize("entry", ENTRIES, ids=[entry["name"] for entry in ENTRIES])
def test_recordings_have_roles_and_the_motor_of_the_file(entry: dict[str, Any]) -> None:
    recording = read_recording(FOLDER / entry["file"])
    motor = load_motor(FOLDER / entry["motor"])
    assert sorted(role.value for role in recording.roles) == ["i_a", "i_b", "i_c", "v_ab", "v_bc"]
    assert all(channel.raw.dtype == np.int16 for channel in recording.channels)
    assert recording.duration_s == pytest.approx(10.0 if entry["name"] == "idle" else 60.0)
    currents = np.array([channel.samples for channel in recording.channels[:3]])
    rms = float(np.sqrt(np.mean(currents**2)))
    assert rms == pytest.approx(entry["current_rms_a"], rel=2e-3)  # ratio errors of the clamps
    assert recording.nominal_frequency_hz == motor.nameplate.rated_frequency_hz
    assert entry["shaft_power_w"] < motor.nameplate.rated_power_w
    assert entry["rotor_bars"] == motor.cage.rotor_bars
    assert not recording.truth  # what is true is not in the recording


def test_the_demo_has_one_record_of_each_kind() -> None:
    kinds = {entry["name"]: (entry["state"], entry["expected"]) for entry in ENTRIES}
    assert kinds == {
        "cracked": ("defective", "defective"),
        "oscillating-load": ("sound", "sound"),
        "sound": ("sound", "sound"),
        "idle": ("defective", "not decidable"),
    }


def test_the_load_oscillates_exactly_at_twice_the_slip_frequency() -> None:
    entry = next(entry for entry in ENTRIES if entry["name"] == "oscillating-load")
    assert abs(entry["oscillation_missed_hz"]) < 1e-3  # 1/16 of what 60 s can resolve
    assert entry["oscillation_hz"] == pytest.approx(entry["pole_pass_frequency_hz"], abs=1e-3)


@pytest.mark.parametrize("name", ["idle", pytest.param("cracked", marks=pytest.mark.slow)])
def test_the_generator_makes_the_files(name: str, generator: ModuleType) -> None:
    """Equal but for rounding of the last count: processors may order sums differently."""
    case = next(case for case in generator.CASES if case.name == name)
    made, shipped = generator.record(case), read_recording(FOLDER / case.file_name)
    for ours, theirs in zip(made.channels, shipped.channels, strict=True):
        assert ours.name == theirs.name
        assert ours.scale == pytest.approx(theirs.scale)
        difference = np.abs(ours.raw.astype(np.int64) - theirs.raw.astype(np.int64))
        assert difference.max() <= 1
        assert np.mean(difference) < 1e-3
