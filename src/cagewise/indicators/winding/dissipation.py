"""Dissipation factor and capacitance to earth against alternating voltage.

The maxima in print are for new bars and coils and do not rank the reliability of windings in use
(Omranipour and Haq, Electrical Insulation Conference 2015): they are shown as a reference, and the
trend is what is read.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from cagewise.indicators.reading import IndependenceClass, Part, Reading, ReferenceLimit, Sense
from cagewise.indicators.winding.head import RestHead, subject
from cagewise.indicators.winding.insulation_context import InsulationContext
from cagewise.machine.winding_limits import (
    DISSIPATION_FORM,
    DISSIPATION_SOURCE,
    NEW_DISSIPATION_MAX,
    NEW_DISSIPATION_STEP_MAX,
    NEW_TIP_UP_MAX,
)
from cagewise.measurement.test_sheet import DissipationTest
from cagewise.quantities import Estimate, NotKnown, RealArray


def _head(name: str, title: str, unit: str) -> RestHead:
    return RestHead(
        name=name,
        title=title,
        unit=unit,
        part=Part.INSULATION,
        independence_class=IndependenceClass.INSULATION_ALTERNATING,
    )


FACTOR = _head("dissipation_factor", "dissipation factor at 0.2 U_N", "1e-3")
STEP = _head("dissipation_step", "largest rise of the dissipation factor per 0.2 U_N", "1e-3")
TIP_UP = _head(
    "dissipation_tip_up", "half the rise of the dissipation factor, 0.2 to 0.6 U_N", "1e-3"
)
FACTOR_CHANGE = _head(
    "dissipation_change", "change of the dissipation factor against earlier tests", "1e-3"
)
CAPACITANCE_CHANGE = _head(
    "capacitance_change", "change of the capacitance to earth against earlier tests", "%"
)

PER_MILLE = 1e3
STEP_PART = 0.2
"""Voltage step of the published characteristics, in U_N."""
TREND = (
    "to be followed over the years, not failed: the maxima in print do not rank windings in "
    "service (Omranipour and Haq, Electrical Insulation Conference 2015)"
)
CHARACTERISTICS = (
    "the three characteristics in use (value, rise per step, largest - smallest) are not "
    "interchangeable"
)


def read_dissipation(context: InsulationContext, test: DissipationTest) -> tuple[Reading, ...]:
    """Read one dissipation test and compare it with earlier ones."""
    heads = [head.titled(subject(test.tested)) for head in (FACTOR, STEP, TIP_UP)]
    refusal = _refusal(test) or context.wet(context.sheet.winding_temperature_degc)
    if refusal:
        return tuple(head.refused(refusal) for head in heads)
    changes = (_factor_change(context, test), _capacitance_change(context, test))
    levels = () if test.dissipation_factor is None else _levels(context, test, heads)
    return (*levels, *(reading for reading in changes if reading is not None))


def _refusal(test: DissipationTest) -> str:
    """Return why the test cannot be read; empty if it can."""
    if not np.all(np.diff(test.voltage_rms_v, prepend=0.0) > 0.0) or not test.voltage_rms_v.size:
        return "the voltages do not ascend from zero"
    arrays = (test.dissipation_factor, test.capacitance_f)
    if all(array is None for array in arrays):
        return "neither a dissipation factor nor a capacitance was read"
    if any(array is not None and not np.all(np.isfinite(array)) for array in arrays):
        return "a reading is not a number"
    return ""


def at_part(
    context: InsulationContext, test: DissipationTest, values: RealArray, part: float
) -> float | NotKnown:
    """Return the reading at ``part`` of the rated line-line voltage; never interpolated."""
    parts = test.voltage_rms_v / context.motor.nameplate.rated_voltage_v
    nearest = int(np.argmin(np.abs(parts - part)))
    if abs(float(parts[nearest]) - part) > context.limits.voltage_step_tolerance:
        return NotKnown(f"no reading at {part:.1f} U_N (nearest: {parts[nearest]:.2f} U_N)")
    return float(values[nearest])


def _levels(
    context: InsulationContext, test: DissipationTest, heads: list[RestHead]
) -> tuple[Reading, ...]:
    """Read value, rise per step and tip-up."""
    factor = test.dissipation_factor
    if factor is None:
        return ()
    parts = [STEP_PART * step for step in range(1, 6)]
    at = [at_part(context, test, factor, part) for part in parts]
    pairs = [(low, high) for low, high in itertools.pairwise(at)]
    rises = [
        high - low
        for low, high in pairs
        if not isinstance(low, NotKnown) and not isinstance(high, NotKnown)
    ]
    first, third = at[0], at[2]
    missing = [value.reason for value in (first, third) if isinstance(value, NotKnown)]
    tip_up: float | NotKnown = NotKnown("; ".join(missing))
    if not isinstance(first, NotKnown) and not isinstance(third, NotKnown):
        tip_up = 0.5 * (third - first)
    step = max(rises) if rises else NotKnown("no two readings stand 0.2 U_N apart on its multiples")
    error = context.limits.dissipation_error
    rows = (
        (first, error, NEW_DISSIPATION_MAX),
        (step, math.sqrt(2.0) * error, NEW_DISSIPATION_STEP_MAX),
        (tip_up, math.sqrt(0.5) * error, NEW_TIP_UP_MAX),
    )
    details = _details(test, factor)
    return tuple(
        replace(_level(context, head, *row), details=details)
        for head, row in zip(heads, rows, strict=True)
    )


def _level(
    context: InsulationContext,
    head: RestHead,
    value: float | NotKnown,
    error: float,
    largest_new: float,
) -> Reading:
    """Return one characteristic with its reference."""
    if isinstance(value, NotKnown):
        return head.refused(value.reason)
    estimate = Estimate(value, value - error, value + error).scaled(PER_MILLE)
    reading = head.read(estimate, (*_reference_caveats(context), *context.common_caveats()))
    if context.motor.winding.construction != "form":
        return reading
    limit = ReferenceLimit(
        value=PER_MILLE * largest_new,
        sense=Sense.AT_MOST,
        source=DISSIPATION_SOURCE,
        form=DISSIPATION_FORM,
        decides=False,
    )
    return replace(reading, limit=limit)


def _reference_caveats(context: InsulationContext) -> tuple[str, ...]:
    """Say what the published maxima are worth for this winding."""
    construction = context.motor.winding.construction
    if construction == "form":
        return (TREND, CHARACTERISTICS)
    known = "is random-wound" if construction == "random" else "may not be form-wound"
    return (
        f"no reference: the maxima in print are for new form-wound bars, and this winding {known}",
        TREND,
        CHARACTERISTICS,
    )


def _details(test: DissipationTest, factor: RealArray) -> dict[str, float]:
    """Return largest - smallest, the third characteristic in use, and the range of voltage."""
    details = {
        "largest_minus_smallest_1": float(np.ptp(factor)),
        "lowest_voltage_rms_v": float(test.voltage_rms_v[0]),
        "highest_voltage_rms_v": float(test.voltage_rms_v[-1]),
    }
    if test.frequency_hz is not None:
        details["frequency_hz"] = test.frequency_hz
    return details


def _earlier(context: InsulationContext, test: DissipationTest) -> Iterator[DissipationTest]:
    """Yield earlier tests of the same part at the same frequency, oldest first."""
    for sheet in context.earlier:
        if context.wet(sheet.winding_temperature_degc, sheet):
            continue
        for other in sheet.dissipation:
            if other.tested == test.tested and other.frequency_hz == test.frequency_hz:
                yield other


def _factor_change(context: InsulationContext, test: DissipationTest) -> Reading | None:
    """Compare the dissipation factor at 0.2 U_N with the median of earlier ones."""
    if test.dissipation_factor is None:
        return None
    now = at_part(context, test, test.dissipation_factor, STEP_PART)
    past = [
        at_part(context, other, other.dissipation_factor, STEP_PART)
        for other in _earlier(context, test)
        if other.dissipation_factor is not None
    ]
    before = [value for value in past if not isinstance(value, NotKnown)]
    if isinstance(now, NotKnown) or not before:
        return None
    change = now - float(np.median(before))
    error = math.sqrt(2.0) * context.limits.dissipation_error
    head = FACTOR_CHANGE.titled(subject(test.tested))
    estimate = Estimate(change, change - error, change + error).scaled(PER_MILLE)
    reading = head.read(estimate, (TREND, *context.common_caveats()))
    return replace(reading, details={"earlier_tests_count": float(len(before))})


def _capacitance_change(context: InsulationContext, test: DissipationTest) -> Reading | None:
    """Compare the capacitance at the lowest voltage that an earlier test shares."""
    if test.capacitance_f is None:
        return None
    parts = [STEP_PART * step for step in range(1, 6)]
    for part in parts:
        now = at_part(context, test, test.capacitance_f, part)
        past = [
            at_part(context, other, other.capacitance_f, part)
            for other in _earlier(context, test)
            if other.capacitance_f is not None
        ]
        before = [value for value in past if not isinstance(value, NotKnown)]
        if not isinstance(now, NotKnown) and before:
            return _capacitance_reading(context, test, now / float(np.median(before)), part)
    return None


def _capacitance_reading(
    context: InsulationContext, test: DissipationTest, ratio: float, part: float
) -> Reading:
    change = 100.0 * (ratio - 1.0)
    error = 100.0 * ratio * math.sqrt(2.0) * context.limits.capacitance_error
    caveats = (
        (
            "no standard limits the change: a fall goes with delamination, a rise with moisture "
            "(common practice, no source)"
        ),
        *context.common_caveats(),
    )
    head = CAPACITANCE_CHANGE.titled(f"at {part:.1f} U_N").titled(subject(test.tested))
    reading = head.read(Estimate(change, change - error, change + error), caveats)
    return replace(reading, details={"capacitance_ratio_1": ratio})
