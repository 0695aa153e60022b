"""What is wrong with a plant, as its commands say it: one message, exit status 9, no harm."""

from __future__ import annotations

import io
import json
import os
import shutil
import sqlite3
import stat
import subprocess
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path
from tempfile import TemporaryDirectory, mkdtemp
from typing import Any

import pytest

from cagewise.cli.run import main
from cagewise.cli.status import ExitStatus
from cagewise.store import Plant
from cagewise.workflows.plant_assess import assess_visit
from cagewise.workflows.plant_cases import open_case
from cagewise.workflows.plant_folder import VARIABLE
from cagewise.workflows.plant_import import ImportOptions, import_files
from support.commands import run
from support.demo_plants import TAG, kiln_plant, whole_visit
from support.plants import motor_file
from support.processes import Child, become_nobody

SHEETS = ("whole-visit-2027.sheet.toml", "whole-visit-2029.sheet.toml")

READING: dict[str, tuple[str, ...]] = {
    "trend": ("trend", TAG),
    "ranking": ("ranking",),
    "calls": ("calls",),
    "case list": ("case", "list", "--all"),
    "case show": ("case", "show", "1"),
    "motor list": ("motor", "list"),
    "motor show": ("motor", "show", TAG),
    "plant-check": ("plant-check",),
    "reexamine --dry-run": ("reexamine", TAG, "--again", "--dry-run"),
}
WRITING: dict[str, tuple[str, ...]] = {
    "motor add": ("motor", "add", "P-101.toml"),
    "motor edit": ("motor", "edit", TAG, "edited.toml"),
    "import": ("import", "in/new.sheet.toml", "--motor", TAG),
    "assess": ("assess", TAG, "--prevalence", "0.1"),
    "reexamine": ("reexamine", TAG, "--again", "--prevalence", "0.2"),
    "case open": ("case", "open", TAG, "insulation"),
    "case note": ("case", "note", "1", "--text", "noted"),
    "case decide": ("case", "decide", "1", "measure again"),
    "case repair": ("case", "repair", "1", "cleaned", "--kind", "other"),
    "case outcome": ("case", "outcome", "1", "sound"),
    "case close": ("case", "close", "1", "nothing found"),
}
EXPORT = {"export": ("export", "out.zip", "--force")}


def fill_mill(folder: Path) -> None:
    """Make a plant with an examined visit and a case, and files that commands are given."""
    plant, motor = kiln_plant(folder)
    demo = whole_visit().motor.parent
    with plant:
        list(import_files(plant, [demo / SHEETS[0]], ImportOptions(tag=motor.tag)))
        assess_visit(plant, motor)
        open_case(plant, motor, "doubt")
    (folder / "in").mkdir()
    shutil.copy(demo / SHEETS[1], folder / "in/new.sheet.toml")
    (folder / "P-101.toml").write_text(motor_file(), encoding="utf-8")
    text = whole_visit().motor.read_text(encoding="utf-8")
    (folder / "edited.toml").write_text(text + "# edited\n", encoding="utf-8")


@pytest.fixture(scope="module")
def model(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("model")
    fill_mill(folder)
    return folder


@pytest.fixture
def mill(model: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A copy of the plant, in the folder where the commands are given."""
    monkeypatch.delenv(VARIABLE, raising=False)
    shutil.copytree(model, tmp_path / "here")
    monkeypatch.chdir(tmp_path / "here")
    return tmp_path / "here"


def newer_schema(plant: Path) -> None:
    """Let a later version have changed the tables."""
    with closing(sqlite3.connect(plant / "history.sqlite")) as connection:
        connection.execute("UPDATE alembic_version SET version_num = '9999'")
        connection.commit()


def newer_layout(plant: Path) -> None:
    """Let a later version have changed the folder."""
    file = plant / "plant.toml"
    file.write_text(file.read_text().replace("schema = 1", "schema = 2"))


def no_database(plant: Path) -> None:
    """Lose the database."""
    (plant / "history.sqlite").unlink()


def damaged_database(plant: Path) -> None:
    """Write over the database."""
    (plant / "history.sqlite").write_bytes(b"not a database" * 1000)


FAULTS: dict[str, tuple[Callable[[Path], None], str, str, str]] = {
    "newer schema": (newer_schema, "schema 9999", "history.sqlite", "up to date"),
    "newer layout": (newer_layout, "layout 2", "plant.toml", "up to date"),
    "no database": (no_database, "is not there", "history.sqlite", "restore"),
    "damaged database": (damaged_database, "is damaged", "history.sqlite", "archive"),
}


@pytest.mark.parametrize("fault", FAULTS)
@pytest.mark.parametrize("command", [*READING, *WRITING, *EXPORT])
def test_a_plant_that_cannot_be_used_is_named_by_every_command(
    command: str, fault: str, mill: Path
) -> None:
    spoil, what, where, remedy = FAULTS[fault]
    spoil(mill / "plant")
    before = {path: path.read_bytes() for path in (mill / "plant").rglob("*") if path.is_file()}

    done = run(*{**READING, **WRITING, **EXPORT}[command])

    assert done.status is ExitStatus.PLANT, done.err
    assert done.out == ""
    assert done.err.startswith("cagewise: ")
    assert all(said in done.err for said in (what, where, remedy)), done.err
    after = {path: path.read_bytes() for path in before}
    assert after == before
    assert not (mill / "out.zip").exists()


@pytest.fixture
def impatient(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let nobody wait long for a lock."""
    really = Plant.open

    def opened(folder: Path, **options: Any) -> Plant:
        return really(folder, **{"patience_s": 0.05, **options})

    monkeypatch.setattr(Plant, "open", opened)


@pytest.mark.usefixtures("impatient")
@pytest.mark.parametrize("command", [*READING, *WRITING, *EXPORT])
def test_a_lock_hinders_those_who_write_and_nobody_else(command: str, mill: Path) -> None:
    arguments = {**READING, **WRITING, **EXPORT}[command]
    file = mill / "plant/history.sqlite"
    with closing(sqlite3.connect(file, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        done = run(*arguments)
        other.execute("ROLLBACK")

    if command in WRITING:
        assert done.status is ExitStatus.PLANT, done.err
        assert "another program is writing" in done.err
        assert str(file) in done.err
        assert "Wait until it has finished" in done.err
    else:
        assert (done.status, done.err) == (ExitStatus.EXAMINED, "")
    assert run(*arguments).status is ExitStatus.EXAMINED  # as if nothing had been


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A disk of four megabytes."""
    disk = tmp_path / "disk"
    disk.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=4m", "none", str(disk)]
    if subprocess.run(mount, capture_output=True, check=False).returncode:  # noqa: S603 - of the system
        pytest.skip("small disks cannot be mounted here")
    try:
        yield disk
    finally:
        subprocess.run(["umount", "-l", str(disk)], check=True)  # noqa: S603, S607 - of the system


def fill_up(file: Path) -> None:
    """Write until nothing fits any more."""
    with file.open("wb", buffering=0) as filler:
        while True:
            filler.write(bytes(4096))


def test_a_full_disk_is_named_by_every_command(
    model: Path, small_disk: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Also by those that only read: SQLite needs an index of its log beside the database."""
    monkeypatch.delenv(VARIABLE, raising=False)
    folder = small_disk / "here"
    shutil.copytree(model, folder)
    monkeypatch.chdir(folder)
    with pytest.raises(OSError, match="space"):
        fill_up(small_disk / "filler")

    for command, arguments in {**READING, **WRITING, **EXPORT}.items():
        done = run(*arguments)
        assert done.status is ExitStatus.PLANT, (command, done.err)
        assert "no space is left" in done.err, (command, done.err)
        assert "Make space" in done.err, command

    onto = run("export", small_disk / "x.zip", "--plant", model / "plant")
    assert onto.status is ExitStatus.PLANT
    assert "no space is left" in onto.err
    (small_disk / "filler").unlink()
    assert sorted(path.name for path in small_disk.iterdir()) == ["here"]
    for command, arguments in {**READING, **WRITING, **EXPORT}.items():
        assert run(*arguments).status is ExitStatus.EXAMINED, command


def give_all() -> Iterator[tuple[str, int, str]]:
    """Give all commands where we are; yield name, status and message of each."""
    for name, arguments in {**READING, **WRITING, **EXPORT}.items():
        err = io.StringIO()
        status = main(list(arguments), out=io.StringIO(), err=err)
        yield name, int(status), err.getvalue()


def commands_as_nobody(folder: Path, _: Callable[[str], None], say: Callable[[str], None]) -> None:
    """Give all commands without the rights of the owner of the plant."""
    with TemporaryDirectory() as warm:  # everything is imported while that is allowed
        shutil.copytree(folder, warm, dirs_exist_ok=True)
        for path in (Path(warm), *Path(warm).rglob("*")):
            path.chmod(0o755 if path.is_dir() else 0o644)
        os.chdir(warm)
        assert {status for _, status, _ in give_all()} == {ExitStatus.EXAMINED}
        os.chdir(folder)
    become_nobody()
    for said in give_all():
        say(json.dumps(said))
    with TemporaryDirectory() as elsewhere:
        err = io.StringIO()
        status = main(["export", f"{elsewhere}/mill.zip"], out=io.StringIO(), err=err)
        say(json.dumps(["export elsewhere", int(status), err.getvalue()]))


def test_a_plant_that_may_only_be_read_is_read(model: Path) -> None:
    folder = Path(mkdtemp(prefix="cagewise-read-only-")) / "here"
    shutil.copytree(model, folder)
    everything = [folder.parent, folder, *folder.rglob("*")]
    for path in everything:
        rights = stat.S_IRUSR | stat.S_IRGRP | stat.S_IROTH
        path.chmod(rights | (0o111 if path.is_dir() else 0))
    try:
        child = Child(commands_as_nobody, folder)
        assert child.end() == 0
        said = {name: (status, err) for name, status, err in map(json.loads, child.said)}
    finally:
        for path in everything:
            path.chmod(0o755 if path.is_dir() else 0o644)
        shutil.rmtree(folder.parent)

    assert said["export elsewhere"] == (0, "")
    assert {name: said[name] for name in READING} == dict.fromkeys(READING, (0, ""))
    for name in (*WRITING, *EXPORT):
        status, err = said[name]
        assert status == ExitStatus.PLANT, (name, err)
        assert "may not be written" in err, name
        assert "Check the permissions" in err, name
