"""The command "plan": on the screen, and as the order that is carried to the motor."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from cagewise.cli.options import PageOptions
from cagewise.cli.paper_options import OrderOptions, drawn
from cagewise.cli.plant_options import PlantOptions
from cagewise.cli.render import console_of
from cagewise.cli.streams import Streams
from cagewise.errors import UsageError

if TYPE_CHECKING:
    from cagewise.report.papers.measurement_order import OrderFacts

WRITTEN = "Measurement order: {path}"
MOTOR_FILE_ENDING = ".toml"


def show_plan(
    motor: str,
    only: str | None,
    order: OrderOptions,
    plant: PlantOptions,
    page: PageOptions,
    streams: Streams,
) -> None:
    """Write the plan on the screen, and the order where it was asked for."""
    from cagewise.report.page import page_on
    from cagewise.report.plan_text import Occasion, write_plan
    from cagewise.workflows.files import replacing, require_writable
    from cagewise.workflows.paper_order import order_paper

    files = [(path, pdf) for path, pdf in ((order.pdf, True), (order.html, False)) if path]
    require_writable([path for path, _ in files], overwrite=order.force, inputs=_inputs(motor))
    facts = _facts(motor, plant)
    write_plan(facts.plan, *console_of(page, streams), None if only is None else Occasion(only))
    screen = page_on(*console_of(page, streams))
    for path, pdf in files:
        content = drawn(order_paper(facts, order.wishes()), pdf=pdf)
        with replacing(path, overwrite=order.force) as stream:
            stream.write(content)
        screen.line()
        screen.paragraph(WRITTEN.format(path=path), indent=0)


def _is_file(motor: str) -> bool:
    return Path(motor).suffix.casefold() == MOTOR_FILE_ENDING or Path(motor).is_file()


def _inputs(motor: str) -> tuple[Path, ...]:
    return (Path(motor),) if _is_file(motor) else ()


def _facts(motor: str, plant: PlantOptions) -> OrderFacts:
    """Return the plan of a motor file, or of a motor of the plant."""
    from cagewise.machine.motor_file import load_motor
    from cagewise.workflows.paper_order import order_of_file, order_of_motor
    from cagewise.workflows.plant_folder import look_into_plant

    if not _is_file(motor):
        with look_into_plant(plant.plant) as opened:
            return order_of_motor(opened, opened.motors.find(motor, site=plant.site))
    for value, option in ((plant.plant, "--plant"), (plant.site, "--site")):
        if value is not None:
            raise UsageError("belongs to a motor of the plant, given by its tag", where=option)
    return order_of_file(load_motor(Path(motor)), datetime.now(UTC).astimezone().date())
