from __future__ import annotations

from datetime import date

import pytest
from sqlalchemy import text

from cagewise.errors import AlreadyKeptError, MotorFileError, NotKeptError, StoreError
from cagewise.store import Plant, Sensor
from support.plants import motor_file

OLD, NEW = date(2024, 1, 1), date(2026, 1, 1)


def test_a_motor_is_found_by_its_tag_however_it_is_written(plant: Plant) -> None:
    added = plant.motors.add(motor_file("P-101 A"))
    assert plant.motors.find("p-101a") == added
    assert (added.criticality, added.rated_power_w) == ("high", 315e3)
    assert added.next_outage == date(2026, 9, 1)


def test_an_unknown_tag_gets_a_suggestion(plant: Plant) -> None:
    plant.motors.add(motor_file("P-101"))
    with pytest.raises(NotKeptError, match="Did you mean 'P-101'"):
        plant.motors.find("P-1O1")


def test_a_tag_is_unique_in_a_site_only(plant: Plant) -> None:
    north = plant.motors.add(motor_file(), site="north")
    south = plant.motors.add(motor_file(), site="south")
    with pytest.raises(AlreadyKeptError):
        plant.motors.add(motor_file(), site="north")
    with pytest.raises(NotKeptError, match="'north', 'south'"):
        plant.motors.find("P-101")
    assert plant.motors.find("P-101", site="south") == south
    assert plant.motors.all(site="north") == [north]
    assert plant.motors.sites() == ["north", "south"]


def test_an_edit_keeps_the_old_nameplate(plant: Plant) -> None:
    motor = plant.motors.add(motor_file(), valid_from=OLD)
    changed = motor_file().replace("rated_current_a = 320", "rated_current_a = 325")
    new = plant.motors.edit(motor, changed, valid_from=NEW, note="rewound")
    assert [each.toml for each in plant.motors.nameplates(motor)] == [motor_file(), changed]
    assert plant.motors.nameplate(motor, on=date(2025, 12, 31)).toml == motor_file()
    assert plant.motors.nameplate(motor, on=NEW) == new
    assert plant.motors.nameplate(motor, on=date(2023, 1, 1)).valid_from == OLD
    assert plant.motors.find("P-101").nameplate_id == new.id


def test_a_correction_of_a_day_counts_over_what_it_corrects(plant: Plant) -> None:
    motor = plant.motors.add(motor_file(), valid_from=OLD)
    corrected = motor_file().replace("invented", "corrected")
    plant.motors.edit(motor, corrected, valid_from=OLD)
    assert plant.motors.nameplate(motor).toml == corrected
    assert plant.motors.all()[0].description == "an corrected pump"


def test_a_nameplate_of_the_future_does_not_count_yet(plant: Plant) -> None:
    motor = plant.motors.add(motor_file(), valid_from=OLD)
    plant.motors.edit(motor, motor_file() + "# later\n", valid_from=date(2999, 1, 1))
    assert plant.motors.nameplate(motor).toml == motor_file()
    assert plant.motors.all(on=date(2999, 1, 1))[0].valid_from == date(2999, 1, 1)


def test_the_same_edit_again_keeps_one_version(plant: Plant) -> None:
    motor = plant.motors.add(motor_file(), valid_from=OLD)
    plant.motors.edit(motor, motor_file(), valid_from=NEW)
    assert len(plant.motors.nameplates(motor)) == 1


def test_a_motor_file_that_cannot_be_used_is_not_kept(plant: Plant) -> None:
    with pytest.raises(MotorFileError, match="not TOML"):
        plant.motors.add("[motor")
    with pytest.raises(MotorFileError, match="which motor"):
        plant.motors.add(motor_file().replace('tag = "P-101"', ""))
    motor = plant.motors.add(motor_file())
    with pytest.raises(MotorFileError, match="is of motor 'P-102'"):
        plant.motors.edit(motor, motor_file("P-102"))
    assert len(plant.motors.nameplates(motor)) == 1


def test_the_database_itself_refuses_to_change_a_nameplate(plant: Plant) -> None:
    plant.motors.add(motor_file())
    for change in ("UPDATE nameplate SET toml = ''", "DELETE FROM nameplate"):
        with (
            pytest.raises(StoreError, match="never changed"),
            plant.database.connection() as connection,
        ):
            connection.execute(text(change))


def test_sensors_are_noted_and_changed(plant: Plant) -> None:
    motor = plant.motors.add(motor_file())
    clamp = plant.motors.add_sensor(motor, Sensor(name="clamp", role="i_a", ratio=1000.0))
    from dataclasses import replace

    removed = plant.motors.change_sensor(replace(clamp, removed_on=NEW))
    assert plant.motors.sensors(motor) == [removed]
    assert removed.removed_on == NEW
    with pytest.raises(NotKeptError):
        plant.motors.change_sensor(replace(clamp, id=99))
