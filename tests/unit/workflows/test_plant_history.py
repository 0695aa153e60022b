"""From what a plant keeps to trend, ranking, cases and calls."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest

from cagewise.errors import NotKeptError, UsageError
from cagewise.history.missing import MissingItem, RepairKind, unknown_of
from cagewise.history.repair import Acceptance
from cagewise.history.trend import NoTrend, Trend, TrendCall
from cagewise.indicators.cage.catalogue import HEADS
from cagewise.indicators.reading import IndependenceClass, Reading
from cagewise.quantities import Estimate, NotKnown
from cagewise.report.case_text import owed, pending_decision
from cagewise.report.document import SCHEMA_VERSION
from cagewise.report.json_output import to_json
from cagewise.store import (
    Decision,
    Found,
    NewExamination,
    Note,
    Outcome,
    Plant,
    Repair,
    Sensor,
)
from cagewise.store.motors import Motors, parse
from cagewise.workflows import demo_plant_story
from cagewise.workflows.demo_plant_motors import motor_file as demo_motor_file
from cagewise.workflows.demo_plant_steps import MotorStory
from cagewise.workflows.plant_cases import Entry, add_event, find_case, open_case, repair_of, story
from cagewise.workflows.plant_history import calls, rank, trend_of
from cagewise.workflows.plant_keys import keys_of, readings_of
from cagewise.workflows.plant_points import baseline_of, class_of, described, trend_points
from support.examinations import damaged, examination, record
from support.kept_histories import LAST, add_examination, add_growing, add_motor
from support.plants import motor_file

GROWTH = (0.2, 0.28, 0.4, 0.56, 0.8, 1.1, 1.6)
"""Three decibels from visit to visit."""


@pytest.fixture
def plant(tmp_path: Path) -> Iterator[Plant]:
    with Plant.create(tmp_path / "plant", name="invented") as made:
        yield made


def test_a_reading_in_open_bars_becomes_a_point_and_others_do_not(plant: Plant) -> None:
    motor = add_motor(plant, "P-1")
    clamp = plant.motors.add_sensor(motor, Sensor(name="clamp", mounted_on=LAST))
    add_examination(plant, motor, LAST - timedelta(days=1), 0.4, "sound")
    more = {"load_fraction_low": 0.7, "load_fraction_high": 0.8, "winding_temperature_degc": 80.0}
    add_examination(plant, motor, LAST, 0.5, "sound", **more)

    before, point = trend_points(plant, motor)

    assert point.day == LAST.toordinal()
    assert point.bars == Estimate(0.5, 0.45, 0.55)
    assert point.reading == "direct_component"
    assert point.independence_class is IndependenceClass.RUNNING_FUNDAMENTAL
    assert before.load_fraction == Estimate(0.75, 0.75, 0.75)  # of an older row
    assert point.load_fraction == Estimate(0.75, 0.7, 0.8)
    assert point.winding_temperature_degc == Estimate(80.0, 80.0, 80.0)
    assert isinstance(before.winding_temperature_degc, NotKnown)
    assert (before.sensors, point.sensors) == ("", str(clamp.id))
    assert point.nameplate_version == str(motor.nameplate_id)


def test_of_several_examinations_of_a_visit_the_last_one_counts(plant: Plant) -> None:
    motor = add_motor(plant, "P-1")
    add_examination(plant, motor, LAST, 0.5, "sound")
    add_examination(plant, motor, LAST, 0.7, "suspect")

    (point,) = trend_points(plant, motor)

    assert point.bars.value == 0.7


def test_every_cage_reading_has_a_class() -> None:
    assert {head.name: class_of(head.name) for head in HEADS} == {
        head.name: head.independence_class for head in HEADS
    }
    assert class_of("start_side_line_track") is IndependenceClass.START
    assert class_of("position_pattern_10_hz") is IndependenceClass.STANDSTILL_PATTERN
    assert class_of("insulation_resistance") is None


def test_a_growing_cage_is_called_growing(plant: Plant) -> None:
    motor = add_motor(plant, "P-1")
    add_growing(plant, motor, GROWTH)

    view = trend_of(plant, motor, today=LAST)

    assert isinstance(view.trend, Trend)
    assert view.trend.call is TrendCall.GROWING
    assert view.limit is not None
    assert view.change is not None
    assert view.visits == len(GROWTH)


def test_after_a_repair_of_the_cage_the_trend_begins_again(plant: Plant) -> None:
    motor = add_motor(plant, "P-1")
    made = add_growing(plant, motor, GROWTH)
    case = open_case(plant, motor, "open bars", on=LAST)
    done = repair_of("brazed", RepairKind.CAGE, {})
    event = add_event(plant, case, done, Entry(on=made[-2].day))

    view = trend_of(plant, motor, today=LAST)

    assert isinstance(view.trend, NoTrend)
    assert view.trend.reason.startswith("too few points: 2 comparable of at least 4")
    assert view.repaired_on == made[-2].day

    wrong = Entry(text="it was another motor", corrects=event.id, on=LAST)
    add_event(plant, case, Note(), wrong)
    assert trend_of(plant, motor, today=LAST).repaired_on is None
    assert story(plant, case, today=LAST).corrected == 1


def test_other_repairs_leave_the_trend_as_it_is(plant: Plant) -> None:
    motor = add_motor(plant, "P-1")
    add_growing(plant, motor, GROWTH)
    case = open_case(plant, motor, "noise", on=LAST)
    add_event(plant, case, repair_of("renewed", RepairKind.BEARINGS, {}), Entry(on=LAST))

    assert trend_of(plant, motor, today=LAST).repaired_on is None


def test_a_repair_of_no_stated_kind_may_have_been_of_the_cage(plant: Plant) -> None:
    motor = add_motor(plant, "P-1")
    add_growing(plant, motor, GROWTH)
    plant.cases.add_event(motor, Repair(action="in the shop"), on=LAST)

    assert trend_of(plant, motor, today=LAST).repaired_on == LAST


def test_the_ranking_has_every_motor_the_worst_first(plant: Plant) -> None:
    bad, good = add_motor(plant, "P-1"), add_motor(plant, "P-2")
    add_motor(plant, "P-3")
    add_examination(plant, good, LAST, 0.1, "sound")
    add_examination(plant, bad, LAST - timedelta(days=400), 0.1, "sound")
    add_examination(plant, bad, LAST, 1.6, "defective")
    case = open_case(plant, bad, "open bars", on=LAST)

    view = rank(plant, today=LAST)

    first, *_ = view.ranking.motors
    assert first.tag == "P-1"
    assert {motor.tag for motor in view.ranking.motors} == {"P-1", "P-2", "P-3"}
    assert first.probability == pytest.approx(0.99)
    assert view.latest["P-1"].keys.open_bars == 1.6
    assert view.open_cases["P-1"] == (case,)
    never = next(motor for motor in view.ranking.motors if motor.tag == "P-3")
    assert never.missing[0] is MissingItem.NEVER_EXAMINED


@pytest.mark.parametrize("story", demo_plant_story.MOTORS, ids=lambda story: str(story.tag))
def test_what_is_kept_beside_a_motor_file_says_what_the_whole_motor_says(
    plant: Plant, story: MotorStory
) -> None:
    wound = '[winding]\nconstruction = "form"\nbuilt_year = 2009\ninsulation = "thermosetting"\n'
    made = demo_motor_file(story.tag, story.description, story.plate, LAST)
    plain = made.partition("[criticality]")[0]
    files = (made, plain + wound, plain) if "[winding]" not in plain else (made, plain)
    for site, toml in zip("abc", files, strict=False):
        whole, entry = parse(toml, ""), plant.motors.add(toml, site=site)
        assert entry.facts is not None
        for short in (described(entry), described(replace(entry, facts=None), toml)):
            assert unknown_of(short) == unknown_of(whole)
            for name in ("level", "spare", "false_pull_cost", "miss_cost"):
                assert getattr(short.criticality, name) == getattr(whole.criticality, name)


def test_a_row_that_could_not_be_filled_is_read_from_its_motor_file(
    plant: Plant, monkeypatch: pytest.MonkeyPatch
) -> None:
    motor = add_motor(plant, "P-1")
    add_examination(plant, motor, LAST, 0.1, "sound")
    kept = rank(plant, today=LAST).ranking
    bare = [replace(each, facts=None) for each in plant.motors.all()]
    monkeypatch.setattr(Motors, "all", lambda *_args, **_said: bare)

    assert rank(plant, today=LAST).ranking == kept


def test_motors_of_one_tag_at_two_sites_are_told_apart(plant: Plant) -> None:
    for site in ("north", "south"):
        plant.motors.add(motor_file("P-1"), site=site)

    names = {motor.tag for motor in rank(plant, today=LAST).ranking.motors}

    assert names == {"north/P-1", "south/P-1"}


def test_a_case_is_raised_by_the_examination_that_warned(plant: Plant) -> None:
    motor = add_motor(plant, "P-1")
    made = add_growing(plant, motor, GROWTH)

    assert open_case(plant, motor, "open bars", on=LAST).examination_id == made[-1].id


def test_a_sound_examination_raises_no_case(plant: Plant) -> None:
    motor = add_motor(plant, "P-1")
    add_examination(plant, motor, LAST, 0.1, "sound")

    assert open_case(plant, motor, "a beat", on=LAST).examination_id is None


def test_a_case_is_found_by_number_or_by_tag(plant: Plant) -> None:
    motor = add_motor(plant, "P-1")
    first = plant.cases.close(open_case(plant, motor, "first", on=LAST), "done", on=LAST)
    assert find_case(plant, "P-1") == first
    second = open_case(plant, motor, "second", on=LAST)

    assert find_case(plant, "p-1") == second
    assert find_case(plant, str(first.id)) == first
    with pytest.raises(NotKeptError, match="has no case"):
        find_case(plant, add_motor(plant, "P-2").tag)


def _repaired(plant: Plant, after: float) -> tuple[date, int]:
    """Tell of a repair; return its day and the number of the case."""
    motor = add_motor(plant, "P-1")
    day = LAST - timedelta(days=20)
    add_examination(plant, motor, day - timedelta(days=40), 2.0, "defective")
    case = open_case(plant, motor, "open bars", on=day - timedelta(days=39))
    add_event(plant, case, Outcome(found=Found.DAMAGED, open_bars=2), Entry(on=day))
    done = repair_of("brazed", RepairKind.CAGE, {"rotor_bars": "58"})
    add_event(plant, case, done, Entry(on=day))
    add_examination(plant, motor, LAST, after, "sound" if after < 0.5 else "defective")
    return day, case.id


def test_a_repair_is_compared_with_before_and_says_what_is_owed(plant: Plant) -> None:
    _, number = _repaired(plant, after=0.1)

    view = story(plant, plant.cases.get(number), today=LAST)

    (repair,) = view.repairs
    assert repair.comparison is not None
    assert repair.comparison.acceptance is Acceptance.CANNOT_TELL
    assert IndependenceClass.START in repair.comparison.missing
    (lead,) = [q for q in repair.comparison.quantities if q.leads]
    assert lead.before == Estimate(2.0, 1.8, 2.2)
    assert lead.acceptance is Acceptance.ACCEPTED
    assert MissingItem.ROTOR_BARS not in repair.owed
    assert MissingItem.CAGE_CONSTRUCTION in repair.owed
    assert [line.partition(":")[0] for line in owed(view)] == [
        "The shop",
        "Measurements after the repair",
        "No photograph or report is attached to what was found.",
    ]


def test_a_repair_that_did_not_help_is_not_accepted(plant: Plant) -> None:
    _, number = _repaired(plant, after=1.5)

    (repair,) = story(plant, plant.cases.get(number), today=LAST).repairs

    assert repair.comparison is not None
    assert repair.comparison.acceptance is Acceptance.NOT_ACCEPTED


def test_a_shop_may_use_the_names_of_the_motor_file(plant: Plant) -> None:
    day, number = _repaired(plant, after=0.1)
    facts = {"cage": "fabricated, copper", "rotor_slots": "open"}
    done = repair_of("ring turned", RepairKind.CAGE, facts)
    add_event(plant, plant.cases.get(number), done, Entry(on=day))

    *_, repair = story(plant, plant.cases.get(number), today=LAST).repairs

    assert repair.owed == (MissingItem.ROTOR_BARS, MissingItem.STATOR_SLOTS)


def test_the_call_before_an_opening_is_told_however_old_it_is(plant: Plant) -> None:
    motor = add_motor(plant, "P-9")
    old = add_examination(plant, motor, LAST - timedelta(days=300), 0.1, "sound")
    case = open_case(plant, motor, "noisy bearing", on=LAST)
    found = add_event(plant, case, Outcome(found=Found.DAMAGED, open_bars=2), Entry(on=LAST))

    view = story(plant, case, today=LAST)

    assert view.calls[found.id].examination == old
    assert [each.examination for each in view.examined] == [old]


def test_a_motor_file_from_the_repair_on_answers_for_the_shop(plant: Plant) -> None:
    day, number = _repaired(plant, after=0.1)
    known = 'rotor_slots = "open"\ncage = "fabricated"\nstator_slots = 72\nrotor_bars = 58\n'
    plant.motors.edit(
        plant.motors.find("P-1"), motor_file("P-1").replace("poles = 4\n", "poles = 4\n" + known),
        valid_from=day,
    )  # fmt: skip

    (repair,) = story(plant, plant.cases.get(number), today=LAST).repairs

    assert repair.owed == ()


def test_a_decision_is_pending_until_something_is_done(plant: Plant) -> None:
    motor = add_motor(plant, "P-1")
    case = open_case(plant, motor, "open bars", on=LAST)
    decision = Decision(action="take out", due_on=LAST)
    add_event(plant, case, decision, Entry(on=LAST))
    assert pending_decision(story(plant, case, today=LAST)) == decision

    add_event(plant, case, Outcome(found=Found.SOUND), Entry(on=LAST))
    assert pending_decision(story(plant, case, today=LAST)) is None


def test_calls_take_the_examination_before_the_opening(plant: Plant) -> None:
    _repaired(plant, after=0.1)

    view = calls(plant, today=LAST)

    (defective,) = [one for one in view.report.by_state if one.found_defective.cases]
    assert defective.state.value == "defective"
    assert defective.found_defective.events == 1
    assert view.without_call == 0
    # opened because of us: nothing follows on what we miss
    assert isinstance(view.report.missed, NotKnown)


def test_an_opening_without_an_examination_is_counted_apart(plant: Plant) -> None:
    motor = add_motor(plant, "P-1")
    plant.cases.add_event(motor, Outcome(found=Found.SOUND), on=LAST)
    plant.cases.add_event(motor, Outcome(found=Found.NOT_OPENED), on=LAST)

    view = calls(plant, today=LAST)

    assert (view.report.outcomes, view.without_call) == (0, 1)


def test_files_are_attached_and_must_be_there(plant: Plant, tmp_path: Path) -> None:
    case = open_case(plant, add_motor(plant, "P-1"), "open bars", on=LAST)
    photograph = tmp_path / "bars.jpg"
    photograph.write_bytes(b"a photograph")

    add_event(plant, case, Note(), Entry(files=[photograph], on=LAST))
    with pytest.raises(UsageError, match="no such file"):
        add_event(plant, case, Note(), Entry(files=[tmp_path / "other.jpg"], on=LAST))

    (event,) = plant.cases.events(case)
    assert [each.name for each in event.attachments] == ["bars.jpg"]


def test_a_baseline_reads_what_an_examination_wrote(plant: Plant) -> None:
    motor = add_motor(plant, "P-1")
    made = examination(record(damaged()))
    visit = plant.visits.on(motor, LAST)
    original = plant.measurements.keep_original(b"a sheet", "sheet.toml")
    plant.measurements.add_sheet(visit, original, measured_on=LAST)
    new = NewExamination(
        document=to_json(made),
        schema_version=SCHEMA_VERSION,
        program_version=made.version,
        nameplate_id=motor.nameplate_id,
        keys=keys_of(made),
        inputs=(),
        readings=readings_of(made),
    )
    kept = plant.examinations.add(visit, new)

    baseline = baseline_of(plant, kept)

    wanted = tuple(reading for source in made.shown for reading in source.readings)
    assert [_essence(r) for r in baseline.readings] == [_essence(r) for r in wanted]
    assert kept.keys.state == made.verdict.state.value


def _essence(reading: Reading) -> tuple[object, ...]:
    """Return what a comparison needs of a reading."""
    return (
        reading.name, reading.independence_class, reading.part, reading.valid, reading.unit,
        reading.value, reading.open_bar_equivalent, reading.detection_limit_bars, reading.limit,
    )  # fmt: skip
