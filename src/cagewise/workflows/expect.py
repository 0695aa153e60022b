"""Use case: what open bars would show on the motor of a file."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from cagewise.decision.expect import Expectation, StatedRecord


def expect(motor_path: Path, record: StatedRecord | None = None) -> Expectation:
    """Return what 0 to 3 adjacent open bars would show, from light to full load.

    Raises
    ------
    MotorFileError
        If the motor file cannot be used.
    """
    from cagewise.decision.expect import expect as run
    from cagewise.machine.motor_file import load_motor

    return run(load_motor(motor_path), record)
