"""What an older version of the program would have kept."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date

from cagewise.store import KeptExamination, MotorEntry, Plant
from cagewise.workflows.plant_assess import (
    PlantAssessOptions,
    keep_examination,
    make_examination,
)

OLD_VERSION = "0.0.9"


def keep_older_examination(
    plant: Plant,
    motor: MotorEntry,
    day: date | None = None,
    options: PlantAssessOptions | None = None,
) -> KeptExamination:
    """Keep what an older version with another limit would have said of a visit of test sheets.

    Its first reading lies above what the present one reads, its state is another.
    """
    made = make_examination(plant, motor, replace(options or PlantAssessOptions(), visit=day))
    said = json.loads(made.new.document)
    said["program_version"] = OLD_VERSION
    said["limits"]["winding"]["resistance_spread"] = 0.5
    said["state"] = "suspect"
    [reading, *_] = [each for each in said["test_sheets"][0]["indicators"] if each["interval"]]
    high = reading["interval"][1]
    reading |= {"value": 2.5 * high, "interval": [2.0 * high, 3.0 * high]}
    new = replace(
        made.new,
        document=json.dumps(said),
        program_version=OLD_VERSION,
        settings={**made.new.settings, "limits": said["limits"]},
        keys=replace(made.new.keys, state="suspect", probability=0.5),
    )
    return keep_examination(plant, replace(made, new=new)).kept
