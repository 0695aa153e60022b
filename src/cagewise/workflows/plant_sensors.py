"""Use cases: the sensors that stay on a motor, and notes on the motor itself."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from cagewise.errors import AlreadyKeptError, NotKeptError, UsageError
from cagewise.measurement import Role
from cagewise.store import Event, MotorEntry, Note, Plant, Sensor

ROLES = tuple(role.value for role in Role if role is not Role.UNASSIGNED)
"""What a sensor can measure."""


def add_sensor(plant: Plant, motor: MotorEntry, sensor: Sensor) -> Sensor:
    """Note a sensor that stays on a motor.

    Raises
    ------
    UsageError
        If it has no name, or its role or ratio makes no sense.
    AlreadyKeptError
        If a sensor of that name is on the motor.
    """
    if not sensor.name.strip():
        raise UsageError("a sensor has a name", where="sensor", remedy='As in "clamp A".')
    if sensor.role and sensor.role not in ROLES:
        raise UsageError(
            f"there is no role {sensor.role!r}",
            where="--role",
            remedy=f"One of {', '.join(ROLES)}.",
        )
    if sensor.ratio is not None and not 0.0 < sensor.ratio < float("inf"):
        raise UsageError(
            f"must be primary per secondary, above zero, got {sensor.ratio:g}", where="--ratio"
        )
    if any(_same(each, sensor.name) for each in mounted(plant, motor)):
        raise AlreadyKeptError(
            f"{motor.tag!r} has a sensor {sensor.name!r}",
            where="sensor",
            remedy="Remove that one first, or give this one another name.",
        )
    return plant.motors.add_sensor(motor, sensor)


def calibrate_sensor(plant: Plant, motor: MotorEntry, name: str, day: date) -> Sensor:
    """Note that a sensor was found within its limits of error on a day.

    Raises
    ------
    NotKeptError
        If no such sensor is on the motor.
    """
    return plant.motors.change_sensor(replace(find_sensor(plant, motor, name), calibrated_on=day))


def remove_sensor(plant: Plant, motor: MotorEntry, name: str, day: date) -> Sensor:
    """Note that a sensor was taken off a motor; what it measured stays as it is.

    Raises
    ------
    NotKeptError
        If no such sensor is on the motor.
    UsageError
        If it was mounted later.
    """
    sensor = find_sensor(plant, motor, name)
    if sensor.mounted_on is not None and day < sensor.mounted_on:
        raise UsageError(f"it was mounted later, on {sensor.mounted_on}", where="--on")
    return plant.motors.change_sensor(replace(sensor, removed_on=day))


def find_sensor(plant: Plant, motor: MotorEntry, name: str) -> Sensor:
    """Return the sensor of a name that is on a motor.

    Raises
    ------
    NotKeptError
        If there is none, with those that there are.
    """
    there = mounted(plant, motor)
    for sensor in there:
        if _same(sensor, name):
            return sensor
    names = ", ".join(repr(sensor.name) for sensor in there)
    raise NotKeptError(
        f"there is no sensor {name!r} on {motor.tag!r}",
        remedy=f"On it are {names}." if names else 'Add it: "cagewise motor sensor add".',
    )


def mounted(plant: Plant, motor: MotorEntry) -> tuple[Sensor, ...]:
    """Return the sensors that were not removed."""
    return tuple(each for each in plant.motors.sensors(motor) if each.removed_on is None)


def note_motor(
    plant: Plant, motor: MotorEntry, text: str, *, author: str = "", on: date | None = None
) -> Event:
    """Note something on a motor, without a case.

    Raises
    ------
    UsageError
        If there is nothing to note.
    """
    if not text.strip():
        raise UsageError("there is nothing to note", where="note")
    return plant.cases.add_event(motor, Note(), text=text, author=author, on=on)


def _same(sensor: Sensor, name: str) -> bool:
    """Return whether a name means a sensor; spaces and letter case do not count."""
    return "".join(sensor.name.split()).casefold() == "".join(name.split()).casefold()
