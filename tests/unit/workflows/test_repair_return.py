"""A returned sheet makes entries of the case and a new motor file; nothing kept is lost."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest

from cagewise.errors import SheetError, UsageError
from cagewise.history.missing import MissingItem
from cagewise.report.repair_return_text import return_sections
from cagewise.store import BarDamage, BarPlace, Found, Note, Outcome, Plant, Repair
from cagewise.workflows.motor_form import form_of_toml
from cagewise.workflows.motor_proposal import propose
from cagewise.workflows.paper_repair import return_file, sending
from cagewise.workflows.plant_cases import find_case, story
from cagewise.workflows.plant_points import standing
from cagewise.workflows.repair_return import keep_return, read_return, view_of
from support.plants import motor_file
from support.returns import ANSWERS, BARS, empty, fill

DAY = date(2031, 3, 28)


@pytest.fixture
def plant(tmp_path: Path) -> Iterator[Plant]:
    with Plant.create(tmp_path / "plant") as made:
        motor = made.motors.add(motor_file(), valid_from=date(2020, 1, 1))
        made.motors.add(motor_file("P-102"))
        made.cases.open(motor, "a bar is open", on=date(2031, 1, 5))
        yield made


@pytest.mark.parametrize("ending", [".toml", ".csv", ".xlsx"])
def test_the_sheet_of_the_specification_goes_out_and_comes_back(
    plant: Plant, tmp_path: Path, ending: str
) -> None:
    sent = sending(plant, plant.motors.find("P-101"), today=date(2031, 2, 1))
    path = tmp_path / f"back{ending}"
    path.write_bytes(return_file(sent, ending))
    assert read_return(plant, path).returned.answers == {}

    (tmp_path / "bars.jpg").write_bytes(b"a photograph")
    fill(path, ANSWERS, BARS, ["bars.jpg", "ring.jpg"], empty())
    reading = read_return(plant, path)
    kept = keep_return(plant, path, reading, motor_file=True)

    case = find_case(plant, "1")
    outcome, repair = (event.what for event in kept.events)
    assert isinstance(outcome, Outcome)
    assert (outcome.found, outcome.open_bars) == (Found.DAMAGED, 2)
    assert [(b.bar, b.damage, b.place) for b in outcome.bars] == [
        (7, BarDamage.OPEN, BarPlace.DRIVE_END),
        (8, BarDamage.OPEN, BarPlace.DRIVE_END),
        (9, BarDamage.CRACKED, BarPlace.NOT_STATED),
    ]
    assert isinstance(repair, Repair)
    assert repair.facts["kind"] == "cage"
    assert (repair.facts["rotor_bars"], repair.facts["bar_material"]) == ("58", "brass")
    assert [event.day for event in kept.events] == [date(2031, 3, 10), DAY]
    names = {a.name for event in plant.cases.events(case) for a in event.attachments}
    assert names == {f"repair-return{ending}", "bars.jpg"}
    assert reading.missing_photographs == ("ring.jpg",)
    after = form_of_toml(plant.motors.nameplate(reading.motor, on=DAY).toml)
    before = form_of_toml(plant.motors.nameplate(reading.motor, on=date(2031, 3, 1)).toml)
    changed = {k: v for k, v in after.items() if before.get(k) != v}
    assert changed == {
        "motor.rotor_bars": "58",
        "motor.stator_slots": "72",
        "motor.rotor_slots": "open",
    }
    assert set(before) <= set(after)


def test_what_was_not_answered_is_owed(plant: Plant, tmp_path: Path) -> None:
    reading = read_return(plant, fill(tmp_path / "s.csv", ANSWERS, BARS))
    keep_return(plant, tmp_path / "s.csv", reading)

    assert reading.owed == (MissingItem.CAGE_CONSTRUCTION,)
    assert story(plant, find_case(plant, "1")).repairs[0].owed == reading.owed


def test_the_same_file_is_kept_once(plant: Plant, tmp_path: Path) -> None:
    path = fill(tmp_path / "s.csv", ANSWERS, BARS)
    keep_return(plant, path, read_return(plant, path))
    again = read_return(plant, path)

    assert again.kept_before
    assert keep_return(plant, path, again).events == ()
    assert len(plant.cases.events(find_case(plant, "1"))) == 2


def test_a_later_sheet_puts_the_earlier_one_right_and_forgets_nothing(
    plant: Plant, tmp_path: Path
) -> None:
    first = fill(tmp_path / "first.csv", ANSWERS, BARS)
    keep_return(plant, first, read_return(plant, first))
    only = {"repair_kind": "cage", "cage_construction": "fabricated", "rotor_bars": "60",
            "repaired_on": "2031-03-28"}  # fmt: skip
    second = fill(tmp_path / "second.toml", only)
    reading = read_return(plant, second)
    keep_return(plant, second, reading)

    events = plant.cases.events(find_case(plant, "1"))
    left = standing(events)
    repairs = [event.what for event in left if isinstance(event.what, Repair)]
    outcomes = [event.what for event in left if isinstance(event.what, Outcome)]
    assert len(events) == 3
    assert len(repairs) == len(outcomes) == 1
    assert repairs[0].facts["rotor_bars"] == "60"
    assert repairs[0].facts["bar_material"] == "brass"
    assert repairs[0].action == ANSWERS["action"]
    assert "bar_material" in reading.carried
    assert outcomes[0].open_bars == 2
    assert reading.owed == ()


def test_results_on_arrival_are_a_remark_until_it_is_said_what_was_done(
    plant: Plant, tmp_path: Path
) -> None:
    path = fill(tmp_path / "s.csv", {"arrival_runout_mm": "0.05", "arrival_remark": "wet"})
    kept = keep_return(plant, path, read_return(plant, path))

    assert [type(event.what) for event in kept.events] == [Note]
    assert kept.events[0].text == "wet"
    assert kept.events[0].attachments == () or kept.events[0].id


def test_an_odd_motor_is_said_and_an_impossible_one_refused(plant: Plant, tmp_path: Path) -> None:
    odd = fill(tmp_path / "s.csv", {**ANSWERS, "stator_slots": "58"}, BARS)
    proposal = read_return(plant, odd).proposal

    assert proposal is not None
    assert any("nobody builds it" in warning for warning in proposal.warnings)
    with pytest.raises(SheetError, match="impossible"):
        propose(motor_file(), "P-101", {"rotor_bars": 3}, DAY)


def test_a_refused_sheet_leaves_the_case_as_it_was(plant: Plant, tmp_path: Path) -> None:
    path = fill(tmp_path / "s.csv", {**ANSWERS, "rotor_bars": "3"}, BARS)

    with pytest.raises(SheetError):
        read_return(plant, path)
    assert not plant.cases.events(find_case(plant, "1"))


def test_a_sheet_of_another_motor_is_refused(plant: Plant, tmp_path: Path) -> None:
    path = fill(tmp_path / "s.csv", ANSWERS, BARS, sheet=empty("P-102", 1))

    with pytest.raises(UsageError, match="another motor"):
        read_return(plant, path)


def test_a_sheet_without_a_case_belongs_to_the_only_open_one(plant: Plant, tmp_path: Path) -> None:
    path = fill(tmp_path / "s.csv", ANSWERS, BARS, sheet=empty("P-101", None))

    assert read_return(plant, path).case.id == 1
    plant.cases.close(find_case(plant, "1"), "repaired")
    with pytest.raises(UsageError, match="names no case"):
        read_return(plant, path)


def test_another_bearing_drops_the_geometry_of_the_old_one(plant: Plant, tmp_path: Path) -> None:
    motor = plant.motors.find("P-101")
    toml = plant.motors.nameplate(motor).toml + (
        '\n[[bearings]]\ndesignation = "6319"\nrolling_elements = 8\n'
    )
    plant.motors.edit(motor, toml, valid_from=date(2030, 1, 1), note="")
    path = fill(tmp_path / "s.csv", {**ANSWERS, "bearing_de": "NU 319"}, BARS)
    proposal = read_return(plant, path).proposal

    assert proposal is not None
    after = form_of_toml(proposal.toml)
    assert after["bearings.0.designation"] == "NU 319"
    assert "bearings.0.rolling_elements" not in after


def test_what_was_understood_is_said_in_words(plant: Plant, tmp_path: Path) -> None:
    wrong = {**ANSWERS, "no_load_a_a": "100", "no_load_b_a": "100", "no_load_c_a": "140"}
    view = view_of(read_return(plant, fill(tmp_path / "s.csv", wrong, BARS)))
    said = dict(return_sections(view))

    assert "Cage as found: damaged; fully open: 2" in said["Understood"]
    assert said["Beyond the limits of the specification"] == [
        "Unbalance of the no-load currents: 24 %, limit 10 %"
    ]
    assert "motor.rotor_bars: 58 (was not known)" in said["The motor file would become, from "
                                                          "2031-03-28 on"]  # fmt: skip
