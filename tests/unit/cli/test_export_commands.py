"""The commands that hand over: wiring, messages, files."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest

from cagewise.cli.status import ExitStatus
from support.commands import Run, run
from support.handed_plants import FORMULA, GROWING, REPAIRED, handed_plant


@pytest.fixture(scope="module")
def _folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return handed_plant(tmp_path_factory.mktemp("handed") / "plant")


@pytest.fixture
def folder(_folder: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("CAGEWISE_PLANT", str(_folder))
    return _folder


def ok(*arguments: str | Path) -> Run:
    done = run(*arguments)
    assert (done.status, done.err) == (ExitStatus.EXAMINED, "")
    return done


@pytest.mark.usefixtures("folder")
def test_work_orders_go_to_the_screen_or_a_file(tmp_path: Path) -> None:
    said = json.loads(ok("work-orders", "--json", "--on", "2031-03-05").out)
    assert {order["tag"] for order in said["work_orders"]} == {GROWING, FORMULA, REPAIRED}
    german = json.loads(ok("work-orders", "--json", "--language", "de").out)
    assert (german["language"], german["work_orders"][0]["subunit"]) == ("de", "Elektromotor")
    rows = list(csv.reader(io.StringIO(ok("work-orders", GROWING, "--csv").out, newline="")))
    assert len(rows) == 2
    file = tmp_path / "orders.csv"
    assert ok("work-orders", GROWING, "--csv", "-o", file).out == ""
    assert list(csv.reader(io.StringIO(file.read_bytes().decode("utf-8"), newline=""))) == rows
    refused = run("work-orders", "--csv", "-o", file)
    assert refused.status is ExitStatus.NOT_WRITTEN
    ok("work-orders", "1", "--csv", "-o", file, "--force", "--link", "https://plant.example")
    assert "https://plant.example/cases/1" in file.read_text(encoding="utf-8")


@pytest.mark.usefixtures("folder")
def test_readings_go_to_a_workbook_or_as_text(tmp_path: Path) -> None:
    ok("readings", "--xlsx", tmp_path / "all.xlsx")
    assert (tmp_path / "all.xlsx").read_bytes()[:2] == b"PK"
    shown = ok("readings", GROWING, "--csv", "-").out
    ok("readings", GROWING, "--csv", tmp_path / "one.csv")
    assert (tmp_path / "one.csv").read_bytes() == shown.encode("utf-8")


@pytest.mark.usefixtures("folder")
def test_the_summary_is_a_pdf_or_a_page(tmp_path: Path) -> None:
    ok("plant-summary", "--month", "2031-02", "--html", "-o", tmp_path / "a.html")
    assert "Plant summary, February 2031" in (tmp_path / "a.html").read_text(encoding="utf-8")
    ok("plant-summary", "--month", "2031-02", "--pdf", "--letter", "-o", tmp_path / "a.pdf")
    assert (tmp_path / "a.pdf").read_bytes()[:5] == b"%PDF-"


@pytest.mark.usefixtures("folder")
@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("work-orders",), "--csv or --json"),
        (("work-orders", "--csv", "--json"), "--csv or --json"),
        (("readings",), "--xlsx FILE or --csv FILE"),
        (("plant-summary", "-o", "a.pdf"), "--pdf or --html"),
        (("plant-summary", "--pdf", "-o", "a.pdf", "--month", "May"), "must be a month"),
        (("plant-summary", "--pdf", "-o", "a.pdf", "--language", "zz"), "no language"),
    ],
)
def test_what_makes_no_sense_is_refused(arguments: tuple[str, ...], said: str) -> None:
    done = run(*arguments)
    assert done.status is ExitStatus.USAGE
    assert said in done.err
    assert not Path("a.pdf").exists()


@pytest.mark.usefixtures("folder")
def test_an_unknown_motor_is_told() -> None:
    assert run("work-orders", "nowhere", "--csv").status is ExitStatus.PLANT
    assert run("readings", "nowhere", "--csv", "-").status is ExitStatus.PLANT
