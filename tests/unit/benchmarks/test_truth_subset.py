"""The subset of the study in CI: does it fail when calibration breaks?"""

from __future__ import annotations

import copy
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

import pytest

from cagewise.evidence.fusion.parameters import FamilyModel, FusionParameters, shipped
from cagewise.evidence.fusion.patterns import Family
from truth.packed import STORED, results
from truth.population import SCENARIOS, scene
from truth.subset import SCENES, drifted, numbers, of_subset, reference, reference_text

ROWS = of_subset(results([STORED]))
THEN = reference()


def changed(name: str, value: float) -> FusionParameters:
    """Return the shipped parameters with another number for the direct component."""
    parameters = shipped().parameters
    numbers_of = {**asdict(parameters.families[Family.DIRECT]), name: value}
    model = FamilyModel(**numbers_of)
    return replace(parameters, families={**parameters.families, Family.DIRECT: model})


def read_as(factor: float, spread: float) -> list[dict[str, Any]]:
    """Return the rows as if the direct component were read so many times as large, with intervals
    so many times as wide."""
    rows = copy.deepcopy(ROWS)
    for row in rows:
        for source in row["sources"]:
            for reading in source["readings"]:
                if reading["name"] == "direct_component" and reading["valid"]:
                    low, value, high = (factor * x for x in reading["open_bar_equivalent"])
                    low, high = (value + spread * (end - value) for end in (low, high))
                    reading["open_bar_equivalent"] = [max(low, 0.0), value, high]
    return rows


def test_the_subset_holds_every_scenario_both_halves_and_whole_visits() -> None:
    chosen = [scene(number) for number in SCENES]
    assert {s.scenario for s in chosen} == {name for name, _ in SCENARIOS}
    assert {s.half for s in chosen} == {0, 1}
    assert sum(s.visit for s in chosen) == 2
    assert 40 <= len(SCENES) == len(set(SCENES)) <= 60


def test_the_reference_is_what_the_shipped_calibration_makes_of_the_stored_results() -> None:
    """Fails when results or calibration changed and ``fit.py`` was not run after."""
    now = numbers(ROWS)
    assert not list(drifted(now, THEN))
    text = reference_text(now, "2026-01-01", "0")
    made = {line for line in text.splitlines() if " = " in line} - {
        'date = "2026-01-01"',
        'version = "0"',
    }
    stored = reference_text(THEN, "", "")
    assert made <= set(stored.splitlines())


def test_a_reference_is_read_back(tmp_path: Path) -> None:
    path = tmp_path / "subset.toml"
    path.write_text(reference_text(THEN, "2026-01-01", "0.1.0 abc"), encoding="utf-8")
    assert reference(path) == THEN


@pytest.mark.parametrize(
    ("broken", "says"),
    [
        (changed("bias", 0.7), "score"),
        (changed("bias", -0.7), "score"),
        (changed("outlier", 0.9), "score"),
        (changed("inflation", 8.0), "score"),
        (replace(shipped().parameters, guard=0.5), "brier"),
    ],
)
def test_a_broken_fit_is_seen(broken: FusionParameters, says: str) -> None:
    assert any(rule.startswith(says) for rule in drifted(numbers(ROWS, broken), THEN))


@pytest.mark.parametrize(
    ("factor", "spread", "says"),
    [(1.6, 1.0, "held"), (0.6, 1.0, "held"), (1.0, 0.3, "held"), (1.0, 2.0, "width")],
)
def test_a_broken_reading_is_seen(factor: float, spread: float, says: str) -> None:
    rules = list(drifted(numbers(read_as(factor, spread)), THEN))
    assert any(rule.startswith(says) for rule in rules)


def test_readings_that_fall_silent_are_seen() -> None:
    rows = copy.deepcopy(ROWS)
    for row in rows[:12]:
        row["said"] = None if row["said"] is None else {**row["said"], "state": "not decidable"}
        for source in row["sources"]:
            source["alone"] = row["said"]
            source["readings"] = []
    assert any(rule.startswith("decided") for rule in drifted(numbers(rows), THEN))


def test_a_false_call_more_is_seen() -> None:
    worse = replace(THEN, false_calls=THEN.false_calls + 1)
    assert [rule.split(":")[0] for rule in drifted(worse, THEN)] == ["false_calls"]
