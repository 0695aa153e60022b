"""Watching: each file taken once, each visit examined once, each message with its finding."""

from __future__ import annotations

import shutil
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import NoReturn
from urllib.parse import urlsplit

import pytest

from cagewise.errors import ChannelRoleError, NotKeptError, StoreLockedError
from cagewise.store import MotorEntry, Plant
from cagewise.workflows import plant_watch
from cagewise.workflows.plant_assess import make_examination
from cagewise.workflows.plant_import import Fate, FileReport, ImportOptions, import_files
from cagewise.workflows.plant_motors import add_motors, edit_motor
from cagewise.workflows.plant_watch import (
    AGAIN_S,
    Event,
    Examined,
    FolderGone,
    NotExamined,
    StillRefused,
    Watcher,
    WatchOptions,
)
from cagewise.workflows.post_file import Channel
from support.demo_plants import TAG, kiln_plant, laid_out, whole_visit

SHEET, OTHER_SHEET = "whole-visit-2027.sheet.toml", "whole-visit-2028.sheet.toml"
PUMP = "WW-310-M"
REST_S = 60.0


class Clock:
    """Seconds that are set by hand."""

    def __init__(self) -> None:
        self.time = 0.0

    def __call__(self) -> float:
        return self.time


class Table:
    """A plant, a folder beside it, and watchers that come and go."""

    def __init__(self, plant: Plant, folder: Path) -> None:
        self.plant = plant
        self.folder = folder
        self.clock = Clock()
        self.channels = (Channel(name="hook", address=urlsplit("http://127.0.0.1:9/")),)
        self.watcher = self.new_watcher()

    def new_watcher(self, **stated: object) -> Watcher:
        options = WatchOptions(
            folders=[self.folder],
            imported=ImportOptions(**stated),  # type: ignore[arg-type] # as given
            rest_s=REST_S,
            channels=self.channels,
        )
        self.watcher = Watcher(self.plant, options, self.clock)
        return self.watcher

    def events(self, after_s: float = REST_S) -> list[Event]:
        """What two rounds tell between which nothing is written."""
        first = list(self.watcher.round())
        self.clock.time += after_s
        return first + list(self.watcher.round())

    def put(self, *names: str, tag: str = TAG) -> None:
        (self.folder / tag).mkdir(exist_ok=True)
        for name in names:
            shutil.copy(whole_visit().motor.parent / name, self.folder / tag)

    @property
    def keys(self) -> list[str]:
        return [each.key for each in self.plant.outbox.unsent()]


@pytest.fixture(autouse=True)
def _no_sending(monkeypatch: pytest.MonkeyPatch) -> None:
    """What is sent is tested elsewhere."""
    monkeypatch.setattr("cagewise.workflows.plant_post.Poster.send", lambda *_: iter(()))


@pytest.fixture(scope="module")
def empty(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A plant of two motors."""
    folder = tmp_path_factory.mktemp("empty")
    plant, _ = kiln_plant(folder)
    with plant:
        add_motors(plant, [whole_visit().motor.parent / "motor.toml"])
    return folder / "plant"


@pytest.fixture
def table(empty: Path, tmp_path: Path) -> Iterator[Table]:
    shutil.copytree(empty, tmp_path / "plant")
    (tmp_path / "in").mkdir()
    with Plant.open(tmp_path / "plant") as plant:
        yield Table(plant, (tmp_path / "in").resolve())


def fates(events: Sequence[Event]) -> list[tuple[str, Fate]]:
    return [(each.path.name, each.fate) for each in events if isinstance(each, FileReport)]


def kinds(events: Sequence[Event]) -> list[str]:
    return [type(each).__name__ for each in events]


def test_a_sheet_is_imported_examined_and_told_once(table: Table) -> None:
    table.put(SHEET)
    report, examined = table.events()
    assert isinstance(report, FileReport)
    assert isinstance(examined, Examined)
    assert (report.fate, examined.messages) == (Fate.IMPORTED, 1)
    [message] = table.plant.outbox.unsent()
    assert message.key.startswith(table.plant.about.plant_id)
    assert message.payload["examination"]["number"] == examined.done.kept.id
    assert table.events() == []
    table.new_watcher()
    assert table.events() == []
    assert len(table.keys) == 1


def test_a_recording_is_not_taken_before_all_of_its_files_have_come_to_rest(table: Table) -> None:
    source = whole_visit().motor.parent / "idle.dat"
    target = table.folder / PUMP / "idle.dat"
    table.put("idle.cfg", tag=PUMP)
    content = source.read_bytes()
    seen: list[Event] = []
    for part in (100_000, 500_000, len(content)):
        target.write_bytes(content[:part])
        seen += table.events(after_s=REST_S / 2)
    assert seen == []
    events = table.events()
    assert fates(events) == [("idle.cfg", Fate.IMPORTED)]
    assert kinds(events) == ["FileReport", "Examined"]
    [visit] = table.plant.visits.of(table.plant.motors.find(PUMP))
    [kept] = table.plant.measurements.recordings(visit)
    assert [each.name for each in kept.originals] == ["idle.cfg", "idle.dat"]
    assert kept.originals[1].size_bytes == len(content)


def test_what_comes_later_makes_another_examination_and_another_message(table: Table) -> None:
    table.put("idle.cfg", "idle.dat", tag=PUMP)
    assert kinds(table.events()) == ["FileReport", "Examined"]
    sidecar = table.folder / PUMP / "idle.cfg.toml"
    sidecar.write_text("start_time = 2031-03-03T11:00:00Z\n", encoding="utf-8")
    events = table.events()
    assert kinds(events) == ["FileReport", "Examined"]
    first, second = table.plant.outbox.unsent()
    assert first.key != second.key
    assert second.payload["examination"]["replaces"] == first.payload["examination"]["number"]
    assert second.payload["states_before"] == {"rotor cage": first.payload["state"]}
    assert table.events() == []


def test_a_file_that_cannot_be_used_is_named_once(table: Table) -> None:
    table.put()
    torn = table.folder / TAG / "torn.parquet"
    torn.write_bytes(b"PAR1 and no more")
    (table.folder / "photo.jpg").write_bytes(b"\xff\xd8")
    assert fates(table.events()) == [("torn.parquet", Fate.REFUSED)]
    assert table.events() == []
    table.new_watcher()
    assert table.events() == [StillRefused(count=1)]
    assert table.events() == []
    assert table.events(after_s=AGAIN_S) == [StillRefused(count=1)]
    shutil.copy(whole_visit().files[0], torn)
    assert fates(table.events()) == [("torn.parquet", Fate.IMPORTED)]


def test_a_file_of_an_unknown_motor_is_taken_when_the_motor_is_added(
    table: Table, tmp_path: Path
) -> None:
    (table.folder / "P-9").mkdir()
    content = (whole_visit().motor.parent / SHEET).read_text(encoding="utf-8")
    (table.folder / "P-9/s.sheet.toml").write_text(content.replace(TAG, "P-9"), encoding="utf-8")
    [refused] = table.events()
    assert isinstance(refused, FileReport)
    assert "P-9" in refused.reason
    assert table.events() == []
    motor = whole_visit().motor.read_text(encoding="utf-8").replace(TAG, "P-9")
    (tmp_path / "p9.toml").write_text(motor, encoding="utf-8")
    add_motors(table.plant, [tmp_path / "p9.toml"])
    assert kinds(table.events()) == ["FileReport", "Examined"]


def test_what_was_imported_and_not_examined_is_examined_at_the_next_start(
    table: Table, tmp_path: Path
) -> None:
    table.put(SHEET)
    elsewhere = laid_out(tmp_path / "by-hand" / TAG, (OTHER_SHEET,))
    list(import_files(table.plant, [table.folder, elsewhere]))  # and then it was killed
    table.new_watcher()
    [examined] = table.events()
    assert isinstance(examined, Examined)
    assert examined.done.visit.day.year == 2027  # that of another folder is not ours to examine
    assert len(table.keys) == 1


def test_a_finding_stands_and_falls_with_its_message(
    table: Table, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*_: object) -> NoReturn:
        raise StoreLockedError("locked")

    table.put(SHEET)
    with monkeypatch.context() as broken:
        broken.setattr(plant_watch, "put_finding", fail)
        with pytest.raises(StoreLockedError):
            table.events()
    motor = table.plant.motors.find(TAG)
    assert not table.plant.examinations.of_motor(motor)
    assert kinds(table.events()) == ["Examined"]
    assert len(table.keys) == len(table.plant.examinations.of_motor(motor)) == 1


@pytest.mark.parametrize("error", [ChannelRoleError("which is which?", remedy="Say it."), KeyError])
def test_a_visit_that_cannot_be_examined_is_a_line_and_a_message_and_no_end(
    table: Table, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, error: Exception
) -> None:
    real = make_examination

    def examine(plant: Plant, motor: MotorEntry, options: object) -> object:
        if motor.tag == TAG:
            raise error
        return real(plant, motor, options)  # type: ignore[arg-type] # as given

    monkeypatch.setattr(plant_watch, "make_examination", examine)
    table.put(SHEET)
    table.put("idle.cfg", "idle.dat", tag=PUMP)
    events = table.events()
    [failed] = [each for each in events if isinstance(each, NotExamined)]
    assert failed.needs_answer == isinstance(error, ChannelRoleError)
    assert kinds(events).count("Examined") == 1  # the others go on
    [question] = [
        each for each in table.plant.outbox.unsent() if each.payload["kind"] == "question"
    ]
    assert question.payload["reason"] == failed.error.what
    assert table.events() == []
    table.new_watcher()
    assert kinds(table.events()) == ["NotExamined"]  # whoever starts it is told again
    assert len(table.keys) == 2  # the receiver is not
    monkeypatch.setattr(plant_watch, "make_examination", real)
    assert table.events() == []
    motor = table.plant.motors.find(TAG)
    file = tmp_path / "motor.toml"
    file.write_text(table.plant.motors.nameplate(motor).toml + "# answered\n", encoding="utf-8")
    edit_motor(table.plant, motor, file, valid_from=motor.valid_from)
    assert kinds(table.events()) == ["Examined"]


def test_a_folder_that_goes_away_ends_nothing(table: Table, tmp_path: Path) -> None:
    table.put(SHEET)
    table.folder.rename(tmp_path / "away")
    assert kinds(table.events()) == [FolderGone.__name__]
    (tmp_path / "away").rename(table.folder)
    assert kinds(table.events()) == ["FileReport", "Examined"]


def test_it_stops_between_two_steps(table: Table) -> None:
    table.put(SHEET, OTHER_SHEET)
    list(table.watcher.round())
    table.clock.time += REST_S
    asked = iter((False, True))
    seen = list(table.watcher.round(lambda: next(asked, True)))
    assert fates(seen) == [(SHEET, Fate.IMPORTED)]
    assert kinds(table.events()) == ["FileReport", "Examined", "Examined"]


def test_an_unknown_tag_is_an_error_at_the_start(table: Table) -> None:
    with pytest.raises(NotKeptError):
        table.new_watcher(tag="P-0")
