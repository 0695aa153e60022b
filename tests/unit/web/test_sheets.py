"""Test sheets by form and by the interface: what is typed is what the plant keeps."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from cagewise.store import Visit
from cagewise.workflows.plant_decode import load_sheet, sheets_of
from cagewise.workflows.plant_sheets import blank_form, form_of_kept
from cagewise.workflows.sheet_form import form_from_fields
from cagewise.workflows.sheet_tables import tables_of
from support.workbench import HTML, Bench

DAY = date(2031, 5, 17)


@pytest.fixture
def visit(bench: Bench) -> Visit:
    """A visit without anything."""
    plant = bench.desk.plant
    return plant.visits.on(plant.motors.find("P-101"), DAY)


def filled(bench: Bench, visit: Visit) -> dict[str, str]:
    """Return the fields of the empty sheet, with the resistances of the winding."""
    said = fields_of(tables_of(blank_form(bench.desk.plant, visit)))
    place = next(n for n, v in said.items() if v == "winding_resistance").split(".")[0]
    said["t0.f.measured_at"] = "motor terminals"
    for pair, value in (("ab", "12,31"), ("bc", "12,33"), ("ca", "12,30")):
        said[f"{place}.f.{pair}_resistance"] = value
    said[f"{place}.u.resistance"] = "milliohm"
    return said


def fields_of(tables: object) -> dict[str, str]:
    """Return tables as a browser would send them."""
    said: dict[str, str] = {}
    for n, table in enumerate(tables):  # type: ignore[arg-type, var-annotated]
        said[f"t{n}.name"] = table.name
        for each in table.entries:
            kind = "c" if each.column else "f"
            said[f"t{n}.{kind}.{each.stem}"] = "\r\n".join(each.cells)
            if each.unit:
                said[f"t{n}.u.{each.quantity}"] = each.unit
    return said


def test_a_typed_sheet_is_kept_with_its_figures(bench: Bench, visit: Visit) -> None:
    answer = bench.post(f"/visits/{visit.id}/sheet", do="keep", **filled(bench, visit))
    assert answer.status_code == 303, answer.text
    assert answer.headers["location"].startswith(f"/visits/{visit.id}?kept=test-sheet.toml")
    plant = bench.desk.plant
    [kept] = sheets_of(plant, visit)
    sheet = load_sheet(plant, kept)
    assert sheet.resistance is not None
    assert sorted(sheet.resistance.line_resistance_ohm.values()) == [0.0123, 0.01231, 0.01233]
    assert sheet.measured_on == DAY
    assert not sheet.positions
    text = plant.measurements.originals.checked(kept.checksum).read_text(encoding="utf-8")
    assert "ab_resistance_milliohm = 12.31" in text
    assert "[[position]]" not in text, "what was not measured is not in the file"
    shown = bench.client.get(answer.headers["location"], headers=HTML).text
    assert "The sheet test-sheet.toml is kept." in shown


def test_a_correction_takes_the_place_of_the_first(bench: Bench, visit: Visit) -> None:
    bench.post(f"/visits/{visit.id}/sheet", do="keep", **filled(bench, visit))
    plant = bench.desk.plant
    [first] = sheets_of(plant, visit)
    said = fields_of(tables_of(form_of_kept(plant, first)))
    place = next(n for n, v in said.items() if v == "winding_resistance").split(".")[0]
    said[f"{place}.f.ab_resistance"] = "12.35"
    bench.post(f"/visits/{visit.id}/sheet", do="keep", of=str(first.id), **said)
    [second] = sheets_of(plant, visit)
    assert (second.source, second.id > first.id) == (first.source, True)
    assert len(plant.measurements.sheets(visit)) == 2
    another = bench.post(f"/visits/{visit.id}/sheet", do="keep", **filled(bench, visit))
    assert another.status_code == 303
    moved = said | {"t0.f.measured_on": "2031-05-18"}
    refused = bench.post(f"/visits/{visit.id}/sheet", do="keep", of=str(second.id), **moved)
    assert refused.status_code == 422


def test_what_cannot_be_is_said_and_stays_typed(bench: Bench, visit: Visit) -> None:
    said = filled(bench, visit)
    place = next(n for n, v in said.items() if v == "position").split(".")[0]
    said[f"{place}.c.ab_inductance"] = "5.1\r\n5.2 mH\r\n<b>7</b>"
    answer = bench.post(f"/visits/{visit.id}/sheet", do="keep", **said)
    assert answer.status_code == 422
    assert "have to be put right" in answer.text
    assert "<b>7</b>" not in answer.text
    assert "5.2 mH\n&lt;b&gt;7&lt;/b&gt;" in answer.text
    assert not sheets_of(bench.desk.plant, visit)


def test_nothing_measured_is_no_sheet(bench: Bench, visit: Visit) -> None:
    said = fields_of(tables_of(blank_form(bench.desk.plant, visit)))
    answer = bench.post(
        f"/visits/{visit.id}/sheet", do="keep", **(said | {"t0.f.measured_at": "switchboard"})
    )
    assert answer.status_code == 422
    assert "No reading was filled in" in answer.text


def test_check_keeps_nothing_and_a_table_can_be_added(bench: Bench, visit: Visit) -> None:
    said = filled(bench, visit)
    place = f"/visits/{visit.id}/sheet"
    assert (
        "Everything can be read: Winding resistance" in bench.post(place, do="check", **said).text
    )
    more = bench.post(place, do="add.insulation_resistance", **said).text
    assert more.count('value="insulation_resistance"') == 2
    assert not sheets_of(bench.desk.plant, visit)


def test_other_instruments_have_other_columns(bench: Bench, visit: Visit) -> None:
    text = bench.client.get(f"/visits/{visit.id}/sheet?reads=vi", headers=HTML).text
    assert "c.ab_voltage" in text
    assert "c.ab_inductance" not in text


def test_a_form_has_its_limits(bench: Bench, visit: Visit) -> None:
    said = {"t0.name": "sheet", "t1.name": "position", "t1.c.shaft_angle": "1\n" * 6000}
    answer = bench.post(f"/visits/{visit.id}/sheet", do="keep", **said)
    assert answer.status_code == 422
    many = {f"t{n}.name": "position" for n in range(60)}
    assert bench.post(f"/visits/{visit.id}/sheet", do="keep", **many).status_code == 422
    assert not form_from_fields({"t0.name": "nonsense", "x": "y", "t0.c.a": "1"}).tables


def test_the_interface_takes_tables_and_text(bench: Bench, visit: Visit) -> None:
    mark = {"x-csrf-token": bench.mark()}
    place = f"/api/v1/visits/{visit.id}/sheets"
    tables = [
        {"name": "sheet", "fields": {"measured_on": "2031-05-17", "measured_at": "switchboard"}},
        {
            "name": "insulation_resistance",
            "fields": {"test_voltage_v": 1000},
            "columns": {"time_s": [15, 30, 60], "resistance_megaohm": [900.5, 1100, None]},
        },
    ]
    made = bench.client.post(place, json={"tables": tables}, headers=mark)
    assert made.status_code == 201, made.text
    shown = bench.client.get(f"/api/v1/sheets/{made.json()['id']}").json()
    [test] = [each for each in shown["tables"] if each["name"] == "insulation_resistance"]
    assert test["columns"]["resistance_megaohm"] == ["900.5", "1100"]
    kept = bench.desk.plant.measurements.sheet(made.json()["id"])
    toml = bench.desk.plant.measurements.originals.checked(kept.checksum).read_text("utf-8")
    second = bench.client.post(place, json={"toml": toml + "\n# again\n"}, headers=mark)
    assert second.json()["source"] == "test-sheet-2.toml"
    other = bench.client.post(place, json={"toml": toml.replace("P-101", "Q-9")}, headers=mark)
    assert other.status_code == 422
    assert [each["source"] for each in bench.client.get(place).json()] == [
        "test-sheet.toml",
        "test-sheet-2.toml",
    ]


def test_the_schema_states_units_and_ranges(bench: Bench) -> None:
    tables = {t["name"]: t for t in bench.client.get("/api/v1/sheets/schema").json()["tables"]}
    headings = {h["heading"]: h for h in tables["position"]["headings"]}
    inductance = headings["ab_inductance_mh"]
    assert (inductance["low"], inductance["high"]) == (1e-6, 100.0)
    assert {u["suffix"]: u["scale"] for u in inductance["units"]}["mh"] == 1e-3
    assert {"ab_impedance_ohm", "ab_voltage_v", "ab_current_a"} <= set(headings)


def test_a_sheet_of_another_visit_is_not_opened(bench: Bench, visit: Visit) -> None:
    bench.post(f"/visits/{visit.id}/sheet", do="keep", **filled(bench, visit))
    plant = bench.desk.plant
    [kept] = sheets_of(plant, visit)
    other = plant.visits.on(plant.motors.find("P-1010"), DAY)
    assert bench.client.get(f"/visits/{other.id}/sheet?of={kept.id}").status_code == 404


def test_a_file_of_a_sheet_reads_back(bench: Bench, visit: Visit, tmp_path: Path) -> None:
    from cagewise.workflows.sheet import check_sheet

    bench.post(f"/visits/{visit.id}/sheet", do="keep", **filled(bench, visit))
    [kept] = sheets_of(bench.desk.plant, visit)
    path = tmp_path / kept.source
    path.write_bytes(bench.desk.plant.measurements.originals.checked(kept.checksum).read_bytes())
    assert check_sheet(path).sheet.motor_tag == "P-101"
