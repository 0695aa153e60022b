"""Two programs at once on the same plant: both finish, and everything is there once."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path

import pytest

from cagewise.store import Plant
from cagewise.store.plant_file import PlantFile, write_plant_file
from support import processes
from support.plants import SERVER, motor_file, new_database
from support.processes import Child, run_at_once
from support.whole import require_whole

SCHEMAS = Path(__file__).parents[1] / "unit/store/schemas"
PLANT_ID = "6f0f3c52-6a0c-4f4e-9d4f-000000000001"


@pytest.fixture(params=["sqlite", "postgresql"])
def folder(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Path]:
    """A folder for a plant on either database."""
    with ExitStack() as stack:
        if request.param == "postgresql":
            server = os.environ.get(SERVER)
            if not server:
                pytest.skip(f"no PostgreSQL server (set {SERVER} to its URL)")
            url = stack.enter_context(new_database(server))
            (tmp_path / "database.txt").write_text(url)
        yield tmp_path


@pytest.fixture
def plant(folder: Path) -> Path:
    """The folder with a plant of one motor."""
    with Plant.create(folder / "plant", database=processes.database_of(folder)) as made:
        made.motors.add(motor_file())
    return folder


def count(folder: Path, table: str) -> int:
    with Plant.open(folder / "plant") as plant, plant.database.connection() as connection:
        query = f"SELECT count(*) FROM {table}"  # noqa: S608 - our own names
        return int(connection.exec_driver_sql(query).scalar_one())


def test_the_same_files_are_imported_once(plant: Path) -> None:
    (plant / "files").mkdir()
    for n in range(6):
        (plant / f"files/run{n}.dat").write_bytes(f"counts of run {n} ".encode() * 500)
    run_at_once([Child(processes.import_all, plant) for _ in range(2)])
    require_whole(plant / "plant")
    assert count(plant, "recording") == 12
    assert count(plant, "examination") == 6
    assert count(plant, "visit") == 1
    assert count(plant, "message") == 6


def test_different_work_does_not_disturb(plant: Path) -> None:
    said = run_at_once([Child(processes.add_motors, plant) for _ in range(2)])
    require_whole(plant / "plant")
    with Plant.open(plant / "plant") as opened:
        tags = {motor.tag for motor in opened.motors.all()}
    assert tags == {"P-101", *said[0], *said[1]}
    assert len(tags) == 41


def test_every_message_is_sent_once(plant: Path) -> None:
    with Plant.open(plant / "plant") as opened, opened.writing():
        for n in range(60):
            opened.outbox.put("webhook", str(n), {})
    said = run_at_once([Child(processes.send_all, plant) for _ in range(2)])
    assert sorted(said[0] + said[1]) == sorted(f"{n} 1" for n in range(60))


def test_two_create_one_plant(folder: Path) -> None:
    children = [Child(processes.create, folder) for _ in range(2)]
    statuses = sorted(child.end() for child in children)
    assert statuses in ([0, 0], [0, 1])  # the second may find the plant made already
    require_whole(folder / "plant")


def test_two_bring_one_plant_up_to_date(tmp_path: Path) -> None:
    (tmp_path / "plant").mkdir()
    shutil.copy(SCHEMAS / "0001.sqlite", tmp_path / "plant/history.sqlite")
    write_plant_file(tmp_path / "plant", PlantFile(plant_id=PLANT_ID))
    run_at_once([Child(processes.migrate, tmp_path) for _ in range(2)])
    with Plant.open(tmp_path / "plant") as plant:
        assert len(plant.motors.all()) == 1
    assert len(list((tmp_path / "plant/backups").iterdir())) == 1
