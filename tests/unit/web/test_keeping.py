"""What the workbench keeps for itself: its file, beside the plant and not part of it."""

from __future__ import annotations

import sqlite3
import subprocess
import sys
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from zipfile import ZipFile

import pytest
from sqlalchemy import func, select
from sqlalchemy.orm import Session

from cagewise.errors import DamagedFileError, NewerSchemaError, StoreError, StoreLockedError
from cagewise.store import Plant, export, restore
from cagewise.web.keeping import NAME, SCHEMA, JobRow, UploadRow, Workbench
from support.plants import fill

WHEN = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)


def job(key: str = "k", state: str = "waiting") -> JobRow:
    return JobRow(
        kind="import", key=key, title="run.dat", arguments={"a": 1}, state=state, made_at=WHEN
    )


def test_what_is_kept_is_there_after_opening_again(tmp_path: Path) -> None:
    with Workbench.open(tmp_path) as bench, bench.writing() as session:
        session.add(job())
    with Workbench.open(tmp_path) as bench, bench.reading() as session:
        found = session.scalars(select(JobRow)).one()
        assert (found.arguments, found.state, found.result) == ({"a": 1}, "waiting", None)
        assert found.made_at == WHEN


def fail_after(session: Session) -> None:
    session.add(job())
    session.flush()
    raise ZeroDivisionError


def test_nothing_of_a_failed_block_is_kept(tmp_path: Path) -> None:
    with Workbench.open(tmp_path) as bench:
        with pytest.raises(ZeroDivisionError), bench.writing() as session:
            fail_after(session)
        with bench.reading() as session:
            assert session.scalar(select(func.count()).select_from(JobRow)) == 0


def test_equal_jobs_wait_once_and_run_often(tmp_path: Path) -> None:
    with Workbench.open(tmp_path) as bench:
        with bench.writing() as session:
            session.add_all([job(state="running"), job(state="running"), job(), job(key="other")])
        with pytest.raises(StoreError, match="UNIQUE"), bench.writing() as session:
            session.add(job())


def test_an_upload_cannot_hold_more_than_it_announced(tmp_path: Path) -> None:
    row = UploadRow(
        id="u",
        motor_id=1,
        batch="b",
        name="a",
        size_bytes=5,
        received_bytes=6,
        made_at=WHEN,
        touched_at=WHEN,
    )
    with (
        Workbench.open(tmp_path) as bench,
        pytest.raises(StoreError, match="received_bytes"),
        bench.writing() as session,
    ):
        session.add(row)


@pytest.mark.parametrize(
    "content", [b"no database at all" * 99, b"SQLite format 3\0" + b"\xff" * 4096]
)
def test_a_damaged_file_is_named_with_what_removing_it_costs(
    tmp_path: Path, content: bytes
) -> None:
    (tmp_path / NAME).write_bytes(content)
    with pytest.raises(DamagedFileError) as caught:
        Workbench.open(tmp_path)
    assert NAME in caught.value.where
    assert "accounts and the list of jobs are lost" in caught.value.remedy


def test_a_file_of_another_program_is_left_alone(tmp_path: Path) -> None:
    with closing(sqlite3.connect(tmp_path / NAME)) as connection, connection:
        connection.execute("CREATE TABLE account (name)")
    with pytest.raises(DamagedFileError, match="not made by the workbench"):
        Workbench.open(tmp_path)


def test_a_file_of_a_later_version_is_refused_and_unchanged(tmp_path: Path) -> None:
    Workbench.open(tmp_path).close()
    with closing(sqlite3.connect(tmp_path / NAME)) as connection:
        connection.execute(f"PRAGMA user_version = {SCHEMA + 1}")
    with pytest.raises(NewerSchemaError, match="later version"):
        Workbench.open(tmp_path)
    with closing(sqlite3.connect(tmp_path / NAME)) as connection:
        assert connection.execute("PRAGMA user_version").fetchone() == (SCHEMA + 1,)


def test_nobody_else_may_read_the_file(tmp_path: Path) -> None:
    with Workbench.open(tmp_path) as bench, bench.writing() as session:
        session.add(job())
        session.flush()
        kept = [path for path in tmp_path.iterdir() if path.name.startswith(NAME)]
        assert len(kept) == 3
        assert {path.stat().st_mode & 0o777 for path in kept} == {0o600}


def test_a_second_writer_waits_and_is_told_when_it_waited_too_long(tmp_path: Path) -> None:
    with Workbench.open(tmp_path) as one, Workbench.open(tmp_path, patience_s=0.05) as two:
        with one.writing() as session:
            session.add(job())
            session.flush()
            with pytest.raises(StoreLockedError), two.writing() as other:
                other.add(job(key="other"))
        with two.reading() as session:
            assert session.scalars(select(JobRow.key)).all() == ["k"]


ADD = """
import sys
from pathlib import Path
from datetime import datetime, UTC
from sqlalchemy import select
from cagewise.web.keeping import JobRow, SecretRow, Workbench
with Workbench.open(Path(sys.argv[1])) as bench:
    for _ in range(50):
        with bench.writing() as session:
            row = session.get(SecretRow, "n") or SecretRow(name="n", value=b"0")
            row.value = str(int(row.value) + 1).encode()
            session.merge(row)
"""


def test_two_processes_open_it_at_once_and_lose_no_change(tmp_path: Path) -> None:
    command = [sys.executable, "-c", ADD, str(tmp_path)]
    running = [subprocess.Popen(command, stderr=subprocess.PIPE) for _ in range(2)]  # noqa: S603 - ours
    said = [process.communicate(timeout=60)[1] for process in running]
    assert said == [b"", b""]
    with closing(sqlite3.connect(tmp_path / NAME)) as connection:
        assert connection.execute("SELECT value FROM secret").fetchone() == (b"100",)


def test_it_is_no_part_of_the_plant(tmp_path: Path) -> None:
    folder, archive = tmp_path / "plant", tmp_path / "plant.zip"
    with Plant.create(folder) as plant, Workbench.open(folder) as bench:
        fill(plant, tmp_path)
        with bench.writing() as session:
            session.add(job())
        export(plant, archive)
    names = ZipFile(archive).namelist()
    assert "history.sqlite" in names
    assert not [name for name in names if "workbench" in name]
    restore(archive, tmp_path / "again")
    assert not (tmp_path / "again" / NAME).exists()


def test_a_plant_is_opened_and_made_beside_it(tmp_path: Path) -> None:
    Workbench.open(tmp_path).close()
    Plant.create(tmp_path, name="works").close()
    with Workbench.open(tmp_path), Plant.open(tmp_path) as plant:
        assert plant.about.name == "works"


def test_removing_it_loses_nothing_of_the_history(tmp_path: Path) -> None:
    folder = tmp_path / "plant"
    with Plant.create(folder) as plant, Workbench.open(folder):
        fill(plant, tmp_path)
    (folder / NAME).unlink()
    with Plant.open(folder) as plant, Workbench.open(folder) as bench, bench.reading() as session:
        assert plant.motors.find("P-101").tag == "P-101"
        assert session.scalars(select(JobRow)).all() == []
