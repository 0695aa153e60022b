"""The commands of a plant: parse, call a use case, render. Nothing heavy is imported before."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Annotated

from cyclopts import App, Parameter

from cagewise.cli.checks import positive, roles_of
from cagewise.cli.list_options import ListOptions
from cagewise.cli.motor_sensor_commands import add_sensor_commands
from cagewise.cli.options import PageOptions
from cagewise.cli.plant_options import ImportedOptions, NewPlantOptions, PlantOptions
from cagewise.cli.status import ExitStatus
from cagewise.cli.streams import Streams

Injected = Annotated[Streams, Parameter(parse=False)]


def add_plant_commands(app: App) -> None:
    """Give a command line the commands of a plant."""
    motors = App(name="motor", help="The motors of a plant: add, edit, list, show, sensors, notes.")
    for name, command in (
        ("add", motor_add),
        ("edit", motor_edit),
        ("list", motor_list),
        ("show", motor_show),
    ):
        motors.command(command, name=name)
    add_sensor_commands(motors)
    app.command(plant_new)
    app.command(motors)
    app.command(import_, name="import")


def plant_new(
    folder: Path,
    /,
    *,
    options: NewPlantOptions | None = None,
    page: PageOptions | None = None,
    streams: Injected,
) -> ExitStatus:
    """Make a plant: one folder in which motors and everything measured on them are kept.

    Parameters
    ----------
    folder
        An empty folder, or one that is not there yet. Named "plant", it is found without --plant.
    """
    from cagewise.cli.show_motor import show_new_plant
    from cagewise.workflows.plant_folder import new_plant

    said = options or NewPlantOptions()
    plant = new_plant(
        folder,
        name=said.name,
        time_zone=said.time_zone,
        database=said.database,
        waveforms=said.waveforms,
    )
    with plant:
        show_new_plant(folder, plant.about, page or PageOptions(), streams)
    return ExitStatus.EXAMINED


def motor_add(
    files: Annotated[list[Path], Parameter(consume_multiple=True)],
    /,
    *,
    valid_from: Annotated[date | None, Parameter(name="--from")] = None,
    plant: PlantOptions | None = None,
    page: PageOptions | None = None,
    streams: Injected,
) -> ExitStatus:
    """Add motors to the plant by their motor files, all of them or none.

    Parameters
    ----------
    files
        Motor files (docs/motor-file.md).
    valid_from
        First day on which the motor was like this: 2031-05-17; today if left out. Before it, the
        first version counts.
    """
    from cagewise.cli.show_motor import show_added
    from cagewise.workflows.plant_folder import open_plant
    from cagewise.workflows.plant_motors import add_motors

    where = plant or PlantOptions()
    with open_plant(where.plant) as opened:
        added = add_motors(opened, files, site=where.site or "", valid_from=valid_from)
    show_added(added, page or PageOptions(), streams)
    return ExitStatus.EXAMINED


def motor_edit(  # noqa: PLR0913 - groups of options
    tag: str,
    file: Path,
    /,
    *,
    valid_from: Annotated[date | None, Parameter(name="--from")] = None,
    note: str = "",
    plant: PlantOptions | None = None,
    page: PageOptions | None = None,
    streams: Injected,
) -> ExitStatus:
    """Give a motor a new version of its motor file; the old versions stay.

    Parameters
    ----------
    tag
        Of the motor.
    file
        Its new motor file; "cagewise motor show TAG --file" prints the one in force.
    valid_from
        First day on which the motor was like this: 2031-05-17; today if left out.
    note
        Why: a repair, a new sensor, a correction.
    """
    from cagewise.cli.show_motor import show_edited
    from cagewise.workflows.plant_folder import open_plant
    from cagewise.workflows.plant_motors import edit_motor

    where = plant or PlantOptions()
    with open_plant(where.plant) as opened:
        entry = opened.motors.find(tag, site=where.site)
        version = edit_motor(opened, entry, file, valid_from=valid_from, note=note)
    show_edited(entry, version, page or PageOptions(), streams)
    return ExitStatus.EXAMINED


def motor_list(
    *,
    plant: PlantOptions | None = None,
    wanted: ListOptions | None = None,
    page: PageOptions | None = None,
    streams: Injected,
) -> ExitStatus:
    """List the motors of the plant with their latest examination and what is due."""
    from cagewise.cli.show_motor import show_list
    from cagewise.workflows.plant_choice import list_motors
    from cagewise.workflows.plant_folder import look_into_plant

    where, listed = plant or PlantOptions(), wanted or ListOptions()
    choice = listed.wanted()
    with look_into_plant(where.plant) as opened:
        found = list_motors(opened, choice, site=where.site)
    show_list(found, page or PageOptions(), streams, most=listed.most)
    return ExitStatus.EXAMINED


def motor_show(
    tag: str,
    /,
    *,
    file: bool = False,
    plant: PlantOptions | None = None,
    page: PageOptions | None = None,
    streams: Injected,
) -> ExitStatus:
    """Show a motor: nameplate, versions, visits, latest examination, what is missing.

    Parameters
    ----------
    tag
        Of the motor.
    file
        Print the motor file in force and nothing else, to be changed and given to "motor edit".
    """
    from cagewise.cli.show_motor import MOST_VISITS, show_motor
    from cagewise.workflows import plant_motors
    from cagewise.workflows.plant_folder import look_into_plant

    where = plant or PlantOptions()
    with look_into_plant(where.plant) as opened:
        entry = opened.motors.find(tag, site=where.site)
        shown = plant_motors.show_motor(opened, entry, most_visits=MOST_VISITS)
    if file:
        streams.out.write(shown.version.toml)
    else:
        show_motor(shown, page or PageOptions(), streams)
    return ExitStatus.EXAMINED


def import_(
    paths: Annotated[list[Path], Parameter(consume_multiple=True)],
    /,
    *,
    options: ImportedOptions | None = None,
    plant: PlantOptions | None = None,
    page: PageOptions | None = None,
    streams: Injected,
) -> ExitStatus:
    """Import recordings and test sheets into the plant, each once, however often it is run.

    The files stay where they are; the plant keeps a copy of each as it came, and what was read.
    Files that cannot be used are named with the reason and tried again the next time; then the
    exit status is 3, and the others are imported all the same.

    Parameters
    ----------
    paths
        Recordings, test sheets, and folders of them.
    """
    from cagewise.cli.show_import import show_import
    from cagewise.workflows.plant_decode import Statement
    from cagewise.workflows.plant_folder import open_plant
    from cagewise.workflows.plant_import import ImportOptions

    said, where = options or ImportedOptions(), plant or PlantOptions()
    wished = ImportOptions(
        tag=said.motor,
        site=where.site,
        day=said.day,
        statement=Statement(
            roles=roles_of(said.role),
            sampling_rate_hz=positive(said.rate, "--rate", "hertz"),
            select=tuple(said.select),
            accept_length_mismatch=said.accept_short,
        ),
        again=said.again,
    )
    with open_plant(where.plant) as opened:
        whole = show_import(opened, paths, wished, page or PageOptions(), streams, every=said.every)
    return ExitStatus.EXAMINED if whole else ExitStatus.UNREADABLE
