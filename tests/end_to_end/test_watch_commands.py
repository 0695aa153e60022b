"""Watching and posting as an engineer meets them."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from cagewise.cli.status import ExitStatus
from cagewise.store import Plant
from cagewise.workflows.plant_folder import VARIABLE
from support.commands import run
from support.demo_plants import TAG, whole_visit
from support.receivers import web
from support.watching import KILN, PUMP, drop, make_table

SHEET = "whole-visit-2027.sheet.toml"


@pytest.fixture
def mill(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A plant that posts to where nobody listens yet, and a folder to watch."""
    monkeypatch.delenv(VARIABLE, raising=False)
    monkeypatch.chdir(tmp_path)
    make_table(tmp_path, "http://127.0.0.1:9/findings")
    return tmp_path


def words(text: str) -> str:
    return " ".join(text.split())


def point_to(mill: Path, url: str) -> None:
    text = f'schema = 1\n[[post]]\nchannel = "hook"\nurl = "{url}"\n'
    (mill / "plant/post.toml").write_text(text, encoding="utf-8")


def test_a_finding_is_kept_now_and_posted_when_somebody_listens(mill: Path) -> None:
    drop(mill, KILN, SHEET)
    drop(mill, PUMP, "idle.cfg")  # its data never come

    done = run("watch", "in", "--once", "--rest", "0")

    assert done.status is ExitStatus.UNREADABLE
    lines = [line.split("  ", 1)[1] for line in done.out.splitlines()]
    assert lines[0].startswith("watching in for")
    assert f"imported  {mill / 'in' / KILN / SHEET}: {TAG}, visit of 2027-05-11" in lines
    assert any("refused" in each and "idle.dat is missing" in each for each in lines)
    assert any(each.startswith(f"examined  {TAG}, visit of 2027-05-11: rotor") for each in lines)
    assert any("to hook: nothing listens there; again in 15 s" in each for each in lines)

    listed = run("post", "--list", "--width", "120")
    assert listed.status is ExitStatus.EXAMINED
    assert "Not sent: 1 message" in listed.out
    assert f"{TAG} 2027-05-11 hook 1" in words(listed.out)
    assert "nothing listens there" in listed.out
    assert run("post").status is ExitStatus.NOT_WRITTEN  # its pause is not over

    with web() as receiver:
        point_to(mill, receiver.url)
        again = run("post", "--again")
    assert again.status is ExitStatus.EXAMINED, again.out + again.err
    assert f"posted {TAG}, visit of 2027-05-11, to hook (attempt 2)" in words(again.out)
    assert len(receiver.got) == 1
    assert "No message waits" in run("post", "--list").out


def test_what_is_refused_says_what_to_do(mill: Path) -> None:
    drop(mill, KILN, SHEET)
    with web(422) as receiver:
        point_to(mill, receiver.url)
        done = run("watch", "in", "--once", "--rest", "0")
        assert done.status is ExitStatus.NOT_WRITTEN
        assert "it answered 422" in done.out
        listed = run("post", "--list", "--width", "120")
        assert "refused" in listed.out
        assert "cagewise post --again" in listed.out
        assert run("post", "--again").status is ExitStatus.EXAMINED
    point_to(mill, "http://127.0.0.1:9")
    (mill / "plant/post.toml").unlink()
    assert "nothing is posted" in run("post").out


def test_without_a_file_findings_are_only_kept(mill: Path) -> None:
    (mill / "plant/post.toml").unlink()
    shutil.copy(whole_visit().motor.parent / SHEET, mill / "in")
    done = run("watch", "in", "--once", "--rest", "0.2", "--every", "0.1")
    assert done.status is ExitStatus.EXAMINED
    assert "findings are kept and not posted" in done.out
    with Plant.open(mill / "plant") as plant:
        assert plant.examinations.of_motor(plant.motors.find(TAG))
        assert plant.outbox.unsent() == []


@pytest.mark.parametrize(
    ("arguments", "status", "said"),
    [
        (("watch", "gone"), ExitStatus.UNREADABLE, "no such folder"),
        (("watch", "plant"), ExitStatus.UNREADABLE, "this folder is a plant"),
        (("watch",), ExitStatus.USAGE, "FOLDERS"),
        (("watch", "in", "--every", "0"), ExitStatus.USAGE, "--every"),
        (("watch", "in", "--rest", "-1"), ExitStatus.USAGE, "--rest"),
        (("watch", "in", "--motor", "P-0"), ExitStatus.PLANT, "no motor 'P-0'"),
        (("watch", "in", "--plant", "in"), ExitStatus.PLANT, "no plant"),
        (("post", "--list", "--again"), ExitStatus.USAGE, "--again"),
    ],
)
@pytest.mark.usefixtures("mill")
def test_every_mistake_is_one_message(
    arguments: tuple[str, ...], status: ExitStatus, said: str
) -> None:
    done = run(*arguments)
    assert done.status is status
    assert said in words(done.err)


def test_a_broken_file_of_channels_is_an_error_before_anything_is_done(mill: Path) -> None:
    (mill / "plant/post.toml").write_text("schema = 1\n[[post]]\nurls = 3\n", encoding="utf-8")
    drop(mill, KILN, SHEET)
    done = run("watch", "in", "--once", "--rest", "0")
    assert done.status is ExitStatus.PLANT
    assert "did you mean `url`" in done.err
    with Plant.open(mill / "plant") as plant:
        assert not plant.visits.of(plant.motors.find(TAG))


def test_a_broker_needs_its_library(mill: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    text = 'schema = 1\n[[post]]\nchannel = "b"\nurl = "mqtt://127.0.0.1"\ntopic = "t"\n'
    (mill / "plant/post.toml").write_text(text, encoding="utf-8")
    monkeypatch.setattr("importlib.util.find_spec", lambda _: None)
    done = run("watch", "in", "--once", "--rest", "0")
    assert done.status is ExitStatus.MISSING_EXTRA
    assert "cagewise[mqtt]" in done.err
