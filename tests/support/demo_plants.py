"""Plants filled with measurements of the demo, for the commands and use cases of a plant."""

from __future__ import annotations

import shutil
from pathlib import Path

from cagewise.store import MotorEntry, Plant
from cagewise.workflows.demo import DemoCase, find_case
from cagewise.workflows.plant_folder import new_plant
from cagewise.workflows.plant_motors import add_motors

TAG = "LK-120-M"
"""Motor of the visits below."""


def whole_visit() -> DemoCase:
    """Return the visit of the demo with everything of it and of earlier years."""
    return find_case("whole-visit")


def kiln_plant(folder: Path) -> tuple[Plant, MotorEntry]:
    """Make a plant with the motor of the visit, and nothing measured."""
    plant = new_plant(folder / "plant", time_zone="Europe/Zurich")
    (motor,) = add_motors(plant, [whole_visit().motor])
    return plant, motor


def laid_out(folder: Path, names: tuple[str, ...]) -> Path:
    """Copy files of the demo into a folder, and return it."""
    folder.mkdir(parents=True)
    for name in names:
        shutil.copy(whole_visit().motor.parent / name, folder)
    return folder
