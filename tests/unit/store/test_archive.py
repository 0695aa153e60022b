"""A plant goes into one file and comes back the same; a file made to do harm does none."""

from __future__ import annotations

import json
import shutil
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing
from hashlib import sha256
from pathlib import Path
from typing import Any
from zipfile import ZIP_DEFLATED, ZIP_LZMA, ZipFile

import pytest
from sqlalchemy import select

from cagewise.errors import (
    ArchiveError,
    DamagedFileError,
    MissingFileError,
    NewerSchemaError,
    OutputError,
    PlantFolderError,
    StoreFullError,
)
from cagewise.store import Plant, export, restore
from cagewise.store.tables import Base
from support.plants import fill, motor_file

Rows = dict[str, list[dict[str, Any]]]


def rows_of(plant: Plant) -> Rows:
    """Return everything in the database of a plant."""
    with plant.database.reading() as session:
        return {
            table.name: [
                dict(row)
                for row in session.execute(
                    select(table).order_by(*table.primary_key.columns)
                ).mappings()
            ]
            for table in Base.metadata.sorted_tables
        }


def files_of(folder: Path) -> dict[str, bytes]:
    """Return all kept files."""
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for kind in ("originals", "waveforms", "attachments")
        for path in (folder / kind).rglob("*")
        if path.is_file()
    }


@pytest.fixture
def full(plant: Plant, tmp_path: Path) -> Plant:
    fill(plant, tmp_path)
    return plant


@pytest.fixture
def archive(tmp_path: Path) -> Iterator[Path]:
    """An archive of a small plant."""
    with Plant.create(tmp_path / "source", name="mill", time_zone="Europe/Zurich") as plant:
        fill(plant, tmp_path)
        export(plant, tmp_path / "mill.zip")
    shutil.rmtree(tmp_path / "source")
    yield tmp_path / "mill.zip"
    assert [p.name for p in tmp_path.iterdir() if p.name.startswith(".incoming")] == []


def test_a_plant_comes_back_the_same(full: Plant, tmp_path: Path) -> None:
    exported = export(full, tmp_path / "out.zip")
    restored = restore(tmp_path / "out.zip", tmp_path / "again")
    assert exported.lost == restored.lost == ()
    assert exported.files == restored.files == len(files_of(full.folder))
    with Plant.open(tmp_path / "again") as again:
        assert rows_of(again) == rows_of(full)
        assert again.about.plant_id == full.about.plant_id
        assert again.about.time_zone == "Europe/Zurich"
        again.motors.add(motor_file("P-999"))
    assert files_of(tmp_path / "again") == files_of(full.folder)


def test_a_plant_moves_to_a_server_and_goes_on(
    archive: Path, server_database: str, tmp_path: Path
) -> None:
    restore(archive, tmp_path / "file")
    restore(archive, tmp_path / "served", database=server_database, waveforms="elsewhere")
    with Plant.open(tmp_path / "file") as file, Plant.open(tmp_path / "served") as served:
        assert rows_of(file) == rows_of(served)
        assert served.motors.add(motor_file("P-999")).id == 2  # numbers go on
        [visit] = served.visits.of(served.motors.find("P-101"))
        for kept in served.measurements.recordings(visit):
            served.measurements.load(kept)
    assert not (tmp_path / "served/history.sqlite").exists()
    with pytest.raises(PlantFolderError, match="holds a plant already"):
        restore(archive, tmp_path / "third", database=server_database)


def test_an_existing_file_is_left_alone(full: Plant, tmp_path: Path) -> None:
    path = tmp_path / "out.zip"
    path.write_bytes(b"mine")
    with pytest.raises(OutputError, match="left as it is"):
        export(full, path)
    assert path.read_bytes() == b"mine"
    export(full, path, overwrite=True)
    with pytest.raises(PlantFolderError, match="something already"):
        restore(path, tmp_path)


def test_a_loss_ends_an_export_unless_it_is_accepted(full: Plant, tmp_path: Path) -> None:
    names = sorted(files_of(full.folder))
    gone, bad = (full.folder / name for name in names if name.startswith("originals"))
    gone.unlink()
    with pytest.raises(MissingFileError, match="not there any more"):
        export(full, tmp_path / "out.zip")
    bad.write_bytes(b"something else")
    assert not (tmp_path / "out.zip").exists()
    exported = export(full, tmp_path / "out.zip", accept_loss=True)
    assert len(exported.lost) == 2
    restored = restore(tmp_path / "out.zip", tmp_path / "again")
    lost = (path.relative_to(full.folder).as_posix() for path in (gone, bad))
    assert restored.lost == tuple(lost)
    with Plant.open(tmp_path / "again") as again, pytest.raises(DamagedFileError):
        again.measurements.originals.verify(bad.name)


def test_others_go_on_writing_while_a_plant_is_exported(full: Plant, tmp_path: Path) -> None:
    def write(step: str) -> None:
        if step == "snapshot taken":
            with Plant.open(full.folder) as other:
                other.motors.add(motor_file("P-500"))
                other.measurements.keep_original(b"later", "later.dat")

    export(full, tmp_path / "out.zip", step=write)
    restore(tmp_path / "out.zip", tmp_path / "again")
    with Plant.open(tmp_path / "again") as again:
        assert [motor.tag for motor in again.motors.all()] == ["P-101"]
    assert len(full.motors.all()) == 2


Edit = Callable[[dict[str, bytes], dict[str, Any]], None]


def rewrite(archive: Path, edit: Edit) -> None:
    """Change the content and the manifest of an archive; the manifest agrees with the content."""
    with ZipFile(archive) as zipped:
        content = {info.filename: zipped.read(info) for info in zipped.infolist()}
    manifest = json.loads(content.pop("manifest.json"))
    edit(content, manifest)
    manifest["entries"] = manifest.get("entries") or [
        {"name": name, "size_bytes": len(data), "checksum": sha256(data).hexdigest()}
        | {"damaged": False}
        for name, data in content.items()
    ]
    with ZipFile(archive, "w", ZIP_DEFLATED) as zipped:
        for name, data in content.items():
            zipped.writestr(name, data)
        zipped.writestr("manifest.json", json.dumps(manifest))


def in_database(statement: str) -> Edit:
    """Return an edit that runs a statement on the database of an archive."""

    def edit(content: dict[str, bytes], manifest: dict[str, Any]) -> None:
        manifest["entries"] = None
        with closing(sqlite3.connect(":memory:")) as connection:
            connection.deserialize(content["history.sqlite"])
            connection.execute(statement)
            connection.commit()
            content["history.sqlite"] = connection.serialize()

    return edit


def add(name: str, data: bytes = b"x") -> Edit:
    """Return an edit that adds a file."""

    def edit(content: dict[str, bytes], manifest: dict[str, Any]) -> None:
        manifest["entries"] = None
        content[name] = data

    return edit


def change_first_original(content: dict[str, bytes], _manifest: dict[str, Any]) -> None:
    name = next(name for name in content if name.startswith("originals"))
    content[name] = content[name][:-1] + b"?"


def drop_first_original(content: dict[str, bytes], manifest: dict[str, Any]) -> None:
    manifest["entries"] = None
    del content[next(name for name in content if name.startswith("originals"))]


def state(**values: object) -> Edit:
    """Return an edit of the manifest."""

    def edit(content: dict[str, bytes], manifest: dict[str, Any]) -> None:
        del content
        manifest.update(values)

    return edit


HARM: dict[str, tuple[Edit, type[Exception], str]] = {
    "a changed original": (change_first_original, ArchiveError, "not what was exported"),
    "a lost original": (drop_first_original, ArchiveError, "which is not in it"),
    "a path out of the folder": (add("../../evil"), ArchiveError, "no plant has a file"),
    "an absolute path": (add("/tmp/evil"), ArchiveError, "no plant has a file"),  # noqa: S108 - never written
    "a path that looks like ours": (
        add("originals/../../evil" + "a" * 60),
        ArchiveError,
        "no plant has",
    ),
    "a foreign file": (add("autorun.inf"), ArchiveError, "no plant has a file"),
    "another kind": (state(kind="a recipe"), ArchiveError, "another kind"),
    "a later layout": (state(layout=2), NewerSchemaError, "layout 2"),
    "another plant": (state(plant_id="x"), ArchiveError, "another plant"),
    "a trigger of its own": (
        in_database("CREATE TRIGGER evil AFTER INSERT ON motor BEGIN DELETE FROM message; END"),
        ArchiveError,
        "evil",
    ),
    "a table too few": (in_database("DROP TABLE message"), ArchiveError, "message"),
    "rows that point nowhere": (
        in_database("INSERT INTO visit VALUES (9, 99, '2026-01-01', '', '')"),
        ArchiveError,
        "agree with itself",
    ),
    "a later schema": (
        in_database("UPDATE alembic_version SET version_num = '9999'"),
        NewerSchemaError,
        "9999",
    ),
    "no database in it": (
        add("history.sqlite", b"not a database at all" * 100),
        ArchiveError,
        "database is damaged",
    ),
}


@pytest.mark.parametrize("case", HARM)
def test_harm_is_refused_and_leaves_nothing(case: str, archive: Path, tmp_path: Path) -> None:
    edit, kind, said = HARM[case]
    rewrite(archive, edit)
    before = sorted(path.name for path in tmp_path.iterdir())
    with pytest.raises(kind, match=said):
        restore(archive, tmp_path / "again")
    assert sorted(path.name for path in tmp_path.iterdir()) == before


@pytest.mark.parametrize("name", ["manifest.json", "history.sqlite"])
def test_a_name_that_stands_twice_is_refused(archive: Path, tmp_path: Path, name: str) -> None:
    with ZipFile(archive, "a") as zipped, pytest.warns(UserWarning, match="Duplicate"):
        zipped.writestr(name, "{}")
    with pytest.raises(ArchiveError, match=r"no manifest|twice"):
        restore(archive, tmp_path / "again")


@pytest.mark.parametrize("length", [0, 10, 1000, -1])
def test_a_cut_archive_is_refused(archive: Path, tmp_path: Path, length: int) -> None:
    archive.write_bytes(archive.read_bytes()[:length])
    with pytest.raises(ArchiveError):
        restore(archive, tmp_path / "again")
    assert not (tmp_path / "again").exists()


def test_an_entry_is_never_unpacked_beyond_its_stated_size(archive: Path, tmp_path: Path) -> None:
    def bomb(content: dict[str, bytes], manifest: dict[str, Any]) -> None:
        name = next(name for name in content if name.startswith("originals"))
        content[name] = bytes(50_000_000)
        manifest["entries"] = list(manifest["entries"])

    rewrite(archive, bomb)
    with pytest.raises(ArchiveError, match="not as the manifest says"):
        restore(archive, tmp_path / "again")


def test_an_archive_that_claims_more_than_the_disk_holds_is_refused(
    archive: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    usage = shutil.disk_usage(tmp_path)
    monkeypatch.setattr(shutil, "disk_usage", lambda _: usage._replace(free=1000))
    with pytest.raises(StoreFullError, match="GiB are free"):
        restore(archive, tmp_path / "again")


def test_a_packing_that_plants_do_not_use_is_refused(archive: Path, tmp_path: Path) -> None:
    with ZipFile(archive) as zipped:
        content = {info.filename: zipped.read(info) for info in zipped.infolist()}
    with ZipFile(archive, "w", ZIP_LZMA) as zipped:
        for name, data in content.items():
            zipped.writestr(name, data)
    with pytest.raises(ArchiveError, match="do not use"):
        restore(archive, tmp_path / "again")
