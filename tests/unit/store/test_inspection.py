"""Every kept file is read, what is wrong is named with what it is of, and nothing is changed."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from cagewise.errors import ArchiveError
from cagewise.store import Plant, export, inspect, restore, verify
from cagewise.store.inspection import FaultKind, StrayKind
from cagewise.store.progress import Progress
from support.plants import DAY, fill


@pytest.fixture
def full(plant: Plant, tmp_path: Path) -> Plant:
    fill(plant, tmp_path)
    return plant


def files_in(plant: Plant, folder: str) -> list[Path]:
    return sorted(path for path in (plant.folder / folder).rglob("*") if path.is_file())


def test_a_whole_plant_is_read_through_and_counted(full: Plant) -> None:
    told: list[Progress] = []

    found = inspect(full, tell=told.append)

    assert found.is_whole
    assert (found.faults, found.strays, found.database_faults) == ((), (), ())
    everything = [
        p for each in ("originals", "waveforms", "attachments") for p in files_in(full, each)
    ]
    assert found.files == len(everything) == len(told)
    assert found.size_bytes == sum(path.stat().st_size for path in everything)
    assert told[-1].size_bytes == told[-1].of_bytes == found.size_bytes
    held = found.contents
    assert (held.motors, held.visits, held.recordings, held.test_sheets) == (1, 1, 2, 1)
    assert (held.examinations, held.cases) == (1, 1)


@pytest.mark.parametrize("kind", FaultKind)
@pytest.mark.parametrize(
    ("folder", "names"),
    [
        ("originals", {"run.dat", "sheet.toml"}),
        ("waveforms", {"run.dat"}),
        ("attachments", {"bars.jpg"}),
    ],
)
def test_what_is_missing_or_damaged_is_named_with_what_it_is_of(
    full: Plant, folder: str, names: set[str], kind: FaultKind
) -> None:
    damaged = files_in(full, folder)
    for path in damaged:
        if kind is FaultKind.MISSING:
            path.unlink()
        else:
            content = bytearray(path.read_bytes())
            content[len(content) // 2] ^= 1  # a single bit
            path.write_bytes(content)

    found = inspect(full)

    assert not found.is_whole
    assert {fault.where for fault in found.faults} == {str(path) for path in damaged}
    assert {(fault.folder, fault.kind) for fault in found.faults} == {(folder, kind)}
    uses = [use for fault in found.faults for use in fault.uses]
    assert {use.name for use in uses} == names
    assert {(use.tag, use.day) for use in uses} == {("P-101", DAY)}


def test_a_damaged_document_and_a_database_against_itself_are_named(full: Plant) -> None:
    with full.database.connection() as connection:
        if full.database.is_sqlite:
            connection.exec_driver_sql("DROP TRIGGER examination_document_no_update")
            connection.exec_driver_sql("UPDATE examination_document SET document = x'00'")
    if not full.database.is_sqlite:
        pytest.skip("there the trigger stays")

    found = inspect(full)

    [fault] = found.faults
    assert (fault.folder, fault.kind) == ("documents", FaultKind.DAMAGED)
    assert fault.uses[0].name == "examination 1"


def test_what_is_only_in_the_folder_is_told_apart_and_left_alone(full: Plant) -> None:
    originals = full.folder / "originals"
    unclaimed = full.measurements.originals.keep(b"an import was killed here")
    (originals / ".incoming-1-ff").write_bytes(b"half")
    (full.folder / "attachments" / "notes.txt").write_bytes(b"mine")

    found = inspect(full)

    assert found.is_whole
    assert {(stray.path.name, stray.kind) for stray in found.strays} == {
        (unclaimed.checksum, StrayKind.UNCLAIMED),
        (".incoming-1-ff", StrayKind.HALF),
        ("notes.txt", StrayKind.FOREIGN),
    }
    assert all(stray.path.exists() for stray in found.strays)


def test_waveforms_elsewhere_are_read_but_not_looked_through(tmp_path: Path) -> None:
    with Plant.create(tmp_path / "far", waveforms=f"memory://{os.getpid()}") as plant:
        fill(plant, tmp_path)
        found = inspect(plant)
    assert found.is_whole
    assert found.elsewhere == f"memory://{os.getpid()}"
    assert found.files == 5


def test_an_archive_is_verified_without_making_a_plant(full: Plant, tmp_path: Path) -> None:
    archive, told = tmp_path / "out.zip", list[Progress]()
    written = export(full, archive, tell=told.append)
    assert told[-1].files == told[-1].of_files == written.files + 1
    before = sorted(tmp_path.rglob("*"))

    told.clear()
    found = verify(archive, tell=told.append)

    assert sorted(tmp_path.rglob("*")) == before
    assert found.contents == written.contents == inspect(full).contents
    assert (found.files, found.size_bytes, found.lost) == (written.files, written.size_bytes, ())
    assert told[-1].size_bytes == told[-1].of_bytes
    assert restore(archive, tmp_path / "again").contents == written.contents

    content = bytearray(archive.read_bytes())
    content[len(content) // 3] ^= 1
    archive.write_bytes(content)
    with pytest.raises(ArchiveError):
        verify(archive)
