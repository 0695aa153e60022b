"""Running the command line inside the test process, with streams in place of a terminal."""

from __future__ import annotations

import io
from dataclasses import dataclass
from pathlib import Path

from cagewise.cli.run import main
from cagewise.cli.status import ExitStatus

MOTOR_FILE = """\
[motor]
tag = "P-07"
rated_power_kw = 55
rated_voltage_v = 400
rated_frequency_hz = 50
rated_speed_rpm = 1475
rated_current_a = 99
poles = 4
rotor_bars = 40
"""


@dataclass(frozen=True)
class Run:
    """What one run left behind."""

    status: ExitStatus
    out: str
    err: str


def run(*arguments: str | Path) -> Run:
    """Run the command line with these arguments."""
    out = io.TextIOWrapper(io.BytesIO(), encoding="utf-8", newline="")
    err = io.StringIO()
    status = main([str(a) for a in arguments], out=out, err=err)
    out.flush()
    raw = out.buffer
    assert isinstance(raw, io.BytesIO)
    return Run(status, raw.getvalue().decode("utf-8"), err.getvalue())


def write_motor(folder: Path, text: str = MOTOR_FILE) -> Path:
    """Write a motor file."""
    path = folder / "motor.toml"
    path.write_text(text, encoding="utf-8")
    return path
