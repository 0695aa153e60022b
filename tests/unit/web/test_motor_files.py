"""Motor files by form, by text and by the interface: the checks are those of the file."""

from __future__ import annotations

from cagewise.workflows.motor_form import form_of_toml, motor_fields, toml_of_form
from support.plants import motor_file
from support.workbench import HTML, Bench

PLATE = {
    "view": "form",
    "do": "keep",
    "motor.tag": "K-9",
    "motor.rated_power_kw": "75",
    "motor.rated_voltage_v": "400",
    "motor.rated_frequency_hz": "50",
    "motor.rated_speed_rpm": "1480",
    "motor.rated_current_a": "134,0",
    "motor.poles": "4",
}


def test_every_key_of_the_file_has_a_field_and_comes_back() -> None:
    toml = motor_file("P-7") + '\n[[bearings]]\ndesignation = "6316"\n'
    said = form_of_toml(toml)
    assert said["motor.rated_power_kw"] == "315"
    assert said["bearings.0.designation"] == "6316"
    assert form_of_toml(toml_of_form(said)) == said
    assert toml_of_form(said, toml) == toml, "comments stay where nothing was changed"
    assert {f.section for fields in motor_fields().values() for f in fields} == set(motor_fields())


def test_a_motor_is_added_by_the_form(bench: Bench) -> None:
    answer = bench.post("/motors/new", **PLATE)
    assert answer.status_code == 303
    entry = bench.desk.plant.motors.find("K-9")
    assert answer.headers["location"] == f"/motors/{entry.id}"
    assert entry.rated_power_w == 75_000.0


def test_faults_stand_at_their_fields_and_nothing_is_kept(bench: Bench) -> None:
    wrong = PLATE | {"motor.rated_speed_rpm": "fast", "motor.rated_current_a": ""}
    answer = bench.post("/motors/new", **wrong)
    assert answer.status_code == 422
    assert 'id="f-motor-rated_speed_rpm-error"' in answer.text
    assert 'href="#f-motor-rated_current_a"' in answer.text
    assert 'value="fast"' in answer.text
    assert [each.tag for each in bench.desk.plant.motors.all()] == ["P-101", "P-1010"]


def test_names_are_escaped(bench: Bench) -> None:
    name = '<script>alert("1")</script>'
    answer = bench.post("/motors/new", **(PLATE | {"motor.tag": name, "motor.poles": "x"}))
    assert name not in answer.text
    assert "&lt;script&gt;" in answer.text


def test_form_and_text_change_into_each_other(bench: Bench) -> None:
    text = bench.post("/motors/new", **(PLATE | {"do": "view"})).text
    assert "rated_current_a = 134.0" in text
    form = bench.post("/motors/new", view="text", do="view", toml=motor_file("Z-1")).text
    assert 'name="motor.rated_voltage_v" value="690"' in form


def test_an_edit_is_a_version_of_its_day(bench: Bench) -> None:
    plant = bench.desk.plant
    entry = plant.motors.find("P-101")
    said = form_of_toml(plant.motors.nameplate(entry).toml) | {"motor.rotor_bars": "58"}
    said |= {"view": "form", "do": "keep", "valid_from": "2030-05-01", "note": "shop counted"}
    assert bench.post(f"/motors/{entry.id}/file", **said).status_code == 303
    last = plant.motors.nameplates(entry)[-1]
    assert (last.valid_from.isoformat(), last.note) == ("2030-05-01", "shop counted")
    assert "rotor_bars = 58" in last.toml
    assert "Not known yet" in bench.client.get(f"/motors/{entry.id}/file", headers=HTML).text


def test_a_tag_that_is_taken_is_said(bench: Bench) -> None:
    answer = bench.post("/motors/new", **(PLATE | {"motor.tag": "p-101"}))
    assert answer.status_code == 422
    assert "There is a motor" in answer.text


def test_a_file_of_another_motor_is_refused(bench: Bench) -> None:
    entry = bench.desk.plant.motors.find("P-101")
    answer = bench.post(f"/motors/{entry.id}/file", view="text", do="keep", toml=motor_file("Q-1"))
    assert answer.status_code == 422
    assert len(bench.desk.plant.motors.nameplates(entry)) == 1


def test_the_interface_tells_what_may_stand_in_a_file(bench: Bench) -> None:
    fields = {
        f"{each['section']}.{each['key']}": each
        for each in bench.client.get("/api/v1/motor-file/schema").json()
    }
    assert fields["motor.rated_voltage_v"]["needed"]
    assert (fields["motor.poles"]["low"], fields["motor.poles"]["high"]) == (2, 120)
    assert fields["winding.conductor"]["choices"] == ["copper", "aluminium"]


def test_text_that_is_no_file_is_refused(bench: Bench) -> None:
    for toml in ("a = " + "[" * 20_000, "a = " + "9" * 5000, "\x00", "x" * 90_000):
        answer = bench.post("/motors/new", view="text", do="keep", toml=toml)
        assert answer.status_code == 422, toml[:20]
        assert bench.post("/motors/new", view="text", do="view", toml=toml).status_code == 422


def test_who_may_only_read_changes_nothing(remote: Bench) -> None:
    remote.log_in("Cleo")
    entry = remote.desk.plant.motors.find("P-101")
    assert remote.client.get("/motors/new", headers=HTML).status_code == 403
    shown = remote.client.get(f"/motors/{entry.id}/file", headers=HTML)
    assert shown.status_code == 200
    assert "Keep this version" not in shown.text
    answer = remote.post(f"/motors/{entry.id}/file", view="text", do="keep", toml="")
    assert answer.status_code == 403


def test_plan_says_safety_first(bench: Bench) -> None:
    text = bench.client.get("/motors/1/plan", headers=HTML).text
    assert text.index("Local codes") < text.index("lock and tag out") < text.index("In short")
    made = bench.client.get("/api/v1/motors/1/plan").json()
    assert {each["occasion"] for each in made["occasions"]} >= {"running", "standstill"}
    assert f"{made['shaft_angles_deg'][1]:.1f}°" in text
    assert made["cautions"][-1]["id"] == "local_rules"


def test_what_if_shows_what_the_interface_says(bench: Bench) -> None:
    rows = bench.client.get("/api/v1/motors/1/expect").json()
    lower = next(
        r
        for r in rows
        if (r["load_fraction"], r["open_bars"], r["quantity"]) == (0.5, 2, "(1-2s)f")
    )
    text = bench.client.get("/motors/1/expect?bars=2&load=2", headers=HTML).text
    assert 'data-load="2" data-bars="2" class="asked"' in text
    assert f"{lower['value']:.0f} ({lower['low']:.0f}, {lower['high']:.0f})" in text
    assert bench.client.get("/motors/1/expect?bars=9").status_code == 422
