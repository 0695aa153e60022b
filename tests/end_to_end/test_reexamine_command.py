"""Old visits examined again by the command: told, resumed after a kill, safe for two at once."""

from __future__ import annotations

import io
import json
import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from cagewise import __version__
from cagewise.cli.run import main
from cagewise.cli.status import ExitStatus
from cagewise.store import Plant
from cagewise.workflows.plant_folder import VARIABLE
from cagewise.workflows.plant_import import ImportOptions, import_files
from support.commands import run
from support.demo_plants import TAG, kiln_plant, whole_visit
from support.kills import seeds_of_kills
from support.older_examinations import OLD_VERSION, keep_older_examination

COMMAND = "from cagewise.cli import entry_point; entry_point()"
YEARS = (2027, 2028, 2029)


@pytest.fixture
def mill(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with a plant whose visits an older version has examined."""
    monkeypatch.delenv(VARIABLE, raising=False)
    monkeypatch.chdir(tmp_path)
    plant, motor = kiln_plant(tmp_path)
    demo = whole_visit().motor.parent
    with plant:
        sheets = [demo / f"whole-visit-{year}.sheet.toml" for year in YEARS]
        list(import_files(plant, sheets, ImportOptions(tag=motor.tag)))
        for visit in plant.visits.of(motor):
            keep_older_examination(plant, motor, visit.day)
    return tmp_path


def versions(mill: Path) -> list[list[str]]:
    """Return which versions have examined each visit, in their order."""
    with Plant.open(mill / "plant") as plant:
        [motor] = plant.motors.all()
        return [
            [each.program_version for each in plant.examinations.of_visit(visit)]
            for visit in plant.visits.of(motor)
        ]


def started(*arguments: str) -> subprocess.Popen[bytes]:
    """Start the real command."""
    return subprocess.Popen(  # noqa: S603 # our own interpreter
        [sys.executable, "-c", COMMAND, *arguments],
        stdout=subprocess.DEVNULL,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
    )


def test_what_changed_is_told_on_the_page_and_as_numbers(mill: Path) -> None:
    dry = run("reexamine", TAG, "--dry-run")
    assert "dry run: nothing was kept" in dry.out
    assert versions(mill) == [[OLD_VERSION]] * 3

    done = run("reexamine", "--all", "--since", "2028-01-01", "--json", "changes.json")
    assert (done.status, done.err) == (ExitStatus.EXAMINED, "")
    assert "Changed  2 visits" in done.out
    assert versions(mill) == [[OLD_VERSION], *[[OLD_VERSION, __version__]] * 2]
    numbers = json.loads((mill / "changes.json").read_text(encoding="utf-8"))
    assert [visit["fate"] for visit in numbers["visits"]] == ["changed"] * 2

    rest = " ".join(run("reexamine", TAG.lower()).out.split())
    assert "Changed 1 visit" in rest
    assert "Up to date 2 visits" in rest
    taken = run("reexamine", TAG, "--json", "changes.json")
    assert taken.status is ExitStatus.NOT_WRITTEN


def test_a_lost_original_is_named_and_the_status_says_so(mill: Path) -> None:
    with Plant.open(mill / "plant") as plant:
        [motor] = plant.motors.all()
        [sheet] = plant.measurements.sheets(plant.visits.of(motor)[-1])
        plant.measurements.originals.path(sheet.checksum).unlink()

    done = run("reexamine", "--all")

    assert done.status is ExitStatus.PLANT
    assert "Not possible" in done.out
    assert "Changed" in done.out
    assert versions(mill)[-1] == [OLD_VERSION]


@pytest.mark.parametrize("arguments", [(), (TAG, "--all"), (TAG, "--prevalence", "2")])
@pytest.mark.usefixtures("mill")
def test_what_cannot_be_meant_is_refused(arguments: tuple[str, ...]) -> None:
    assert run("reexamine", *arguments).status is ExitStatus.USAGE


class Terminal(io.StringIO):
    """Messages that go to a terminal."""

    def isatty(self) -> bool:
        return True


@pytest.mark.usefixtures("mill")
def test_progress_is_shown_on_a_terminal_only() -> None:
    out, err = io.StringIO(), Terminal()
    assert main(["reexamine", TAG], out=out, err=err) is ExitStatus.EXAMINED
    assert f"examining {TAG} 2027" in err.getvalue()
    assert "examining" not in out.getvalue()
    out, err = io.StringIO(), Terminal()
    assert main(["export", "mill.zip"], out=out, err=err) is ExitStatus.EXAMINED
    assert "exporting" in err.getvalue()


@pytest.mark.parametrize("seed", seeds_of_kills(quick=1))
def test_killed_at_any_moment_it_goes_on_where_it_was(seed: int, mill: Path) -> None:
    chance = random.Random(seed)  # noqa: S311 - to choose a moment
    for _ in range(2):
        before = versions(mill)
        process = started("reexamine", "--all")
        time.sleep(chance.uniform(0.5, 3.0))
        process.send_signal(signal.SIGKILL)
        process.wait()
        for was, now in zip(before, versions(mill), strict=True):
            assert now in (was, [OLD_VERSION, __version__])

    assert run("reexamine", "--all").status is ExitStatus.EXAMINED

    assert versions(mill) == [[OLD_VERSION, __version__]] * 3


def test_two_at_once_keep_everything_once(mill: Path) -> None:
    both = [started("reexamine", "--all") for _ in range(2)]

    assert [process.wait() for process in both] == [ExitStatus.EXAMINED] * 2
    assert versions(mill) == [[OLD_VERSION, __version__]] * 3
