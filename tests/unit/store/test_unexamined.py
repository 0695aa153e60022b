"""Which visits hold something that no examination has looked at."""

from __future__ import annotations

from pathlib import Path

import pytest

from cagewise.store import KeptRecording, Plant, SourceFile, Visit
from support.plants import DAY, examination_of, import_file, motor_file


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder that is watched, with files of another one beside it."""
    for name in ("in", "in2"):
        (tmp_path / name).mkdir()
        (tmp_path / name / "run.dat").write_bytes(f"a recording in {name}".encode())
    return tmp_path / "in"


def imported(plant: Plant, path: Path, tag: str) -> tuple[Visit, tuple[KeptRecording, ...]]:
    visit = plant.visits.on(plant.motors.add(motor_file(tag)), DAY)
    return visit, import_file(plant, path, visit)


def examine(plant: Plant, visit: Visit, kept: tuple[KeptRecording, ...]) -> None:
    nameplate = plant.motors.get(visit.motor_id).nameplate_id
    plant.examinations.add(visit, examination_of(kept, nameplate))


def test_a_visit_waits_until_all_of_it_was_looked_at(plant: Plant, folder: Path) -> None:
    visit, kept = imported(plant, folder / "run.dat", "P-101")
    other, _ = imported(plant, folder.parent / "in2/run.dat", "P-102")
    assert plant.unexamined.below([folder]) == [visit]
    assert plant.unexamined.below([folder.parent]) == [visit, other]
    examine(plant, visit, kept[:1])
    assert plant.unexamined.below([folder]) == [visit]
    assert not plant.unexamined.has_seen(visit, kept, ())
    examine(plant, visit, kept)
    assert plant.unexamined.below([folder]) == []
    assert plant.unexamined.has_seen(visit, kept, ())
    assert not plant.unexamined.has_seen(other, kept, ())


def test_a_corrected_sheet_makes_a_visit_wait_again(plant: Plant, folder: Path) -> None:
    visit, kept = imported(plant, folder / "run.dat", "P-101")
    examine(plant, visit, kept)
    for text in (b"a sheet", b"the same sheet, corrected"):
        path = folder / "a.sheet.toml"
        path.write_bytes(text)
        original = plant.measurements.keep_original(path)
        sheet = plant.measurements.add_sheet(visit, original, measured_on=DAY)
        plant.ledger.note(SourceFile.of(path), original.checksum)
    assert plant.unexamined.below([folder]) == [visit]
    nameplate = plant.motors.get(visit.motor_id).nameplate_id
    plant.examinations.add(
        visit, examination_of((*kept, sheet), nameplate)
    )  # a sheet is an input, too
    assert plant.unexamined.below([folder]) == []  # the first sheet was replaced
    assert plant.unexamined.has_seen(visit, kept, [sheet])


def test_folders_are_told_apart_exactly(plant: Plant, folder: Path) -> None:
    visit, _ = imported(plant, folder / "run.dat", "P-101")
    assert plant.unexamined.below([folder.parent / "IN"]) == []
    assert plant.unexamined.below([folder.parent / "i_"]) == []
    assert plant.unexamined.below([Path("/")]) == [visit]
    [state] = plant.ledger.below(folder)
    assert plant.ledger.below(folder) == {state: ""}
    assert plant.ledger.below(folder.parent / "IN") == {}


def test_a_visit_is_held_inside_a_transaction(plant: Plant, folder: Path) -> None:
    visit, kept = imported(plant, folder / "run.dat", "P-101")
    with plant.writing():
        plant.unexamined.hold(visit)
        examine(plant, visit, kept)
    assert plant.unexamined.below([folder]) == []
