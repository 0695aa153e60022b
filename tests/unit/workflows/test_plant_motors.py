"""Motors of a plant: all or none, versions kept, what is missing."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from cagewise.errors import AlreadyKeptError, MotorFileError
from cagewise.history.missing import MissingItem
from cagewise.report.missing_wording import MISSING
from cagewise.workflows.plant_choice import list_motors
from cagewise.workflows.plant_folder import new_plant
from cagewise.workflows.plant_motors import add_motors, edit_motor, show_motor
from support.commands import MOTOR_FILE, write_motor
from support.demo_plants import whole_visit


def test_motors_are_added_all_or_none(tmp_path: Path) -> None:
    with new_plant(tmp_path / "plant") as plant:
        first = whole_visit().motor
        with pytest.raises(AlreadyKeptError, match="kiln-fan"):
            add_motors(plant, [write_motor(tmp_path), first, first])
        with pytest.raises(MotorFileError, match="gone"):
            add_motors(plant, [first, tmp_path / "gone.toml"])
        assert not list_motors(plant).entries

        add_motors(plant, [write_motor(tmp_path), first])
        listed = list_motors(plant)
        assert [motor.tag for motor in listed.view.ranking.motors] == ["LK-120-M", "P-07"]
        assert not list_motors(plant, site="elsewhere").entries


def test_a_motor_file_without_a_tag_is_named_like_its_file(tmp_path: Path) -> None:
    path = tmp_path / "FD-3.toml"
    path.write_text(MOTOR_FILE.replace('tag = "P-07"\n', ""), encoding="utf-8-sig")
    with new_plant(tmp_path / "plant") as plant:
        (motor,) = add_motors(plant, [path])
        assert motor.tag == "FD-3"
        assert plant.motors.nameplate(motor).toml.startswith("[motor]")


def test_versions_stay_and_the_file_of_another_motor_is_refused(tmp_path: Path) -> None:
    with new_plant(tmp_path / "plant") as plant:
        (motor,) = add_motors(plant, [write_motor(tmp_path)], valid_from=date(2020, 1, 1))
        repaired = write_motor(tmp_path, MOTOR_FILE.replace("rotor_bars = 40\n", ""))
        edit_motor(plant, motor, repaired, valid_from=date(2024, 5, 6), note="another rotor")

        shown = show_motor(plant, motor, most_visits=5)

        assert [each.valid_from.year for each in shown.versions] == [2020, 2024]
        assert shown.version.note == "another rotor"
        assert shown.motor.cage.rotor_bars is None
        assert shown.missing[:2] == (MissingItem.NEVER_EXAMINED, MissingItem.ROTOR_BARS)
        assert (shown.latest, shown.visits_in_all) == (None, 0)
        with pytest.raises(MotorFileError, match="kiln-fan"):
            edit_motor(plant, motor, whole_visit().motor)


def test_everything_that_can_be_missing_has_its_words() -> None:
    assert set(MISSING) == set(MissingItem)
