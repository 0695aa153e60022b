"""Watchers in processes of their own, and what must be true whenever they were killed."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable, Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from cagewise.store import Plant
from cagewise.workflows.plant_folder import new_plant
from cagewise.workflows.plant_motors import add_motors
from cagewise.workflows.plant_post import Poster
from cagewise.workflows.plant_watch import Watcher, WatchOptions
from cagewise.workflows.post_file import read_post_file
from support.demo_plants import whole_visit
from support.processes import PATIENCE_S, Step
from support.whole import require_whole

KILN, PUMP = "LK-120-M", "WW-310-M"
FILES = {
    KILN: ("whole-visit-2027.sheet.toml", "whole-visit-2028.sheet.toml"),
    PUMP: ("idle.cfg", "idle.dat"),
}
"""Of three visits: two of a sheet, one of a recording of two files."""

OF_OTHER_FILES = (
    "a file with one of its two recordings",
    "a file in the ledger without recordings",
    "an examination with one of its two readings",
)
"""Halves that only files of two recordings and examinations of two readings can have."""


def make_table(folder: Path, url: str, database: str = "history.sqlite") -> None:
    """Make a plant that posts to an address, and an empty folder to watch beside it."""
    data = whole_visit().motor.parent
    with new_plant(folder / "plant", database=database) as plant:
        add_motors(plant, [whole_visit().motor, data / "motor.toml"])
    channel = f'schema = 1\n[[post]]\nchannel = "hook"\nurl = "{url}"\n'
    (folder / "plant/post.toml").write_text(channel, encoding="utf-8")
    for tag in FILES:
        (folder / "in" / tag).mkdir(parents=True)


def drop(folder: Path, tag: str, name: str) -> None:
    """Put a file into the watched folder."""
    shutil.copy(whole_visit().motor.parent / name, folder / "in" / tag)


def drop_all(folder: Path) -> None:
    """Put all files into the watched folder."""
    for tag, names in FILES.items():
        for name in names:
            drop(folder, tag, name)


def watch_once(folder: Path, step: Step, say: Callable[[str], None]) -> None:
    """Do one round of a watcher."""
    with Plant.open(folder / "plant", step=step, patience_s=PATIENCE_S) as plant:
        channels = read_post_file(plant.folder, {})
        options = WatchOptions(folders=[folder / "in"], rest_s=0.0, channels=channels)
        for event in Watcher(plant, options).round():
            say(type(event).__name__)


def send_the_rest(folder: Path) -> None:
    """Send what waits, after all claims of the killed have run out."""
    later = datetime.now(UTC) + timedelta(hours=2)
    with Plant.open(folder / "plant", clock=lambda: later) as plant:
        list(Poster(plant, read_post_file(plant.folder, {})).send())


def require_each_once(folder: Path, got: Sequence[tuple[str, dict[str, Any]]]) -> None:
    """Raise unless each file is kept once, each visit examined once, each finding received.

    A finding may have come more than once, but always the same under one key.
    """
    require_whole(folder / "plant", except_for=OF_OTHER_FILES)
    with Plant.open(folder / "plant") as plant:
        motors = [plant.motors.find(tag) for tag in FILES]
        visits = [visit for motor in motors for visit in plant.visits.of(motor)]
        files = [
            *(kept.source for visit in visits for kept in plant.measurements.recordings(visit)),
            *(kept.source for visit in visits for kept in plant.measurements.sheets(visit)),
        ]
        examined = [each for motor in motors for each in plant.examinations.of_motor(motor)]
        assert plant.outbox.unsent() == []
        noted = plant.ledger.below(folder / "in")
        assert len({each.path for each in noted}) == 4
        assert set(noted.values()) == {""}  # nothing that was too early is refused still
    assert sorted(files) == ["idle.cfg", *FILES[KILN]]
    assert len(visits) == 3
    assert sorted(each.visit_id for each in examined) == sorted(visit.id for visit in visits)
    by_key = {key: json.dumps(content, sort_keys=True) for key, content in got}
    assert {content["key"] for _, content in got} == set(by_key)
    assert all(by_key[key] == json.dumps(content, sort_keys=True) for key, content in got)
    numbers = [json.loads(each)["examination"]["number"] for each in by_key.values()]
    assert sorted(numbers) == sorted(each.id for each in examined)
