"""Every schema that was ever published becomes this one, and loses nothing."""

from __future__ import annotations

import importlib.util
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from types import ModuleType

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy import Connection, MetaData, create_engine, event, insert

from cagewise.errors import StoreReadOnlyError
from cagewise.store import Note, Outcome, Plant, schema
from cagewise.store.plant_file import PlantFile, write_plant_file
from cagewise.store.tables import Base

FILES = Path(__file__).parent / "schemas"


def recipe() -> ModuleType:
    """Return the script that made the files."""
    spec = importlib.util.spec_from_file_location(
        "recipe", FILES.parent / "make_earlier_schemas.py"
    )
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


RECIPE = recipe()
REVISIONS = schema.revisions()


def old_plant(folder: Path, revision: str) -> Path:
    """Return the folder of a plant of an earlier schema."""
    folder.mkdir()
    shutil.copy(FILES / f"{revision}.sqlite", folder / "history.sqlite")
    write_plant_file(folder, PlantFile(plant_id=RECIPE.PLANT_ID))
    return folder


def made_in(path: Path) -> set[str]:
    """Return the statements that make a database."""
    with closing(sqlite3.connect(path)) as connection:
        rows = connection.execute("SELECT sql FROM sqlite_master WHERE sql IS NOT NULL")
        return {sql for (sql,) in rows}


def revision_in(path: Path) -> str:
    """Return the revision of a file."""
    with closing(sqlite3.connect(path)) as connection:
        return str(connection.execute("SELECT version_num FROM alembic_version").fetchone()[0])


def test_the_program_works_with_the_last_revision_and_has_a_file_of_each() -> None:
    assert REVISIONS[-1] == schema.HEAD
    assert sorted(path.stem for path in FILES.glob("*.sqlite")) == list(REVISIONS)


def test_the_revisions_make_the_tables_that_the_program_uses(plant: Plant) -> None:
    with plant.database.connection() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, Base.metadata) == []


@pytest.mark.parametrize("revision", REVISIONS)
def test_a_plant_of_an_earlier_schema_opens_with_everything(revision: str, tmp_path: Path) -> None:
    folder = old_plant(tmp_path / "old", revision)
    with Plant.open(folder) as plant:
        motor = plant.motors.find("P-101")
        [done] = plant.examinations.of_motor(motor)
        assert plant.examinations.document(done).text == RECIPE.DOCUMENT
        assert done.keys.probability == 0.4
        assert plant.cases.attachments.folder.name == "attachments"
        if revision >= "0002":
            [found] = plant.cases.outcomes()
            assert isinstance(found.what, Outcome)
            assert (found.what.open_bars, found.what.bars[0].bar) == (2, 7)
        if revision < "0003":
            [lower, upper] = plant.examinations.readings(motor)[done.id]
            assert (lower.value, lower.low, lower.high) == (-42.0, -43.0, -41.0)
            assert (lower.open_bars, lower.open_bars_high) == (1.2, 1.7)
            assert (upper.valid, upper.value) == (False, None)
        plant.motors.add(RECIPE.motor_file("P-102"))
    copies = list((folder / schema.BACKUPS).glob("*")) if revision != schema.HEAD else []
    assert [revision_in(path) for path in copies] == [revision] * len(copies)
    assert len(copies) == (revision != schema.HEAD)
    Plant.create(tmp_path / "new").close()
    assert made_in(folder / "history.sqlite") == made_in(tmp_path / "new/history.sqlite")


def test_an_old_plant_that_may_not_be_written_says_so(tmp_path: Path) -> None:
    folder = old_plant(tmp_path / "old", "0001")
    with pytest.raises(StoreReadOnlyError, match="schema 0001"):
        Plant.open(folder, read_only=True)
    assert revision_in(folder / "history.sqlite") == "0001"


@pytest.mark.parametrize("at", ["backed up", "upgraded"])
def test_a_migration_that_fails_changes_nothing(tmp_path: Path, at: str) -> None:
    folder = old_plant(tmp_path / "old", "0001")

    def fail(step: str) -> None:
        if step == at:
            raise RuntimeError(step)

    with pytest.raises(RuntimeError):
        Plant.open(folder, step=fail)
    assert revision_in(folder / "history.sqlite") == "0001"
    with Plant.open(folder) as plant:
        assert len(plant.motors.all()) == 1


@contextmanager
def server_connection(url: str) -> Iterator[Connection]:
    engine = create_engine(url)
    try:
        with engine.begin() as connection:
            yield connection
    finally:
        engine.dispose()


@pytest.mark.parametrize("revision", REVISIONS[:-1])
def test_a_server_of_an_earlier_schema_is_brought_up_to_date(
    revision: str, server_database: str, tmp_path: Path
) -> None:
    with server_connection(server_database) as connection:
        schema.upgrade(connection, revision)
        known = MetaData()
        known.reflect(connection)
        for table, rows in RECIPE.rows_of(revision).items():
            connection.execute(insert(known.tables[table]), rows)
    folder = tmp_path / "old"
    folder.mkdir()
    write_plant_file(folder, PlantFile(plant_id=RECIPE.PLANT_ID, database=server_database))
    with Plant.open(folder) as plant:
        [done] = plant.examinations.latest()
        assert plant.examinations.document(done).text == RECIPE.DOCUMENT
        assert len(plant.examinations.readings(plant.motors.find("P-101"))[done.id]) == 2
        with plant.database.connection() as connection:
            context = MigrationContext.configure(connection)
            assert compare_metadata(context, Base.metadata) == []


def test_lists_and_trends_are_found_by_index(tmp_path: Path) -> None:
    with Plant.create(tmp_path / "plant") as plant:
        asked: list[str] = []
        motor = plant.motors.add(RECIPE.motor_file())
        plant.cases.add_event(motor, Note())

        def note(*said: str) -> None:
            if said[2].startswith("SELECT"):
                asked.append(said[2])

        event.listen(plant.database._engine, "before_cursor_execute", note)
        plant.examinations.latest()
        plant.examinations.of_motor(motor)
        plant.examinations.readings(motor)
        plant.visits.of(motor)
        plant.cases.events(motor)
        with closing(sqlite3.connect(plant.database.file)) as connection:
            for statement in asked:
                marks = (1,) * statement.count("?")
                plan = connection.execute(f"EXPLAIN QUERY PLAN {statement}", marks).fetchall()
                scans = [row[3] for row in plan if row[3].startswith("SCAN")]
                assert scans in ([], ["SCAN motor"]), (statement, plan)
    assert len(asked) > 4
