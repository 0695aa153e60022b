"""The interface of plant, motors and cases: the same as the pages, for programs."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from cagewise.workflows.plant_history import rank
from support.plants import motor_file
from support.told_plants import GROWING, NEVER, SOUND, told_plant
from support.workbench import Bench, served

API = "/api/v1"


@pytest.fixture(scope="module")
def _told(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return told_plant(tmp_path_factory.mktemp("told") / "plant")


@pytest.fixture
def bench(_told: Path, tmp_path: Path) -> Iterator[Bench]:
    with served(shutil.copytree(_told, tmp_path / "plant")) as made:
        yield made


def got(bench: Bench, path: str, status: int = 200) -> Any:
    answer = bench.client.get(API + path)
    assert answer.status_code == status, answer.text
    return answer.json()


def sent(bench: Bench, path: str, body: Any, status: int = 201, method: str = "POST") -> Any:
    headers = {"x-csrf-token": bench.mark()}
    answer = bench.client.request(method, API + path, json=body, headers=headers)
    assert answer.status_code == status, answer.text
    return answer.json()


def test_the_plant_is_ranked_as_everywhere(bench: Bench) -> None:
    view = rank(bench.desk.plant)
    said = got(bench, "/plant")
    assert [each["tag"] for each in said["motors"]] == [m.tag for m in view.ranking.motors]
    assert said["risk_per_month"] == view.ranking.expected_cost_per_month
    assert said["motors_in_all"] == 3
    first = said["motors"][0]
    assert (first["id"], first["cage_state"], first["open_bars"]) == (GROWING, "defective", 1.5)
    assert got(bench, "/plant?most=0")["motors"] == []


def test_motors_are_narrowed_and_cut(bench: Bench) -> None:
    assert [each["id"] for each in got(bench, "/motors?q=gr")] == [GROWING]
    assert [each["id"] for each in got(bench, "/motors?state=not+examined")] == [NEVER]
    assert [each["id"] for each in got(bench, "/motors?state=suspect")] == [SOUND]
    everyone = [each["id"] for each in got(bench, "/motors?sort=risk")]
    parts = [got(bench, f"/motors?sort=risk&limit=1&offset={k}")[0]["id"] for k in range(3)]
    assert parts == everyone
    assert got(bench, "/motors?offset=3") == []


def test_a_motor_is_added_edited_and_read_back(bench: Bench) -> None:
    made = sent(bench, "/motors", {"toml": motor_file("NE-9"), "valid_from": "2026-01-01"})
    place = f"/motors/{made['id']}"
    assert bench.client.get(f"{API}{place}/file").text == motor_file("NE-9")
    newer = motor_file("NE-9").replace("poles = 4", "poles = 4\nrotor_bars = 58")
    body = {"toml": newer, "valid_from": "2026-06-01", "note": "counted"}
    version = sent(bench, f"{place}/file", body, 200, "PUT")
    assert version["note"] == "counted"
    assert bench.client.get(f"{API}{place}/file?on=2026-03-01").text == motor_file("NE-9")
    assert bench.client.get(f"{API}{place}/file?on=2026-07-01").text == newer
    assert len(got(bench, f"{place}/files")) == 2
    again = sent(bench, "/motors", {"toml": motor_file("NE-9")}, 409)
    assert again["type"] == "urn:cagewise:problem:already-kept"
    assert sent(bench, "/motors", {"toml": "tag"}, 422)["remedy"]
    other = sent(bench, f"{place}/file", {"toml": motor_file("NE-8")}, 422, "PUT")
    assert "NE-8" in other["detail"]


def test_a_whole_motor_has_its_visits_and_what_is_missing(bench: Bench) -> None:
    whole = got(bench, f"/motors/{GROWING}")
    assert len(whole["visits"]) == 6
    assert whole["visits"][0]["state"] == "defective"
    assert "rotor_bars" in whole["missing"]
    sensor = {"name": "clamp A", "role": "i_a", "ratio": 1000.0, "mounted_on": "2026-03-02"}
    sent(bench, f"/motors/{GROWING}/sensors", sensor)
    (kept,) = got(bench, f"/motors/{GROWING}")["sensors"]
    assert sensor.items() <= kept.items()
    sent(bench, f"/motors/{GROWING}/sensors", {"name": "x", "ratio": -1.0}, 422)
    sent(bench, f"/motors/{GROWING}/notes", {"text": "runs backwards", "author": "Ada"})
    sent(bench, f"/motors/{GROWING}/notes", {"text": "a\0b"}, 422)


def test_the_trend_has_every_point_and_why_it_was_not_used(bench: Bench) -> None:
    said = got(bench, f"/motors/{GROWING}/trend")
    assert said["call"] == "growing"
    assert [point["open_bars"]["value"] for point in said["points"]] == [
        0.2, 0.3, 0.45, 0.7, 1.0, 1.5,
    ]  # fmt: skip
    assert all(point["level"] and not point["set_aside"] for point in said["points"])
    assert said["time_to_limit"]["limit_bars"] == 3.0
    few = got(bench, f"/motors/{SOUND}/trend")
    assert few["level_bars"] is None
    assert "too few points" in few["because"]


def test_a_case_from_decision_to_closing(bench: Bench) -> None:
    body = {"action": "Take it out", "author": "Ada", "due_on": "2031-06-01"}
    number = sent(bench, f"/motors/{GROWING}/decisions", body)["id"]
    place = f"/cases/{number}"
    assert got(bench, place)["decided"].startswith("Take it out, by 2031-06-01")
    wrong = sent(bench, f"{place}/events", {"kind": "outcome", "found": "damaged", "open_bars": 9})
    right = {
        "kind": "outcome", "found": "damaged", "open_bars": 2, "corrects_id": wrong["id"],
        "bars": [{"bar": 4}, {"bar": 5, "damage": "cracked", "place": "slot"}], "on": "2031-04-01",
    }  # fmt: skip
    made = sent(bench, f"{place}/events", right)
    assert made["bars"][1] == {"bar": 5, "damage": "cracked", "place": "slot"}
    repair = {"kind": "repair", "repair_kind": "cage", "action": "brazed", "on": "2031-04-02"}
    sent(bench, f"{place}/events", {**repair, "facts": {"rotor_bars": "58"}})
    whole = got(bench, place)
    assert [event["kind"] for event in whole["events"]] == ["decision", "outcome", "repair"]
    assert whole["corrected"] == 1
    assert whole["decided"] == ""
    assert "right" in whole["verdicts"][0]
    files = {"files": ("report.pdf", b"%PDF-1.7")}
    headers = {"x-csrf-token": bench.mark()}
    kept = bench.client.post(f"{API}{place}/files", files=files, headers=headers)
    assert kept.status_code == 201
    (file,) = kept.json()["files"]
    back = bench.client.get(f"{API}{place}/files/{kept.json()['id']}/{file['checksum']}")
    assert back.content == b"%PDF-1.7"
    assert back.headers["content-disposition"].startswith("attachment")
    closed = sent(bench, f"{place}/close", {"why": "done"}, 200)
    assert closed["closing"] == "done"
    sent(bench, f"{place}/close", {"why": "otherwise"}, 409)
    assert got(bench, "/cases") == []
    assert [each["id"] for each in got(bench, "/cases?closed=true")] == [number]
    calls = got(bench, "/calls")
    assert calls["outcomes"] == 1
    assert calls["motors"][0]["called"] == "defective"


@pytest.mark.parametrize(
    ("body", "status"),
    [
        ({"kind": "gossip", "text": "x"}, 422),
        ({"kind": "note", "text": " "}, 400),
        ({"kind": "decision", "action": "x"}, 422),
        ({"kind": "note", "text": "x", "corrects_id": 99}, 404),
        ({"kind": "note", "text": "x", "on": "1066-10-14"}, 422),
        ({"kind": "outcome", "found": "sound", "open_bars": 1}, 422),
        ({"kind": "repair", "repair_kind": "cage", "action": "x", "facts": {"kind": "y"}}, 400),
    ],
)
def test_what_makes_no_sense_is_refused(bench: Bench, body: dict[str, Any], status: int) -> None:
    number = sent(bench, "/cases", {"motor_id": GROWING, "title": "x"})["id"]
    problem = sent(bench, f"/cases/{number}/events", body, status)
    assert problem["status"] == status
    assert got(bench, f"/cases/{number}")["events"] == []


def test_what_is_due_comes_with_its_urgency(bench: Bench) -> None:
    due = got(bench, "/due")
    assert {"never"} <= {each["urgency"] for each in due}
    assert any(each["motor_id"] == NEVER and each["by"] == "now" for each in due)


@pytest.mark.parametrize("path", ["/motors/99", "/motors/99/trend", "/motors/99/file", "/cases/99"])
def test_what_is_not_there_is_said_so(bench: Bench, path: str) -> None:
    assert got(bench, path, 404)["type"] == "urn:cagewise:problem:not-kept"
