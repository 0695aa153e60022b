"""From validated sections of a motor file to the motor. Imported only by the loader."""

from __future__ import annotations

import math
from dataclasses import fields

from cagewise.machine.circuit import EquivalentCircuit
from cagewise.machine.crosscheck import Fault
from cagewise.machine.motor import (
    Bearing,
    Cage,
    CircuitUncertainty,
    Criticality,
    DriveTrain,
    Sensors,
    Winding,
)
from cagewise.machine.motor_schema import (
    BearingSection,
    CircuitSection,
    CriticalitySection,
    DriveTrainSection,
    MotorSection,
    SensorsSection,
    WindingSection,
)
from cagewise.machine.nameplate import Nameplate, Starting
from cagewise.quantities import WATT_PER_HORSEPOWER

CLEAR_SLIP = 0.12
"""Poles are derived from the speed only when the slip this gives is below this: at more slip the
next pole number is nearly as likely."""
MOST_POLE_PAIRS = 15
"""More are not derived: the next pole number is then closer than the slip."""


def nameplate(
    section: MotorSection, faults: list[Fault], warnings: list[Fault]
) -> Nameplate | None:
    """Return the nameplate, or None (with a fault) when power or poles cannot be had."""
    power_w = _power_w(section, faults)
    poles = section.poles or _derived_poles(section, faults, warnings)
    if power_w is None or poles is None:
        return None
    return Nameplate(
        rated_power_w=power_w,
        rated_voltage_v=section.rated_voltage_v,
        rated_frequency_hz=section.rated_frequency_hz,
        rated_speed_rpm=section.rated_speed_rpm,
        rated_current_a=section.rated_current_a,
        poles=poles,
        power_factor=section.power_factor,
        efficiency=section.efficiency,
        connection=section.connection,
        design_letter=section.design_letter,
        code_letter=section.code_letter,
        service_factor=section.service_factor,
        thermal_class=section.thermal_class,
        starting=Starting(section.starting),
        locked_rotor_time_hot_s=section.locked_rotor_time_hot_s,
        locked_rotor_time_cold_s=section.locked_rotor_time_cold_s,
    )


def _power_w(section: MotorSection, faults: list[Fault]) -> float | None:
    """Return the rated power from kW or hp, exactly one of which must be given."""
    kw, hp = section.rated_power_kw, section.rated_power_hp
    if kw is not None and hp is None:
        return kw * 1e3
    if hp is not None and kw is None:
        return hp * WATT_PER_HORSEPOWER
    what = "is missing" if kw is None else "and rated_power_hp are both given"
    remedy = "Give the rated power once: rated_power_kw or rated_power_hp."
    faults.append(Fault("[motor] rated_power_kw", what, remedy))
    return None


def _derived_poles(section: MotorSection, faults: list[Fault], warnings: list[Fault]) -> int | None:
    """Return the pole number that speed and frequency imply, with a warning."""
    speed_rpm, frequency_hz = section.rated_speed_rpm, section.rated_frequency_hz
    pole_pairs = int(60.0 * frequency_hz / speed_rpm)
    slip = 1.0 - speed_rpm * pole_pairs / (60.0 * frequency_hz)
    if not 1 <= pole_pairs <= MOST_POLE_PAIRS or not 0.0 < slip < CLEAR_SLIP:
        what = f"is missing and does not follow from {speed_rpm:g} rpm at {frequency_hz:g} Hz"
        remedy = "Check speed and frequency, or give the number of poles."
        faults.append(Fault("[motor] poles", what, remedy))
        return None
    what = f"{2 * pole_pairs} taken from {speed_rpm:g} rpm at {frequency_hz:g} Hz"
    warnings.append(Fault("[motor] poles", what, "Give the number to be sure."))
    return 2 * pole_pairs


def cage(section: MotorSection) -> Cage:
    """Return the cage data, which stand in the ``[motor]`` section."""
    return Cage(
        rotor_bars=section.rotor_bars,
        stator_slots=section.stator_slots,
        coil_span_slots=section.coil_span_slots,
        rotor_slots=section.rotor_slots,
        construction=section.cage,
    )


def winding(section: WindingSection) -> Winding:
    """Return the winding data."""
    return Winding(
        construction=section.construction,
        built_year=section.built_year,
        insulation=section.insulation,
        conductor=section.conductor,
        concentric=section.concentric,
    )


def circuit(
    section: CircuitSection, frequency_hz: float | None, faults: list[Fault]
) -> EquivalentCircuit | None:
    """Return the circuit per star-equivalent phase, or None (with a fault) when incomplete.

    A delta winding of phase impedance Z is a star of Z / 3. Reactances hold at
    ``frequency_hz``, the rated frequency; None when that is not known.
    """
    per_star = 1.0 / 3.0 if section.winding == "delta" else 1.0
    inductances_h = {}
    for inductance, reactance in (
        ("stator_leakage_h", "stator_leakage_reactance_ohm"),
        ("rotor_leakage_h", "rotor_leakage_reactance_ohm"),
        ("magnetizing_inductance_h", "magnetizing_reactance_ohm"),
    ):
        value_h, value_ohm = getattr(section, inductance), getattr(section, reactance)
        if (value_h is None) == (value_ohm is None):
            what = "is missing" if value_h is None else f"stands beside {inductance}"
            remedy = f"Give either {reactance} (at rated frequency) or {inductance}."
            faults.append(Fault(f"[circuit] {reactance}", what, remedy))
        elif value_h is not None:
            inductances_h[inductance] = per_star * value_h
        elif frequency_hz is not None:
            inductances_h[inductance] = per_star * value_ohm / (2.0 * math.pi * frequency_hz)
    if len(inductances_h) < 3:
        return None
    return EquivalentCircuit.from_values(
        stator_resistance_ohm=per_star * section.stator_resistance_ohm,
        rotor_resistance_ohm=per_star * section.rotor_resistance_ohm,
        **inductances_h,
    )


def circuit_uncertainty(section: CircuitSection | None) -> CircuitUncertainty:
    """Return the stated relative standard deviations, defaults for those not stated."""
    if section is None:
        return CircuitUncertainty()
    stated = {f.name: getattr(section, f"{f.name}_uncertainty") for f in fields(CircuitUncertainty)}
    return CircuitUncertainty(
        **{name: value for name, value in stated.items() if value is not None}
    )


def sensors(section: SensorsSection) -> Sensors:
    """Return how the recordings are made."""
    defaults = Sensors()
    phase_error_deg, ratio_error = section.current_phase_error_deg, section.current_ratio_error
    return Sensors(
        current_phase_error_deg=(
            defaults.current_phase_error_deg if phase_error_deg is None else phase_error_deg
        ),
        current_ratio_error=defaults.current_ratio_error if ratio_error is None else ratio_error,
        roles=dict(section.roles),
    )


def criticality(section: CriticalitySection) -> Criticality:
    """Return what depends on the motor."""
    outage = section.next_outage
    return Criticality(
        level=section.level,
        spare=section.spare,
        false_pull_cost=section.false_pull_cost,
        miss_cost=section.miss_cost,
        next_outage=None if outage is None else outage.isoformat(),
    )


def bearing(section: BearingSection) -> Bearing:
    """Return one bearing."""
    element_mm, pitch_mm = section.element_diameter_mm, section.pitch_diameter_mm
    return Bearing(
        designation=section.designation,
        rolling_elements=section.rolling_elements,
        element_diameter_m=None if element_mm is None else element_mm / 1e3,
        pitch_diameter_m=None if pitch_mm is None else pitch_mm / 1e3,
        contact_angle_deg=section.contact_angle_deg,
    )


def drive_train(section: DriveTrainSection) -> DriveTrain:
    """Return what the motor drives."""
    return DriveTrain(
        description=section.description,
        load_inertia_kg_m2=section.load_inertia_kg_m2,
        rotor_inertia_kg_m2=section.rotor_inertia_kg_m2,
        shaft_ratios=dict(section.shaft_ratios),
    )
