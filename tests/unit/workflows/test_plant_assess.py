"""A visit of the plant: the answer that files give, baselines of the same cage, kept for ever."""

from __future__ import annotations

import json
import zlib
from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from importlib import import_module
from pathlib import Path
from typing import NoReturn

import pytest

from cagewise.decision.examination import Settings
from cagewise.errors import ChannelRoleError, NotKeptError
from cagewise.history.missing import RepairKind
from cagewise.machine.motor import Motor
from cagewise.measurement import Recording
from cagewise.pipeline.looking import Looked, look_at
from cagewise.report.json_output import to_json
from cagewise.store import MotorEntry, Plant, Repair, Visit
from cagewise.store.examinations import Examinations
from cagewise.workflows.assess import AssessOptions, assess, settings_of
from cagewise.workflows.plant_assess import (
    AssessedVisit,
    PlantAssessOptions,
    assess_visit,
    find_visit,
)
from cagewise.workflows.plant_baselines import KIND, baselines_of, last_repair
from cagewise.workflows.plant_decode import sheets_of
from cagewise.workflows.plant_import import ImportOptions, import_files
from cagewise.workflows.plant_keys import completed
from support.demo_plants import kiln_plant, laid_out, whole_visit

SETTINGS = settings_of(AssessOptions())


@pytest.fixture(scope="module")
def filled(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Plant, MotorEntry]]:
    """A plant with a whole visit and those of three earlier years; tests only add to it."""
    plant, motor = kiln_plant(tmp_path_factory.mktemp("filled"))
    with plant:
        case = whole_visit()
        list(import_files(plant, [*case.files, *case.earlier], ImportOptions(tag=motor.tag)))
        yield plant, motor


@pytest.fixture(scope="module")
def whole(filled: tuple[Plant, MotorEntry]) -> AssessedVisit:
    """The whole visit, examined."""
    return assess_visit(*filled)


def test_the_plant_gives_the_answer_that_the_files_give(
    filled: tuple[Plant, MotorEntry], whole: AssessedVisit
) -> None:
    case = whole_visit()

    direct = assess(case.motor, case.files, AssessOptions(earlier=case.earlier))

    assert filled[0].examinations.document(whole.kept).text == to_json(direct)
    assert len(whole.earlier.recordings) == len(whole.earlier.sheets) == 3


def test_what_trends_ask_for_stands_beside_the_document(
    filled: tuple[Plant, MotorEntry], whole: AssessedVisit
) -> None:
    plant, motor = filled
    document = plant.examinations.document(whole.kept)
    said = json.loads(document.text)

    keys = whole.kept.keys
    assert (keys.state, keys.ground) == (said["state"], said["state_ground"])
    assert keys.probability == said["probability"]
    pooled = said["pooled"]["open_bar_equivalent"]
    assert [keys.open_bars_low, keys.open_bars_high] == pooled["interval"]
    assert keys.open_bars == pooled["value"]
    assert keys.load_fraction == pytest.approx(0.78, abs=0.03)  # of the simulated fan
    assert [keys.load_fraction_low, keys.load_fraction_high] == (
        said["operating_point"]["load_fraction"]["interval"]
    )
    parts = {part["part"]: part["state"] for part in said["parts"]}
    assert (keys.winding, keys.insulation) == (parts["stator winding"], parts["stator insulation"])
    codes = [step["code"] for step in said["recommendation"]["next_steps"]]
    assert keys.next_step == next((code for code in codes if code != "rotor_bars"), "")
    assert keys.methods_agreeing == said["methods_agreeing"]
    assert keys.classes_agreeing == said["classes_agreeing"]
    assert keys.action == said["course"]["action"]
    assert str(keys.act_by_latest) == said["act_by"]["latest"]
    readings = plant.examinations.readings(motor)[whole.kept.id]
    assert [each.name for each in readings] == [each["name"] for each in said["indicators"]]
    assert [each.value for each in readings] == [each["value"] for each in said["indicators"]]
    assert document.settings["limits"] == said["limits"]
    assert sum(each.earlier for each in document.inputs) == 6
    assert len(document.inputs) == 9


def test_an_old_row_is_filled_with_what_a_new_one_has(
    filled: tuple[Plant, MotorEntry], whole: AssessedVisit
) -> None:
    plant, _ = filled
    packed = zlib.compress(plant.examinations.document(whole.kept).text.encode("utf-8"))
    revision = import_module("cagewise.store.migrations.versions.r0004_columns")

    by_migration = revision._columns(packed)

    assert by_migration == {name: getattr(whole.kept.keys, name) for name in by_migration}
    assert len(by_migration) == 7
    unfilled = replace(whole.kept.keys, winding=None, insulation=None, next_step=None)
    assert completed(plant, replace(whole.kept, keys=unfilled)) == whole.kept


def test_the_same_again_is_kept_once_and_other_settings_are_another(
    filled: tuple[Plant, MotorEntry],
) -> None:
    plant, motor = filled
    day = date(2027, 5, 11)
    first = assess_visit(plant, motor, PlantAssessOptions(visit=day))
    again = assess_visit(plant, motor, PlantAssessOptions(visit=day))
    other = assess_visit(plant, motor, PlantAssessOptions(visit=day, prevalence=0.1))

    assert (first.is_new, again.is_new, again.kept.id) == (True, False, first.kept.id)
    assert other.kept.id != first.kept.id


def test_an_earlier_visit_sees_only_what_was_before_it(filled: tuple[Plant, MotorEntry]) -> None:
    plant, motor = filled

    done = assess_visit(plant, motor, PlantAssessOptions(visit=date(2028, 5, 9)))

    assert {kept.source for kept in done.earlier.recordings} == {"whole-visit-2027-start.parquet"}
    with pytest.raises(NotKeptError, match="2031-04-15"):
        find_visit(plant, motor, date(2028, 5, 10))


@pytest.mark.usefixtures("whole")
def test_an_examined_record_without_a_start_is_not_read_for_one(
    filled: tuple[Plant, MotorEntry], monkeypatch: pytest.MonkeyPatch
) -> None:
    plant, motor = filled
    later = plant.visits.on(motor, date(2032, 1, 1))
    seen: list[str] = []

    def look(motor: Motor, recording: Recording, settings: Settings) -> Looked:
        seen.append(recording.provenance.source)
        return look_at(motor, recording, settings)

    monkeypatch.setattr("cagewise.workflows.plant_baselines.look_at", look)
    found = {kept.source for kept in baselines_of(plant, motor, later, SETTINGS).recordings}

    assert found == set(seen)
    assert "whole-visit-start.parquet" in found
    assert "whole-visit.parquet" not in seen


def test_an_earlier_record_whose_channels_are_in_doubt_hinders_nothing(
    filled: tuple[Plant, MotorEntry], monkeypatch: pytest.MonkeyPatch
) -> None:
    plant, motor = filled

    def look(*_: object) -> NoReturn:
        raise ChannelRoleError("nobody has said which channel is which")

    monkeypatch.setattr("cagewise.workflows.plant_baselines.look_at", look)

    assert not baselines_of(plant, motor, find_visit(plant, motor), SETTINGS).recordings


def test_a_corrected_sheet_takes_the_place_of_the_first(tmp_path: Path) -> None:
    plant, motor = kiln_plant(tmp_path)
    sheet = laid_out(tmp_path / "in", ("whole-visit.sheet.toml",)) / "whole-visit.sheet.toml"
    with plant:
        list(import_files(plant, [sheet], ImportOptions()))
        sheet.write_text(sheet.read_text(encoding="utf-8") + "\n# corrected\n", encoding="utf-8")
        list(import_files(plant, [sheet], ImportOptions()))

        visit = find_visit(plant, motor)
        first, second = plant.measurements.sheets(visit)
        assert sheets_of(plant, visit) == (second,)
        assert first.checksum != second.checksum


def test_a_visit_that_was_never_examined_is_looked_at(
    filled: tuple[Plant, MotorEntry], monkeypatch: pytest.MonkeyPatch
) -> None:
    plant, motor = filled
    later = plant.visits.on(motor, date(2032, 1, 1))

    def none(_: Examinations, __: Visit) -> list[object]:
        return []

    monkeypatch.setattr(Examinations, "of_visit", none)

    names = {kept.source for kept in baselines_of(plant, motor, later, SETTINGS).recordings}
    assert "whole-visit.parquet" not in names
    assert "whole-visit-start.parquet" in names


def test_nothing_is_compared_with_another_cage(tmp_path: Path) -> None:
    plant, motor = kiln_plant(tmp_path)
    with plant:
        case = whole_visit()
        list(import_files(plant, [*case.files, *case.earlier], ImportOptions(tag=motor.tag)))
        visit = find_visit(plant, motor)
        bearings = Repair(action="bearings", facts={KIND: RepairKind.BEARINGS.value})
        repaired = plant.cases.open(motor, "one bar open", on=date(2028, 1, 1))
        plant.cases.add_event(repaired, bearings, on=date(2030, 1, 1))
        assert last_repair(plant, motor, visit.day) is None

        wrong = plant.cases.add_event(repaired, Repair(action="rotor"), on=date(2030, 6, 1))
        plant.cases.add_event(
            repaired,
            Repair(action="rotor", facts={KIND: RepairKind.CAGE.value}),
            on=date(2028, 6, 1),
            corrects=wrong,
        )
        found = baselines_of(plant, motor, visit, SETTINGS)

    assert found.since == date(2028, 6, 1)
    assert [kept.source for kept in found.sheets] == ["whole-visit-2029.sheet.toml"]
    assert [kept.source for kept in found.recordings] == ["whole-visit-2029-start.parquet"]


def test_a_motor_without_measurements_says_how_to_import(tmp_path: Path) -> None:
    plant, motor = kiln_plant(tmp_path)
    with plant:
        plant.visits.on(motor, date(2030, 1, 1))  # a visit of which nothing was kept
        with pytest.raises(NotKeptError, match="nothing was measured"):
            assess_visit(plant, motor)
