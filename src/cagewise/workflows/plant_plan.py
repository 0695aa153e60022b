"""Use cases: what to measure on a motor of the plant, and what open bars would show on it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from cagewise.store import MotorEntry, Plant
from cagewise.workflows.plant_motors import motor_of

if TYPE_CHECKING:
    from cagewise.decision.expect import Expectation
    from cagewise.decision.plan import Plan


def plan_of(plant: Plant, entry: MotorEntry) -> Plan:
    """Return what to measure on a motor as its nameplate is today."""
    from cagewise.decision.plan import plan_for

    return plan_for(motor_of(plant.motors.nameplate(entry), entry.tag))


def expectation_of(plant: Plant, entry: MotorEntry) -> Expectation:
    """Return what 0 to 3 open bars would show on a motor as its nameplate is today."""
    from cagewise.decision.expect import expect

    return expect(motor_of(plant.motors.nameplate(entry), entry.tag))
