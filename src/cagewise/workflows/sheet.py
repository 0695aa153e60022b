"""Use cases: an empty test sheet for the motor of a file, and a filled-in one read back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from cagewise.errors import InputError

if TYPE_CHECKING:
    from cagewise.machine.motor import Motor
    from cagewise.machine.positions import PositionAdvice
    from cagewise.readers.test_sheet import Form, SheetReading

LOWEST_FREQUENCY_HZ, HIGHEST_FREQUENCY_HZ = 0.1, 1e5
"""Test frequencies that a sheet accepts."""
ANGLE_PLACES = 2
"""Decimal places of the angles in a sheet: a hundredth of the best tolerance, and readable."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenTemplate:
    """What was written for somebody to fill in."""

    path: Path
    motor: Motor
    advice: PositionAdvice
    """Where the rotor is to be placed."""
    frequencies_hz: tuple[float, ...]
    """Of the position tables."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Template:
    """The empty sheet of a motor."""

    form: Form
    advice: PositionAdvice
    """Where the rotor is to be placed."""
    frequencies_hz: tuple[float, ...]
    """Of the position tables."""


def write_template(
    motor_path: Path,
    out: Path,
    *,
    frequencies_hz: Sequence[float] = (),
    decimal_comma: bool = False,
    overwrite: bool = False,
) -> WrittenTemplate:
    """Write the empty test sheet of the motor of a file.

    Parameters
    ----------
    motor_path
        Motor file.
    out
        The ending says the form: .toml, .csv or .xlsx.
    frequencies_hz
        One position table for each; those of the plan if empty.
    decimal_comma
        Whether a CSV file has decimal commas.
    overwrite
        Whether an existing file may be replaced.

    Raises
    ------
    MotorFileError
        If the motor file cannot be used.
    InputError
        If a frequency is none.
    OutputError, MissingExtraError
        If the sheet cannot be written.
    """
    from cagewise.machine.motor_file import load_motor
    from cagewise.readers.test_sheet import write_form
    from cagewise.workflows.files import require_writable

    require_writable([out], overwrite=overwrite, inputs=(motor_path,))
    for frequency_hz in frequencies_hz:
        if not LOWEST_FREQUENCY_HZ <= frequency_hz <= HIGHEST_FREQUENCY_HZ:  # false for NaN
            raise InputError(
                f"a test frequency lies between {LOWEST_FREQUENCY_HZ:g} and "
                f"{HIGHEST_FREQUENCY_HZ:g} Hz, got {frequency_hz:g}",
                where="test sheet",
            )
    motor = load_motor(motor_path)
    template = template_of(motor, frequencies_hz)
    write_form(template.form, out, overwrite=overwrite, decimal_comma=decimal_comma)
    return WrittenTemplate(
        path=out,
        motor=motor,
        advice=template.advice,
        frequencies_hz=template.frequencies_hz,
    )


def template_of(motor: Motor, frequencies_hz: Sequence[float] = ()) -> Template:
    """Return the empty test sheet of a motor.

    Parameters
    ----------
    motor
        Of which the sheet is.
    frequencies_hz
        One position table for each; those of the plan if empty.
    """
    from cagewise.decision.limits import load_limits
    from cagewise.machine.positions import position_counts
    from cagewise.readers.test_sheet import template_for

    advice = position_counts(motor)
    rated_hz = motor.nameplate.rated_frequency_hz
    second_hz = load_limits().plan.position_second_frequency * rated_hz
    frequencies = tuple(frequencies_hz) or (rated_hz, second_hz)
    angles_deg = (*advice.shaft_angles_deg, advice.return_angle_deg)
    form = template_for(
        motor,
        shaft_angles_deg=[round(angle, ANGLE_PLACES) for angle in angles_deg],
        frequencies_hz=frequencies,
    )
    return Template(form=form, advice=advice, frequencies_hz=frequencies)


def check_sheet(path: Path, *, waveforms_anywhere: bool = False) -> SheetReading:
    """Return a test sheet and how each heading was understood.

    Raises
    ------
    SheetError, MissingExtraError
        If it cannot be used.
    """
    from cagewise.readers.test_sheet import understand

    return understand(path, waveforms_anywhere=waveforms_anywhere)
