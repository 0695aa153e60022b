"""The commands on the sensors of a motor, and on notes on the motor itself."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Annotated

from cyclopts import App, Parameter

from cagewise.cli.options import PageOptions
from cagewise.cli.plant_options import PlantOptions
from cagewise.cli.status import ExitStatus
from cagewise.cli.streams import Streams

if TYPE_CHECKING:
    from cagewise.store import Sensor

Injected = Annotated[Streams, Parameter(parse=False)]
Mounted = Annotated[date | None, Parameter(name="--on")]

SAID = "{tag}: {name}, {facts}"
NOTED = "{tag}: noted on {day}"


def add_sensor_commands(motors: App) -> None:
    """Give the commands on motors those on sensors and notes."""
    sensors = App(name="sensor", help="Sensors that stay on a motor: add, calibrated, remove.")
    for name, command in (
        ("add", sensor_add),
        ("calibrated", sensor_calibrated),
        ("remove", sensor_remove),
    ):
        sensors.command(command, name=name)
    motors.command(sensors)
    motors.command(motor_note, name="note")


def sensor_add(  # noqa: PLR0913 - what is known of a sensor
    tag: str,
    name: str,
    /,
    *,
    role: str = "",
    serial: str = "",
    ratio: float | None = None,
    mounted: Mounted = None,
    calibrated: date | None = None,
    note: str = "",
    plant: PlantOptions | None = None,
    page: PageOptions | None = None,
    streams: Injected,
) -> ExitStatus:
    """Note a sensor that stays on a motor. Another set of sensors begins another error of a trend.

    Parameters
    ----------
    tag
        Of the motor.
    name
        Of the sensor, as in "clamp A".
    role
        What it measures, as the roles of channels: i_a, v_ab ...
    serial
        Its serial number.
    ratio
        Primary per secondary.
    mounted
        Day on which it was mounted: 2031-05-17; always there if left out.
    calibrated
        Day of its last calibration.
    note
        In words.
    """
    from cagewise.store import Sensor
    from cagewise.workflows.plant_folder import open_plant
    from cagewise.workflows.plant_sensors import add_sensor

    where = plant or PlantOptions()
    sensor = Sensor(
        name=name,
        role=role,
        serial=serial,
        ratio=ratio,
        mounted_on=mounted,
        calibrated_on=calibrated,
        note=note,
    )
    with open_plant(where.plant) as opened:
        motor = opened.motors.find(tag, site=where.site)
        added = add_sensor(opened, motor, sensor)
    return _say(motor.tag, added, page, streams)


def sensor_calibrated(
    tag: str,
    name: str,
    /,
    *,
    on: date | None = None,
    plant: PlantOptions | None = None,
    page: PageOptions | None = None,
    streams: Injected,
) -> ExitStatus:
    """Note that a sensor was calibrated and found good. One that was adjusted is another sensor.

    Parameters
    ----------
    tag
        Of the motor.
    name
        Of the sensor.
    on
        Day of the calibration; today if left out.
    """
    from cagewise.workflows.plant_folder import open_plant
    from cagewise.workflows.plant_history import today_of
    from cagewise.workflows.plant_sensors import calibrate_sensor

    where = plant or PlantOptions()
    with open_plant(where.plant) as opened:
        motor = opened.motors.find(tag, site=where.site)
        sensor = calibrate_sensor(opened, motor, name, on or today_of(opened))
    return _say(motor.tag, sensor, page, streams)


def sensor_remove(
    tag: str,
    name: str,
    /,
    *,
    on: date | None = None,
    plant: PlantOptions | None = None,
    page: PageOptions | None = None,
    streams: Injected,
) -> ExitStatus:
    """Note that a sensor was taken off a motor; it stays in the history.

    Parameters
    ----------
    tag
        Of the motor.
    name
        Of the sensor.
    on
        Day on which it was taken off; today if left out.
    """
    from cagewise.workflows.plant_folder import open_plant
    from cagewise.workflows.plant_history import today_of
    from cagewise.workflows.plant_sensors import remove_sensor

    where = plant or PlantOptions()
    with open_plant(where.plant) as opened:
        motor = opened.motors.find(tag, site=where.site)
        sensor = remove_sensor(opened, motor, name, on or today_of(opened))
    return _say(motor.tag, sensor, page, streams)


def motor_note(  # noqa: PLR0913 - groups of options
    tag: str,
    text: str,
    /,
    *,
    author: str = "",
    on: date | None = None,
    plant: PlantOptions | None = None,
    page: PageOptions | None = None,
    streams: Injected,
) -> ExitStatus:
    """Note something on a motor, without a case; it is never changed.

    Parameters
    ----------
    tag
        Of the motor.
    text
        In words.
    author
        Who says so.
    on
        Day that it is about; today if left out.
    """
    from cagewise.cli.render import console_of
    from cagewise.report.page import page_on
    from cagewise.workflows.plant_folder import open_plant
    from cagewise.workflows.plant_sensors import note_motor

    where = plant or PlantOptions()
    with open_plant(where.plant) as opened:
        motor = opened.motors.find(tag, site=where.site)
        event = note_motor(opened, motor, text, author=author, on=on)
    screen = page_on(*console_of(page or PageOptions(), streams))
    screen.paragraph(NOTED.format(tag=motor.tag, day=event.day), indent=0)
    return ExitStatus.EXAMINED


def _say(tag: str, sensor: Sensor, page: PageOptions | None, streams: Streams) -> ExitStatus:
    """Say what is known of a sensor now."""
    from cagewise.cli.render import console_of
    from cagewise.cli.show_motor import sensor_facts
    from cagewise.report.page import page_on

    screen = page_on(*console_of(page or PageOptions(), streams))
    screen.paragraph(SAID.format(tag=tag, name=sensor.name, facts=sensor_facts(sensor)), indent=0)
    return ExitStatus.EXAMINED
