"""Programs are killed at every step and at random moments: nothing is lost, nothing is half."""

from __future__ import annotations

import random
import shutil
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from hashlib import sha256
from pathlib import Path

import pytest

from cagewise.store import Plant, SourceFile, export, restore
from cagewise.store.plant_file import PlantFile, write_plant_file
from support import processes
from support.kills import seeds_of_kills
from support.plants import fill, motor_file
from support.processes import Child, Work
from support.whole import OF_TWO, require_whole

SCHEMAS = Path(__file__).parents[1] / "unit/store/schemas"
PLANT_ID = "6f0f3c52-6a0c-4f4e-9d4f-000000000001"
KILLED = -9
CONTENTS = {f"run{n}.dat": f"counts of run {n} ".encode() * 500 for n in range(6)}


def with_files(folder: Path, count: int = 1) -> None:
    """Make a plant with one motor, and files to import."""
    with Plant.create(folder / "plant") as plant:
        plant.motors.add(motor_file())
    (folder / "files").mkdir()
    for name in sorted(CONTENTS)[:count]:
        (folder / "files" / name).write_bytes(CONTENTS[name])


def with_recordings(folder: Path, count: int = 3) -> None:
    """Make a plant with one motor, and recordings to import."""
    with_files(folder, 0)
    for n in range(count):
        rows = "".join(f"{k / 1000};{(k * 7 + n) % 11};{k % 5};{k % 3}\n" for k in range(200))
        (folder / f"files/run{n}.csv").write_text(f"t;IL1;IL2;IL3\n{rows}", encoding="utf-8")


def require_recordings(folder: Path) -> None:
    """Raise unless every recording was imported once, and none is still on its way."""
    require_whole(folder / "plant", except_for=OF_TWO)
    n = len(list((folder / "files").iterdir()))
    with Plant.open(folder / "plant") as plant:
        assert list(counts_of(plant).values()) == [n, 0, n, 0]


def with_old_schema(folder: Path) -> None:
    """Make a plant of the first schema."""
    (folder / "plant").mkdir()
    shutil.copy(SCHEMAS / "0001.sqlite", folder / "plant/history.sqlite")
    write_plant_file(folder / "plant", PlantFile(plant_id=PLANT_ID))


def with_archive(folder: Path) -> None:
    """Make a full plant and an archive of it."""
    with Plant.create(folder / "plant") as plant:
        fill(plant, folder)
        export(plant, folder / "plant.zip")


def nothing(folder: Path) -> None:
    """Leave the folder empty."""


TABLES = ("recording", "examination", "imported", "message")


def counts_of(plant: Plant) -> dict[str, int]:
    """Return how many rows the tables have that an import writes."""
    with plant.database.connection() as connection:
        return {
            table: connection.exec_driver_sql(f"SELECT count(*) FROM {table}").scalar_one()  # noqa: S608 - our own names
            for table in TABLES
        }


def require_imported(folder: Path) -> None:
    """Raise unless everything was imported once."""
    require_whole(folder / "plant")
    n = len(list((folder / "files").iterdir()))
    with Plant.open(folder / "plant") as plant:
        assert list(counts_of(plant).values()) == [2 * n, n, n, n]


def require_created(folder: Path) -> None:
    """Raise unless there is an empty plant."""
    require_whole(folder / "plant")


def require_migrated(folder: Path) -> None:
    """Raise unless the old plant has everything."""
    with Plant.open(folder / "plant") as plant:
        motor = plant.motors.find("P-101")
        [readings] = plant.examinations.readings(motor).values()
        assert [reading.value for reading in readings] == [-42.0, None]


def require_archive(folder: Path) -> None:
    """Raise unless there is a whole archive."""
    shutil.rmtree(folder / "check", ignore_errors=True)
    restore(folder / "plant.zip", folder / "check")
    require_whole(folder / "check")


def require_restored(folder: Path) -> None:
    """Raise unless the plant came back."""
    require_whole(folder / "again")
    assert not list((folder / "again").glob(".incoming*"))


Preparation = Callable[[Path], None]
JOBS: dict[str, tuple[Preparation, Work, Preparation]] = {
    "create": (nothing, processes.create, require_created),
    "import and examine": (with_files, processes.import_all, require_imported),
    "import a folder": (with_recordings, processes.import_folder, require_recordings),
    "migrate": (with_old_schema, processes.migrate, require_migrated),
    "export": (with_archive, processes.export_all, require_archive),
    "restore": (with_archive, processes.restore_all, require_restored),
}


def steps_of(work: Work, folder: Path) -> list[str]:
    """Return the steps of a job that nobody interrupts."""
    steps: list[str] = []
    work(folder, steps.append, lambda _: None)
    return steps


@pytest.mark.parametrize("job", JOBS)
def test_killed_at_every_step_nothing_is_lost_and_a_second_run_completes(
    job: str, tmp_path: Path
) -> None:
    prepare, work, require = JOBS[job]
    model = tmp_path / "model"
    model.mkdir()
    prepare(model)
    shutil.copytree(model, tmp_path / "free")
    steps = steps_of(work, tmp_path / "free")
    require(tmp_path / "free")
    assert len(steps) >= 2
    for n in moments(steps):
        folder = tmp_path / f"{n}"
        shutil.copytree(model, folder)
        child = Child(work, folder, kill_at=n)
        assert child.end() == KILLED, steps[n - 1]
        require_nothing_lost(job, folder, child.said)
        if not (job == "create" and (folder / "plant/plant.toml").exists()):
            steps_of(work, folder)
        require(folder)
        shutil.rmtree(folder)


def moments(steps: list[str]) -> list[int]:
    """Return after which calls to kill: the first and the last of each step."""
    first = {name: n for n, name in reversed(list(enumerate(steps, start=1)))}
    last = {name: n for n, name in enumerate(steps, start=1)}
    return sorted({*first.values(), *last.values()})


def require_nothing_lost(job: str, folder: Path, said: list[str]) -> None:
    """Raise unless what was there before, and all that was said to be done, is there."""
    if job in {"export", "restore"}:
        require_archive(folder)  # the old one, or the new one, whole
        require_whole(folder / "plant")
        if job == "restore" and (folder / "again").exists():
            require_whole(folder / "again")  # it has its name: it is whole
            shutil.rmtree(folder / "again")
    if job == "import a folder":
        require_whole(folder / "plant", except_for=OF_TWO)
        with Plant.open(folder / "plant") as plant:  # all that was said, and no half batch
            assert counts_of(plant)["recording"] in {0, len(list((folder / "files").iterdir()))}
            for word in said:
                checksum = sha256((folder / "files" / word.split()[-1]).read_bytes()).hexdigest()
                plant.measurements.originals.verify(checksum)
                assert plant.measurements.visits_of_file(checksum)
    if job == "import and examine":
        require_whole(folder / "plant")
        for word in said:
            name = word.split()[-1]
            checksum = sha256(CONTENTS[name]).hexdigest()
            with Plant.open(folder / "plant") as plant:
                plant.measurements.originals.verify(checksum)
                assert plant.ledger.find_bytes(checksum) is not None
                if word.startswith("examined"):
                    assert counts_of(plant)["examination"] >= said.index(word) // 2


SEEDS = seeds_of_kills()


@pytest.mark.parametrize("seed", SEEDS)
def test_killed_at_any_moment_an_import_loses_nothing(seed: int, tmp_path: Path) -> None:
    chance = random.Random(seed)  # noqa: S311 - to choose a moment
    with_files(tmp_path, count=6)
    said: list[str] = []
    for _ in range(3):
        child = Child(processes.import_all, tmp_path)
        time.sleep(chance.uniform(0.02, 0.9))
        child.kill()
        child.end()
        said += child.said
        require_nothing_lost("import and examine", tmp_path, child.said)
    steps_of(processes.import_all, tmp_path)
    require_imported(tmp_path)


@pytest.mark.parametrize("seed", SEEDS)
def test_killed_at_any_moment_the_import_of_a_folder_loses_nothing(
    seed: int, tmp_path: Path
) -> None:
    chance = random.Random(seed)  # noqa: S311 - to choose a moment
    with_recordings(tmp_path, 60)
    for _ in range(2):
        child = Child(processes.import_folder, tmp_path)
        time.sleep(chance.uniform(0.02, 1.5))
        child.kill()
        child.end()
        require_whole(tmp_path / "plant", except_for=OF_TWO)
        with Plant.open(tmp_path / "plant") as plant:
            for word in child.said:
                source = SourceFile.of(tmp_path / "files" / word.split()[-1])
                assert plant.ledger.find(source) is not None
    steps_of(processes.import_folder, tmp_path)
    require_recordings(tmp_path)


@pytest.mark.parametrize("seed", SEEDS)
def test_killed_at_any_moment_a_migration_leaves_an_old_or_a_new_plant(
    seed: int, tmp_path: Path
) -> None:
    chance = random.Random(seed)  # noqa: S311 - to choose a moment
    with_old_schema(tmp_path)
    child = Child(processes.migrate, tmp_path)
    time.sleep(chance.uniform(0.02, 0.6))
    child.kill()
    child.end()
    require_migrated(tmp_path)


def test_a_sender_that_is_killed_leaves_its_message_to_the_next(tmp_path: Path) -> None:
    with Plant.create(tmp_path / "plant") as plant:
        for key in ("1", "2", "3", "4"):
            plant.outbox.put("webhook", key, {})
    child = Child(processes.send_all, tmp_path, kill_at=2)
    assert child.end() == KILLED
    assert child.said == ["1 1"]  # sent, and said so before it was killed
    later = datetime.now(UTC) + timedelta(hours=1)
    with Plant.open(tmp_path / "plant", clock=lambda: later) as plant:
        left = plant.outbox.claim(most=9)
    assert [(message.key, message.attempts) for message in left] == [("2", 2), ("3", 2), ("4", 1)]
