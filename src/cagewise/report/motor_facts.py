"""A motor in words: nameplate, winding, cage, what depends on it; its sensors."""

from __future__ import annotations

from datetime import date

from cagewise.machine.motor import Motor
from cagewise.report import measures, numbers
from cagewise.report import motor_wording as words
from cagewise.report.facts import Fact
from cagewise.report.language import decimal, retell, say
from cagewise.store import Sensor


def nameplate_facts(motor: Motor) -> list[Fact]:
    """Return what the motor file says, labelled; what it does not say is left out."""
    plate, winding, critical = motor.nameplate, motor.winding, motor.criticality
    rated = say(
        words.RATED,
        volts=f"{plate.rated_voltage_v:g}",
        amperes=f"{plate.rated_current_a:g}",
        hertz=f"{plate.rated_frequency_hz:g}",
    )
    speed = say(
        words.SPEED,
        speed=f"{plate.rated_speed_rpm:g}",
        poles=plate.poles,
        slip=f"{100.0 * plate.rated_slip:.2f}",
    )
    told = {
        "power": measures.shaft_power(plate.rated_power_w),
        "rated": rated,
        "speed": speed,
        "power_factor": "" if plate.power_factor is None else decimal(f"{plate.power_factor:g}"),
        "efficiency": _percent(plate.efficiency),
        "connection": retell(plate.connection or ""),
        "starting": retell(plate.starting.value),
        "thermal_class": plate.thermal_class or "",
        **_cage_facts(motor),
        "winding": _joined(winding.construction, winding.insulation),
        "winding_year": _number(winding.built_year),
        "drives": motor.drive_train.description,
        "criticality": retell(critical.level),
        "spare": _spare(ready=critical.spare),
        "outage": str(critical.next_outage or ""),
        "false_pull": _cost(critical.false_pull_cost),
        "miss": _cost(critical.miss_cost),
    }
    return [(say(words.FACT[key]), text) for key, text in told.items() if text]


def sensor_facts(sensor: Sensor) -> list[str]:
    """Return what is known of a sensor: what it measures, ratio, serial number, days, remark."""
    said = (
        sensor.role,
        say(words.SERIAL, number=sensor.serial) if sensor.serial else "",
        "" if sensor.ratio is None else say(words.RATIO, ratio=f"{sensor.ratio:g}"),
        _on(words.MOUNTED, sensor.mounted_on),
        _on(words.CALIBRATED, sensor.calibrated_on) or say(words.NEVER_CALIBRATED),
        _on(words.REMOVED, sensor.removed_on),
        sensor.note,
    )
    return [each for each in said if each]


def _cage_facts(motor: Motor) -> dict[str, str]:
    """Return what is known of the cage and the slots."""
    cage = motor.cage
    span = cage.coil_span_slots
    return {
        "rotor_bars": _number(cage.rotor_bars),
        "stator_slots": _number(cage.stator_slots),
        "coil_span": "" if span is None else say(words.COIL_SPAN, slots=span),
        "rotor_slots": retell(cage.rotor_slots or ""),
        "cage": retell(cage.construction or ""),
    }


def _spare(*, ready: bool | None) -> str:
    if ready is None:
        return ""
    return say(words.SPARE_READY) if ready else say(words.SPARE_NONE)


def _on(template: str, day: date | None) -> str:
    return "" if day is None else say(template, day=day)


def _number(value: int | None) -> str:
    return "" if value is None else str(value)


def _cost(value: float | None) -> str:
    return "" if value is None else f"{value:,.0f}".replace(",", "\N{NARROW NO-BREAK SPACE}")


def _percent(value: float | None) -> str:
    return "" if value is None else numbers.percent_of(decimal(f"{100.0 * value:.1f}"))


def _joined(*parts: str | None) -> str:
    return ", ".join(retell(part) for part in parts if part)
