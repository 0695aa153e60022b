"""Visits: what was brought in, which channel is which, and what is asked before it is examined."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest

from cagewise.store import KeptRecording, Plant, Visit
from cagewise.web.jobs import State
from cagewise.web.looks import MOST_VALUES, looked_by_itself
from cagewise.workflows import demo
from cagewise.workflows.plant_decode import newest_recordings, state_roles
from cagewise.workflows.plant_import import ImportOptions, import_files
from cagewise.workflows.plant_roles import look_at_roles, proposals_in
from cagewise.workflows.plant_visit import show_visit
from support.workbench import HTML, Bench, served


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Folder of a plant with a visit: running, start and sheet, not examined."""
    folder = tmp_path_factory.mktemp("visits") / "plant"
    case = demo.find_case("whole-visit")
    with Plant.create(folder, name="<i>mill</i>") as plant:
        motor = plant.motors.add(case.motor.read_text("utf-8"), valid_from=date(2020, 1, 1))
        options = ImportOptions(tag=motor.tag)
        assert all(not r.reason for r in import_files(plant, case.files, options))
    return folder


@pytest.fixture
def mill(made: Path, tmp_path: Path) -> Iterator[Bench]:
    """The plant, served by somebody who does no long work."""
    with served(shutil.copytree(made, tmp_path / "plant"), processes=0) as bench:
        yield bench


def the_visit(plant: Plant) -> Visit:
    [motor] = plant.motors.all()
    [visit] = plant.visits.of(motor)
    return visit


def running(plant: Plant) -> KeptRecording:
    """Return the record of the running motor."""
    kept = newest_recordings(plant, the_visit(plant))
    return max(kept, key=lambda each: each.n_samples / each.sampling_rate_hz)


def test_a_visit_shows_what_was_read_and_checked(mill: Bench) -> None:
    plant = mill.desk.plant
    visit = the_visit(plant)
    text = mill.client.get(f"/visits/{visit.id}", headers=HTML).text
    assert "Not examined yet" in text
    assert "Proven: no other naming" in text
    assert "Of 48 assignments" in text
    assert "<i>mill</i>" not in text
    shown = mill.client.get(f"/api/v1/visits/{visit.id}").json()
    assert len(shown["recordings"]) == 2
    assert len(shown["sheets"]) == 1
    assert set(shown["unexamined"]) == set(show_visit(plant, visit).unexamined)
    assert len(shown["unexamined"]) == 3


def test_a_wrong_naming_is_asked_about_with_the_right_one(mill: Bench) -> None:
    plant = mill.desk.plant
    kept = running(plant)
    names = [each.name for each in look_at_roles(plant, kept).channels]
    swapped = state_roles(plant, kept, {names[0]: "i_b", names[1]: "i_a"})
    seen = look_at_roles(plant, swapped)
    assert seen.question is not None
    assert {names[0]: "i_a", names[1]: "i_b"} in [dict(each) for each in seen.proposals]
    text = mill.client.get(f"/visits/{kept.visit_id}", headers=HTML).text
    assert "Which channel is which?" in text
    assert f'data-channel="{names[0]}" data-said="i_b" data-offered="i_a"' in text


def test_a_proposal_counts_on_top_of_what_was_stated(mill: Bench) -> None:
    plant = mill.desk.plant
    kept = running(plant)
    name = look_at_roles(plant, kept).channels[1].name
    reversed_once = state_roles(plant, kept, {name: "-i_b"})
    seen = look_at_roles(plant, reversed_once)
    assert [dict(each) for each in seen.proposals] == [{name: "i_b"}], "reversed back, not again"
    mended = look_at_roles(plant, state_roles(plant, reversed_once, seen.proposals[0]))
    assert mended.question is None
    assert mended.proven


def test_saving_roles_decodes_again_and_asks_for_an_examination(mill: Bench) -> None:
    plant = mill.desk.plant
    kept = running(plant)
    channels = look_at_roles(plant, kept).channels
    said = {f"role.{n}": each.role.value for n, each in enumerate(channels)}
    said |= {"factor.3": "2", "turned.0": "yes"}
    page = f"/visits/{kept.visit_id}"
    answer = mill.post(f"/recordings/{kept.id}/roles", page=page, **said)
    assert answer.status_code == 303
    new = running(plant)
    assert new.id != kept.id
    assert dict(new.stated["roles"]) == {
        channels[0].name: f"-{channels[0].role.value}",
        channels[3].name: f"{channels[3].role.value}*2",
    }
    [job] = mill.desk.jobs.all(9)
    assert (job.kind, job.state) == ("examine", State.WAITING)
    assert answer.headers["location"] == f"/jobs/{job.id}"
    assert job.arguments["day"] == the_visit(plant).day.isoformat()


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"role.1": "i_a"}, "cannot both be"),
        ({"factor.0": "many"}, "is no number"),
        ({"factor.0": "-2"}, "has to be positive"),
        ({"role.0": "nonsense"}, "is no role"),
    ],
)
def test_impossible_roles_are_refused(mill: Bench, wrong: dict[str, str], words: str) -> None:
    kept = running(mill.desk.plant)
    answer = mill.post(f"/recordings/{kept.id}/roles", page=f"/visits/{kept.visit_id}", **wrong)
    assert answer.status_code == 422
    assert words in answer.text
    assert running(mill.desk.plant).id == kept.id
    assert not mill.desk.jobs.all(9)


def test_the_interface_states_roles(mill: Bench) -> None:
    plant = mill.desk.plant
    kept = running(plant)
    mark = {"x-csrf-token": mill.mark()}
    place = f"/api/v1/recordings/{kept.id}/roles"
    seen = mill.client.get(place).json()
    assert seen["proven"]
    assert seen["question"] is None
    name = seen["channels"][2]["name"]
    body = {"roles": {name: "-i_c"}, "examine": False}
    done = mill.client.put(place, json=body, headers=mark)
    assert done.status_code == 202
    assert done.json()["job"] is None
    new = done.json()["recording"]["id"]
    asked = mill.client.get(f"/api/v1/recordings/{new}/roles").json()
    assert asked["proposals"] == [{name: "i_c"}]
    wrong = mill.client.put(place, json={"roles": {"no such": "i_a"}}, headers=mark)
    assert wrong.status_code == 422
    assert wrong.json()["type"] == "urn:cagewise:problem:channel-role"


def test_a_visit_is_begun_for_a_day(mill: Bench) -> None:
    plant = mill.desk.plant
    [motor] = plant.motors.all()
    answer = mill.post(f"/motors/{motor.id}/visits", day="2033-01-02", then="sheet")
    visit = plant.visits.of(motor)[-1]
    assert answer.headers["location"] == f"/visits/{visit.id}/sheet"
    refused = mill.post(f"/motors/{motor.id}/visits", day="soon")
    assert refused.status_code == 422
    found = mill.client.get(f"/motors/{motor.id}/visits/2033-01-02", follow_redirects=False)
    assert found.headers["location"] == f"/visits/{visit.id}"
    mark = {"x-csrf-token": mill.mark()}
    made = mill.client.post(
        f"/api/v1/motors/{motor.id}/visits", json={"day": "2033-01-02"}, headers=mark
    )
    assert made.json()["id"] == visit.id
    assert len(mill.client.get(f"/api/v1/motors/{motor.id}/visits").json()) == 2


def test_examine_asks_once(mill: Bench) -> None:
    visit = the_visit(mill.desk.plant)
    mark = {"x-csrf-token": mill.mark()}
    first = mill.client.post(f"/api/v1/visits/{visit.id}/examinations", headers=mark).json()
    again = mill.post(f"/visits/{visit.id}/examine")
    assert again.headers["location"] == f"/jobs/{first['id']}"
    text = mill.client.get(f"/visits/{visit.id}", headers=HTML).text
    assert f'href="/jobs/{first["id"]}"' in text


def test_what_is_not_there_is_said(mill: Bench) -> None:
    for place in ("/visits/999", "/visits/999/sheet", "/api/v1/recordings/999/roles"):
        assert mill.client.get(place, headers=HTML).status_code == 404
    assert mill.client.get("/visits/x", headers=HTML).status_code == 422


def test_large_recordings_are_looked_at_when_asked(mill: Bench) -> None:
    from dataclasses import replace

    kept = running(mill.desk.plant)
    large = replace(kept, id=kept.id + 1, n_samples=MOST_VALUES)
    assert looked_by_itself([kept, large]) == {kept.id}


def test_proposals_are_read_from_the_words_of_the_checks() -> None:
    remedy = (
        'It would fit in several ways: --role "I 1=-i_b" --role "U=x=v_ab*60"; or --role "I 1=i_c".'
    )
    assert proposals_in(remedy) == ({"I 1": "-i_b", "U=x": "v_ab*60"}, {"I 1": "i_c"})
    assert not proposals_in("Say which is which.")
