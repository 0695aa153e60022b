"""Papers of the field and of the shop from the browser and the interface; a sheet comes back."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from httpx2 import Response

from cagewise.store import Outcome, Repair
from support.returns import ANSWERS, BARS, empty, fill
from support.told_plants import GROWING, NASTY, NEVER, told_plant
from support.workbench import HTML, Bench, served

TAG = "GR-1"


@pytest.fixture(scope="module")
def _told(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return told_plant(tmp_path_factory.mktemp("told") / "plant")


@pytest.fixture
def bench(_told: Path, tmp_path: Path) -> Iterator[Bench]:
    with served(shutil.copytree(_told, tmp_path / "plant")) as made:
        made.post(f"/motors/{GROWING}/cases", title="side lines grow")
        yield made


def sheet(folder: Path, **answers: str) -> Path:
    return fill(folder / "sheet.csv", {**ANSWERS, **answers}, BARS, sheet=empty(TAG, 1))


def send(bench: Bench, path: Path, **fields: str) -> Response:
    return bench.client.post(
        "/cases/1/repair-return",
        data={"csrf": bench.mark(), **fields},
        files=[("files", (path.name, path.read_bytes())), ("files", ("bars.jpg", b"a photo"))],
        headers=HTML,
    )


def test_the_papers_are_had_at_their_addresses(bench: Bench) -> None:
    for path, begins in (
        (f"/motors/{GROWING}/measurement-order.pdf", b"%PDF"),
        (f"/api/v1/motors/{GROWING}/repair-specification.html", b"<!doctype html>"),
        ("/cases/1/repair-specification.pdf?paper=letter", b"%PDF"),
        ("/cases/1/repair-return.toml", b"[repair_return]"),
        ("/cases/1/repair-return.xlsx", b"PK"),
    ):
        answer = bench.client.get(path)
        assert answer.status_code == 200, (path, answer.text)
        assert answer.content[:20].lower().startswith(begins.lower()), path
        assert "attachment" in answer.headers["content-disposition"]


def test_pages_lead_to_the_papers(bench: Bench) -> None:
    case = bench.client.get("/cases/1", headers=HTML).text
    plan = bench.client.get(f"/motors/{GROWING}/plan", headers=HTML).text

    assert 'href="/cases/1/repair-specification.pdf"' in case
    assert 'href="/cases/1/repair-return"' in case
    assert f'href="/motors/{GROWING}/measurement-order.pdf"' in plan


def test_nobody_knows_what_an_unexamined_motor_is_sent_for(bench: Bench) -> None:
    path = f"/api/v1/motors/{NEVER}/repair-specification.html"

    assert bench.client.get(path).status_code == 422
    said = bench.client.get(f"{path}?for=bearings")
    assert said.status_code == 200
    assert NASTY not in said.text
    assert bench.client.get(f"{path}?for=wings").status_code == 422


def test_a_sheet_is_understood_before_it_is_kept(bench: Bench, tmp_path: Path) -> None:
    plant = bench.desk.plant
    case = plant.cases.get(1)
    checked = send(bench, sheet(tmp_path), what="check")
    assert checked.status_code == 200
    assert "fully open: 2" in checked.text
    assert not plant.cases.events(case)

    kept = send(bench, sheet(tmp_path), what="keep", motor_file="yes")
    assert "The sheet is kept in the case." in kept.text
    kinds = {type(event.what) for event in plant.cases.events(case)}
    assert kinds == {Outcome, Repair}
    names = {a.name for event in plant.cases.events(case) for a in event.attachments}
    assert names == {"repair-return.csv", "bars.jpg"}
    assert len(plant.motors.nameplates(plant.motors.get(GROWING))) == 2


def test_an_impossible_sheet_is_refused_with_words(bench: Bench, tmp_path: Path) -> None:
    refused = send(bench, sheet(tmp_path, rotor_bars="3"), what="keep")

    assert refused.status_code == 422
    assert "between 6 and 240" in refused.text
    assert not bench.desk.plant.cases.events(bench.desk.plant.cases.get(1))


def test_the_interface_takes_a_sheet_too(bench: Bench, tmp_path: Path) -> None:
    path = sheet(tmp_path, no_load_a_a="100", no_load_b_a="100", no_load_c_a="140")
    answer = bench.client.post(
        "/api/v1/cases/1/repair-return?motor_file=true",
        files=[("files", (path.name, path.read_bytes()))],
        headers={"X-CSRF-Token": bench.mark()},
    )

    assert answer.status_code == 201, answer.text
    said = answer.json()
    assert said["kept"]
    assert said["motor_file_kept"]
    assert said["answers"]["rotor_bars"] == "58"
    assert said["owed"] == ["cage_construction"]
    assert len(said["beyond"]) == 1
    assert ["motor.rotor_bars", "", "58"] in said["changes"]
