from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
from sqlalchemy import text

from cagewise.errors import DamagedFileError, StoreError
from cagewise.store import ExaminationKeys, KeptRecording, Plant
from support.plants import DAY, examination_of, import_file, motor_file


@pytest.fixture
def kept(plant: Plant, tmp_path: Path) -> tuple[KeptRecording, ...]:
    path = tmp_path / "run.dat"
    path.write_bytes(b"counts")
    visit = plant.visits.on(plant.motors.add(motor_file()), DAY)
    return import_file(plant, path, visit)


def test_an_examination_comes_back(plant: Plant, kept: tuple[KeptRecording, ...]) -> None:
    motor = plant.motors.find("P-101")
    [visit] = plant.visits.of(motor)
    new = replace(examination_of(kept[:1], motor.nameplate_id), earlier=kept[1:])
    done = plant.examinations.add(visit, new)
    assert (done.keys, done.day, done.motor_id) == (new.keys, DAY, motor.id)
    document = plant.examinations.document(done)
    assert document.text == new.document
    assert document.settings == new.settings
    assert [(each.recording_id, each.earlier) for each in document.inputs] == [
        (kept[0].id, False),
        (kept[1].id, True),
    ]
    assert plant.examinations.readings(motor) == {done.id: list(new.readings)}
    assert plant.examinations.readings(motor, names=["upper_side_line"]) == {
        done.id: [new.readings[1]]
    }


def test_the_same_examination_is_kept_once(plant: Plant, kept: tuple[KeptRecording, ...]) -> None:
    motor = plant.motors.find("P-101")
    [visit] = plant.visits.of(motor)
    new = examination_of(kept, motor.nameplate_id)
    done = plant.examinations.add(visit, new)
    assert plant.examinations.add(visit, new) == done
    newer = replace(new, program_version="0.2.0")
    assert plant.examinations.add(visit, newer).id != done.id
    assert len(plant.examinations.of_visit(visit)) == 2


def test_the_latest_of_a_motor_is_that_of_its_latest_visit(
    plant: Plant, kept: tuple[KeptRecording, ...]
) -> None:
    motor = plant.motors.find("P-101")
    plant.motors.add(motor_file("P-102"))  # never examined
    new = examination_of(kept, motor.nameplate_id)
    late = plant.visits.on(motor, DAY + timedelta(days=30))
    early = plant.visits.on(motor, DAY)
    first = plant.examinations.add(late, new)
    second = plant.examinations.add(early, new)
    third = plant.examinations.add(late, replace(new, keys=ExaminationKeys(state="sound")))
    assert third == first  # keys follow from the document
    assert plant.examinations.latest() == [first]
    again = plant.examinations.add(late, replace(new, program_version="0.2.0"))
    assert plant.examinations.latest() == [again]
    assert plant.examinations.of_motor(motor) == [second, first, again]


@pytest.mark.parametrize(
    "table", ["examination", "examination_document", "examination_input", "reading", "original"]
)
def test_the_database_itself_refuses_to_change_an_examination(
    plant: Plant, kept: tuple[KeptRecording, ...], table: str
) -> None:
    motor = plant.motors.find("P-101")
    plant.examinations.add(plant.visits.on(motor, DAY), examination_of(kept, motor.nameplate_id))
    column = "size_bytes" if table == "original" else "examination_id"
    column = "motor_id" if table == "examination" else column
    for change in (f"UPDATE {table} SET {column} = 1", f"DELETE FROM {table}"):  # noqa: S608 - our own names
        with (
            pytest.raises(StoreError, match="never changed"),
            plant.database.connection() as connection,
        ):
            connection.execute(text(change))


def test_a_damaged_document_is_found(plant: Plant, kept: tuple[KeptRecording, ...]) -> None:
    if not plant.database.is_sqlite:
        pytest.skip("the guard is lifted in the file only")
    motor = plant.motors.find("P-101")
    done = plant.examinations.add(
        plant.visits.on(motor, DAY), examination_of(kept, motor.nameplate_id)
    )
    with plant.database.connection() as connection:
        connection.execute(text("DROP TRIGGER examination_document_no_update"))
        connection.execute(text("UPDATE examination_document SET document = x'78'"))
    with pytest.raises(DamagedFileError, match="document of examination 1"):
        plant.examinations.document(done)
