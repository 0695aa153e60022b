"""A plant with two visits of the demo: one with everything, and one with a swinging load."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from cagewise.store import KeptExamination, Plant
from cagewise.workflows.demo import find_case
from cagewise.workflows.plant_assess import assess_visit
from cagewise.workflows.plant_folder import new_plant
from cagewise.workflows.plant_import import ImportOptions, import_files
from cagewise.workflows.plant_motors import add_motors

CAGE, LOAD = "whole-visit", "oscillating-load"


@contextmanager
def pictured_plant(folder: Path) -> Iterator[tuple[Plant, dict[str, KeptExamination]]]:
    """Give the plant with the examinations of the visits by the name of the demo."""
    with new_plant(folder, time_zone="Europe/Zurich") as plant:
        kept = {}
        for name in (CAGE, LOAD):
            case = find_case(name)
            (motor,) = add_motors(plant, [case.motor])
            list(import_files(plant, case.files, ImportOptions(tag=motor.tag)))
            kept[name] = assess_visit(plant, motor).kept
        yield plant, kept
