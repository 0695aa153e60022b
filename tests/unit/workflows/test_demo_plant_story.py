"""The story of the invented plant agrees with itself, and what it is made of works."""

from __future__ import annotations

import struct
import zlib
from collections import Counter
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import numpy as np
import pytest

from cagewise.history.missing import MissingItem, unknown_of
from cagewise.measurement import CURRENT_ROLES
from cagewise.readers import read_recording
from cagewise.readers.test_sheet import read_test_sheet
from cagewise.store import BarDamage, Found, FoundBar, Outcome, Repair
from cagewise.store.motors import parse
from cagewise.workflows import demo_plant_story
from cagewise.workflows.demo_plant_measure import Job, measure
from cagewise.workflows.demo_plant_motors import motor_file
from cagewise.workflows.demo_plant_sketch import SIZE, rotor_sketch
from cagewise.workflows.demo_plant_steps import (
    OPEN,
    AtRest,
    Closed,
    Measured,
    MotorStory,
    Opened,
    Running,
    Told,
)
from cagewise.workflows.plant_points import kind_of

LAST = date(2031, 3, 4)
BY_TAG = {story.tag: story for story in demo_plant_story.MOTORS}


@pytest.fixture(params=list(BY_TAG))
def story(request: pytest.FixtureRequest) -> MotorStory:
    return BY_TAG[request.param]


def outcomes(story: MotorStory) -> Iterator[tuple[Told, Outcome, Measured]]:
    """Give what was found, with the last visit before."""
    for step in story.steps:
        if isinstance(step, Told) and isinstance(step.what, Outcome):
            before = [visit for visit in story.visits if visit.days_ago >= step.days_ago]
            yield step, step.what, before[-1]


def test_a_story_goes_forward(story: MotorStory) -> None:
    days = [step.days_ago for step in story.steps]

    assert days == sorted(days, reverse=True)
    assert all(day >= 0 for day in days)


def test_what_is_found_is_what_was_true(story: MotorStory) -> None:
    for _, outcome, visit in outcomes(story):
        gone = {bar for bar, factor in visit.bars.items() if factor == OPEN}
        found = {each.bar for each in outcome.bars if each.damage is BarDamage.OPEN}

        assert (outcome.found is Found.DAMAGED) == bool(visit.bars)
        assert outcome.open_bars == len(gone)
        assert found == gone


def test_a_cage_gets_worse_until_it_is_repaired_and_is_another_one_then(story: MotorStory) -> None:
    repaired = [
        step.days_ago
        for step in story.steps
        if isinstance(step, Told)
        and isinstance(step.what, Repair)
        and kind_of(step.what).value == "cage"
    ]
    for first, second in zip(story.visits, story.visits[1:], strict=False):
        between = any(first.days_ago > day >= second.days_ago for day in repaired)
        worse = all(second.bars.get(bar, 1.0) >= factor for bar, factor in first.bars.items())

        assert (second.cage != first.cage) == between
        assert between or worse


def test_cases_are_opened_before_they_are_closed(story: MotorStory) -> None:
    still = 0
    for step in story.steps:
        still += isinstance(step, Opened) - isinstance(step, Closed)
        assert still in (0, 1)
        of_case = isinstance(step, Told) and not step.of_motor
        assert not of_case or any(isinstance(each, Opened) for each in story.steps)


def test_the_plant_has_what_a_plant_has() -> None:
    kinds = Counter(
        type(record).__name__
        for story in demo_plant_story.MOTORS
        for visit in story.visits
        for record in visit.records
    )
    never = [story for story in demo_plant_story.MOTORS if not story.visits]
    nameless = [
        story
        for story in demo_plant_story.MOTORS
        if MissingItem.ROTOR_SLOTS
        in unknown_of(parse(motor_file(story.tag, story.description, story.plate, LAST), ""))
    ]

    assert min(kinds[name] for name in ("Running", "Start", "AtRest")) >= 5
    assert len(never) == 1
    assert len(nameless) == 2


def job(folder: Path, visit: Measured, tag: str = "FW-102-M") -> Job:
    story = BY_TAG[tag]
    return Job(
        folder=folder,
        motor=motor_file(tag, story.description, story.real, LAST),
        day=LAST,
        visit=visit,
        number=3,
        motor_number=1,
    )


def test_equal_jobs_write_equal_files_of_the_day(tmp_path: Path) -> None:
    short = Running(seconds=1.0, roles=CURRENT_ROLES, load=0.5)
    visit = Measured(days_ago=0, records=(short, AtRest(positions=False)), bars={3: OPEN, 4: 2.0})

    first = measure(job(tmp_path / "a", visit))
    second = measure(job(tmp_path / "b", visit))

    assert [path.name for path in first.files] == ["2031-03-04-running.parquet", "2031-03-04-sheet.toml"]  # fmt: skip # noqa: E501
    for one, other in zip(first.files, second.files, strict=True):
        assert one.read_bytes() == other.read_bytes()
    recording, sheet = read_recording(first.files[0]), read_test_sheet(first.files[1])
    assert recording.roles == frozenset(CURRENT_ROLES)
    assert recording.start_time is not None
    assert recording.start_time.date() == LAST
    assert (recording.truth["open_bars"], sheet.positions) == (1.0, ())
    assert sheet.measured_on == LAST
    assert sheet.motor_tag == "FW-102-M"
    assert first.speed_rpm is not None
    assert first.speed_rpm == pytest.approx(recording.truth["speed_rpm"], abs=0.05)


def test_a_speed_nobody_read_is_not_stated(tmp_path: Path) -> None:
    visit = Measured(days_ago=0, records=(Running(seconds=1.0),), strobe=False)

    assert measure(job(tmp_path / "a", visit)).speed_rpm is None


def test_the_sketch_is_a_picture_whose_open_bars_are_black() -> None:
    """Chunks, check sums and filters of ISO/IEC 15948."""
    content = rotor_sketch(40, (FoundBar(bar=0), FoundBar(bar=10)))
    assert content[:8] == b"\x89PNG\r\n\x1a\n"
    blocks, at = {}, 8
    while at < len(content):
        (length,) = struct.unpack(">I", content[at : at + 4])
        body = content[at + 4 : at + 8 + length]
        assert struct.unpack(">I", content[at + 8 + length : at + 12 + length]) == (
            zlib.crc32(body),
        )
        blocks[body[:4]] = body[4:]
        at += 12 + length
    lines = np.frombuffer(zlib.decompress(blocks[b"IDAT"]), dtype=np.uint8)
    picture = lines.reshape(SIZE, SIZE + 1)[:, 1:]

    assert struct.unpack(">II", blocks[b"IHDR"][:8]) == (SIZE, SIZE)
    middle, reach = SIZE // 2, round(0.36 * SIZE)
    top, right = picture[middle - reach, middle], picture[middle, middle + reach]
    left = picture[middle, middle - reach]
    assert (top, right) == (0, 0)
    assert left > 0
