"""What the keys of a motor file are called on a form, and what is said beside them."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

SECTION_TITLES: Mapping[str, str] = MappingProxyType(
    {
        "motor": "Nameplate and cage",
        "winding": "Stator winding",
        "circuit": "Equivalent circuit, if it is known",
        "sensors": "How recordings are made",
        "criticality": "What depends on the motor",
        "drive_train": "What it drives",
        "bearings": "Bearings",
    }
)
SECTION_NOTES: Mapping[str, str] = MappingProxyType(
    {
        "motor": "The six of the plate are needed; everything else narrows the answers.",
        "circuit": "Leave it empty unless the maker states it: it is estimated from the plate.",
        "sensors": "Of the clamps and transformers. One channel a line: NAME = i_a.",
        "drive_train": "One rotating part a line: vanes = 6, its frequency over that of the shaft.",
    }
)
UNITS: Mapping[str, str] = MappingProxyType(
    {
        "kg_m2": "kg m²",
        "kw": "kW",
        "hp": "hp",
        "v": "V",
        "hz": "Hz",
        "rpm": "r/min",
        "a": "A",
        "s": "s",
        "ohm": "Ω",
        "h": "H",
        "mm": "mm",
        "deg": "degrees",
    }
)
"""Ending of a key to its unit as it is shown."""

LABELS: Mapping[str, str] = MappingProxyType(
    {
        "motor.tag": "Tag",
        "motor.cage": "Cage",
        "motor.rotor_slots": "Rotor slots",
        "motor.poles": "Number of poles",
        "motor.starting": "How it is started",
        "motor.connection": "Connection",
        "motor.rated_speed_rpm": "Full-load speed",
        "motor.rated_voltage_v": "Rated voltage, line to line",
        "motor.locked_rotor_time_hot_s": "Locked-rotor time, hot",
        "motor.locked_rotor_time_cold_s": "Locked-rotor time, cold",
        "winding.built_year": "Year the winding was made",
        "winding.concentric": "Concentric coils",
        "sensors.roles": "Channels of the recorder",
        "sensors.current_phase_error_deg": "Phase error of the current sensors",
        "sensors.current_ratio_error": "Ratio error of the current sensors",
        "criticality.level": "Criticality",
        "criticality.spare": "A spare stands ready",
        "criticality.false_pull_cost": "Cost of pulling a sound motor",
        "criticality.miss_cost": "Cost of a broken cage missed",
        "criticality.next_outage": "Next planned outage",
        "drive_train.shaft_ratios": "Other rotating parts",
        "drive_train.load_inertia_kg_m2": "Inertia of the load, at the motor shaft",
        "drive_train.rotor_inertia_kg_m2": "Inertia of the rotor",
    }
)
"""Where the key itself does not read well."""

HELP: Mapping[str, str] = MappingProxyType(
    {
        "motor.tag": "As on the motor. It never changes.",
        "motor.rated_power_kw": "Or in hp; one of the two.",
        "motor.rated_speed_rpm": "Below synchronous, as on the plate.",
        "motor.poles": "May be left out where speed and frequency settle it.",
        "motor.rotor_bars": "Ask the repair shop. Narrows every interval: the slot lines then tell "
        "the speed, and readings become open bars.",
        "motor.stator_slots": "Ask the repair shop. Narrows the bars read beside the 5th and 7th.",
        "motor.coil_span_slots": "Narrows the bars read beside the 5th and 7th.",
        "motor.rotor_slots": "A closed slot changes the start and the test at rest.",
        "motor.cage": "Fabricated cages break bar by bar; cast ones have porosity.",
        "motor.efficiency": "Per unit, as 0.95. Narrows the equivalent circuit.",
        "motor.power_factor": "Per unit, as 0.87. Narrows the equivalent circuit, and may settle "
        "which channel is which.",
        "motor.design_letter": "Says how often the motor may be started.",
        "winding.construction": "Random or form-wound: says which insulation limits count.",
        "winding.built_year": "Says which insulation limits count.",
        "winding.insulation": "Says how readings are brought to 40 °C.",
        "criticality.false_pull_cost": "Any currency, the same in both. Without them the advice "
        "stands on criticality alone.",
        "criticality.miss_cost": "Failure in service, with what stands still.",
        "criticality.next_outage": "Advice names the last day before it.",
        "sensors.current_ratio_error": "Per unit, as 0.01.",
    }
)
"""What a value is good for, or what its absence costs the examination."""


def label_of(section: str, key: str) -> str:
    """Return what a key is called on a form."""
    special = LABELS.get(f"{section}.{key}")
    if special is not None:
        return special
    stem = key
    for ending in UNITS:
        if key.endswith(f"_{ending}"):
            stem = key.removesuffix(f"_{ending}")
            break
    words = stem.replace("_", " ")
    return words[:1].upper() + words[1:]


def unit_of(key: str) -> str:
    """Return the unit in the name of a key as it is shown; empty without one."""
    return next((shown for ending, shown in UNITS.items() if key.endswith(f"_{ending}")), "")


def faults_in(what: str) -> tuple[str, ...]:
    """Return the faults that a message about a file lists, one by one; none if it lists none."""
    _, colon, listed = what.partition(":\n  - ")
    return tuple(listed.split("\n  - ")) if colon else ()
