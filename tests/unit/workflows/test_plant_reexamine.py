"""Old visits by the present program: what changed, why, kept once, one by one."""

from __future__ import annotations

import io
import json
from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from cagewise import __version__
from cagewise.errors import StoreFullError
from cagewise.history.differences import Absent, Kind
from cagewise.report.history_json import to_json
from cagewise.report.reexamination_text import write_reexamination
from cagewise.report.reexamination_view import CauseKind, Fate, ReexaminationView, VisitAgain
from cagewise.report.symbols import UNICODE
from cagewise.store import KeptExamination, MotorEntry, Plant
from cagewise.workflows import plant_reexamine
from cagewise.workflows.plant_assess import PlantAssessOptions, assess_visit
from cagewise.workflows.plant_folder import look_into_plant
from cagewise.workflows.plant_import import ImportOptions, import_files
from cagewise.workflows.plant_motors import edit_motor
from cagewise.workflows.plant_reexamine import (
    ReexamineOptions,
    examined_visits,
    reexamine_visit,
)
from support.demo_plants import kiln_plant, laid_out, whole_visit
from support.older_examinations import OLD_VERSION, keep_older_examination

FIRST, LAST = "whole-visit-2027.sheet.toml", "whole-visit-2029.sheet.toml"
START = "whole-visit-2027-start.parquet"
AGAIN = ReexamineOptions(again=True)


@pytest.fixture
def plant(tmp_path: Path) -> Iterator[Plant]:
    """A plant with two visits of test sheets."""
    opened, motor = kiln_plant(tmp_path)
    with opened:
        bring(opened, motor, FIRST, LAST)
        yield opened


def bring(plant: Plant, motor: MotorEntry, *names: str) -> None:
    """Import files of the demo."""
    folder = laid_out(plant.folder.parent / f"in-{'-'.join(names)}", names)
    reports = list(import_files(plant, [folder], ImportOptions(tag=motor.tag)))
    assert not any(report.reason for report in reports)


def motor_in(plant: Plant) -> MotorEntry:
    [motor] = plant.motors.all()
    return motor


def again(plant: Plant, options: ReexamineOptions | None = None) -> list[VisitAgain]:
    """Examine everything again."""
    due, _ = examined_visits(plant, plant.motors.all())
    return [reexamine_visit(plant, each, options or ReexamineOptions()) for each in due]


def keep_older(
    plant: Plant, day: date | None = None, options: PlantAssessOptions | None = None
) -> KeptExamination:
    """Keep what an older version would have said of the only motor."""
    return keep_older_examination(plant, motor_in(plant), day, options)


def examinations(plant: Plant) -> list[int]:
    return [each.id for each in plant.examinations.of_motor(motor_in(plant))]


def test_what_is_up_to_date_is_passed_over_and_kept_once(plant: Plant) -> None:
    assess_visit(plant, motor_in(plant))
    due, never = examined_visits(plant, plant.motors.all())
    assert (len(due), never) == (1, 1)
    assert examined_visits(plant, plant.motors.all(), since=date(2030, 1, 1)) == ([], 0)

    [passed] = again(plant)
    [same] = again(plant, AGAIN)

    assert (passed.fate, passed.new) == (Fate.UP_TO_DATE, None)
    assert (same.fate, same.new, same.changes, same.causes) == (Fate.UNCHANGED, 1, (), ())
    assert examinations(plant) == [1]


def test_what_another_version_with_another_limit_said_is_compared_and_explained(
    plant: Plant,
) -> None:
    old = keep_older(plant)

    [dry] = again(plant, ReexamineOptions(keep=False))
    assert (dry.fate, dry.new, dry.counts) == (Fate.CHANGED, None, old.id)
    assert examinations(plant) == [old.id]

    [done] = again(plant)

    assert (done.fate, done.new, done.counts) == (Fate.CHANGED, old.id + 1, old.id + 1)
    assert (done.old_version, done.old_keys.state) == (OLD_VERSION, "suspect")
    assert done.new_keys is not None
    assert done.new_keys.state != "suspect"
    causes = {(cause.kind, cause.name): (cause.old, cause.new) for cause in done.causes}
    assert causes.pop((CauseKind.PROGRAM, "program_version")) == (OLD_VERSION, __version__)
    [((kind, name), (was, now))] = causes.items()
    assert (kind, name, was) == (CauseKind.LIMITS, "winding.resistance_spread", 0.5)
    assert now is Absent.ABSENT
    kinds = {change.kind for change in done.changes}
    assert {Kind.VERDICT, Kind.READING} <= kinds
    outside = [change for change in done.changes if change.within_interval is False]
    assert len(outside) == 1

    assert [each.fate for each in again(plant)] == [Fate.UP_TO_DATE]  # resumed: nothing to do
    assert len(examinations(plant)) == 2


def test_the_settings_of_the_old_examination_hold_unless_others_are_stated(plant: Plant) -> None:
    keep_older(plant, options=PlantAssessOptions(prevalence=0.1))
    again(plant)
    kept = plant.examinations.of_motor(motor_in(plant))[-1]
    assert plant.examinations.document(kept).settings["prevalence"] == 0.1

    [other] = again(plant, ReexamineOptions(prevalence=0.2))

    assert [(cause.kind, cause.name, cause.old, cause.new) for cause in other.causes] == [
        (CauseKind.SETTINGS, "prevalence", 0.1, 0.2)
    ]


def test_an_older_examination_that_is_met_again_does_not_count_again(plant: Plant) -> None:
    first = assess_visit(plant, motor_in(plant)).kept
    second = assess_visit(plant, motor_in(plant), PlantAssessOptions(prevalence=0.1)).kept

    [done] = again(plant, ReexamineOptions(prevalence=None))
    assert done.fate is Fate.UP_TO_DATE
    third = keep_older(plant, options=PlantAssessOptions(prevalence=0.1))
    [done] = again(plant)

    assert (done.new, done.counts) == (second.id, third.id)
    assert first.id < second.id < third.id


def test_another_motor_file_is_named_with_what_it_says(plant: Plant, tmp_path: Path) -> None:
    assess_visit(plant, motor_in(plant))
    text = whole_visit().motor.read_text(encoding="utf-8")
    changed = tmp_path / "changed.toml"
    changed.write_text(text.replace("rotor_bars = 44", "rotor_bars = 46"), encoding="utf-8")
    edit_motor(plant, motor_in(plant), changed, valid_from=date(2027, 1, 1), note="counted")

    [done] = again(plant)

    named = {cause.name: (cause.old, cause.new) for cause in done.causes}
    assert all(cause.kind is CauseKind.MOTOR_FILE for cause in done.causes)
    assert named["version"][1] == "from 2027-01-01 (counted)"
    assert named["motor.rotor_bars"] == (44, 46)


def test_other_baselines_are_named(plant: Plant) -> None:
    assess_visit(plant, motor_in(plant))
    bring(plant, motor_in(plant), "whole-visit-2028.sheet.toml")

    [done] = again(plant)

    [cause] = done.causes
    assert (cause.kind, cause.name) == (CauseKind.BASELINES, "whole-visit-2028.sheet.toml")
    assert (cause.old, cause.new) == (Absent.ABSENT, "test sheet 3")


def test_a_visit_that_lost_its_measurements_is_named_and_the_others_go_on(plant: Plant) -> None:
    keep_older(plant, date(2027, 5, 11))
    keep_older(plant)
    [sheet] = plant.measurements.sheets(plant.visits.of(motor_in(plant))[-1])
    plant.measurements.originals.path(sheet.checksum).write_bytes(b"rotten")

    first, last = again(plant)

    assert first.fate is Fate.CHANGED
    assert (last.fate, last.counts) == (Fate.REFUSED, last.old)
    assert "checksum" in last.refusal
    assert "backup" in last.refusal


def test_a_full_disk_ends_the_work(plant: Plant, monkeypatch: pytest.MonkeyPatch) -> None:
    assess_visit(plant, motor_in(plant))

    def full(*_: object) -> None:
        raise StoreFullError("no space is left")

    monkeypatch.setattr(plant_reexamine, "keep_examination", full)
    with pytest.raises(StoreFullError):
        again(plant, AGAIN)


def test_a_dry_run_writes_nothing_even_where_it_would_decode_again(plant: Plant) -> None:
    motor = motor_in(plant)
    bring(plant, motor, START)
    assess_visit(plant, motor, PlantAssessOptions(visit=date(2027, 5, 11)))

    def everything() -> dict[Path, bytes]:
        files = (path for path in plant.folder.rglob("*") if path.suffix != ".sqlite-shm")
        return {path: path.read_bytes() for path in files if path.is_file()}

    before = everything()
    with Plant.open(plant.folder, read_only=True) as reading:
        options = ReexamineOptions(keep=False, again=True)
        [same] = again(reading, options)
        [other] = again(reading, replace(options, roles={"I L1": "-i_a"}))

    assert same.fate is Fate.UNCHANGED
    assert other.fate is Fate.REFUSED
    assert "opened to be read" in other.refusal
    assert everything() == before
    with look_into_plant(plant.folder) as looked:
        assert not looked.database.read_only


def page(view: ReexaminationView, width: int = 100, *, details: bool = False) -> str:
    from rich.console import Console

    out = io.StringIO()
    write_reexamination(view, Console(file=out, width=width), UNICODE, details=details)
    return out.getvalue()


def test_the_page_says_what_changed_and_why(plant: Plant) -> None:
    keep_older(plant, date(2027, 5, 11))
    keep_older(plant)
    [sheet] = plant.measurements.sheets(plant.visits.of(motor_in(plant))[-1])
    plant.measurements.originals.path(sheet.checksum).unlink()
    view = ReexaminationView(
        plant="mill",
        program_version=__version__,
        kept=True,
        visits=tuple(again(plant)),
        never_examined=2,
    )

    said = " ".join(page(view).split())
    assert f"EXAMINED AGAIN with version {__version__}" in said
    assert "Changed 1 visit; state of the cage: other on 1 visit" in said
    assert "cage suspect -> " in said
    assert "P(defect) 50 % -> " in said
    assert f"other program program version: {OLD_VERSION} -> {__version__}" in said
    assert "other limits winding.resistance spread: 0.5 -> not there" in said
    assert "OUTSIDE the old interval" in said
    assert "LK-120-M 2029" in said.split("Not possible; the old")[1]
    assert "not there any more" in said
    assert '2 visits: "cagewise assess TAG' in said
    assert all(len(line) <= 60 for line in page(view, 60).splitlines())
    assert len(page(view, details=True)) >= len(page(view))
    numbers = json.loads(to_json(view))
    assert numbers["page"] == "reexamination"
    assert numbers["visits"][0]["causes"][0]["kind"] == "program"
