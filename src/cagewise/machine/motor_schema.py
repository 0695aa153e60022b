"""The keys of a motor file, one pydantic model per section. Imported only by the loader.

The fields of :mod:`cagewise.machine.motor` and ``docs/motor-file.md`` say what each key means.
Only what concerns one key alone is checked here; :mod:`cagewise.machine.crosscheck` looks at the
numbers together.
"""

from __future__ import annotations

from datetime import date
from typing import Annotated, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field

Positive = Annotated[float, Field(gt=0.0)]
NotNegative = Annotated[float, Field(ge=0.0)]
Spread = Annotated[float, Field(gt=0.0, le=0.5)]
Power = Annotated[float, Field(ge=1e-3, le=1e6)]
Voltage = Annotated[float, Field(ge=1e-2, le=1e5)]
Frequency = Annotated[float, Field(ge=1.0, le=1e3)]
Speed = Annotated[float, Field(ge=1.0, le=1e5)]
Current = Annotated[float, Field(ge=1e-3, le=1e6)]
Ratio = Annotated[float, Field(ge=0.1, lt=1.0)]
"""Bounds of the rated values are far outside anything built: they only keep nonsense out of the
arithmetic of the cross-checks, which judge the rest."""
Count = Annotated[int, Field(gt=0)]
Text = Annotated[str, Field(max_length=2000)]

CodeLetter = Literal[
    "A", "B", "C", "D", "E", "F", "G", "H", "J", "K",
    "L", "M", "N", "P", "R", "S", "T", "U", "V",
]  # fmt: skip
DesignLetter = Literal["A", "B", "C", "D", "E", "N", "H", "NE", "HE", "NY", "HY", "NEY", "HEY"]
"""NEMA MG 1 (A to E) and IEC 60034-12 (the others, from memory)."""
ThermalClass = Literal["Y", "A", "E", "B", "F", "H", "N", "R"]
"""IEC 60085 (from memory)."""
RoleName = Literal[
    "i_a", "i_b", "i_c", "v_a", "v_b", "v_c", "v_ab", "v_bc", "v_ca", "other", "unassigned"
]  # fmt: skip


def _unquoted(value: object) -> object:
    """Return a quoted ISO 8601 date as a date; anything else as it is."""
    if not isinstance(value, str):
        return value
    try:
        return date.fromisoformat(value)
    except ValueError:
        return value


class Section(BaseModel):
    """Base of all sections: no unknown keys, no silent conversion, no NaN or infinity."""

    model_config = ConfigDict(extra="forbid", strict=True, allow_inf_nan=False)


class MotorSection(Section):
    """``[motor]``: nameplate and cage."""

    tag: Text = ""
    description: Text = ""
    rated_power_kw: Power | None = None
    rated_power_hp: Power | None = None
    rated_voltage_v: Voltage
    rated_frequency_hz: Frequency
    rated_speed_rpm: Speed
    rated_current_a: Current
    poles: Annotated[int, Field(ge=2, le=120, multiple_of=2)] | None = None
    power_factor: Ratio | None = None
    efficiency: Ratio | None = None
    rotor_bars: Count | None = None
    stator_slots: Count | None = None
    coil_span_slots: Count | None = None
    rotor_slots: Literal["open", "closed"] | None = None
    cage: Literal["fabricated", "cast"] | None = None
    design_letter: DesignLetter | None = None
    code_letter: CodeLetter | None = None
    service_factor: Positive | None = None
    connection: Literal["wye", "delta"] | None = None
    thermal_class: ThermalClass | None = None
    starting: Literal["direct", "soft starter", "converter"] = "direct"
    locked_rotor_time_hot_s: Annotated[float, Field(gt=0.0, le=600.0)] | None = None
    locked_rotor_time_cold_s: Annotated[float, Field(gt=0.0, le=600.0)] | None = None


class WindingSection(Section):
    """``[winding]``: the stator winding and its insulation."""

    construction: Literal["form", "random"] | None = None
    built_year: Annotated[int, Field(ge=1880, le=2200)] | None = None
    insulation: Literal["thermosetting", "thermoplastic"] | None = None
    conductor: Literal["copper", "aluminium"] = "copper"
    concentric: bool = False


class CircuitSection(Section):
    """``[circuit]``: a known equivalent circuit, rotor referred to the stator."""

    winding: Literal["wye", "delta"] = "wye"
    stator_resistance_ohm: NotNegative
    rotor_resistance_ohm: Positive
    stator_leakage_reactance_ohm: Positive | None = None
    rotor_leakage_reactance_ohm: Positive | None = None
    magnetizing_reactance_ohm: Positive | None = None
    stator_leakage_h: Positive | None = None
    rotor_leakage_h: Positive | None = None
    magnetizing_inductance_h: Positive | None = None
    resistance_uncertainty: Spread | None = None
    leakage_uncertainty: Spread | None = None
    magnetizing_uncertainty: Spread | None = None


class SensorsSection(Section):
    """``[sensors]``: how the recordings are made."""

    current_phase_error_deg: Annotated[float, Field(ge=0.0, le=30.0)] | None = None
    current_ratio_error: Annotated[float, Field(ge=0.0, le=0.5)] | None = None
    roles: dict[str, RoleName] = Field(default_factory=dict)


class CriticalitySection(Section):
    """``[criticality]``: what depends on the motor."""

    level: Literal["low", "normal", "high"] = "normal"
    spare: bool | None = None
    false_pull_cost: NotNegative | None = None
    miss_cost: NotNegative | None = None
    next_outage: Annotated[date | None, BeforeValidator(_unquoted)] = None


class BearingSection(Section):
    """One ``[[bearings]]`` entry."""

    designation: Text = ""
    rolling_elements: Count | None = None
    element_diameter_mm: Positive | None = None
    pitch_diameter_mm: Positive | None = None
    contact_angle_deg: Annotated[float, Field(ge=0.0, lt=90.0)] = 0.0


class DriveTrainSection(Section):
    """``[drive_train]``: what the motor drives."""

    description: Text = ""
    load_inertia_kg_m2: NotNegative | None = None
    rotor_inertia_kg_m2: Positive | None = None
    shaft_ratios: dict[str, Positive] = Field(default_factory=dict)


SECTIONS: dict[str, type[Section]] = {
    "motor": MotorSection,
    "winding": WindingSection,
    "circuit": CircuitSection,
    "sensors": SensorsSection,
    "criticality": CriticalitySection,
    "drive_train": DriveTrainSection,
}
"""Sections that are tables; ``[[bearings]]`` is a list of tables."""
