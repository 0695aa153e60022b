"""Work orders: which there are, their keys, and that no spreadsheet computes anything of them."""

from __future__ import annotations

import csv
import io
import json
import shutil
from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator, FormatChecker
from pyarrow import BufferReader
from pyarrow import csv as arrow_csv

from cagewise.errors import NotKeptError
from cagewise.report.spreadsheet_text import computes, guarded
from cagewise.report.work_order import WorkOrder, WorkOrdersDocument
from cagewise.report.work_order_output import COLUMNS, to_csv, to_json
from cagewise.report.work_order_schema import (
    PAGE_PATH,
    SCHEMA_PATH,
    schema,
    schema_text,
    with_tables,
)
from cagewise.store import Decision, Found, Outcome, Plant
from cagewise.workflows.plant_work_orders import OrdersWanted, work_orders
from support.handed_plants import (
    AUTHOR,
    CALC,
    DECIDED_ON,
    DUE_ON,
    FORMULA,
    GROWING,
    MADE,
    NEVER,
    REPAIRED,
    handed_plant,
)
from support.kept_histories import LAST, add_examination

ROOT = Path(__file__).parents[3]
TODAY = date(2031, 3, 5)
EVERYTHING = OrdersWanted(on=TODAY, routine=True)


@pytest.fixture(scope="module")
def _kept(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return handed_plant(tmp_path_factory.mktemp("handed") / "plant")


@pytest.fixture
def plant(_kept: Path, tmp_path: Path) -> Iterator[Plant]:
    with Plant.open(shutil.copytree(_kept, tmp_path / "plant")) as opened:
        yield opened


@pytest.fixture(scope="module")
def document(_kept: Path) -> WorkOrdersDocument:
    with Plant.open(_kept, read_only=True) as opened:
        return work_orders(opened, EVERYTHING)


def by_tag(document: WorkOrdersDocument) -> dict[str, WorkOrder]:
    found = {order.tag: order for order in document.work_orders}
    assert len(found) == len(document.work_orders)
    return found


def test_a_decision_is_told_with_its_finding_and_its_hold_points(
    document: WorkOrdersDocument,
) -> None:
    order = by_tag(document)[GROWING]
    assert (order.sort, order.asked, order.decided_by) == ("decided", "decided", AUTHOR)
    assert (order.earliest, order.latest) == (None, DUE_ON.isoformat())
    assert order.priority == f"by {DUE_ON}"
    assert order.planned_outage == "2026-09-01"
    assert order.title == f"{GROWING}: {CALC}"
    assert "Damage: 1.4 open bars (95 % interval 1.2 to 1.6)." in order.text
    assert f"Decided by {AUTHOR} on {DECIDED_ON}." in order.text
    assert "no later than 2031-03-15" in order.text, "the decision waits longer than is advised"
    assert "hold until the open bars are counted" in order.text
    assert "Prove the absence of voltage" in order.text
    assert order.hours is None
    assert order.hours_note
    assert (order.equipment_class, order.maintainable_item) == ("EM", "rotor")
    assert (order.failure_mode, order.failure_mechanism) == ("STD", "")
    assert order.codes_status == document.taxonomy.status == "from memory"
    assert order.case_link == f"/cases/{order.case}"


def test_advice_is_told_where_nobody_decided(document: WorkOrdersDocument) -> None:
    orders = by_tag(document)
    undecided, never, repaired = (orders[tag] for tag in (FORMULA, NEVER, REPAIRED))
    assert (undecided.sort, undecided.asked, undecided.hours) == ("advised", "repeat", 2.0)
    assert undecided.priority == "between 2031-03-18 and 2031-06-02"
    assert (undecided.failure_mode, undecided.maintainable_item) == ("PDE", "stator")
    assert (never.asked, never.latest, never.priority) == ("first", None, "no day is set")
    assert never.failure_mode == ""
    assert "no failure is claimed" in never.codes_note
    assert (repaired.asked, repaired.latest) == ("after_repair", "2031-04-04")
    assert repaired.examination is None, "what was measured before was another cage"
    assert "repaired on 2031-02-03" in repaired.text


def test_the_most_urgent_stands_first(document: WorkOrdersDocument) -> None:
    latest = [order.latest or "9999" for order in document.work_orders]
    assert latest == sorted(latest)


def test_routine_is_left_out_unless_asked_for(plant: Plant) -> None:
    assert set(by_tag(work_orders(plant, OrdersWanted(on=TODAY)))) == {GROWING, FORMULA, REPAIRED}


def test_motors_cases_and_days_narrow(plant: Plant) -> None:
    def tags(**wanted: Any) -> set[str]:
        return set(by_tag(work_orders(plant, replace(EVERYTHING, **wanted))))

    motor = plant.motors.find(GROWING)
    case = plant.cases.all(motor)[0]
    assert tags(names=(GROWING, NEVER)) == {GROWING, NEVER}
    assert tags(names=(str(case.id),)) == tags(cases=(case.id,)) == {GROWING}
    assert tags(motors=(motor.id,)) == {GROWING}
    assert tags(since=date(2031, 3, 4)) == {FORMULA}
    with pytest.raises(NotKeptError):
        tags(names=("nowhere",))
    with pytest.raises(NotKeptError):
        tags(names=("999",))


def test_a_case_without_a_decision_exports_what_is_advised(plant: Plant) -> None:
    motor = plant.motors.find(FORMULA)
    case = plant.cases.open(motor, "looked at", on=TODAY)
    (order,) = work_orders(plant, replace(EVERYTHING, cases=(case.id,))).work_orders
    assert (order.sort, order.case) == ("advised", case.id)


def test_the_key_of_a_decision_outlives_its_correction(plant: Plant) -> None:
    before = by_tag(work_orders(plant, EVERYTHING))[GROWING]
    case = plant.cases.all(plant.motors.find(GROWING))[0]
    event = plant.cases.events(case)[-1]
    better = Decision(action="take it out", due_on=DUE_ON)
    plant.cases.add_event(case, better, on=DECIDED_ON, corrects=event)
    after = by_tag(work_orders(plant, EVERYTHING))[GROWING]
    assert after.key == before.key
    assert after.title == f"{GROWING}: take it out"
    assert after.replaces == before.replaces


def test_a_decision_replaces_earlier_ones_and_the_advice(plant: Plant) -> None:
    order = by_tag(work_orders(plant, EVERYTHING))[GROWING]
    case = plant.cases.all(plant.motors.find(GROWING))[0]
    earlier = plant.cases.events(case)[-2]
    visit = plant.examinations.of_motor(plant.motors.find(GROWING))[-1].visit_id
    head = plant.about.plant_id[:8]
    assert order.replaces == (f"{head}-decision-{earlier.id}", f"{head}-visit-{visit}")


def test_a_visit_examined_again_keeps_its_key_and_a_new_visit_replaces_it(plant: Plant) -> None:
    motor = plant.motors.find(FORMULA)
    before = by_tag(work_orders(plant, EVERYTHING))[FORMULA]
    add_examination(plant, motor, LAST, 0.9, "suspect", **MADE, action="repeat")
    again = by_tag(work_orders(plant, EVERYTHING))[FORMULA]
    assert again.key == before.key
    assert again.examination != before.examination
    add_examination(plant, motor, TODAY, 0.9, "suspect", **MADE, action="repeat")
    newer = by_tag(work_orders(plant, EVERYTHING))[FORMULA]
    assert newer.replaces == (before.key,)


def test_what_is_measured_after_a_decision_is_advised_beside_it(plant: Plant) -> None:
    add_examination(
        plant, plant.motors.find(GROWING), LAST, 3.0, "defective", **MADE, action="stop"
    )
    orders = [o for o in work_orders(plant, EVERYTHING).work_orders if o.tag == GROWING]
    assert {order.asked for order in orders} == {"decided", "stop"}
    decided = next(order for order in orders if order.asked == "decided")
    advised = next(order for order in orders if order.asked == "stop")
    assert "measured after the decision" in decided.text
    assert "nobody has signed it" in advised.text
    assert advised.priority == "at once"


def test_what_was_done_is_no_order_any_more(plant: Plant) -> None:
    case = plant.cases.all(plant.motors.find(GROWING))[0]
    plant.cases.add_event(case, Outcome(found=Found.SOUND), on=TODAY)
    orders = [o for o in work_orders(plant, EVERYTHING).work_orders if o.tag == GROWING]
    assert [order.sort for order in orders] == ["advised"], "the advice stands again, undecided"


def test_links_have_the_address_of_the_workbench(plant: Plant) -> None:
    wanted = replace(EVERYTHING, base="https://plant.example/")
    order = by_tag(work_orders(plant, wanted))[NEVER]
    assert order.motor_link.startswith("https://plant.example/motors/")
    assert order.case_link == ""


def test_json_is_what_the_published_schema_says(document: WorkOrdersDocument) -> None:
    text = to_json(document)
    published = json.loads((ROOT / SCHEMA_PATH).read_text(encoding="utf-8"))
    Draft202012Validator.check_schema(published)
    Draft202012Validator(published, format_checker=FormatChecker()).validate(json.loads(text))
    order = next(o for o in json.loads(text)["work_orders"] if o["tag"] == GROWING)
    assert order["title"].endswith(CALC), "JSON has every text as it was written"
    assert set(order) == set(COLUMNS)


def test_the_schema_refuses_what_it_does_not_know(document: WorkOrdersDocument) -> None:
    plain = json.loads(to_json(document))
    plain["work_orders"][0]["severity"] = 3
    assert not Draft202012Validator(schema()).is_valid(plain)


def test_schema_and_page_are_up_to_date() -> None:
    assert (ROOT / SCHEMA_PATH).read_text(encoding="utf-8") == schema_text()
    page = (ROOT / PAGE_PATH).read_text(encoding="utf-8")
    assert with_tables(page) == page


def test_csv_is_read_alike_by_two_readers_and_computes_nothing(
    document: WorkOrdersDocument,
) -> None:
    text = to_csv(document)
    rows = list(csv.reader(io.StringIO(text, newline=""), strict=True))
    assert tuple(rows[0]) == COLUMNS
    assert len(rows) == len(document.work_orders) + 1
    assert not [cell for row in rows for cell in row if computes(cell)]
    order = by_tag(document)[GROWING]
    said = dict(zip(COLUMNS, next(row for row in rows if row[5] == GROWING), strict=True))
    assert said["text"] == guarded(order.text)
    assert said["replaces"] == " ".join(order.replaces)
    assert said["decided_by"] == f"'{AUTHOR}"
    table = arrow_csv.read_csv(
        BufferReader(text.encode("utf-8")),
        parse_options=arrow_csv.ParseOptions(newlines_in_values=True),
        convert_options=arrow_csv.ConvertOptions(
            strings_can_be_null=False, column_types=dict.fromkeys(COLUMNS, "string")
        ),
    )
    assert [list(row.values()) for row in table.to_pylist()] == rows[1:]


def test_the_same_plant_gives_the_same_text(plant: Plant) -> None:
    first, second = (work_orders(plant, EVERYTHING) for _ in range(2))
    assert to_json(first) == to_json(second)
    assert to_csv(first) == to_csv(second)
