"""The examination page: it says what was kept, every reading opens, costs are worked live."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from html import escape
from html.parser import HTMLParser
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from httpx2 import Response

from cagewise.cli.status import ExitStatus
from cagewise.report import sentences
from cagewise.report.json_output import to_json
from cagewise.store import KeptExamination, Plant
from cagewise.web.app import create_app
from cagewise.web.settings import WebSettings
from cagewise.workflows import demo
from cagewise.workflows.plant_assess import assess_visit
from cagewise.workflows.plant_examined import examination_of, run_again
from cagewise.workflows.plant_import import ImportOptions, import_files
from support.commands import run
from support.workbench import HERE, mark_of


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a plant with one examined visit: running, start and test sheet."""
    folder = tmp_path_factory.mktemp("web") / "plant"
    case = demo.find_case("whole-visit")
    toml = case.motor.read_text(encoding="utf-8")
    with Plant.create(folder, name="<b>mill</b>") as plant:
        motor = plant.motors.add(toml, valid_from=date(2020, 1, 1))
        options = ImportOptions(tag=motor.tag)
        assert all(not r.reason for r in import_files(plant, (*case.files, *case.earlier), options))
        assess_visit(plant, motor)
    return folder


@pytest.fixture(scope="module")
def client(folder: Path) -> Iterator[TestClient]:
    settings = WebSettings(plant=folder)
    with TestClient(create_app(settings), base_url=HERE) as client:
        yield client


def advise(client: TestClient, stakes: dict[str, object]) -> Response:
    """Ask for advice as the script of the page does."""
    mark = mark_of(client.get("/examinations/1"))
    return client.post("/api/v1/examinations/1/advice", json=stakes, headers={"X-CSRF-Token": mark})


def the_kept(plant: Plant) -> KeptExamination:
    (kept,) = plant.examinations.latest()
    return kept


class _Texts(HTMLParser):
    """Collects the text of a page."""

    def __init__(self) -> None:
        super().__init__()
        self.text = ""

    def handle_data(self, data: str) -> None:
        self.text += data


def text_of(html: str) -> str:
    parser = _Texts()
    parser.feed(html)
    return " ".join(parser.text.split())


def test_examining_again_says_what_was_kept(folder: Path) -> None:
    with Plant.open(folder) as plant:
        kept = the_kept(plant)
        text = plant.examinations.document(kept).text
        assert to_json(run_again(plant, kept)) == text
        first = examination_of(plant, kept)
        assert first.as_kept
        assert not first.reason
        again = examination_of(plant, kept)
        assert again.examination is not None
        assert to_json(again.examination) == text


def test_a_result_that_says_something_else_is_not_taken_for_the_kept_one(folder: Path) -> None:
    with Plant.open(folder) as plant:
        kept = the_kept(plant)
        text = plant.examinations.document(kept).text
        ((_, other),) = demo.run((demo.find_case("sound"),))
        plant.results.keep(text, other)
        shown = examination_of(plant, kept)
        assert shown.as_kept
        assert shown.examination is not None
        assert to_json(shown.examination) == text


def test_the_page_says_what_the_document_says(client: TestClient) -> None:
    document = client.get("/api/v1/examinations/1/document").json()
    answer = client.get("/examinations/1")
    assert answer.status_code == 200
    said = text_of(answer.text)
    assert document["statement"] in said
    titles = {each["title"] for each in document["indicators"] if each["class"].startswith("run")}
    assert titles
    assert all(title in said for title in titles)
    assert "<b>mill</b>" not in answer.text


def test_every_reading_of_the_cage_opens(client: TestClient) -> None:
    html = client.get("/examinations/1").text
    document = client.get("/api/v1/examinations/1/document").json()
    cage = [each["name"] for each in document["indicators"] if each["part"] == "rotor cage"]
    assert len(cage) > 10
    assert all(f'id="reading-{name}"' in html for name in cage)


def test_the_head_has_the_numbers_of_the_list(client: TestClient, folder: Path) -> None:
    head = client.get("/api/v1/examinations/1").json()
    with Plant.open(folder) as plant:
        keys = the_kept(plant).keys
    assert head["state"] == keys.state
    assert head["open_bars"] == keys.open_bars
    assert head["probability"] == keys.probability


def test_other_costs_give_other_advice_and_keep_nothing(client: TestClient) -> None:
    before = client.get("/api/v1/examinations/1/document").text
    free: dict[str, object] = {"false_pull_cost": 0.0, "miss_cost": 1000.0}
    dear: dict[str, object] = {"false_pull_cost": 1e6, "miss_cost": 1.0, "level": "low"}
    first = advise(client, free).json()
    second = advise(client, dear).json()
    assert first["expected_costs"] != second["expected_costs"]
    chosen = {
        name: min((cost, action) for action, cost in costs.items() if cost is not None)[1]
        for name, costs in (("free", first["expected_costs"]), ("dear", second["expected_costs"]))
    }
    assert chosen["free"] in {"plan_repair", "stop"}
    assert chosen["dear"] in {"keep", "watch"}
    assert client.get("/api/v1/examinations/1/document").text == before


@pytest.mark.parametrize(
    "stakes",
    [
        {"false_pull_cost": -1},
        {"miss_cost": "much"},
        {"level": "purple"},
        {"next_outage": "soon"},
        {"miss_cost": 1e300},
    ],
)
def test_costs_that_are_none_are_refused(client: TestClient, stakes: dict[str, object]) -> None:
    assert advise(client, stakes).status_code == 422


def test_the_report_is_one_file(client: TestClient) -> None:
    answer = client.get("/examinations/1/report")
    assert answer.status_code == 200
    assert "attachment" in answer.headers["content-disposition"]
    assert "src=" not in answer.text
    assert "<script" not in answer.text


def test_the_case_report_is_had_from_every_page_that_is_about_it(
    client: TestClient, folder: Path
) -> None:
    with Plant.open(folder) as plant:
        made = examination_of(plant, the_kept(plant)).examination
    assert made is not None
    assert "/examinations/1/report.pdf" in client.get("/examinations/1").text
    assert "/motors/1/report.pdf" in client.get("/motors/1").text

    pdf = client.get("/api/v1/examinations/1/report.pdf", params={"paper": "letter"})
    assert (pdf.status_code, pdf.headers["content-type"]) == (200, "application/pdf")
    assert pdf.content.startswith(b"%PDF")
    assert 'attachment; filename="case-report-LK-120-M' in pdf.headers["content-disposition"]

    page = client.get("/motors/1/report.html")
    assert page.headers["content-type"] == "text/html; charset=utf-8"
    assert made.course.act_by.latest is not None
    for said in (sentences.verdict(made), made.course.act_by.latest.isoformat()):
        assert escape(said) in page.text.replace("\N{NO-BREAK SPACE}", " ")
    assert "<script" not in page.text


def test_a_case_report_that_cannot_be_is_refused_in_words(client: TestClient) -> None:
    for address, status in (
        ("/api/v1/cases/7/report.pdf", 404),
        ("/api/v1/motors/9/report.html", 404),
        ("/api/v1/examinations/1/report.exe", 422),
        ("/api/v1/examinations/1/report.pdf?language=xx", 400),
        ("/api/v1/examinations/1/report.pdf?paper=a0", 422),
    ):
        answer = client.get(address)
        assert answer.status_code == status
        assert answer.headers["content-type"] == "application/problem+json"


def test_the_command_writes_the_same_report(folder: Path, tmp_path: Path) -> None:
    target = tmp_path / "report.pdf"
    first = run("report", "LK-120-M", "--plant", folder, "-o", target)
    assert first.status is ExitStatus.EXAMINED
    assert "Written:" in first.out
    content = target.read_bytes()
    assert content.startswith(b"%PDF")
    assert run("report", "LK-120-M", "--plant", folder, "-o", target).status is (
        ExitStatus.NOT_WRITTEN
    )
    assert target.read_bytes() == content
    unknown = run("report", "NOBODY", "--plant", folder, "-o", tmp_path / "none.pdf")
    assert unknown.status is ExitStatus.PLANT
    assert "there is no motor 'NOBODY'" in unknown.err
    two = run("report", "LK-120-M", "--plant", folder, "-o", target, "--pdf", "--html")
    assert two.status is ExitStatus.USAGE
    assert not (tmp_path / "none.pdf").exists()
