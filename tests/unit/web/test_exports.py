"""What is handed over, from the pages and for programs."""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Iterator
from typing import Any

import openpyxl
import pytest

from cagewise.workflows.plant_work_orders import OrdersWanted, work_orders
from support.handed_plants import FORMULA, GROWING, handed_plant
from support.workbench import HTML, Bench, served

API = "/api/v1"


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Bench]:
    with served(handed_plant(tmp_path_factory.mktemp("handed") / "plant")) as made:
        yield made


def got(bench: Bench, path: str, status: int = 200) -> Any:
    answer = bench.client.get(API + path)
    assert answer.status_code == status, answer.text
    return answer


def test_work_orders_are_those_of_the_plant(bench: Bench) -> None:
    wanted = work_orders(bench.desk.plant, OrdersWanted(routine=True))
    said = got(bench, "/work-orders?routine=true").json()
    assert [o["key"] for o in said["work_orders"]] == [o.key for o in wanted.work_orders]
    assert got(bench, "/work-orders.json?routine=true").json() == said
    rows = list(csv.reader(io.StringIO(got(bench, "/work-orders.csv?routine=true").text)))
    assert len(rows) == 1 + len(wanted.work_orders)


def test_work_orders_are_narrowed(bench: Bench) -> None:
    motor = bench.desk.plant.motors.find(FORMULA).id
    said = got(bench, f"/work-orders?motor={motor}").json()["work_orders"]
    assert [order["tag"] for order in said] == [FORMULA]
    (order,) = got(bench, "/work-orders?case=1&link=https://x.example").json()["work_orders"]
    assert (order["tag"], order["case_link"]) == (GROWING, "https://x.example/cases/1")
    assert got(bench, "/work-orders?since=2100-01-01").json()["work_orders"] == []
    got(bench, "/work-orders?motor=999", 404)
    got(bench, "/work-orders?case=999", 404)
    got(bench, "/work-orders?motor=0", 422)


def test_readings_are_a_workbook_or_text(bench: Bench) -> None:
    answer = got(bench, "/readings.xlsx?motor=1&motor=1")
    assert answer.headers["content-disposition"] == 'attachment; filename="readings.xlsx"'
    book = openpyxl.load_workbook(io.BytesIO(answer.content))
    rows = list(csv.DictReader(io.StringIO(got(bench, "/readings.csv?motor=1").text)))
    assert book["Readings"].max_row == 1 + len(rows) == 5
    assert {row["tag"] for row in rows} == {GROWING}
    got(bench, "/readings.xlsx?motor=999", 404)


def test_the_summary_of_a_month(bench: Bench) -> None:
    pdf = got(bench, "/plant-summary.pdf?month=2031-02&size=letter")
    assert pdf.content.startswith(b"%PDF-")
    assert "plant-summary-2031-02.pdf" in pdf.headers["content-disposition"]
    page = got(bench, "/plant-summary.html?month=2031-02")
    assert "Plant summary, February 2031" in page.text
    assert page.headers["content-disposition"].startswith("attachment")
    got(bench, "/plant-summary.pdf?month=2031-14", 400)
    got(bench, "/plant-summary.html?language=zz", 400)
    got(bench, "/plant-summary.pdf?size=a3", 422)


@pytest.mark.parametrize("path", ["/", "/due", "/motors/1", "/cases/1"])
def test_every_link_to_a_file_leads_somewhere(bench: Bench, path: str) -> None:
    page = bench.client.get(path, headers=HTML).text
    links = [
        each.replace("&amp;", "&") for each in re.findall(r'href="(/api/v1/[^"]+)" down', page)
    ]
    assert links
    for link in links:
        assert bench.client.get(link).status_code == 200, link


def test_the_interface_says_what_it_answers(bench: Bench) -> None:
    paths = json.loads(bench.client.get(f"{API}/openapi.json").text)["paths"]
    sheet = paths[f"{API}/readings.xlsx"]["get"]["responses"]["200"]["content"]
    assert list(sheet) == ["application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"]
    schema = paths[f"{API}/work-orders"]["get"]["responses"]["200"]["content"]["application/json"]
    assert schema["schema"] == {"$ref": "#/components/schemas/WorkOrdersDocument"}
