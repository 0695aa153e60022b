"""The list of motors, their sensors and notes on the command line."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from cagewise.cli.status import ExitStatus
from cagewise.report.history_text import day_of
from cagewise.store import Plant
from cagewise.workflows.plant_points import trend_points
from support.commands import run
from support.kept_histories import LAST, add_examination, add_motor


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A plant of two motors, one of which was examined twice."""
    path = tmp_path / "plant"
    with Plant.create(path) as plant:
        motor = add_motor(plant, "P-1")
        keys = {"action": "keep", "act_by_latest": date(2032, 3, 4), "insulation": "suspect"}
        add_examination(plant, motor, date(2030, 3, 4), 0.1, "sound", **keys)
        add_examination(plant, motor, LAST, 0.1, "sound", **keys, winding="sound")
        add_motor(plant, "P-2")
    monkeypatch.setenv("CAGEWISE_PLANT", str(path))
    return path


def ok(*arguments: str) -> str:
    done = run(*arguments)
    assert (done.status, done.err) == (ExitStatus.EXAMINED, "")
    return " ".join(done.out.split())


@pytest.mark.usefixtures("folder")
def test_the_list_shows_the_parts_and_what_is_due() -> None:
    listed = ok("motor", "list", "--width", "120")

    assert "2031-03-04 sound sound suspect 2032-03-04 winding tests" in listed
    assert "P-2 315 kW high not examined now first record" in listed
    assert listed.index("P-1") < listed.index("P-2")


@pytest.mark.usefixtures("folder")
@pytest.mark.parametrize(
    ("wanted", "tags", "left_out"),
    [
        (("--state", "suspect"), {"P-1"}, ""),
        (("--state", "Not-Examined"), {"P-2"}, ""),
        (("--due",), {"P-2"}, ""),
        (("--most", "1"), {"P-1"}, "1 more are not shown"),
        (("--state", "defective"), set(), "No motor is like that."),
    ],
)
def test_some_motors_are_listed(wanted: tuple[str, ...], tags: set[str], left_out: str) -> None:
    listed = ok("motor", "list", *wanted)

    assert {tag for tag in ("P-1", "P-2") if tag in listed} == tags
    assert left_out in listed


def test_a_sensor_is_added_calibrated_and_removed(folder: Path) -> None:
    said = ok("motor", "sensor", "add", "P-1", "clamp A", "--role", "i_a", "--ratio", "200",
              "--serial", "77", "--on", "2031-01-01")  # fmt: skip
    assert said.endswith("i_a, serial 77, ratio 200, mounted 2031-01-01, no calibration noted")
    assert "calibrated 2031-02-03" in ok(
        "motor", "sensor", "calibrated", "p-1", "CLAMP a", "--on", "2031-02-03"
    )
    with Plant.open(folder) as plant:
        before, after = trend_points(plant, plant.motors.find("P-1"))
    assert (day_of(after.day), before.sensors, bool(after.sensors)) == (LAST, "", True)

    ok("motor", "sensor", "remove", "P-1", "clamp A", "--on", "2031-03-01")
    ok("motor", "sensor", "add", "P-1", "clamp A")  # another one of that name
    shown = ok("motor", "show", "P-1")
    assert "clamp A i_a, serial 77, ratio 200, mounted 2031-01-01, calibrated 2031-02-03" in shown
    assert "removed 2031-03-01" in shown


def test_a_note_stays_with_the_motor(folder: Path) -> None:
    assert folder.is_dir()
    ok("motor", "note", "P-1", "bearing greased", "--author", "mill", "--on", "2031-01-02")

    assert "2031-01-02 bearing greased [mill]" in ok("motor", "show", "P-1")


@pytest.mark.usefixtures("folder")
@pytest.mark.parametrize(
    ("arguments", "status", "message"),
    [
        (("add", "P-1", " "), ExitStatus.USAGE, "a sensor has a name"),
        (("add", "P-1", "a", "--role", "ia"), ExitStatus.USAGE, "there is no role 'ia'"),
        (("add", "P-1", "a", "--ratio", "0"), ExitStatus.USAGE, "above zero"),
        (("calibrated", "P-1", "a"), ExitStatus.PLANT, "there is no sensor 'a'"),
    ],
)
def test_a_sensor_that_cannot_be_is_refused(
    arguments: tuple[str, ...], status: ExitStatus, message: str
) -> None:
    done = run("motor", "sensor", *arguments)

    assert done.status is status
    assert message in done.err


@pytest.mark.usefixtures("folder")
def test_a_sensor_is_there_once_and_not_removed_before_it_was_mounted() -> None:
    ok("motor", "sensor", "add", "P-1", "clamp A", "--on", "2031-01-01")

    again = run("motor", "sensor", "add", "P-1", "clamp  a")
    early = run("motor", "sensor", "remove", "P-1", "clamp A", "--on", "2030-01-01")
    nothing = run("motor", "note", "P-1", " ")

    assert (again.status, early.status) == (ExitStatus.PLANT, ExitStatus.USAGE)
    assert "it was mounted later, on 2031-01-01" in early.err
    assert (nothing.status, "nothing to note" in nothing.err) == (ExitStatus.USAGE, True)
