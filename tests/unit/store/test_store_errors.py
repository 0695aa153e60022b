"""What goes wrong around a plant is named, and what was kept before stays."""

from __future__ import annotations

import os
import shutil
import sqlite3
import stat
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from tempfile import mkdtemp

import pytest
from sqlalchemy import create_engine, text

from cagewise.errors import (
    DamagedFileError,
    MissingExtraError,
    StoreError,
    StoreFullError,
    StoreLockedError,
    StoreReadOnlyError,
    StoreUnreachableError,
)
from cagewise.store import Plant, export
from support import processes
from support.plants import motor_file


@pytest.fixture
def kept(tmp_path: Path) -> Path:
    """Folder of a plant with a motor."""
    with Plant.create(tmp_path / "plant") as plant:
        plant.motors.add(motor_file())
        plant.measurements.keep_original(b"kept before", "before.dat")
    return tmp_path / "plant"


def require_unharmed(folder: Path) -> None:
    """Raise unless what was kept before is there, and the plant goes on."""
    with Plant.open(folder) as plant:
        assert [motor.tag for motor in plant.motors.all()] == ["P-101"]
        before = plant.measurements.keep_original(b"kept before")
        plant.measurements.originals.verify(before.checksum)
        plant.motors.add(motor_file("P-102"))
    assert [p.name for p in folder.rglob("*") if p.name.startswith(".incoming")] == []


def write_a_million_bytes(plant: Plant) -> None:
    """Write many rows, each in a transaction of its own."""
    for n in range(1000):
        plant.outbox.put("webhook", str(n), {"text": "x" * 1000})


def test_a_database_that_somebody_else_writes_is_waited_for_then_named(kept: Path) -> None:
    with closing(sqlite3.connect(kept / "history.sqlite", isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        with Plant.open(kept, patience_s=0.1) as plant:
            assert len(plant.motors.all()) == 1  # reading goes on
            with pytest.raises(StoreLockedError, match="another program is writing"):
                plant.motors.add(motor_file("P-102"))
    require_unharmed(kept)


def test_a_table_that_is_locked_on_a_server_is_named(server_database: str, tmp_path: Path) -> None:
    Plant.create(tmp_path / "plant", database=server_database).close()
    engine = create_engine(server_database)
    with Plant.open(tmp_path / "plant", patience_s=0.2) as plant, engine.begin() as other:
        other.execute(text("LOCK TABLE motor"))
        with pytest.raises(StoreLockedError, match="lock timeout"):
            plant.motors.add(motor_file())
    engine.dispose()


def test_a_server_that_may_only_be_read_is_named(server_database: str, tmp_path: Path) -> None:
    Plant.create(tmp_path / "plant", database=server_database).close()
    engine = create_engine(server_database, isolation_level="AUTOCOMMIT")
    with engine.connect() as connection:
        name = connection.execute(text("SELECT current_database()")).scalar()
        connection.execute(text(f"ALTER DATABASE {name} SET default_transaction_read_only = on"))
    engine.dispose()
    with Plant.open(tmp_path / "plant") as plant:
        assert plant.motors.all() == []
        with pytest.raises(StoreReadOnlyError, match="may not be written"):
            plant.motors.add(motor_file())


def test_a_server_that_does_not_answer_is_named(tmp_path: Path) -> None:
    with pytest.raises(StoreUnreachableError, match="does not answer"):
        Plant.create(tmp_path / "plant", database="postgresql://127.0.0.1:1/x")


def test_without_the_driver_a_server_asks_for_the_extra(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "psycopg", None)
    with pytest.raises(MissingExtraError, match=r"cagewise\[postgresql\]"):
        Plant.create(tmp_path / "plant", database="postgresql://127.0.0.1:1/x")


def test_a_database_file_that_is_full_is_named(kept: Path) -> None:
    with Plant.open(kept) as plant:
        with plant.database.connection() as connection:
            pages = connection.exec_driver_sql("PRAGMA page_count").scalar_one()
            connection.exec_driver_sql(f"PRAGMA max_page_count = {pages}")
        with pytest.raises(StoreFullError, match="no space"):
            write_a_million_bytes(plant)
    require_unharmed(kept)


def test_a_file_that_cannot_grow_is_named(kept: Path) -> None:
    assert (
        processes.attempt(processes.keep_large_with_small_files, kept)
        == "StoreFullError: no space is left"
    )
    require_unharmed(kept)


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A disk of four megabytes."""
    disk = tmp_path / "disk"
    disk.mkdir()
    done = subprocess.run(  # noqa: S603 - of the system
        ["mount", "-t", "tmpfs", "-o", "size=4m", "none", str(disk)],  # noqa: S607 - found by name
        capture_output=True,
        check=False,
    )
    if done.returncode != 0:
        pytest.skip("small disks cannot be mounted here")
    try:
        yield disk
    finally:
        subprocess.run(["umount", "-l", str(disk)], check=True)  # noqa: S603, S607 - of the system


def test_a_full_disk_is_named_and_nothing_is_lost(small_disk: Path) -> None:
    folder = small_disk / "plant"
    with Plant.create(folder) as plant:
        plant.motors.add(motor_file())
        plant.measurements.keep_original(b"kept before", "before.dat")
        with pytest.raises(StoreFullError, match="no space is left"):
            plant.measurements.keep_original(os.urandom(5_000_000), "large.dat")
        plant.measurements.keep_original(os.urandom(2_500_000), "fits.dat")
        with pytest.raises(StoreFullError, match="no space is left"):
            export(plant, small_disk / "out.zip")
        assert not (small_disk / "out.zip").exists()
        with pytest.raises(OSError, match="space"):
            (small_disk / "filler").write_bytes(bytes(5_000_000))
        with pytest.raises(StoreFullError, match="no space is left"):
            write_a_million_bytes(plant)
    (small_disk / "filler").unlink()
    require_unharmed(folder)


def test_a_folder_that_may_only_be_read_is_named(kept: Path) -> None:
    folder = Path(mkdtemp(prefix="cagewise-read-only-")) / "plant"
    kept.rename(folder)
    everything = [folder.parent, folder, *folder.rglob("*")]
    try:
        for path in everything:
            rights = stat.S_IRUSR | stat.S_IRGRP | stat.S_IROTH
            path.chmod(rights | (0o111 if path.is_dir() else 0))
        said = processes.attempt(processes.write_as_nobody, folder)
        assert said.startswith("StoreReadOnlyError: "), said
        assert processes.attempt(processes.read_as_nobody, folder) == "done"
        said = processes.attempt(processes.create_as_nobody, folder)
        assert said.startswith("StoreReadOnlyError: it may not be written"), said
    finally:
        for path in everything:
            path.chmod(0o755 if path.is_dir() else 0o644)
    require_unharmed(folder)
    shutil.rmtree(folder.parent)


def test_a_plant_opened_for_reading_is_not_written(kept: Path) -> None:
    with Plant.open(kept, read_only=True) as plant:
        assert len(plant.motors.all()) == 1
        with pytest.raises(StoreReadOnlyError):
            plant.motors.add(motor_file("P-102"))
    require_unharmed(kept)


def test_a_damaged_database_is_named(kept: Path) -> None:
    path = kept / "history.sqlite"
    path.write_bytes(b"not a database" * 1000)
    with pytest.raises(DamagedFileError, match="damaged"):
        Plant.open(kept)


def test_every_error_of_the_store_says_what_where_and_what_to_do(tmp_path: Path) -> None:
    with pytest.raises(StoreError) as caught:
        Plant.open(tmp_path / "nothing")
    error = caught.value
    assert all([error.what, error.where, error.remedy])
