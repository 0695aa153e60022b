"""The invented plant tells its stories: against the simulation's truth and what was found."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path

import pytest

from cagewise.cli.status import ExitStatus
from cagewise.decision.verdict import State
from cagewise.errors import PlantFolderError
from cagewise.history.missing import MissingItem
from cagewise.history.outcomes import CALLED
from cagewise.history.repair import Acceptance
from cagewise.history.trend import NoTrend, Trend, TrendCall
from cagewise.indicators.reading import IndependenceClass
from cagewise.quantities import Estimate
from cagewise.store import KeptExamination, Plant
from cagewise.workflows import demo_plant_story as told
from cagewise.workflows.demo_plant import Kept, build_demo_plant
from cagewise.workflows.demo_plant_steps import (
    OPEN,
    AtRest,
    Decided,
    Measured,
    MotorStory,
    Opened,
    Running,
)
from cagewise.workflows.plant_cases import find_case, story
from cagewise.workflows.plant_history import calls, rank, trend_of
from cagewise.workflows.plant_points import last_of_visits
from support.commands import run

LAST = date(2031, 3, 4)
SHORT = (
    MotorStory(
        tag="P-1",
        description="pump",
        plate=told.SUSPECTED.plate,
        steps=(
            Measured(days_ago=90, records=(Running(seconds=8.0), AtRest(positions=False))),
            Measured(days_ago=30, records=(Running(seconds=8.0),), bars={7: OPEN}),
            Opened(days_ago=29, title="side lines"),
            Decided(days_ago=28, action="take out", due_in=30),
        ),
    ),
    MotorStory(
        tag="P-2",
        description="fan",
        plate=told.SUSPECTED.plate,
        steps=(Measured(days_ago=60, records=(Running(seconds=8.0),)),),
    ),
)


def test_a_small_plant_is_made_as_a_user_would(tmp_path: Path) -> None:
    folder, seen = tmp_path / "plant", list[Kept]()
    build_demo_plant(folder, seen.append, until=LAST, stories=SHORT, workers=1)

    assert [(kept.tag, kept.number, kept.of) for kept in seen] == [
        ("P-1", 1, 3), ("P-2", 2, 3), ("P-1", 3, 3),
    ]  # fmt: skip
    assert list(tmp_path.iterdir()) == [folder]
    with Plant.open(folder) as plant:
        motor = plant.motors.find("P-1")
        first, second = plant.examinations.of_motor(motor)
        assert State(first.keys.state) is State.SOUND
        assert State(second.keys.state) in CALLED
        assert second.day == second.made_at.date() == LAST - timedelta(days=30)
        visit = plant.visits.of(motor)[0]
        (kept,), (sheet,) = plant.measurements.recordings(visit), plant.measurements.sheets(visit)
        inputs = plant.examinations.document(first).inputs
        assert {each.checksum for each in inputs} == {kept.checksum, sheet.checksum}
        assert plant.measurements.load(kept).start_time is not None
        view = story(plant, find_case(plant, "P-1"), today=LAST)
        assert [each.examination.id for each in view.examined] == [first.id, second.id]
        assert view.case.examination_id == second.id


def test_a_folder_that_holds_something_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "mine.txt").write_text("mine", encoding="utf-8")

    with pytest.raises(PlantFolderError):
        build_demo_plant(tmp_path, lambda _: None, until=LAST, stories=SHORT, workers=1)
    assert [path.name for path in tmp_path.iterdir()] == ["mine.txt"]


@pytest.mark.slow
@pytest.mark.skipif(os.name == "nt", reason="no SIGKILL there")
def test_killed_half_way_there_is_no_plant_and_nobody_goes_on(tmp_path: Path) -> None:
    folder = tmp_path / "plant"
    code = (
        "from pathlib import Path\n"
        "from cagewise.workflows.demo_plant import build_demo_plant\n"
        "from cagewise.workflows.demo_plant_story import MOTORS\n"
        "if __name__ == '__main__':\n"
        "    say = lambda kept: print(kept.day, flush=True)\n"
        "    quiet = [story for story in MOTORS if story.tag == 'VP-420-M']\n"
        f"    build_demo_plant(Path({str(folder)!r}), say, stories=quiet, workers=2)\n"
    )
    script = tmp_path / "build.py"
    script.write_text(code, encoding="utf-8")
    builder = subprocess.Popen(  # noqa: S603 - our own program
        [sys.executable, str(script)], stdout=subprocess.PIPE, text=True
    )
    assert builder.stdout is not None
    builder.stdout.readline()  # one visit is kept, the other is being simulated or waits
    children = _children(builder.pid)
    builder.send_signal(signal.SIGKILL)
    builder.wait()
    builder.stdout.close()

    assert children
    assert not folder.exists()
    until = time.monotonic() + 20.0
    while any(_runs(child) for child in children) and time.monotonic() < until:
        time.sleep(0.1)
    assert not any(_runs(child) for child in children)


def _children(pid: int) -> list[int]:
    """Return the processes that a process started."""
    psutil = pytest.importorskip("psutil")
    return [child.pid for child in psutil.Process(pid).children(recursive=True)]


def _runs(pid: int) -> bool:
    """Return whether a process is there and no mere entry of a table."""
    psutil = pytest.importorskip("psutil")
    try:
        return bool(psutil.Process(pid).status() != psutil.STATUS_ZOMBIE)
    except psutil.NoSuchProcess:
        return False


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The whole plant, built by one command."""
    made = tmp_path_factory.mktemp("demo") / "plant"
    assert run("demo-plant", made, "--until", LAST.isoformat()).status is ExitStatus.EXAMINED
    return made


@pytest.fixture(scope="module")
def plant(folder: Path) -> Iterator[Plant]:
    with Plant.open(folder) as opened:
        yield opened


def examined(plant: Plant, motor: MotorStory) -> list[tuple[Measured, KeptExamination]]:
    """Return every visit of a motor with its examination."""
    made = last_of_visits(plant.examinations.of_motor(plant.motors.find(motor.tag)))
    by_day = {(LAST - each.day).days: each for each in made}
    return [(visit, by_day[visit.days_ago]) for visit in motor.visits]


def true_bars(visit: Measured) -> float:
    """Return the current that is lost, in bars: ``(r - 1) / r`` of a bar of ``r`` times its own."""
    return sum(1.0 - 1.0 / factor for factor in visit.bars.values())


@pytest.mark.slow
def test_the_developing_cage_is_followed_and_proven(plant: Plant) -> None:
    made = examined(plant, told.DEVELOPING)
    view = trend_of(plant, plant.motors.find(told.DEVELOPING.tag), today=LAST)

    assert isinstance(view.trend, Trend)
    assert view.trend.call is TrendCall.GROWING
    for point, (visit, _) in zip(view.trend.points.points, made, strict=True):
        # bars that are uneven by 2 % add up to sqrt(40) times 2 %, 0.13 bars, in any direction;
        # half of that, for the sum of most cages is smaller
        assert point.bars.value == pytest.approx(true_bars(visit), rel=0.15, abs=0.065)
    assert made[0][1].keys.state == State.SOUND.value
    assert made[-1][1].keys.state == State.DEFECTIVE.value
    case = story(plant, find_case(plant, told.DEVELOPING.tag), today=LAST)
    methods, classes = case.examined[-1].methods_agreeing, case.examined[-1].classes_agreeing
    assert isinstance(methods, int)
    assert isinstance(classes, int)
    assert methods >= 3
    assert classes >= 3
    assert case.case.examination_id is not None


@pytest.mark.slow
def test_no_sound_cage_is_called_damaged_and_no_open_one_sound_but_the_one_told_of(
    plant: Plant,
) -> None:
    warned = {State.SUSPECT.value, State.DEFECTIVE.value}
    wrong = set()
    for motor in told.MOTORS:
        for visit, made in examined(plant, motor):
            if not visit.bars and made.keys.state in warned:
                wrong.add((motor.tag, visit.days_ago))
            if true_bars(visit) >= 0.9 and made.keys.state == State.SOUND.value:
                wrong.add((motor.tag, visit.days_ago))

    assert wrong == {(told.MISSED.tag, told.MISSED.visits[1].days_ago)}


@pytest.mark.slow
def test_the_suspicion_falls_when_voltages_are_recorded(plant: Plant) -> None:
    made = examined(plant, told.SUSPECTED)
    by_name = {r.name: e for visit, e in made for r in visit.records if isinstance(r, Running)}
    view = story(plant, find_case(plant, told.SUSPECTED.tag), today=LAST)
    causes = {each.examination.id: each.cause for each in view.examined}

    assert by_name["auto-currents"].keys.state == State.NOT_DECIDABLE.value
    assert by_name["auto"].keys.state == by_name["manual"].keys.state == State.SOUND.value
    cause = causes[by_name["auto"].id]
    assert cause is not None
    assert cause[0].value == "load_oscillation"
    assert causes[by_name["manual"].id] is None
    assert view.case.examination_id is None
    assert not view.case.is_open


@pytest.mark.slow
def test_the_repair_is_accepted_and_the_shop_still_owes(plant: Plant) -> None:
    view = story(plant, find_case(plant, told.REPAIRED.tag), today=LAST)
    (repair,) = view.repairs
    (call,) = view.calls.values()
    trend = trend_of(plant, plant.motors.find(told.REPAIRED.tag), today=LAST)

    assert repair.comparison is not None
    assert repair.comparison.acceptance is Acceptance.ACCEPTED
    assert repair.owed == (MissingItem.ROTOR_SLOTS, MissingItem.CAGE_CONSTRUCTION)
    assert call.examination.keys.open_bars == pytest.approx(2.0, rel=0.15)
    direct = IndependenceClass.INSULATION_DIRECT
    (insulation,) = [
        q for q in repair.comparison.quantities if q.leads and q.independence_class is direct
    ]
    assert isinstance(insulation.ratio, Estimate)
    true_ratio = told.GOOD.resistance_ohm / told.DIRTY.resistance_ohm
    assert insulation.ratio.low <= true_ratio <= insulation.ratio.high
    assert isinstance(trend.trend, NoTrend)
    assert trend.visits == len(told.REPAIRED.visits)


@pytest.mark.slow
def test_the_calls_are_told_with_the_one_that_was_wrong(plant: Plant, folder: Path) -> None:
    report = calls(plant, today=LAST).report
    found = {one.state: one.found_defective for one in report.by_state}

    assert (found[State.DEFECTIVE].events, found[State.DEFECTIVE].cases) == (1, 1)
    assert (found[State.SOUND].events, found[State.SOUND].cases) == (1, 2)
    assert (found[State.NOT_DECIDABLE].events, found[State.NOT_DECIDABLE].cases) == (0, 1)
    page = run("case", "show", told.MISSED.tag, "--plant", folder, "--on", LAST.isoformat())
    assert "We missed it" in page.out
    view = story(plant, find_case(plant, told.MISSED.tag), today=LAST)
    (sketch,) = [file for event in view.events for file in event.attachments]
    assert plant.cases.attachments.checked(sketch.checksum).read_bytes()[:4] == b"\x89PNG"


@pytest.mark.slow
def test_the_ranking_puts_the_developing_cage_first_and_misses_nobody(plant: Plant) -> None:
    view = rank(plant, today=LAST)
    tags = [motor.tag for motor in view.ranking.motors]
    due = {motor.tag for motor in view.ranking.due}
    missing = {motor.tag: set(motor.missing) for motor in view.ranking.motors}

    assert tags[0] == told.DEVELOPING.tag
    assert set(tags) == {motor.tag for motor in told.MOTORS}
    assert {"CT-006-M", "VP-420-M"} <= due
    assert MissingItem.NEVER_EXAMINED in missing["CT-006-M"]
    assert MissingItem.STATOR_SLOTS in missing["CT-005-M"]


@pytest.mark.slow
def test_the_insulation_that_goes_down_is_told_although_the_cage_is_sound(plant: Plant) -> None:
    view = story(plant, find_case(plant, told.DAMP.tag), today=LAST)
    last = view.examined[-1]

    assert last.examination.keys.state == State.SOUND.value
    assert [part for part, _ in last.parts] == ["stator insulation"]
