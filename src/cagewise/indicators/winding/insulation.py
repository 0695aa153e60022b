"""All readings of the insulation, from one test sheet and its predecessors."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from cagewise.indicators.reading import Reading
from cagewise.indicators.winding.dissipation import read_dissipation
from cagewise.indicators.winding.head import comparable
from cagewise.indicators.winding.insulation_context import InsulationContext
from cagewise.indicators.winding.insulation_resistance import (
    read_change,
    read_fall,
    read_resistance,
)
from cagewise.indicators.winding.limits import InsulationLimits
from cagewise.indicators.winding.polarization import read_absorption, read_index
from cagewise.indicators.winding.step_voltage import read_steps
from cagewise.machine.motor import Motor
from cagewise.measurement.test_sheet import TestSheet


def read_insulation(
    sheet: TestSheet, earlier: Sequence[TestSheet], motor: Motor, limits: InsulationLimits
) -> tuple[Reading, ...]:
    """Read every insulation test of a sheet, in the order of the sheet.

    Where a part was tested more than once, or phase by phase, readings of the same name follow
    each other; their titles say what was tested.

    Parameters
    ----------
    sheet
        Readings of one occasion.
    earlier
        Sheets of the same motor to compare with, in any order.
    motor
        Rated voltage, thermal class, and what is known of the winding.
    limits
        Errors and validity limits.
    """
    context = InsulationContext(
        sheet=sheet,
        motor=motor,
        limits=limits,
        earlier=tuple(comparable(sheet, earlier, motor)),
    )
    return tuple(_readings(context))


def _readings(context: InsulationContext) -> Iterator[Reading]:
    for test in context.sheet.insulation:
        yield read_resistance(context, test)
        yield read_index(context, test)
        yield read_absorption(context, test)
        yield read_fall(context, test)
        change = read_change(context, test)
        if change is not None:
            yield change
    for steps in context.sheet.steps:
        yield read_steps(context, steps)
    for dissipation in context.sheet.dissipation:
        yield from read_dissipation(context, dissipation)
