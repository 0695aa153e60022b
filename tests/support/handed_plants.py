"""A plant with something to hand over, told by people who write whatever they like."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from cagewise.store import Decision, Event, Found, Note, Outcome, Plant, Repair
from cagewise.workflows.plant_cases import open_case
from support.kept_histories import LAST, add_examination, add_motor

GROWING, FORMULA, NEVER, REPAIRED = "GR-1", "=1+1", "@NEVER", "+RE-4"
"""Tags."""
CALC = "=cmd|' /C calc'!A0"
"""What somebody may decide."""
REASONS = 'first line\n"quoted", with a comma;=2+3\r\n\t=SUM(A1:A9)\x07\u2028-4 end'
AUTHOR = "@boss"
DECIDED_ON, DUE_ON = date(2031, 2, 20), date(2031, 4, 18)
MADE = {"winding": "", "insulation": "", "next_step": "voltages"}


def handed_plant(folder: Path) -> Path:
    """Make the plant, and return its folder.

    One cage is defective, with a decision that waits; one is undecided; one motor was never
    measured; the cage of one was repaired and nothing was measured since.
    """
    with Plant.create(folder, name='Works "A", <b>=2</b>') as plant:
        growing = add_motor(plant, GROWING)
        add_examination(plant, growing, date(2031, 1, 10), 0.4, "sound", **MADE, action="keep")
        add_examination(
            plant, growing, date(2031, 2, 15), 1.4, "defective", **MADE, action="plan_repair",
            act_by_earliest=date(2031, 2, 22), act_by_latest=date(2031, 3, 15),
        )  # fmt: skip
        decide(plant)
        undecided = add_motor(plant, FORMULA)
        add_examination(
            plant, undecided, LAST, 0.3, "not decidable", action="repeat",
            act_by_earliest=date(2031, 3, 18), act_by_latest=date(2031, 6, 2),
            **{**MADE, "insulation": "suspect"},
        )  # fmt: skip
        add_motor(plant, NEVER)
        repaired = add_motor(plant, REPAIRED)
        add_examination(plant, repaired, date(2030, 12, 1), 2.0, "defective", **MADE, action="stop")
        case = open_case(plant, repaired, "=2+2", on=date(2030, 12, 2))
        plant.cases.add_event(
            case, Repair(action="new bars", facts={"kind": "cage"}), on=date(2031, 2, 3)
        )
        plant.cases.add_event(case, Outcome(found=Found.DAMAGED, open_bars=2), on=date(2031, 2, 1))
        plant.cases.close(case, "repaired", on=date(2031, 2, 10))
    return folder


def decide(plant: Plant) -> Event:
    """Open a case of the growing cage and decide twice: the second decision waits."""
    motor = plant.motors.find(GROWING)
    case = open_case(plant, motor, "bars;=1+1", on=date(2031, 2, 16))
    plant.cases.add_event(case, Note(), text="seen", on=date(2031, 2, 16))
    first = Decision(action="watch it", due_on=date(2031, 3, 1))
    plant.cases.add_event(case, first, on=date(2031, 2, 17))
    second = Decision(action=CALC, due_on=DUE_ON)
    return plant.cases.add_event(case, second, text=REASONS, author=AUTHOR, on=DECIDED_ON)
