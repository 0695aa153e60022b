"""The invented plant tells its stories."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from cagewise.cli.status import ExitStatus
from cagewise.store import Plant
from cagewise.workflows import demo_plant_story
from cagewise.workflows.demo_plant import build_demo_plant
from support.commands import run

LAST = date(2031, 3, 4)


@pytest.mark.slow
def test_one_command_builds_the_plant_and_its_pages_tell_the_stories(tmp_path: Path) -> None:
    folder = tmp_path / "plant"
    assert run("demo-plant", folder, "--until", LAST.isoformat()).status is ExitStatus.EXAMINED

    def page(*words: str) -> str:
        done = run(*words, "--plant", folder, "--on", LAST.isoformat())
        assert done.status is ExitStatus.EXAMINED, done.err
        return " ".join(done.out.split())

    ranking = page("list")
    assert ranking.index("DC-210-M defective") < ranking.index("FW-102-M sound")
    assert "CT-006-M never record it running" in ranking
    assert "TREND: growing" in page("trend", "DC-210-M")
    assert "TREND: nothing seen" in page("trend", "WW-310-M")
    assert "Too few points: 3 comparable of at least 4" in page("trend", "RF-115-M")
    suspected = page("case", "show", "WW-310-M")
    assert "load that swings at the pole-pass frequency" in suspected
    repaired = page("case", "show", "RF-115-M")
    assert "2 open bars were found, inside our interval" in repaired
    assert "The shop: number of stator slots" in repaired


def test_every_visit_is_measured_and_examined(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    quiet = demo_plant_story.QUIET[2]
    monkeypatch.setattr(demo_plant_story, "MOTORS", (quiet,))
    for name in ("_developing", "_suspected", "_repaired"):
        monkeypatch.setattr(f"cagewise.workflows.demo_plant.{name}", lambda *_: None)
    told: list[str] = []

    build_demo_plant(tmp_path / "plant", told.append, until=LAST)

    assert len(told) == 1
    with Plant.open(tmp_path / "plant") as plant:
        motor = plant.motors.find(quiet.tag)
        (visit,) = plant.visits.of(motor)
        (kept,) = plant.measurements.recordings(visit)
        (examined,) = plant.examinations.of_motor(motor)
        assert plant.measurements.load(kept).n_samples == 32_000
        assert examined.keys.state == "sound"
        assert plant.examinations.document(examined).inputs[0].recording_id == kept.id
