"""A plant goes into an archive and back by commands, also when they are killed."""

from __future__ import annotations

import os
import random
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from hashlib import sha256
from pathlib import Path

import pytest

from cagewise.cli.status import ExitStatus
from cagewise.store import Plant
from cagewise.store.durable import INCOMING
from cagewise.workflows.plant_folder import VARIABLE
from support.commands import Run, run
from support.kills import seeds_of_kills
from support.plants import DAY, fill
from support.whole import require_whole

COMMAND = "from cagewise.cli import entry_point; entry_point()"


@pytest.fixture
def mill(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder to work in, with a plant of one of everything where it is found."""
    monkeypatch.delenv(VARIABLE, raising=False)
    monkeypatch.chdir(tmp_path)
    with Plant.create(tmp_path / "plant", name="mill") as plant:
        fill(plant, tmp_path)
    return tmp_path


def words(text: str) -> str:
    """Return a page without its line breaks."""
    return " ".join(text.split())


def done(*arguments: str | Path) -> Run:
    """Run a command that must succeed."""
    ran = run(*arguments)
    assert (ran.status, ran.err) == (ExitStatus.EXAMINED, "")
    return ran


def test_from_a_plant_to_an_archive_and_back(mill: Path) -> None:
    exported = words(done("export", "mill.zip").out)
    assert "mill.zip:thewholeplant." in exported.replace(" ", "")  # a long path takes two lines
    holds = "holds 1 motor, 1 visit, 2 recordings, 1 test sheet, 1 examination, 1 case"
    assert holds in exported
    assert "time 0." in exported

    verified = words(done("verify", "mill.zip").out)
    assert "whole. A plant comes out of it as it was." in verified
    assert holds in verified
    assert "plant mill" in verified

    assert holds in words(done("restore", "mill.zip", "again").out)
    require_whole(mill / "again")
    for page in (("case", "list", "--all"), ("motor", "list"), ("ranking",)):
        assert done(*page, "--plant", "again").out == done(*page).out
    assert "whole" in done("plant-check", "--plant", "again").out


def test_nothing_that_is_there_is_replaced_unasked(mill: Path) -> None:
    (mill / "mill.zip").write_bytes(b"mine")
    refused = run("export", "mill.zip")
    assert refused.status is ExitStatus.NOT_WRITTEN
    assert "--force" in refused.err
    assert (mill / "mill.zip").read_bytes() == b"mine"
    done("export", "mill.zip", "--force")

    filled = run("restore", "mill.zip", "plant")
    assert filled.status is ExitStatus.PLANT
    assert "something already" in filled.err
    assert run("restore", "mill.zip", "plant", "--force").status is ExitStatus.USAGE
    require_whole(mill / "plant")


def test_a_loss_is_named_with_what_to_do_and_can_be_accepted(mill: Path) -> None:
    checksum = sha256(b"a sheet").hexdigest()
    path = mill / "plant/originals" / checksum[:2] / checksum
    path.unlink()

    checked = run("plant-check")
    assert checked.status is ExitStatus.PLANT
    said = words(checked.out)
    assert "NOT WHOLE (1 missing)" in said
    assert f"P-101, {DAY}: sheet.toml" in said
    assert '"cagewise import FILE --motor P-101 --again"' in said
    assert str(path) in checked.out

    refused = run("export", "mill.zip")
    assert refused.status is ExitStatus.PLANT
    assert "plant-check" in refused.err
    assert "--accept-loss" in refused.err
    assert not (mill / "mill.zip").exists()

    assert "Lost before the export" in done("export", "mill.zip", "--accept-loss").out
    assert "the plant had lost files before" in words(done("verify", "mill.zip").out)
    assert checksum in "".join(done("restore", "mill.zip", "again").out.split())
    assert run("plant-check", "--plant", "again").status is ExitStatus.PLANT


@pytest.mark.parametrize("command", ["verify", "restore"])
def test_what_is_no_archive_or_a_torn_one_is_named(mill: Path, command: str) -> None:
    done("export", "mill.zip")
    whole = (mill / "mill.zip").read_bytes()
    (mill / "torn.zip").write_bytes(whole[: len(whole) // 2])
    more = ("again",) if command == "restore" else ()

    for name, said in (("torn.zip", "damaged"), ("gone.zip", "cagewise export")):
        ran = run(command, name, *more)
        assert ran.status is ExitStatus.PLANT
        assert said in ran.err
    assert not (mill / "again").exists()


def started(*arguments: str) -> subprocess.Popen[bytes]:
    """Start the real command."""
    return subprocess.Popen(  # noqa: S603 # our own interpreter
        [sys.executable, "-c", COMMAND, *arguments],
        stdout=subprocess.DEVNULL,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
    )


@pytest.fixture(scope="module")
def large(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """A plant whose archive takes a while, and the archive."""
    folder = tmp_path_factory.mktemp("large")
    chance = random.Random(0)  # noqa: S311 - to fill files
    with Plant.create(folder / "plant") as plant:
        fill(plant, folder)
        for _ in range(60):
            plant.measurements.keep_original(chance.randbytes(400_000), "large.dat")
    assert run("export", folder / "old.zip", "--plant", folder / "plant").err == ""
    yield folder
    shutil.rmtree(folder)


def killed_at_work(process: subprocess.Popen[bytes], folder: Path, delay_s: float) -> bool:
    """Kill a command some time after it began to write; return whether it was not done yet."""
    while process.poll() is None and not list(folder.glob(f"{INCOMING}*")):
        time.sleep(0.001)
    time.sleep(delay_s)
    process.send_signal(signal.SIGKILL)
    return process.wait() == -signal.SIGKILL


SEEDS = seeds_of_kills()


@pytest.mark.parametrize("seed", SEEDS)
def test_an_export_that_is_killed_leaves_the_old_archive_or_none(
    seed: int, large: Path, tmp_path: Path
) -> None:
    delay = random.Random(seed).uniform(0.0, 0.8)  # noqa: S311 - to choose a moment
    plant, archive = str(large / "plant"), tmp_path / "mill.zip"
    if seed % 2:
        shutil.copy(large / "old.zip", archive)

    killed = killed_at_work(
        started("export", str(archive), "--plant", plant, "--force"), tmp_path, delay
    )

    if killed and seed % 2 == 0 and not archive.exists():
        assert run("verify", archive).status is ExitStatus.PLANT
    else:
        assert run("verify", archive).status is ExitStatus.EXAMINED
    assert run("export", archive, "--plant", plant, "--force").status is ExitStatus.EXAMINED
    assert run("verify", archive).status is ExitStatus.EXAMINED
    assert run("plant-check", "--plant", plant).status is ExitStatus.EXAMINED


@pytest.mark.parametrize("seed", SEEDS)
def test_a_restore_that_is_killed_leaves_a_whole_plant_or_none(
    seed: int, large: Path, tmp_path: Path
) -> None:
    delay = random.Random(seed).uniform(0.0, 0.8)  # noqa: S311 - to choose a moment
    archive, folder = str(large / "old.zip"), tmp_path / "again"

    killed_at_work(started("restore", archive, str(folder)), tmp_path, delay)

    if not folder.exists():
        assert run("restore", archive, folder).status is ExitStatus.EXAMINED
    checked = run("plant-check", "--plant", folder)
    assert checked.status is ExitStatus.EXAMINED
    assert "Only in the folder" not in checked.out
