"""An examination that is killed: no half of it, no original lost, and once again it is the same."""

from __future__ import annotations

import random
import shutil
import sqlite3
import time
from collections.abc import Callable
from contextlib import closing
from hashlib import sha256
from pathlib import Path

import pytest

from cagewise.store import Plant
from cagewise.workflows.plant_assess import PlantAssessOptions, assess_visit
from cagewise.workflows.plant_import import ImportOptions, import_files
from support.demo_plants import kiln_plant, laid_out
from support.kills import seeds_of_kills
from support.processes import PATIENCE_S, Child

Say = Callable[[str], None]
Step = Callable[[str], None]

SHEET, START = "whole-visit-2027.sheet.toml", "whole-visit-2027-start.parquet"
KILLED = -9
OTHER_ROLES = {
    "I L1": "i_b",
    "I L2": "i_c",
    "I L3": "i_a",
    "U L1-L2": "v_bc",
    "U L2-L3": "v_ca",
}
"""The phases called one further: stated at the examination, so that it is decoded again."""

HALVES = {
    "document": "SELECT e.id FROM examination e LEFT JOIN examination_document d "
    "ON d.examination_id = e.id WHERE d.examination_id IS NULL",
    "inputs": "SELECT e.id FROM examination e LEFT JOIN examination_input i "
    "ON i.examination_id = e.id WHERE i.examination_id IS NULL",
    "readings": "SELECT e.id FROM examination e LEFT JOIN reading r "
    "ON r.examination_id = e.id WHERE r.examination_id IS NULL",
    "files": "SELECT r.id FROM recording r LEFT JOIN recording_file f "
    "ON f.recording_id = r.id WHERE f.recording_id IS NULL",
}
"""Rows that would be half of something."""


def assess_sheet(folder: Path, step: Step, say: Say) -> None:
    """Examine the visit of a plant as it is."""
    with Plant.open(folder / "plant", step=step, patience_s=PATIENCE_S) as plant:
        [motor] = plant.motors.all()
        say(str(assess_visit(plant, motor).kept.id))


def assess_decoding_again(folder: Path, step: Step, say: Say) -> None:
    """Examine the visit of a plant with other roles than before."""
    with Plant.open(folder / "plant", step=step, patience_s=PATIENCE_S) as plant:
        [motor] = plant.motors.all()
        options = PlantAssessOptions(roles=OTHER_ROLES)
        say(str(assess_visit(plant, motor, options).kept.id))


WORKS = {"as it is": (assess_sheet, (SHEET,)), "decoded again": (assess_decoding_again, (START,))}


def plant_with(folder: Path, names: tuple[str, ...]) -> Path:
    """Make a plant with one visit."""
    folder.mkdir()
    plant, motor = kiln_plant(folder)
    with plant:
        reports = list(
            import_files(plant, [laid_out(folder / "in", names)], ImportOptions(tag=motor.tag))
        )
    assert not any(report.reason for report in reports)
    return folder


def require_whole(folder: Path) -> None:
    """Raise unless every row is whole and every file is what its name says."""
    with closing(sqlite3.connect(folder / "plant/history.sqlite")) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        for what, query in HALVES.items():
            assert connection.execute(query).fetchall() == [], what
        originals = {row[0] for row in connection.execute("SELECT checksum FROM original")}
        waveforms = dict(connection.execute("SELECT waveform, waveform_checksum FROM recording"))
    assert originals
    for checksum in originals:
        content = (folder / "plant/originals" / checksum[:2] / checksum).read_bytes()
        assert sha256(content).hexdigest() == checksum
    for name, checksum in waveforms.items():
        content = (folder / "plant/waveforms" / name).read_bytes()
        assert sha256(content).hexdigest() == checksum


def documents_of(folder: Path) -> list[str]:
    """Return the documents of all examinations."""
    with Plant.open(folder / "plant") as plant:
        [motor] = plant.motors.all()
        kept = plant.examinations.of_motor(motor)
        return [plant.examinations.document(each).text for each in kept]


def recordings_of(folder: Path) -> int:
    with Plant.open(folder / "plant") as plant:
        [motor] = plant.motors.all()
        visits = plant.visits.of(motor)
        return sum(len(plant.measurements.recordings(visit)) for visit in visits)


@pytest.mark.parametrize(
    "kind", ["as it is", pytest.param("decoded again", marks=pytest.mark.slow)]
)
def test_killed_at_every_step_an_examination_is_there_whole_or_not_at_all(
    kind: str, tmp_path: Path
) -> None:
    work, names = WORKS[kind]
    model = plant_with(tmp_path / "model", names)
    shutil.copytree(model, tmp_path / "free")
    steps: list[str] = []
    work(tmp_path / "free", steps.append, lambda _: None)
    [wanted] = documents_of(tmp_path / "free")
    assert steps[-3:] == [
        "examination inserted",
        "examination complete",
        "examination committed",
    ]
    assert ("recording inserted" in steps) == (kind == "decoded again")

    for n, step in enumerate(steps, start=1):
        folder = tmp_path / f"{n}"
        shutil.copytree(model, folder)
        child = Child(work, folder, kill_at=n)
        assert child.end() == KILLED, step
        assert child.said == []
        require_whole(folder)
        assert documents_of(folder) == ([wanted] if step == "examination committed" else []), step
        work(folder, lambda _: None, lambda _: None)
        require_whole(folder)
        assert documents_of(folder) == [wanted], step
        assert recordings_of(folder) == recordings_of(tmp_path / "free"), step
        shutil.rmtree(folder)


@pytest.mark.parametrize("seed", seeds_of_kills())
def test_killed_at_any_moment_an_examination_is_made_once(seed: int, tmp_path: Path) -> None:
    chance = random.Random(seed)  # noqa: S311 - to choose a moment
    work, names = WORKS["decoded again" if seed % 2 else "as it is"]
    folder = plant_with(tmp_path / "one", names)
    said: list[str] = []
    for _ in range(2):
        child = Child(work, folder)
        time.sleep(chance.uniform(0.05, 2.0))
        child.kill()
        child.end()
        said += child.said
        require_whole(folder)
        assert len(documents_of(folder)) >= min(1, len(said))  # what was said to be kept is kept

    work(folder, lambda _: None, said.append)

    assert len(documents_of(folder)) == len(set(said)) == 1
    require_whole(folder)
