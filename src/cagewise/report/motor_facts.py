"""A motor in words: nameplate, winding, cage, what depends on it; its sensors."""

from __future__ import annotations

from cagewise.machine.motor import Motor
from cagewise.report import numbers
from cagewise.report.facts import Fact
from cagewise.store import Sensor

RATED = "{volts:g} V, {amperes:g} A, {hertz:g} Hz"
SPEED = "{speed:g} r/min, {poles} poles (rated slip {slip:.2f} %)"
EFFICIENCY = "{value:.1f} %"
SPARE = {True: "stands ready", False: "none"}
CALIBRATED = "calibrated {day}"
NEVER_CALIBRATED = "no calibration noted"


def nameplate_facts(motor: Motor) -> list[Fact]:
    """Return what the motor file says, labelled; what it does not say is left out."""
    plate, winding, critical = motor.nameplate, motor.winding, motor.criticality
    rated = RATED.format(
        volts=plate.rated_voltage_v, amperes=plate.rated_current_a, hertz=plate.rated_frequency_hz
    )
    speed = SPEED.format(
        speed=plate.rated_speed_rpm, poles=plate.poles, slip=100.0 * plate.rated_slip
    )
    rows = [
        ("Rated power", numbers.power(plate.rated_power_w)),
        ("Rated", rated),
        ("Speed", speed),
        ("Power factor", "" if plate.power_factor is None else f"{plate.power_factor:g}"),
        ("Efficiency", _percent(plate.efficiency)),
        ("Connection", plate.connection or ""),
        ("Starting", plate.starting.value),
        ("Thermal class", plate.thermal_class or ""),
        *_cage_facts(motor),
        ("Winding", _joined(winding.construction, winding.insulation)),
        ("Winding made in", _number(winding.built_year)),
        ("Drives", motor.drive_train.description),
        ("Criticality", critical.level),
        ("Spare", "" if critical.spare is None else SPARE[critical.spare]),
        ("Next outage", critical.next_outage or ""),
        ("Needless removal costs", _cost(critical.false_pull_cost)),
        ("Missed defect costs", _cost(critical.miss_cost)),
    ]
    return [row for row in rows if row[1]]


def sensor_facts(sensor: Sensor) -> list[str]:
    """Return what is known of a sensor: what it measures, ratio, serial number, days, remark."""
    calibrated = sensor.calibrated_on
    said = (
        sensor.role,
        f"serial {sensor.serial}" if sensor.serial else "",
        "" if sensor.ratio is None else f"ratio {sensor.ratio:g}",
        "" if sensor.mounted_on is None else f"mounted {sensor.mounted_on}",
        NEVER_CALIBRATED if calibrated is None else CALIBRATED.format(day=calibrated),
        "" if sensor.removed_on is None else f"removed {sensor.removed_on}",
        sensor.note,
    )
    return [each for each in said if each]


def _cage_facts(motor: Motor) -> list[Fact]:
    """Return what is known of the cage and the slots."""
    cage = motor.cage
    return [
        ("Rotor bars", _number(cage.rotor_bars)),
        ("Stator slots", _number(cage.stator_slots)),
        ("Coil span", "" if cage.coil_span_slots is None else f"{cage.coil_span_slots} slots"),
        ("Rotor slots", cage.rotor_slots or ""),
        ("Cage", cage.construction or ""),
    ]


def _number(value: int | None) -> str:
    return "" if value is None else str(value)


def _cost(value: float | None) -> str:
    return "" if value is None else f"{value:,.0f}".replace(",", "\N{NARROW NO-BREAK SPACE}")


def _percent(value: float | None) -> str:
    return "" if value is None else EFFICIENCY.format(value=100.0 * value)


def _joined(*parts: str | None) -> str:
    return ", ".join(part for part in parts if part)
