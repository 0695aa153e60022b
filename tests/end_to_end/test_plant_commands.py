"""The commands of a plant as an engineer meets them: made, filled, examined, looked at."""

from __future__ import annotations

import io
import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from cagewise.cli.run import main
from cagewise.cli.status import ExitStatus
from cagewise.store import Plant
from cagewise.workflows.plant_folder import VARIABLE
from support.commands import MOTOR_FILE, run, write_motor
from support.demo_plants import TAG, laid_out, whole_visit

START, SHEET = "whole-visit-2027-start.parquet", "whole-visit-2027.sheet.toml"
RUNNING = "whole-visit.parquet"


@pytest.fixture
def mill(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder to work in, with a plant of one motor where it is found without being named."""
    monkeypatch.delenv(VARIABLE, raising=False)
    monkeypatch.chdir(tmp_path)
    assert run("plant-new", "plant").status is ExitStatus.EXAMINED
    assert run("motor", "add", whole_visit().motor, "--from", "2020-01-01").out.startswith(TAG)
    return tmp_path


def words(text: str) -> str:
    """Return a page without its line breaks."""
    return " ".join(text.split())


def test_from_an_empty_folder_to_a_kept_examination(mill: Path) -> None:
    folder = laid_out(mill / "in" / TAG, (START, SHEET, RUNNING))

    imported = run("import", folder)
    assert imported.status is ExitStatus.EXAMINED, imported.err
    assert f"{TAG} name of the folder 2 1 0 2" in words(imported.out)
    assert f"{TAG} name of the folder 0 0 3 0" in words(run("import", folder).out)

    examined = run("assess", TAG.lower())
    assert examined.status is ExitStatus.EXAMINED, examined.err
    assert "ROTOR CAGE: DEFECTIVE" in examined.out
    assert f"Kept as examination 1 of {TAG}, visit of 2031-04-15: 1 recording." in words(
        examined.out
    )
    assert "Compared with 1 start record, 1 test sheet of earlier visits" in words(examined.out)

    shown = words(run("motor", "show", TAG).out)
    assert "2031-04-15 1 recording: defective" in shown
    assert "2027-05-11 1 recording, 1 test sheet: not examined" in shown
    assert "from 2020-01-01 in force" in shown
    listed = words(run("motor", "list", "--width", "120").out)
    assert f"{TAG} 500 kW high 2031-04-15 defective" in listed
    narrow = run("motor", "list", "--width", "80").out.splitlines()
    assert narrow[0].split() == ["motor", "rated", "criticality", "measured", "cage", "due", "next"]
    assert narrow[1].split()[:2] == [TAG, "500"]
    narrowest = words(run("motor", "list", "--width", "40").out)
    assert narrowest == f"motor cage due {TAG} defective 2031-04-29"


def test_an_earlier_visit_behind_a_gate_as_a_document(mill: Path) -> None:
    run("import", laid_out(mill / "in", (START, SHEET)), "--motor", TAG)

    done = run("assess", TAG, "--visit", "2027-05-11", "--json", "-", "--gate")

    document = json.loads(done.out)
    assert document["motor"]["tag"] == TAG
    assert document["state"] == "sound"
    assert done.status is ExitStatus.NOT_DECIDABLE  # a start and a sheet see open bars only
    assert "The same as examination 1" in words(run("assess", TAG).out)


def test_what_was_refused_stands_at_the_end_with_its_reason(mill: Path) -> None:
    folder = laid_out(mill / "in", (START,))
    for number in range(8):
        (folder / f"torn-{number}.parquet").write_bytes(b"PAR1 and no more")
    (folder / "photo.jpg").write_bytes(b"\xff\xd8")

    done = run("import", folder, "--motor", TAG)
    every = run("import", folder, "--motor", TAG, "--every")

    assert done.status is ExitStatus.UNREADABLE
    assert "Refused: 8 files" in done.out
    assert "and 3 more" in done.out
    assert "1 .jpg" in done.out
    assert done.out.index("Refused") > done.out.index(TAG)
    assert all(f"torn-{number}.parquet" in every.out for number in range(8))


def test_a_motor_file_goes_round(mill: Path) -> None:
    printed = run("motor", "show", TAG, "--file")
    changed = mill / "changed.toml"
    changed.write_text(printed.out.replace("rotor_bars = 44", "rotor_bars = 46"), encoding="utf-8")

    done = run("motor", "edit", TAG, changed, "--from", "2024-05-06", "--note", "another rotor")

    assert done.status is ExitStatus.EXAMINED, done.err
    shown = words(run("motor", "show", TAG).out)
    assert "rotor bars 46" in shown
    assert "from 2024-05-06 in force, another rotor" in shown
    other = run("motor", "edit", TAG, write_motor(mill, MOTOR_FILE))
    assert other.status is ExitStatus.UNREADABLE
    assert "P-07" in other.err
    assert "number of stator slots" not in shown


@pytest.mark.parametrize(
    ("arguments", "status", "said"),
    [
        (("motor", "show", "LK-120"), ExitStatus.PLANT, "Did you mean 'LK-120-M'"),
        (("motor", "list", "--plant", "gone"), ExitStatus.PLANT, "no such folder"),
        (("plant-new", "plant"), ExitStatus.PLANT, "a plant already"),
        (("plant-new", "b", "--time-zone", "Mars/Base"), ExitStatus.PLANT, "Mars/Base"),
        (("import", "x.cfg", "--motor", "LK"), ExitStatus.PLANT, "there is no motor 'LK'"),
        (("import", "x.cfg", "--day", "someday"), ExitStatus.USAGE, "someday"),
        (("import",), ExitStatus.USAGE, "PATHS"),
        (("assess", TAG), ExitStatus.PLANT, "cagewise import FILES"),
        (("assess", "LK-9"), ExitStatus.PLANT, "there is no motor 'LK-9'"),
        (("assess", "motor.toml"), ExitStatus.USAGE, "recordings and sheets"),
        (("assess", TAG, "x.cfg"), ExitStatus.USAGE, "Import them first"),
        (("assess", "m.toml", "x.cfg", "--visit", "2027-05-11"), ExitStatus.USAGE, "--visit"),
        (("assess", TAG, "--rate", "5000"), ExitStatus.USAGE, "--again"),
        (("assess", TAG, "--earlier", "x.cfg"), ExitStatus.USAGE, "Earlier visits"),
    ],
)
@pytest.mark.usefixtures("mill")
def test_every_mistake_is_one_message_with_what_to_do(
    arguments: tuple[str, ...], status: ExitStatus, said: str
) -> None:
    done = run(*arguments)

    assert done.status is status
    assert done.out == ""
    assert said in words(done.err)


def test_without_a_plant_the_way_to_one_is_shown(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv(VARIABLE, raising=False)
    monkeypatch.chdir(tmp_path)
    done = run("motor", "list")

    assert done.status is ExitStatus.PLANT
    assert "cagewise plant-new plant" in done.err
    run("plant-new", tmp_path / "far away")
    monkeypatch.setenv(VARIABLE, str(tmp_path / "far away"))
    assert "There is no motor yet" in run("motor", "list").out


class Terminal(io.StringIO):
    """Messages that go to a terminal."""

    def isatty(self) -> bool:
        return True


def test_progress_is_shown_on_a_terminal_only_and_leaves_the_page_alone(mill: Path) -> None:
    folder = laid_out(mill / "in", (SHEET,))
    out, err = io.StringIO(), Terminal()

    assert main(["import", str(folder)], out=out, err=err) is ExitStatus.EXAMINED

    assert "importing" in err.getvalue()
    assert "1/1" in err.getvalue()
    assert "importing" not in out.getvalue()
    assert run("import", folder).err == ""


@pytest.mark.parametrize("kept", [1, 2, 5])
def test_an_import_that_was_killed_is_completed_by_running_again(mill: Path, kept: int) -> None:
    """The process is really killed, as soon as it has kept some of nine originals."""
    folder = laid_out(mill / "in" / TAG, tuple(path.name for path in _everything()))
    code = "from cagewise.cli import entry_point; entry_point()"
    process = subprocess.Popen(  # noqa: S603 # our own interpreter
        [sys.executable, "-c", code, "import", str(folder)],
        stdout=subprocess.DEVNULL,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
    )
    while len(list((mill / "plant" / "originals").glob("??/*"))) < kept:
        assert process.poll() is None
        time.sleep(0.001)
    process.send_signal(signal.SIGKILL)
    assert process.wait() == -signal.SIGKILL

    assert run("import", folder).status is ExitStatus.EXAMINED

    with Plant.open(mill / "plant") as plant:
        visits = plant.visits.of(plant.motors.find(TAG))
        recordings = [r for visit in visits for r in plant.measurements.recordings(visit)]
        sheets = [s for visit in visits for s in plant.measurements.sheets(visit)]
        assert (len(visits), len(recordings), len(sheets)) == (4, 5, 4)
        for recording in recordings:
            assert plant.measurements.load(recording).n_samples == recording.n_samples


def _everything() -> tuple[Path, ...]:
    case = whole_visit()
    return (*case.files, *case.earlier)


def test_two_imports_at_once_keep_everything_once(mill: Path) -> None:
    folder = laid_out(mill / "in" / TAG, tuple(path.name for path in _everything()))
    code = "from cagewise.cli import entry_point; entry_point()"
    both = [
        subprocess.Popen(  # noqa: S603 # our own interpreter
            [sys.executable, "-c", code, "import", str(folder)],
            stdout=subprocess.DEVNULL,
            env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
        )
        for _ in range(2)
    ]
    assert [process.wait() for process in both] == [ExitStatus.EXAMINED] * 2

    with Plant.open(mill / "plant") as plant:
        visits = plant.visits.of(plant.motors.find(TAG))
        kept = [len(plant.measurements.recordings(visit)) for visit in visits]
        assert (kept, len(list((mill / "plant" / "originals").glob("??/*")))) == ([1, 1, 1, 2], 9)


def test_a_stated_role_is_kept_for_the_next_time(mill: Path) -> None:
    """A clamp the wrong way round is put right at the examination; the original stays."""
    folder = laid_out(mill / "in", (START,))
    run("import", folder, "--motor", TAG, "--role", "I L1=-i_a")
    doubted = run("assess", TAG)
    assert doubted.status is ExitStatus.NEEDS_ANSWER, doubted.out

    assert run("assess", TAG, "--role", "I L1=i_a").status is ExitStatus.EXAMINED
    assert run("assess", TAG).status is ExitStatus.EXAMINED
