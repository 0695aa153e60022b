"""Motor files: what is read, what is refused, and how it is said."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import get_args

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cagewise.errors import MotorFileError
from cagewise.machine.motor_file import load_motor, motor_from_mapping, motor_to_toml
from cagewise.machine.motor_schema import RoleName
from cagewise.machine.nameplate import Starting
from cagewise.measurement import Role

EXAMPLES = Path(__file__).resolve().parents[3] / "examples" / "motors"

MINIMAL: dict[str, object] = {
    "rated_power_kw": 75,
    "rated_voltage_v": 400,
    "rated_frequency_hz": 50,
    "rated_speed_rpm": 1480,
    "rated_current_a": 134.0,
    "poles": 4,
}


def mapping(**changes: object) -> dict[str, object]:
    """Return a motor file with keys of [motor] changed; None leaves a key out."""
    section = {**MINIMAL, **changes}
    return {"motor": {key: value for key, value in section.items() if value is not None}}


def message(content: dict[str, object]) -> str:
    """Return the message with which a content is refused."""
    with pytest.raises(MotorFileError) as caught:
        motor_from_mapping(content, where="m.toml")
    return str(caught.value)


@pytest.mark.parametrize("path", sorted(EXAMPLES.glob("*.toml")), ids=lambda p: p.stem)
def test_examples_load_without_warnings_and_survive_a_round_trip(path: Path) -> None:
    motor = load_motor(path)
    assert motor.warnings == ()
    assert motor_from_mapping(tomllib.loads(motor_to_toml(motor))) == motor


def test_there_are_three_examples() -> None:
    assert len(list(EXAMPLES.glob("*.toml"))) == 3


def test_minimal_motor() -> None:
    motor = motor_from_mapping(mapping(), default_tag="pump")
    assert motor.tag == "pump"
    assert motor.nameplate.rated_power_w == 75e3
    assert motor.nameplate.starting is Starting.DIRECT
    assert motor.circuit is None
    assert motor.warnings == ()


def test_horsepower_and_kilowatt_give_the_same_motor() -> None:
    in_hp = motor_from_mapping(mapping(rated_power_kw=None, rated_power_hp=100.0))
    in_kw = motor_from_mapping(mapping(rated_power_kw=74.56998715822702))
    assert in_hp.nameplate.rated_power_w == pytest.approx(in_kw.nameplate.rated_power_w, rel=1e-15)


def test_power_must_be_given_exactly_once() -> None:
    assert "rated_power_kw or rated_power_hp" in message(mapping(rated_power_kw=None))
    assert "both given" in message(mapping(rated_power_hp=100))


def test_all_faults_of_all_sections_in_one_message() -> None:
    text = message(
        {
            "motor": {
                "rated_powr_kw": 3,
                "rated_voltage_v": "380",
                "rated_frequency_hz": 50,
                "rated_speed_rpm": 1420,
                "rated_current_a": 6.7,
                "poles": 3,
                "efficiency": 92.5,
                "connection": "star",
                "load_inertia_kg_m2": 3,
            },
            "sensor": {},
            "bearings": {},
            "criticality": {"level": "hi", "next_outage": "soon"},
        }
    )
    for part in (
        "10 faults",
        "sensor: is not a known section. Did you mean sensors?",
        "rated_powr_kw: is not a known key. Did you mean rated_power_kw?",
        "must be a number, got '380'. Write 380 without quotes.",
        "must be even, got 3. Give the number of poles, not of pole pairs.",
        "Write it per unit: 0.925.",
        'Did you mean "wye"?',
        "It belongs under [drive_train].",
        "Write [[bearings]]",
        "[criticality] level",
        "[criticality] next_outage: must be a date such as 2031-05-17",
    ):
        assert part in text, part
    assert text.startswith("m.toml: ")


def test_faults_of_the_nameplate_are_reported_with_faults_of_other_sections() -> None:
    text = message({**mapping(rated_speed_rpm=1520), "sensors": {"current_ratio": 0.01}})
    assert "a motor cannot run above it" in text
    assert "Did you mean current_ratio_error?" in text


def test_a_single_fault_is_one_line() -> None:
    text = message(mapping(thermal_class="f"))
    assert "\n" not in text
    assert 'Write "F"' in text


@pytest.mark.parametrize("value", [float("nan"), float("inf"), -3.0, 0, True, "3,0", [3]])
def test_power_must_be_a_positive_number(value: object) -> None:
    assert "[motor] rated_power_kw" in message(mapping(rated_power_kw=value))


def test_a_key_outside_any_section_is_sent_where_it_belongs() -> None:
    assert "belongs under [motor]" in message({"rated_speed_rpm": 1480, **mapping()})


def test_missing_motor_section_names_what_is_needed() -> None:
    assert "rated_voltage_v: is missing" in message({})


def test_poles_follow_from_speed_and_frequency_with_a_warning() -> None:
    motor = motor_from_mapping(mapping(poles=None))
    assert motor.nameplate.poles == 4
    assert any("poles: 4 taken from 1480 rpm at 50 Hz" in text for text in motor.warnings)


@pytest.mark.parametrize("speed_rpm", [1500, 1250, 3100])
def test_poles_are_asked_for_when_the_speed_does_not_settle_them(speed_rpm: float) -> None:
    assert "does not follow" in message(mapping(poles=None, rated_speed_rpm=speed_rpm))


def test_circuit_in_reactances_or_inductances_star_or_delta() -> None:
    star = {
        "stator_resistance_ohm": 0.1,
        "rotor_resistance_ohm": 0.05,
        "stator_leakage_reactance_ohm": 0.25,
        "rotor_leakage_reactance_ohm": 0.3,
        "magnetizing_reactance_ohm": 8.0,
    }
    delta = {"winding": "delta", **{key: 3.0 * value for key, value in star.items()}}
    henries = {
        "stator_resistance_ohm": 0.1,
        "rotor_resistance_ohm": 0.05,
        "stator_leakage_h": 0.25 / (100.0 * np.pi),
        "rotor_leakage_h": 0.3 / (100.0 * np.pi),
        "magnetizing_inductance_h": 8.0 / (100.0 * np.pi),
    }
    circuits = [
        motor_from_mapping({**mapping(), "circuit": c}).circuit for c in (star, delta, henries)
    ]
    for circuit in circuits:
        assert circuit is not None
        assert float(circuit.stator_resistance_ohm) == pytest.approx(0.1, rel=1e-12)
        assert float(circuit.rotor_leakage_h) == pytest.approx(0.3 / (100.0 * np.pi), rel=1e-12)


def test_circuit_keys_missing_or_twice() -> None:
    circuit = {
        "stator_resistance_ohm": 0.1,
        "rotor_resistance_ohm": 0.05,
        "stator_leakage_h": 1e-3,
        "stator_leakage_reactance_ohm": 0.3,
    }
    text = message({**mapping(), "circuit": circuit})
    assert "stator_leakage_reactance_ohm: stands beside stator_leakage_h" in text
    assert "[circuit] rotor_leakage_reactance_ohm: is missing" in text
    assert "[circuit] magnetizing_reactance_ohm: is missing" in text


def test_stated_circuit_uncertainty() -> None:
    circuit = {
        "stator_resistance_ohm": 0.1,
        "rotor_resistance_ohm": 0.05,
        "stator_leakage_h": 1e-3,
        "rotor_leakage_h": 1e-3,
        "magnetizing_inductance_h": 30e-3,
        "leakage_uncertainty": 0.05,
    }
    motor = motor_from_mapping({**mapping(), "circuit": circuit})
    assert motor.circuit_uncertainty.leakage == 0.05
    assert motor.circuit_uncertainty.resistance == 0.15
    assert motor_from_mapping(tomllib.loads(motor_to_toml(motor))) == motor_from_mapping(
        {**mapping(), "circuit": circuit}
    )


def test_roles_are_those_of_recordings() -> None:
    assert set(get_args(RoleName)) == {role.value for role in Role}


def test_dates_with_and_without_quotes() -> None:
    bare = motor_from_mapping(
        {**mapping(), **tomllib.loads("[criticality]\nnext_outage = 2031-05-17")}
    )
    quoted = motor_from_mapping({**mapping(), "criticality": {"next_outage": "2031-05-17"}})
    assert bare.criticality.next_outage == quoted.criticality.next_outage == "2031-05-17"


@pytest.mark.parametrize(
    ("content", "part"),
    [
        (b"", "is empty"),
        (b"  \n\n", "is empty"),
        (b"[motor]\nrated_power_kw = 3,0\n", "this is not TOML"),
        (b"\xff\xfe\x00\x01", "is not UTF-8"),
        (b"rated power: 3 kW", "this is not TOML"),
        (b"a = 1\na = 2", "this is not TOML"),
        (b"#" * 1_000_001, "a motor file is a page of text"),
    ],
)
def test_files_that_are_no_motor_files(tmp_path: Path, content: bytes, part: str) -> None:
    path = tmp_path / "m.toml"
    path.write_bytes(content)
    with pytest.raises(MotorFileError, match=part) as caught:
        load_motor(path)
    assert str(path) in str(caught.value)


def test_missing_file_and_folder(tmp_path: Path) -> None:
    for path in (tmp_path / "none.toml", tmp_path):
        with pytest.raises(MotorFileError, match="cannot be read"):
            load_motor(path)


def test_byte_order_mark_is_no_obstacle(tmp_path: Path) -> None:
    path = tmp_path / "m.toml"
    path.write_bytes(b"\xef\xbb\xbf" + motor_to_toml(motor_from_mapping(mapping())).encode())
    assert load_motor(path).tag == "motor"


@given(
    tag=st.text(min_size=1, max_size=30).filter(lambda t: "\x00" not in t),
    power_kw=st.floats(70.0, 80.0),
    role=st.sampled_from(["i_a", "v_ab"]),
    channel=st.text(min_size=1, max_size=20),
)
def test_round_trip_of_any_text(tag: str, power_kw: float, role: str, channel: str) -> None:
    content = {**mapping(tag=tag, rated_power_kw=power_kw), "sensors": {"roles": {channel: role}}}
    motor = motor_from_mapping(content)
    again = motor_from_mapping(tomllib.loads(motor_to_toml(motor)))
    assert again.tag == tag
    assert again.sensors == motor.sensors
    assert again.nameplate.rated_power_w == pytest.approx(motor.nameplate.rated_power_w, rel=1e-15)


def test_a_forgotten_section_line_is_one_fault() -> None:
    content = mapping()["motor"]
    assert isinstance(content, dict)
    text = message(content)
    assert "\n" not in text
    assert "Write [motor] on a line of its own" in text


def test_remedies_fit_what_was_written() -> None:
    assert "per unit" not in message(mapping(power_factor=1.2))
    assert len(message(mapping(rated_voltage_v=10**400))) < 200
    text = message({**mapping(), "criticality": {"next_outage": "soon"}})
    assert "the unit is in the key" not in text
