"""Use case: what to record for the motor of a file."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from cagewise.decision.plan import Plan


def plan(motor_path: Path) -> Plan:
    """Return what to record, and the smallest damage that will then show.

    Raises
    ------
    MotorFileError
        If the motor file cannot be used.
    """
    from cagewise.decision.plan import plan_for
    from cagewise.machine.motor_file import load_motor

    return plan_for(load_motor(motor_path))
