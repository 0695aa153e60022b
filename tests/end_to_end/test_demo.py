"""The built-in demo: simulated motors of known truth, by the same way as any recording."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path

import jsonschema
import pytest

from cagewise.cli.status import ExitStatus
from cagewise.decision.examination import Examination
from cagewise.decision.plan import plan_for
from cagewise.decision.recommendation import Action
from cagewise.decision.verdict import State
from cagewise.evidence.findings import Hypothesis, Support
from cagewise.indicators.reading import Part
from cagewise.indicators.running.operating_point import OperatingPoint
from cagewise.quantities import NotKnown
from cagewise.report.schema import schema
from cagewise.workflows.assess import assess
from cagewise.workflows.demo import TRUTHS, DemoCase, cases, find_case, run
from support.commands import run as cagewise
from support.examinations import lead_of

NAMES = [case.truth.name for case in cases()]


@dataclass(frozen=True)
class Told:
    """One recording of the demo and what was said of it."""

    case: DemoCase
    examination: Examination


@pytest.fixture(scope="module")
def told() -> dict[str, Told]:
    return {case.truth.name: Told(case, examination) for case, examination in run(cases())}


@pytest.mark.parametrize("name", NAMES)
def test_said_is_what_the_recording_allows(told: dict[str, Told], name: str) -> None:
    assert told[name].examination.verdict.state.value == told[name].case.truth.expected_state


def test_two_open_bars_are_counted_as_two(told: dict[str, Told]) -> None:
    """Truth within the interval, the interval narrower than one bar to either side."""
    damage = told["cracked"].examination.verdict.damage_bars

    assert damage is not None
    assert damage.low <= 2.0 <= damage.high
    assert damage.high - damage.low < 2.0


def test_a_cracked_cage_is_to_be_taken_out_by_three_methods_of_two_classes(
    told: dict[str, Told],
) -> None:
    examination = told["cracked"].examination

    assert examination.verdict.methods_agreeing == 3
    assert examination.verdict.classes_agreeing == 2
    assert examination.recommendation.action is Action.PLAN_REMOVAL


def test_an_oscillating_load_is_called_by_its_name(told: dict[str, Told]) -> None:
    """Its side lines are those of two open bars; the cage is sound."""
    examination = told["oscillating-load"].examination
    side_lines = next(r for r in lead_of(examination).readings if r.name == "side_line_sum")
    load = examination.evidence.about(Hypothesis.LOAD_OSCILLATION)

    assert side_lines.open_bar_equivalent is not None
    assert side_lines.open_bar_equivalent.low > 1.0
    assert load[0].support is Support.FOR
    assert examination.verdict.bound_bars is not None
    assert examination.verdict.bound_bars < 0.5


def test_a_sound_cage_is_bounded_near_its_natural_unevenness(told: dict[str, Told]) -> None:
    verdict = told["sound"].examination.verdict

    assert verdict.state is State.SOUND
    assert verdict.bound_bars is not None
    assert verdict.bound_bars < 0.3


def test_the_plan_promised_what_the_examination_could_see(told: dict[str, Told]) -> None:
    """The plan assumes a typical load; the recording has its own: within a factor of three."""
    examination = told["sound"].examination
    direct = next(r for r in lead_of(examination).readings if r.name == "direct_component")
    promised = plan_for(examination.motor)
    at = min(promised.loads, key=lambda load: abs(load.load_fraction - 0.75))

    assert direct.detection_limit_bars is not None
    assert direct.detection_limit_bars < 3.0 * at.direct_bars.value


@pytest.mark.parametrize("name", NAMES)
def test_slip_is_that_of_the_simulation(told: dict[str, Told], name: str) -> None:
    point = lead_of(told[name].examination).operating_point
    slip = _true_slip(told[name].case)

    assert isinstance(point, OperatingPoint)
    if isinstance(point.slip, NotKnown):
        assert name == "idle"  # ten seconds at no load may leave it open
    else:
        assert point.slip.value == pytest.approx(slip, rel=0.005)


def _true_slip(case: DemoCase) -> float:
    """The truth stands beside the files, by recording or by visit."""
    entries = [
        entry
        for name in TRUTHS
        for entry in json.loads((case.file.parent / name).read_text(encoding="utf-8"))
        if entry["name"] == case.truth.name
    ]
    (entry,) = entries
    return float(entry["truth"][case.file.name]["slip"] if "truth" in entry else entry["slip"])


def test_six_methods_in_five_classes_speak_on_a_whole_visit(told: dict[str, Told]) -> None:
    """One bar open, its neighbour cracked to 1.8 times its resistance: between one and two."""
    examination = told["whole-visit"].examination
    damage = examination.verdict.damage_bars

    assert examination.verdict.methods_agreeing == 6
    assert examination.verdict.classes_agreeing == 5
    assert damage is not None
    assert damage.low < 1.4
    assert damage.high > 1.0
    assert examination.recommendation.action is Action.PLAN_REMOVAL
    assert {part.state for part in examination.parts} == {State.SOUND}


def test_the_running_record_alone_says_less(told: dict[str, Told]) -> None:
    """The same damage from the first file of the visit: three methods, two classes."""
    case = told["whole-visit"].case
    alone = assess(case.motor, case.files[:1]).verdict

    assert alone.state is State.DEFECTIVE
    assert (alone.methods_agreeing, alone.classes_agreeing) == (3, 2)


def test_a_damp_winding_is_named_beside_a_sound_cage(told: dict[str, Told]) -> None:
    examination = told["damp-motor"].examination
    states = {part.part: part.state for part in examination.parts}

    assert examination.verdict.state is State.SOUND
    assert states == {Part.WINDING: State.SOUND, Part.INSULATION: State.SUSPECT}


def test_a_whole_visit_in_one_command(tmp_path: Path) -> None:
    case = find_case("whole-visit")
    earlier = [part for path in case.earlier for part in ("--earlier", str(path))]
    json_path = tmp_path / "visit.json"
    done = cagewise("assess", case.motor, *case.files, *earlier, "--json", json_path)

    assert done.status is ExitStatus.EXAMINED
    jsonschema.validate(json.loads(json_path.read_text(encoding="utf-8")), schema())
    assert "6 of 6 methods and 5 of 5 independent classes speak for damage" in done.out
    assert cagewise("demo", "whole-visit").out.startswith(done.out)


def test_the_idle_record_says_what_would_do_instead() -> None:
    done = cagewise("demo", "idle")

    assert "ROTOR CAGE: NOT DECIDABLE" in done.out
    assert "What would do instead:" in done.out
    assert "% load" in done.out


def test_whole_demo_on_the_screen() -> None:
    done = cagewise("demo", "--width", "80")

    assert done.status is ExitStatus.EXAMINED
    for name in NAMES:
        assert name in done.out
    assert max(len(line) for line in done.out.splitlines()) <= 80


def test_list_names_the_recordings() -> None:
    done = cagewise("demo", "--list")

    assert done.status is ExitStatus.EXAMINED
    for name in NAMES:
        assert name in done.out


def test_assess_by_hand_gives_the_same_page_and_valid_files(tmp_path: Path) -> None:
    case = find_case("cracked")
    json_path, html_path = tmp_path / "x.json", tmp_path / "x.html"
    by_hand = cagewise("assess", case.motor, case.file, "--json", json_path, "--html", html_path)
    shown = cagewise("demo", "cracked")

    assert by_hand.status is ExitStatus.EXAMINED
    assert shown.out.startswith(by_hand.out)
    jsonschema.validate(json.loads(json_path.read_text(encoding="utf-8")), schema())
    assert "Rotor cage: defective" in html_path.read_text(encoding="utf-8")


def test_the_same_recording_gives_the_same_bytes(tmp_path: Path) -> None:
    case = find_case("sound")
    written = []
    for name in ("a", "b"):
        json_path, html_path = tmp_path / f"{name}.json", tmp_path / f"{name}.html"
        cagewise("assess", case.motor, case.file, "--json", json_path, "--html", html_path)
        written.append((json_path.read_bytes(), html_path.read_bytes()))

    assert written[0] == written[1]


@pytest.mark.parametrize(
    ("name", "status"),
    [
        ("cracked", ExitStatus.NOT_SOUND),
        ("sound", ExitStatus.EXAMINED),
        ("idle", ExitStatus.NOT_DECIDABLE),
    ],
)
def test_gate(name: str, status: ExitStatus) -> None:
    case = find_case(name)

    assert cagewise("assess", case.motor, case.file, "--gate").status is status


def test_two_recordings_of_one_motor_are_led_by_the_one_that_tells(tmp_path: Path) -> None:
    """The idle and the loaded record of the same pump: nothing is averaged."""
    loaded, idle = find_case("cracked"), find_case("idle")
    path = tmp_path / "x.json"
    done = cagewise("assess", loaded.motor, idle.file, loaded.file, "--json", path)
    document = json.loads(path.read_text(encoding="utf-8"))

    assert document["state"] == "defective"
    assert document["leading_recording"] == loaded.file.name
    assert [r["state"] for r in document["recordings"]] == ["not decidable", "defective"]
    assert "What was measured on this visit" in done.out


def test_recordings_that_contradict_each_other_are_reported_as_such(tmp_path: Path) -> None:
    """Records of two pumps given as one visit: a mistake that must not become an average."""
    path = tmp_path / "x.json"
    cracked, sound = find_case("cracked"), find_case("sound")
    done = cagewise("assess", cracked.motor, cracked.file, sound.file, "--json", path)
    document = json.loads(path.read_text(encoding="utf-8"))

    assert document["state"] == "suspect"
    assert document["state_ground"] == "records_conflict"
    assert document["pooled"]["open_bar_equivalent"] is None
    assert "contradict each other" in done.out
