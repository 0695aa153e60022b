"""Which files of a folder have come to rest."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from cagewise.errors import RecordingError
from cagewise.store import Plant
from cagewise.workflows.watched_files import WatchedFiles, folder_to_watch


class Clock:
    """Seconds that are set by hand."""

    def __init__(self) -> None:
        self.time = 0.0

    def __call__(self) -> float:
        return self.time


def rested(files: WatchedFiles) -> set[str]:
    return {path.name for path in files.look().rested}


def test_a_file_counts_when_it_did_not_change_while_it_was_watched(tmp_path: Path) -> None:
    clock = Clock()
    files = WatchedFiles([tmp_path], 60.0, clock)
    path = tmp_path / "run.dat"
    path.write_bytes(b"first")
    os.utime(path, (1e9, 1e9))  # a copy that bears the time of its original
    assert rested(files) == set()
    clock.time = 59.9
    assert rested(files) == set()
    path.write_bytes(b"first and second")
    os.utime(path, (1e9, 1e9))
    clock.time = 60.0
    assert rested(files) == set()
    clock.time = 119.9
    assert rested(files) == set()
    clock.time = 120.0
    assert rested(files) == {"run.dat"}
    os.utime(path, (1e9, 1e9 + 1))  # as long, but written to
    assert files.look().moving == 1


def test_hidden_partial_empty_and_linked_files_are_passed_over(tmp_path: Path) -> None:
    folder = tmp_path / "in"
    (folder / "P-101").mkdir(parents=True)
    for name in ("run.dat", ".run.dat", "run.dat.part", "run.TMP", "~run.dat", "run.dat~"):
        (folder / "P-101" / name).write_bytes(b"x")
    (folder / "empty.dat").touch()
    (folder / "link.dat").symlink_to(folder / "P-101/run.dat")
    (folder / "again").symlink_to(folder)
    Plant.create(folder / "plant").close()
    files = WatchedFiles([folder], 0.0, Clock())
    assert {path.relative_to(folder) for path in files.look().rested} == {Path("P-101/run.dat")}
    assert files.look().moving == 1  # the empty one may yet be written


def test_a_folder_that_goes_away_is_told_and_comes_back_to_be_watched_anew(tmp_path: Path) -> None:
    clock = Clock()
    folder = tmp_path / "share"
    folder.mkdir()
    (folder / "run.dat").write_bytes(b"x")
    files = WatchedFiles([folder], 10.0, clock)
    files.look()
    folder.rename(tmp_path / "away")
    assert folder in files.look().unreadable
    (tmp_path / "away").rename(folder)
    clock.time = 15.0
    assert rested(files) == set()
    clock.time = 25.0
    assert rested(files) == {"run.dat"}


def test_only_folders_that_are_no_plants_are_watched(tmp_path: Path) -> None:
    Plant.create(tmp_path / "plant").close()
    for folder in (tmp_path / "gone", tmp_path / "plant"):
        with pytest.raises(RecordingError):
            folder_to_watch(folder)
    (tmp_path / "link").symlink_to(tmp_path)
    assert folder_to_watch(tmp_path / "link") == tmp_path.resolve()
