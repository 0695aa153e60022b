"""Work and files over HTTP: the interface, the pages, the plain form."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from hashlib import sha256
from pathlib import Path
from time import monotonic, sleep
from typing import Any

import pytest
from httpx2 import Response

from cagewise.web.jobs import events
from cagewise.web.security.rights import Right
from cagewise.web.settings import MEBIBYTE
from support import job_kinds
from support.demo_plants import TAG, kiln_plant, whole_visit
from support.workbench import HTML, Bench, served

START = "whole-visit-start.parquet"
SHEET = "whole-visit.sheet.toml"
EVIL = "<script>alert(1)</script>"


@pytest.fixture(autouse=True)
def known(monkeypatch: pytest.MonkeyPatch) -> None:
    job_kinds.patch(monkeypatch)


@pytest.fixture
def kiln(tmp_path: Path) -> Iterator[Bench]:
    """A plant with the motor of the demo's visit."""
    plant, _ = kiln_plant(tmp_path)
    plant.close()
    with served(tmp_path / "plant") as made:
        yield made


@pytest.fixture
def idle(tmp_path: Path) -> Iterator[Bench]:
    """The same, where no work is done."""
    plant, _ = kiln_plant(tmp_path)
    plant.close()
    with served(tmp_path / "plant", processes=0) as made:
        yield made


def content(name: str) -> bytes:
    return (whole_visit().motor.parent / name).read_bytes()


def send(bench: Bench, name: str, body: bytes, **said: Any) -> Response:
    return bench.client.post("/api/v1/motors/1/files", params={"name": name, **said}, content=body)


def ended(bench: Bench, job_id: int) -> dict[str, Any]:
    deadline = monotonic() + 90.0
    while (job := bench.client.get(f"/api/v1/jobs/{job_id}").json())["ended_at"] is None:
        assert monotonic() < deadline, job
        sleep(0.05)
    found: dict[str, Any] = job
    return found


def test_files_are_sent_imported_and_removed(kiln: Bench, tmp_path: Path) -> None:
    first = send(kiln, START, content(START))
    assert first.status_code == 201
    said = first.json()
    assert said["whole"]
    assert said["sha256"] == sha256(content(START)).hexdigest()
    batch = said["batch"]
    assert send(kiln, SHEET, content(SHEET), batch=batch).json()["batch"] == batch
    assert send(kiln, "notes.txt", b"no recording", batch=batch).status_code == 201
    asked = kiln.client.post("/api/v1/motors/1/imports", json={"batch": batch, "examine": False})
    assert asked.status_code == 202
    assert asked.json()["title"] == f"Import of 3 files for {TAG}"
    job = ended(kiln, asked.json()["id"])
    assert job["state"] == "done", job
    fates = {each["name"]: each["fate"] for each in job["result"]["files"]}
    assert fates == {START: "imported", SHEET: "imported", "notes.txt": "refused"}
    assert [each["day"] for each in job["result"]["visits"]] == ["2031-04-15"]
    assert job["see"] == ""
    left = [path.name for path in (tmp_path / "plant/uploads" / batch).iterdir()]
    assert left == ["notes.txt"]
    page = kiln.client.get(f"/jobs/{job['id']}", headers=HTML)
    assert "notes.txt" in page.text
    assert "Try again" in page.text
    again = kiln.post(f"/jobs/{job['id']}/again", page=f"/jobs/{job['id']}", day="2031-04-16")
    number = int(again.headers["location"].rsplit("/", 1)[1])
    assert ended(kiln, number)["result"]["files"][0]["fate"] == "refused"


def test_the_plain_form_does_the_same(kiln: Bench) -> None:
    answer = kiln.client.post(
        "/motors/1/files",
        data={"csrf": kiln.mark("/jobs"), "examine": "no"},
        files=[("file", (START, content(START))), ("file", (SHEET, content(SHEET)))],
        headers=HTML,
        follow_redirects=False,
    )
    assert answer.status_code == 303, answer.text
    job = ended(kiln, int(answer.headers["location"].rsplit("/", 1)[1]))
    assert {each["fate"] for each in job["result"]["files"]} == {"imported"}
    assert job["see"] == f"/visits/{job['result']['visits'][0]['visit_id']}"


@pytest.mark.parametrize("mark", ["", "wrong"])
def test_the_plain_form_needs_its_mark_before_any_file_is_kept(
    idle: Bench, tmp_path: Path, mark: str
) -> None:
    idle.client.get("/jobs", headers=HTML)
    answer = idle.client.post(
        "/motors/1/files",
        data={"csrf": mark},
        files=[("file", (START, b"x" * 5000))],
        headers=HTML | {"origin": str(idle.client.base_url).rstrip("/")},
    )
    assert answer.status_code == 403
    assert not (tmp_path / "plant/uploads").exists()


def test_a_form_without_a_file_or_with_half_a_file_leaves_nothing(
    idle: Bench, tmp_path: Path
) -> None:
    mark = idle.mark("/jobs")
    nothing = idle.client.post(
        "/motors/1/files", data={"csrf": mark}, files=[("file", ("", b""))], headers=HTML
    )
    assert nothing.status_code == 422
    assert "no file was chosen" in nothing.text.lower()
    cut = (
        b'--b\r\ncontent-disposition: form-data; name="csrf"\r\n\r\n' + mark.encode() + b"\r\n"
        b'--b\r\ncontent-disposition: form-data; name="file"; filename="run.dat"\r\n\r\nabc'
    )
    kind = {"content-type": "multipart/form-data; boundary=b"}
    answer = idle.client.post("/motors/1/files", content=cut, headers=HTML | kind)
    assert answer.status_code == 422, answer.text
    folder = tmp_path / "plant/uploads"
    assert not any(folder.iterdir())


def test_a_file_is_sent_in_parts(idle: Bench) -> None:
    body = content(START)
    begun = send(idle, START, b"", size=len(body)).json()
    assert (begun["received_bytes"], begun["whole"]) == (0, False)
    where = f"/api/v1/uploads/{begun['id']}"
    half = len(body) // 2
    part = idle.client.patch(where, params={"offset": 0}, content=body[:half]).json()
    assert part["received_bytes"] == half
    wrong = idle.client.patch(where, params={"offset": 5}, content=body[5:])
    assert wrong.status_code == 409
    early = idle.client.post("/api/v1/motors/1/imports", json={"batch": begun["batch"]})
    assert early.status_code == 409
    assert idle.client.get(where).json()["received_bytes"] == half
    done = idle.client.patch(where, params={"offset": half}, content=body[half:]).json()
    assert done["sha256"] == sha256(body).hexdigest()
    assert idle.client.delete(where).status_code == 204
    assert idle.client.get(where).status_code == 404


@pytest.mark.parametrize(
    ("name", "said", "status"),
    [
        ("../..", {}, 422),
        ("a.zip", {}, 422),
        ("run.dat", {"batch": "../../etc"}, 422),
        ("run.dat", {"batch": "0123456789abcdef"}, 404),
        ("run.dat", {"size": 3}, 413),
        ("run.dat", {"size": 2**50}, 413),
    ],
)
def test_what_cannot_be_taken_is_refused(
    idle: Bench, tmp_path: Path, name: str, said: dict[str, Any], status: int
) -> None:
    assert send(idle, name, b"12345", **said).status_code == status
    outside = {path.name for path in tmp_path.iterdir()}
    assert outside == {"plant"}


def test_a_motor_that_is_not_there_takes_no_files(idle: Bench) -> None:
    answer = idle.client.post("/api/v1/motors/99/files", params={"name": "a"}, content=b"1")
    assert answer.status_code == 404


def test_too_large_a_file_is_refused_before_it_is_sent(tmp_path: Path) -> None:
    plant, _ = kiln_plant(tmp_path)
    plant.close()
    with served(tmp_path / "plant", processes=0, largest_upload_bytes=MEBIBYTE) as bench:
        assert send(bench, "a.dat", bytes(MEBIBYTE + 1)).status_code == 413
        assert send(bench, "a.dat", b"", size=MEBIBYTE + 1).status_code == 413
        assert send(bench, "a.dat", bytes(MEBIBYTE)).status_code == 201


def test_names_are_shown_as_they_are(idle: Bench) -> None:
    desk = idle.desk
    job = desk.jobs.submit("sleep", {}, title=f"Import of {EVIL}", by=EVIL)
    claim = desk.jobs.claim()
    assert claim is not None
    desk.jobs.beat(claim, 0.1, EVIL)
    for path in ("/jobs", f"/jobs/{job.id}"):
        page = idle.client.get(path, headers=HTML).text
        assert EVIL not in page
        assert "&lt;script&gt;" in page
    importing = desk.jobs.submit("import", {"motor_id": 1, "batch": "aa"}, title="x", by="")
    claim = desk.jobs.claim()
    assert claim is not None
    file = {"name": EVIL, "fate": "refused", "day": None, "reason": EVIL, "remedy": EVIL}
    fault = {"what": EVIL, "where": EVIL, "remedy": EVIL}
    visit = {"visit_id": 1, "day": "2031-01-01", "examination_id": None, "fault": fault}
    desk.jobs.finish(claim, {"files": [file], "visits": [visit], "see": f"javascript:{EVIL}"})
    page = idle.client.get(f"/jobs/{importing.id}", headers=HTML).text
    assert EVIL not in page
    assert "javascript:" not in page


def test_errors_hide_folders_from_others(tmp_path: Path) -> None:
    plant, _ = kiln_plant(tmp_path)
    plant.close()
    with served(
        tmp_path / "plant",
        address="https://motors.plant.example",
        accounts=(("Ben", Right.ADMIN), ("Cleo", Right.READ)),
        allow_remote=True,
        names=("motors.plant.example",),
    ) as bench:
        bench.log_in("Ben")
        job = bench.desk.jobs.submit("fail", {}, title="Fails", by="Ben")
        told = ended(bench, job.id)
        assert told["fault"]["where"] == "run.dat"
        page = bench.client.get(f"/jobs/{job.id}", headers=HTML).text
        assert "/secret" not in page
        assert "&lt;b&gt;" in page
        folder = bench.client.post(
            "/api/v1/motors/1/imports",
            json={"folder": "/etc"},
            headers={"x-csrf-token": bench.mark()},
        )
        assert folder.status_code == 403
        reader = bench.another_browser()
        reader.log_in("Cleo")
        mark = {"x-csrf-token": reader.mark()}
        for path in ("/api/v1/motors/1/files?name=a", f"/api/v1/jobs/{job.id}/cancel"):
            assert reader.client.post(path, content=b"1", headers=mark).status_code == 403
        files = {"file": ("a", b"1")}
        assert reader.client.post("/motors/1/files", files=files, headers=HTML).status_code == 403
        assert reader.client.get(f"/api/v1/jobs/{job.id}").status_code == 200


def test_work_is_asked_for_and_cancelled(kiln: Bench) -> None:
    asked = kiln.client.post("/api/v1/jobs", json={"kind": "examine", "motor_id": 1})
    assert asked.status_code == 202
    failed = ended(kiln, asked.json()["id"])
    assert failed["fault"]["kind"] == "not-kept"
    assert "nothing was measured" in failed["fault"]["what"]
    assert kiln.client.post("/api/v1/jobs", json={"kind": "sleep"}).status_code == 422
    unknown = kiln.client.post("/api/v1/jobs", json={"kind": "examine", "motor_id": 9})
    assert unknown.status_code == 404
    job = kiln.desk.jobs.submit("sleep", {"steps": 1000}, title="Long", by="")
    assert kiln.post(f"/jobs/{job.id}/cancel", page="/jobs").status_code == 303
    assert ended(kiln, job.id)["state"] == "cancelled"
    assert kiln.client.get("/api/v1/jobs", params={"most": 1}).json()[0]["id"] == job.id


def test_the_whole_plant_is_exported_and_fetched(kiln: Bench) -> None:
    to = kiln.post("/jobs/export", page="/jobs").headers["location"]
    assert ended(kiln, int(to.rsplit("/", 1)[1]))["state"] == "done"
    assert "Fetch the file" in kiln.client.get(to, headers=HTML).text
    archive = kiln.client.get(f"{to}/archive")
    assert archive.content[:2] == b"PK"
    again = kiln.post("/jobs/reexamine", page="/jobs").headers["location"]
    assert ended(kiln, int(again.rsplit("/", 1)[1]))["result"] == {"visits": []}
    assert "examined everything already" in kiln.client.get(again, headers=HTML).text


def events_of(text: str) -> list[tuple[str, Any]]:
    found = re.findall(r"event: (\w+)\ndata: (.*)\n\n", text)
    return [(name, json.loads(data)) for name, data in found]


def test_a_page_follows_jobs_to_their_end(kiln: Bench) -> None:
    jobs = [kiln.desk.jobs.submit("sleep", {"name": n, "steps": 30}, title=n, by="") for n in "ab"]
    answer = kiln.client.get("/api/v1/jobs/events", params={"id": [job.id for job in jobs]})
    assert answer.headers["content-type"].startswith("text/event-stream")
    told = events_of(answer.text)
    assert told[-1] == ("end", {})
    states = [(data["id"], data["state"]) for name, data in told if name == "job"]
    for job in jobs:
        own = [state for number, state in states if number == job.id]
        assert own[-1] == "done"
        assert "running" in own


def test_streams_beat_end_and_are_counted(idle: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    job = idle.desk.jobs.submit("sleep", {}, title="Waits", by="")
    monkeypatch.setattr(events, "TICK_S", 0.02)
    monkeypatch.setattr(events, "HEARTBEAT_S", 0.05)
    monkeypatch.setattr(events, "LONGEST_S", 0.3)
    answer = idle.client.get(f"/api/v1/jobs/events?id={job.id}")
    assert answer.text.count(": still here") >= 2
    assert events_of(answer.text)[-1][1]["state"] == "waiting"
    assert idle.client.get("/api/v1/jobs/events?id=99").status_code == 404
    assert idle.client.get("/api/v1/jobs/events").status_code == 422
    monkeypatch.setattr(events, "MOST_OF_ADDRESS", 0)
    assert idle.client.get(f"/api/v1/jobs/events?id={job.id}").status_code == 429
    monkeypatch.setattr(events, "MOST_OF_ADDRESS", 1)
    idle.app.state.leaving.set()
    leaving = idle.client.get(f"/api/v1/jobs/events?id={job.id}")
    assert events_of(leaving.text) == []
