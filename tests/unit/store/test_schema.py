"""Every schema that was ever published becomes this one, and loses nothing."""

from __future__ import annotations

import importlib.util
import json
import re
import shutil
import sqlite3
import zlib
from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import date
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy import Connection, MetaData, create_engine, event, insert
from sqlalchemy.exc import DBAPIError

from cagewise.errors import StoreError, StoreReadOnlyError
from cagewise.store import Note, Outcome, Plant, schema
from cagewise.store.plant_file import PlantFile, write_plant_file
from cagewise.store.tables import Base
from support.plants import examination_of

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
        if revision >= "0004":
            assert (done.keys.winding, done.keys.next_step) == ("suspect", "part_tests")
            assert motor.facts == {"motor": {"rotor_bars": 58}}
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
        if revision < "0003":
            assert len(plant.examinations.readings(plant.motors.find("P-101"))[done.id]) == 2
        with plant.database.connection() as connection:
            context = MigrationContext.configure(connection)
            assert compare_metadata(context, Base.metadata) == []


FILLED = {
    "state": "sound",
    "operating_point": {"load_fraction": {"value": 0.8, "interval": [0.7, 0.9]}},
    "recommendation": {"next_steps": [{"code": "rotor_bars"}, {"code": "part_tests"}]},
    "methods_agreeing": 3,
    "classes_agreeing": 2,
    "parts": [{"part": "stator insulation", "state": "suspect"}],
}
"""What of a document the columns of revision 0004 are filled from."""
DAMAGED = b"no zlib"


def add_examinations(connection: Connection) -> None:
    """Add two examinations to a plant of revision 0003: one that fills, one that is damaged."""
    known = MetaData()
    known.reflect(connection)
    [head] = RECIPE.rows_of("0003")["examination"]
    [kept] = RECIPE.rows_of("0003")["examination_document"]
    packed = zlib.compress(json.dumps(FILLED).encode())
    for number, document in ((2, packed), (3, DAMAGED)):
        row = head | {"id": number, "fingerprint": str(number) * 64}
        connection.execute(insert(known.tables["examination"]), _typed(row))
        of = kept | {"examination_id": number, "document": document}
        connection.execute(insert(known.tables["examination_document"]), of)


def _typed(row: dict[str, Any]) -> dict[str, Any]:
    """Return a row with days as days: a reflected SQLite table takes no text for them."""
    return row | {"day": date.fromisoformat(row["day"])}


def raw_rows(connection: Connection, table: str) -> list[dict[str, Any]]:
    """Return all rows of a table as the database has them."""
    asked = connection.exec_driver_sql(f"SELECT * FROM {table} ORDER BY id")  # noqa: S608 - our own names
    return [dict(row) for row in asked.mappings()]


@contextmanager
def plant_of_0003(server_database: str, folder: Path) -> Iterator[Connection]:
    """Give a connection to a plant of revision 0003, in a file where there is no server."""
    folder.mkdir()
    if server_database:
        write_plant_file(folder, PlantFile(plant_id=RECIPE.PLANT_ID, database=server_database))
    else:
        shutil.copy(FILES / "0003.sqlite", folder / "history.sqlite")
        write_plant_file(folder, PlantFile(plant_id=RECIPE.PLANT_ID))
    with server_connection(server_database or f"sqlite:///{folder}/history.sqlite") as connection:
        if server_database:
            schema.upgrade(connection, "0003")
            known = MetaData()
            known.reflect(connection)
            for table, rows in RECIPE.rows_of("0003").items():
                connection.execute(insert(known.tables[table]), rows)
        yield connection


@pytest.fixture(params=["sqlite", "postgresql"])
def address(request: pytest.FixtureRequest) -> str:
    """URL of an empty database on a server; empty for a file."""
    return str(request.getfixturevalue("server_database")) if request.param != "sqlite" else ""


def test_new_columns_of_old_rows_are_filled_and_nothing_else_is_changed(
    address: str, tmp_path: Path
) -> None:
    with plant_of_0003(address, tmp_path / "old") as connection:
        add_examinations(connection)
        before = {name: raw_rows(connection, name) for name in ("examination", "nameplate")}
    with Plant.open(tmp_path / "old") as plant:
        first, filled, damaged = plant.examinations.of_motor(plant.motors.find("P-101"))
        with plant.database.connection() as connection:
            after = {name: raw_rows(connection, name) for name in before}
        for statement in (
            "UPDATE examination SET winding = ''",
            "UPDATE nameplate SET facts = '1'",
        ):
            with (
                pytest.raises(StoreError, match="never changed"),
                plant.database.connection() as connection,
            ):
                connection.exec_driver_sql(statement)
        [motor] = plant.motors.all()
    for name, rows in before.items():
        kept = [{key: new[key] for key in old} for old, new in zip(rows, after[name], strict=True)]
        assert kept == rows
    assert (filled.keys.load_fraction_low, filled.keys.load_fraction_high) == (0.7, 0.9)
    assert (filled.keys.winding, filled.keys.insulation) == ("", "suspect")
    assert (filled.keys.next_step, filled.keys.methods_agreeing) == ("part_tests", 3)
    assert (first.keys.winding, first.keys.next_step) == (None, "")  # its document has no parts
    assert (damaged.keys.winding, damaged.keys.next_step) == (None, None)
    assert motor.facts == {"motor": {}, "winding": {}, "criticality": {}}


def test_who_is_stopped_while_the_guard_is_lifted_leaves_it_in_force(
    address: str, tmp_path: Path
) -> None:
    def stop(step: str) -> None:
        if step == "columns filled":
            raise RuntimeError(step)

    with plant_of_0003(address, tmp_path / "old"):
        pass
    with pytest.raises(RuntimeError, match="columns filled"):
        Plant.open(tmp_path / "old", step=stop)
    url = address or f"sqlite:///{tmp_path}/old/history.sqlite"
    with server_connection(url) as connection:
        assert schema.revision(connection) == "0003"
        assert "winding" not in raw_rows(connection, "examination")[0]
    with pytest.raises(DBAPIError, match="never changed"), server_connection(url) as connection:
        connection.exec_driver_sql("UPDATE examination SET state = 'sound'")


WHOLE = {"motor", "site"}
"""Tables that a list of all motors may read from end to end."""


def asked_by_lists(plant: Plant) -> list[tuple[str, Any]]:
    """Return the statements, with their values, of every list and page of a plant."""
    motor = plant.motors.add(RECIPE.motor_file())
    plant.cases.add_event(motor, Note())
    visit = plant.visits.on(motor, date(2026, 3, 2))
    original = plant.measurements.keep_original(b"a sheet", "sheet.toml")
    sheet = plant.measurements.add_sheet(visit, original, measured_on=visit.day)
    done = plant.examinations.add(visit, examination_of((sheet,), motor.nameplate_id))
    asked: list[tuple[str, Any]] = []

    def note(*said: Any) -> None:
        if said[2].startswith("SELECT"):
            asked.append((said[2], said[3]))

    event.listen(plant.database._engine, "before_cursor_execute", note)
    plant.examinations.latest()
    plant.examinations.of_motor(motor)
    plant.examinations.of_visit(visit)
    plant.examinations.readings(motor)
    plant.examinations.document(done)
    plant.motors.all()
    plant.motors.find("P-101")
    plant.motors.nameplates(motor)
    plant.motors.sensors(motor)
    plant.visits.of(motor)
    plant.measurements.recordings(visit)
    plant.measurements.sheets(visit)
    plant.cases.events(motor)
    plant.cases.repairs()
    plant.cases.outcomes()
    plant.cases.all(motor)
    plant.cases.all(only_open=True)
    event.remove(plant.database._engine, "before_cursor_execute", note)
    return asked


def read_whole(plant: Plant, statement: str, values: Any) -> set[str]:
    """Return the tables that a statement reads from end to end."""
    with plant.database.connection() as connection:
        if plant.database.is_sqlite:
            rows = connection.exec_driver_sql(f"EXPLAIN QUERY PLAN {statement}", values).all()
            found = [re.match(r"SCAN (\w+)", row[3]) for row in rows]
        else:  # of a handful of rows it would read all of them
            connection.exec_driver_sql("SET LOCAL enable_seqscan = off")
            rows = connection.exec_driver_sql(f"EXPLAIN {statement}", values).all()
            found = [re.search(r"Seq Scan on (\w+)", row[0]) for row in rows]
    return {match[1] for match in found if match} - {"CONSTANT"}


def test_lists_and_trends_are_found_by_index(plant: Plant) -> None:
    asked = asked_by_lists(plant)
    assert len(asked) > 20
    for statement, values in asked:
        assert read_whole(plant, statement, values) <= WHOLE, statement


def test_a_list_without_an_index_is_noticed(plant: Plant) -> None:
    asked = asked_by_lists(plant)
    with plant.database.connection() as connection:
        connection.exec_driver_sql("DROP INDEX ix_examination_motor_id_day_id")
    assert any("examination" in read_whole(plant, *each) for each in asked)
