"""Finding a motor by what somebody remembers of it."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from cagewise.store import Plant
from cagewise.workflows.find_motor import find_motors
from support.plants import motor_file


@pytest.fixture(scope="module")
def plant(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Plant]:
    with Plant.create(tmp_path_factory.mktemp("made") / "plant") as made:
        for tag, what in (("P-101", "feed pump"), ("P-1010", "feed pump"), ("XP-101", "fan")):
            made.motors.add(motor_file(tag).replace("an invented pump", what))
        made.motors.add(motor_file("K-7").replace("an invented pump", "compressor"), site="north")
        made.motors.add(motor_file("K-7").replace("an invented pump", "compressor"), site="south")
        yield made


def tags(plant: Plant, words: str) -> list[str]:
    return [motor.tag for motor in find_motors(plant, words).motors]


def test_a_whole_tag_is_one_motor(plant: Plant) -> None:
    found = find_motors(plant, " p-101 ")
    assert found.exact is not None
    assert found.exact.tag == "P-101"


def test_those_that_begin_like_that_come_first(plant: Plant) -> None:
    assert tags(plant, "p-101") == ["P-101", "P-1010", "XP-101"]


def test_every_word_counts_wherever_it_stands(plant: Plant) -> None:
    assert tags(plant, "pump feed") == ["P-101", "P-1010"]
    assert tags(plant, "pump fan") == []
    assert tags(plant, "") == []


def test_a_tag_that_two_sites_have_is_not_one_motor(plant: Plant) -> None:
    found = find_motors(plant, "K-7")
    assert found.exact is None
    assert len(found.motors) == 2
    assert [motor.site for motor in find_motors(plant, "k-7 south").motors] == ["south"]
