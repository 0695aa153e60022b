"""The commands on a plant's history: wiring, messages, files."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from cagewise.cli.status import ExitStatus
from cagewise.history.missing import RepairKind
from cagewise.store import BarDamage, BarPlace, FoundBar, Outcome, Plant, Repair
from support.commands import Run, run
from support.kept_histories import LAST, add_growing, add_motor


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    path = tmp_path / "plant"
    with Plant.create(path, name="invented mill") as plant:
        add_growing(plant, add_motor(plant, "P-1"), (0.3, 0.4, 0.55, 0.8, 1.1))
    monkeypatch.setenv("CAGEWISE_PLANT", str(path))
    return path


def ok(*arguments: str | Path) -> Run:
    done = run(*arguments)
    assert (done.status, done.err) == (ExitStatus.EXAMINED, "")
    return done


def test_the_trend_is_a_page_or_numbers(folder: Path, tmp_path: Path) -> None:
    assert "TREND: " in ok("trend", "p-1").out

    numbers = json.loads(ok("trend", "P-1", "--json", "-", "--on", "2031-03-04").out)
    assert numbers["motor"]["tag"] == "P-1"
    assert numbers["today"] == "2031-03-04"

    file = tmp_path / "trend.json"
    assert "TREND: " in ok("trend", "P-1", "--limit", "2", "--json", file).out
    assert json.loads(file.read_text(encoding="utf-8"))["limit"]["limit_bars"] == 2.0
    assert run("trend", "P-1", "--json", file).status is ExitStatus.NOT_WRITTEN
    ok("trend", "P-1", "--plant", folder, "--json", file, "--force")


def test_list_is_another_name_of_ranking(folder: Path) -> None:
    assert folder.is_dir()
    assert ok("list", "--on", "2031-03-04").out == ok("ranking", "--on", "2031-03-04").out


def test_a_case_is_followed_to_its_end(folder: Path, tmp_path: Path) -> None:
    photograph = tmp_path / "bars.jpg"
    photograph.write_bytes(b"a photograph")
    day = LAST.isoformat()

    assert "CASE 1: open bars" in ok("case", "open", "P-1", "open bars", "--on", day).out
    ok("case", "decide", "P-1", "take out", "--due", "2031-05-01", "--author", "reliability")
    ok("case", "note", "1", "--text", "no more than two starts a day")
    ok("case", "outcome", "1", "damaged", "--open-bars", "1", "--bar", "7=open@drive-end",
       "--bar", "9=cracked", "--attach", photograph)  # fmt: skip
    ok("case", "repair", "1", "brazed", "--kind", "cage", "--fact", "rotor_bars=58")
    shown = ok("case", "close", "P-1", "repaired").out

    assert "attached: bars.jpg" in " ".join(shown.split()).lower()
    assert "closed" in shown
    assert "open bars" in ok("case", "list", "--all").out
    assert "no such cases" in ok("case", "list").out
    assert ok("case", "show", "P-1").out == shown
    assert json.loads(ok("case", "show", "1", "--json", "-").out)["case"]["id"] == 1
    assert "defective" in ok("calls").out
    with Plant.open(folder) as plant:
        *_, outcome, repair = (event.what for event in plant.cases.events(plant.cases.get(1)))
    assert isinstance(outcome, Outcome)
    assert isinstance(repair, Repair)
    assert outcome.bars == (
        FoundBar(bar=7, place=BarPlace.DRIVE_END),
        FoundBar(bar=9, damage=BarDamage.CRACKED),
    )
    assert dict(repair.facts) == {"rotor_bars": "58", "kind": "cage"}


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (("case", "note", "1"), "nothing to note"),
        (("case", "outcome", "1", "sound", "--open-bars", "2"), "has no damaged bars"),
        (("case", "outcome", "1", "damaged", "--open-bars", "-1"), "must be a number of bars"),
        (("case", "outcome", "1", "damaged", "--bar", "7=bent"), "is not understood"),
        (("case", "repair", "1", "brazed", "--kind", "cage", "--fact", "58"), "must be NAME=VALUE"),
        (("trend", "P-1", "--limit", "0"), "above zero"),
        (("ranking", "--most", "0"), "one or more"),
        (("ranking", "--state", "broken"), "there is no state"),
    ],
)
def test_what_cannot_be_meant_is_refused(
    arguments: tuple[str, ...], message: str, folder: Path
) -> None:
    assert folder.is_dir()

    done = run(*arguments)

    assert done.status is ExitStatus.USAGE
    assert message in done.err


def test_an_unknown_motor_or_plant_is_named(folder: Path, tmp_path: Path) -> None:
    assert "Did you mean 'P-1'?" in run("trend", "P-11", "--plant", folder).err
    gone = run("ranking", "--plant", tmp_path / "nothing")
    assert gone.status is ExitStatus.PLANT
    assert "no such folder" in gone.err


def test_history_and_case_commands_find_a_plant_like_all_others(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("CAGEWISE_PLANT")
    monkeypatch.chdir(folder.parent)

    assert "TREND: " in ok("trend", "P-1").out  # ./plant
    (folder / "plant.toml").unlink()
    for arguments in (("trend", "P-1"), ("ranking",), ("calls",), ("case", "list")):
        done = run(*arguments)
        assert done.status is ExitStatus.PLANT
        assert "cagewise plant-new plant" in done.err


def test_every_kind_of_repair_can_be_said_and_no_other(folder: Path) -> None:
    ok("case", "open", "P-1", "open bars", "--plant", folder)
    for kind in RepairKind:
        ok("case", "repair", "1", "done", "--kind", kind)

    for wrong in (("--kind", "roter"), (), ("--kind", "cage", "--fact", "kind=cage")):
        done = run("case", "repair", "1", "done", *wrong)
        assert done.status is ExitStatus.USAGE
        assert "--kind" in done.err
        assert all(kind in done.err for kind in RepairKind) or not wrong
    with Plant.open(folder) as plant:
        events = plant.cases.events(plant.cases.get(1))
    kinds = [event.what.facts["kind"] for event in events if isinstance(event.what, Repair)]
    assert kinds == list(RepairKind)
