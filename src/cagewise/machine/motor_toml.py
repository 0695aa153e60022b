"""Writing a motor as a motor file."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from datetime import date
from typing import Any

from cagewise.machine.motor import Cage, Criticality, DriveTrain, Motor, Sensors, Winding
from cagewise.machine.nameplate import Nameplate

Value = str | float | bool | date | Mapping[str, str] | Mapping[str, float] | None


def motor_to_toml(motor: Motor) -> str:
    """Return the motor as the text of a motor file; reading it returns the same motor.

    Warnings are not written (they are found again), and a circuit is written only if it was given
    as one circuit, not as an ensemble.
    """
    parts = [
        _table("[motor]", _motor_items(motor.tag, motor.description, motor.nameplate, motor.cage)),
        _table("[winding]", _winding_items(motor.winding)),
        _table("[circuit]", _circuit_items(motor)),
        _table("[sensors]", _sensor_items(motor.sensors)),
        _table("[criticality]", _criticality_items(motor.criticality)),
    ]
    for bearing in motor.bearings:
        element_m, pitch_m = bearing.element_diameter_m, bearing.pitch_diameter_m
        items: dict[str, Value] = {
            "designation": bearing.designation,
            "rolling_elements": bearing.rolling_elements,
            "element_diameter_mm": None if element_m is None else element_m * 1e3,
            "pitch_diameter_mm": None if pitch_m is None else pitch_m * 1e3,
            "contact_angle_deg": bearing.contact_angle_deg,
        }
        parts.append(_table("[[bearings]]", items))
    parts.append(_table("[drive_train]", _drive_train_items(motor.drive_train)))
    return "\n".join(part for part in parts if part)


def sections_to_toml(content: Mapping[str, Any]) -> str:
    """Return sections, as parsed from a motor file, as the text of one; nothing is checked.

    Parameters
    ----------
    content
        Section to keys, or to a list of tables of keys; blank values are left out.
    """
    parts = []
    for name, section in content.items():
        tables = section if isinstance(section, list) else [section]
        header = f"[[{name}]]" if isinstance(section, list) else f"[{name}]"
        parts += [_table(header, table) for table in tables]
    return "\n".join(part for part in parts if part)


def _table(header: str, items: Mapping[str, Value]) -> str:
    """Return one section, or nothing when it has no entries."""
    lines = list(_lines(items))
    return "\n".join([header, *lines, ""]) if lines else ""


def _lines(items: Mapping[str, Value]) -> Iterable[str]:
    """Yield one line per entry that is stated."""
    for key, value in items.items():
        if isinstance(value, Mapping):
            pairs = ", ".join(f"{_text(name)} = {_scalar(v)}" for name, v in value.items())
            if pairs:
                yield f"{key} = {{ {pairs} }}"
        elif value is not None and value != "":
            yield f"{key} = {_scalar(value)}"


def _scalar(value: str | float | date) -> str:
    """Return one TOML value."""
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, bool):
        return "true" if value else "false"
    return _text(value) if isinstance(value, str) else repr(value)


def _text(value: str) -> str:
    """Return a TOML basic string; TOML escapes what JSON does, and DEL besides."""
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")


def _motor_items(tag: str, description: str, plate: Nameplate, cage: Cage) -> dict[str, Value]:
    """Return the entries of ``[motor]``."""
    return {
        "tag": tag,
        "description": description,
        "rated_power_kw": plate.rated_power_w / 1e3,
        "rated_voltage_v": plate.rated_voltage_v,
        "rated_frequency_hz": plate.rated_frequency_hz,
        "rated_speed_rpm": plate.rated_speed_rpm,
        "rated_current_a": plate.rated_current_a,
        "poles": plate.poles,
        "power_factor": plate.power_factor,
        "efficiency": plate.efficiency,
        "rotor_bars": cage.rotor_bars,
        "stator_slots": cage.stator_slots,
        "coil_span_slots": cage.coil_span_slots,
        "rotor_slots": cage.rotor_slots,
        "cage": cage.construction,
        "design_letter": plate.design_letter,
        "code_letter": plate.code_letter,
        "service_factor": plate.service_factor,
        "connection": plate.connection,
        "thermal_class": plate.thermal_class,
        "starting": plate.starting.value,
        "locked_rotor_time_hot_s": plate.locked_rotor_time_hot_s,
        "locked_rotor_time_cold_s": plate.locked_rotor_time_cold_s,
    }


def _winding_items(winding: Winding) -> dict[str, Value]:
    """Return the entries of ``[winding]``; none when all are as if not stated."""
    if winding == Winding():
        return {}
    return {
        "construction": winding.construction,
        "built_year": winding.built_year,
        "insulation": winding.insulation,
        "conductor": winding.conductor,
        "concentric": winding.concentric,
    }


def _circuit_items(motor: Motor) -> dict[str, Value]:
    """Return the entries of ``[circuit]``; none when the circuit was not given."""
    circuit, uncertainty = motor.circuit, motor.circuit_uncertainty
    if circuit is None or circuit.stator_resistance_ohm.ndim:
        return {}
    return {
        "stator_resistance_ohm": float(circuit.stator_resistance_ohm),
        "rotor_resistance_ohm": float(circuit.rotor_resistance_ohm),
        "stator_leakage_h": float(circuit.stator_leakage_h),
        "rotor_leakage_h": float(circuit.rotor_leakage_h),
        "magnetizing_inductance_h": float(circuit.magnetizing_inductance_h),
        "resistance_uncertainty": uncertainty.resistance,
        "leakage_uncertainty": uncertainty.leakage,
        "magnetizing_uncertainty": uncertainty.magnetizing,
    }


def _sensor_items(sensors: Sensors) -> dict[str, Value]:
    """Return the entries of ``[sensors]``."""
    return {
        "current_phase_error_deg": sensors.current_phase_error_deg,
        "current_ratio_error": sensors.current_ratio_error,
        "roles": sensors.roles,
    }


def _criticality_items(criticality: Criticality) -> dict[str, Value]:
    """Return the entries of ``[criticality]``."""
    return {
        "level": criticality.level,
        "spare": criticality.spare,
        "false_pull_cost": criticality.false_pull_cost,
        "miss_cost": criticality.miss_cost,
        "next_outage": criticality.next_outage,
    }


def _drive_train_items(train: DriveTrain) -> dict[str, Value]:
    """Return the entries of ``[drive_train]``."""
    return {
        "description": train.description,
        "load_inertia_kg_m2": train.load_inertia_kg_m2,
        "rotor_inertia_kg_m2": train.rotor_inertia_kg_m2,
        "shaft_ratios": train.shaft_ratios,
    }
