"""Use case: an invented plant with two years of history, made the way a user makes one.

Day after day, what would have been measured is simulated and written to files; the files are
imported and the visit is examined by the same use cases as any other; only what people decided,
did and found is told. The simulation is the one step that is not a user's, and it runs ahead in
other processes.
"""

from __future__ import annotations

import os
import secrets
import shutil
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path

from cagewise.errors import PlantFolderError, RecordingError
from cagewise.store import (
    Decision,
    MotorEntry,
    Plant,
    Sensor,
)
from cagewise.store.durable import INCOMING, clear_abandoned, file_errors, make_folder, sync_folder
from cagewise.store.records import Happening
from cagewise.workflows import demo_plant_story as told
from cagewise.workflows.demo_plant_measure import Done, Job, measuring
from cagewise.workflows.demo_plant_motors import motor_file
from cagewise.workflows.demo_plant_sketch import rotor_sketch
from cagewise.workflows.demo_plant_steps import (
    Closed,
    Decided,
    FileChanged,
    Measured,
    MotorStory,
    Mounted,
    Opened,
    Step,
    Told,
)
from cagewise.workflows.plant_assess import PlantAssessOptions, assess_visit
from cagewise.workflows.plant_cases import Entry, add_event, find_case, open_case
from cagewise.workflows.plant_import import Fate, ImportOptions, import_files

NAME = "Brannoch pulp mill (invented)"
KNOWN_FOR_DAYS = 3 * 365
"""The motor files count from so long ago."""
EXAMINED_AT = time(16, 0)
"""Time of the day of a visit at which it was examined."""
MOST_WORKERS = 4
"""Processes that simulate: more are not faster than the one that imports and examines."""
SKETCH = "sketch.png"
BARS_DRAWN = 40
"""In the cages that the sketches show."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """A visit that is in the plant and examined."""

    number: int
    """Counted from 1."""
    of: int
    """Visits in all."""
    tag: str
    day: date
    files: tuple[str, ...]
    """Names of what was measured."""
    state: str
    """Verdict on the cage."""


Watch = Callable[[Kept], None]


def build_demo_plant(
    folder: Path,
    watch: Watch,
    *,
    until: date | None = None,
    stories: Sequence[MotorStory] = told.MOTORS,
    workers: int | None = None,
) -> None:
    """Make the plant in a folder.

    It is put together under a passing name beside the folder and gets its own name at the end:
    killed half-way there is no plant, and the next try starts anew.

    Parameters
    ----------
    folder
        Empty, or not there.
    watch
        Called after each visit.
    until
        Last day of the two years; today if None.
    stories
        Of the motors.
    workers
        Processes that simulate; one for each processor, at most :data:`MOST_WORKERS`, if None.

    Raises
    ------
    PlantFolderError
        If something is in the folder.
    StoreError
        If the folder cannot be written.
    SimulationError
        If a process was ended from outside.
    """
    end = until or datetime.now(UTC).date()
    processors = min(os.cpu_count() or 1, MOST_WORKERS)
    with _building(folder.resolve()) as building:
        jobs = _jobs(stories, building / "measured", end)
        with (
            Plant.create(building / "plant", name=NAME) as plant,
            measuring(list(jobs.values()), workers or processors) as done,
        ):
            _Teller(plant, end, watch, len(jobs)).tell(stories, done)


@contextmanager
def _building(folder: Path) -> Iterator[Path]:
    """Give a folder beside the final one; the plant in it gets the final name if all went well."""
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise PlantFolderError(
            "there is something already",
            where=str(folder),
            remedy="Name an empty folder, or one that is not there yet.",
        )
    with file_errors(folder):
        make_folder(folder.parent)
        clear_abandoned(folder.parent)
        building = folder.parent / f"{INCOMING}{os.getpid()}-{secrets.token_hex(8)}"
        building.mkdir()
    try:
        yield building
        with file_errors(folder):
            if folder.exists():
                folder.rmdir()
            (building / "plant").rename(folder)
            sync_folder(folder.parent)
    finally:
        shutil.rmtree(building, ignore_errors=True)


def _in_order(stories: Sequence[MotorStory]) -> list[tuple[MotorStory, Step]]:
    """Return everything that happened in the plant, by day; of one motor as it is told."""
    steps = [(story, step) for story in stories for step in story.steps]
    return sorted(steps, key=lambda each: -each[1].days_ago)


def _jobs(stories: Sequence[MotorStory], folder: Path, end: date) -> dict[int, Job]:
    """Return what is to be measured in the order of days, by the number of the visit."""
    visits = [(s, step) for s, step in _in_order(stories) if isinstance(step, Measured)]
    tags = [story.tag for story in stories]
    jobs = {}
    for number, (story, visit) in enumerate(visits):
        day = end - timedelta(days=visit.days_ago)
        jobs[number] = Job(
            folder=folder / story.tag / day.isoformat(),
            motor=motor_file(story.tag, story.description, story.real, end),
            day=day,
            visit=visit,
            number=number,
            motor_number=tags.index(story.tag),
        )
    return jobs


class _Teller:
    """Brings what happened into the plant, day after day."""

    def __init__(self, plant: Plant, end: date, watch: Watch, visits: int) -> None:
        self._plant = plant
        self._end = end
        self._watch = watch
        self._visits = visits
        self._kept = 0

    def tell(self, stories: Sequence[MotorStory], done: Iterator[Done]) -> None:
        """Add the motors, then take visits and events in the order of their days."""
        for story in stories:
            toml = motor_file(story.tag, story.description, story.plate, self._end)
            self._plant.motors.add(toml, valid_from=self._day(KNOWN_FOR_DAYS))
        for story, step in _in_order(stories):
            motor = self._plant.motors.find(story.tag)
            if isinstance(step, Measured):
                self._examine(motor, self._day(step.days_ago), next(done))
            else:
                self._note(story, motor, step)

    def _day(self, days_ago: int) -> date:
        return self._end - timedelta(days=days_ago)

    def _examine(self, motor: MotorEntry, day: date, measured: Done) -> None:
        """Import the files of a visit and examine it, as the user would."""
        for report in import_files(self._plant, [measured.folder], ImportOptions()):
            if report.fate is Fate.REFUSED:
                raise RecordingError(report.reason, where=str(report.path), remedy=report.remedy)
        options = PlantAssessOptions(
            visit=day,
            speed_rpm=measured.speed_rpm,
            made_at=datetime.combine(day, EXAMINED_AT, UTC),
        )
        assessed = assess_visit(self._plant, motor, options)
        self._kept += 1
        kept = Kept(
            number=self._kept,
            of=self._visits,
            tag=motor.tag,
            day=day,
            files=tuple(path.name for path in measured.files),
            state=assessed.kept.keys.state,
        )
        shutil.rmtree(measured.folder)
        self._watch(kept)

    def _note(self, story: MotorStory, motor: MotorEntry, step: Step) -> None:
        """Note what people did."""
        plant, day = self._plant, self._day(step.days_ago)
        match step:
            case Opened(title=title):
                open_case(plant, motor, title, on=day)
            case Decided():
                due_on = day + timedelta(days=step.due_in)
                self._happened(motor, Decision(action=step.action, due_on=due_on), step)
            case Told():
                self._happened(motor, step.what, step)
            case Closed(why=why):
                plant.cases.close(find_case(plant, motor.tag), why, on=day)
            case FileChanged(plate=plate, note=note):
                toml = motor_file(story.tag, story.description, plate, self._end)
                plant.motors.edit(motor, toml, valid_from=day, note=note)
            case Mounted():
                sensor = Sensor(
                    name=step.name, role=step.role.value, mounted_on=day, note=step.note
                )
                plant.motors.add_sensor(motor, sensor)

    def _happened(self, motor: MotorEntry, what: Happening, step: Decided | Told) -> None:
        """Note an event of the case of a motor, or of the motor."""
        plant, day = self._plant, self._day(step.days_ago)
        if isinstance(step, Told) and step.of_motor:
            plant.cases.add_event(motor, what, text=step.text, author=step.author, on=day)
            return
        entry = Entry(text=step.text, author=step.author, on=day)
        event = add_event(plant, find_case(plant, motor.tag), what, entry)
        if isinstance(step, Told) and step.sketch:
            picture = rotor_sketch(BARS_DRAWN, step.sketch)
            plant.cases.attach(event, picture, name=SKETCH, caption="as found, drawn by the shop")
