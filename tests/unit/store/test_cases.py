from __future__ import annotations

from datetime import timedelta

import pytest

from cagewise.errors import AlreadyKeptError, InputError, NotKeptError
from cagewise.store import (
    BarDamage,
    BarPlace,
    Decision,
    Found,
    FoundBar,
    MotorEntry,
    Note,
    Outcome,
    Plant,
    Repair,
)
from cagewise.store.records import Happening
from support.plants import DAY, motor_file


@pytest.fixture
def motor(plant: Plant) -> MotorEntry:
    return plant.motors.add(motor_file())


def test_one_case_per_part_is_open(plant: Plant, motor: MotorEntry) -> None:
    case = plant.cases.open(motor, "a bar", on=DAY)
    assert plant.cases.open(motor, "the same bar") == case
    winding = plant.cases.open(motor, "a coil", part="winding", on=DAY)
    assert plant.cases.all(motor, only_open=True) == [case, winding]
    closed = plant.cases.close(case, "nothing found", on=DAY)
    assert not closed.is_open
    assert plant.cases.all(only_open=True) == [winding]
    again = plant.cases.open(motor, "a bar after all", on=DAY + timedelta(days=1))
    assert plant.cases.all(motor) == [closed, winding, again]


def test_a_case_is_closed_once_and_with_a_reason(plant: Plant, motor: MotorEntry) -> None:
    case = plant.cases.open(motor, "a bar", on=DAY)
    with pytest.raises(InputError, match="reason"):
        plant.cases.close(case, " ")
    closed = plant.cases.close(case, "repaired", on=DAY)
    assert plant.cases.close(case, "repaired") == closed
    with pytest.raises(AlreadyKeptError, match="repaired"):
        plant.cases.close(case, "sold")
    assert plant.cases.get(case.id) == closed
    with pytest.raises(NotKeptError, match="case number 99"):
        plant.cases.get(99)


def test_what_happened_comes_back_as_it_was_told(plant: Plant, motor: MotorEntry) -> None:
    case = plant.cases.open(motor, "a bar", on=DAY)
    told: list[Happening] = [
        Decision(action="pull", due_on=DAY + timedelta(days=10)),
        Outcome(
            found=Found.DAMAGED,
            open_bars=1,
            bars=(
                FoundBar(bar=3, place=BarPlace.DRIVE_END),
                FoundBar(bar=4, damage=BarDamage.CRACKED),
            ),
        ),
        Repair(action="new bars", facts={"rotor_bars": 58, "bar_material": "copper"}),
        Note(),
    ]
    for n, what in enumerate(told):
        plant.cases.add_event(
            case, what, text=f"no. {n}", author="shop", on=DAY + timedelta(days=n)
        )
    events = plant.cases.events(case)
    assert [event.what for event in events] == told
    assert [event.text for event in events] == ["no. 0", "no. 1", "no. 2", "no. 3"]
    assert plant.cases.events(motor) == events
    assert plant.cases.outcomes() == [events[1]]


def test_a_correction_is_another_event(plant: Plant, motor: MotorEntry) -> None:
    wrong = plant.cases.add_event(motor, Outcome(found=Found.SOUND), on=DAY)
    right = plant.cases.add_event(motor, Outcome(found=Found.NOT_OPENED), on=DAY, corrects=wrong)
    assert right.corrects_id == wrong.id
    assert plant.cases.events(motor) == [wrong, right]


def test_a_photograph_is_kept_with_its_event_once(plant: Plant, motor: MotorEntry) -> None:
    event = plant.cases.add_event(motor, Outcome(found=Found.DAMAGED), on=DAY)
    photograph = plant.cases.attach(event, b"light", name="bar.jpg", caption="bar 3")
    assert plant.cases.attach(event, b"light", name="again.jpg") == photograph
    [again] = plant.cases.events(motor)
    assert again.attachments == (photograph,)
    with plant.cases.attachments.open(photograph.checksum) as stream:
        assert stream.read() == b"light"
