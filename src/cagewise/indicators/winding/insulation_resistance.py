"""Insulation resistance: its value at 40 degC, its course in time, its change over the years.

The corrections, the minima and what they rest on: docs/theory/insulation.md.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from cagewise.indicators.reading import Reading, ReferenceLimit, Sense
from cagewise.indicators.winding.head import (
    cable_caveat,
    is_one_phase,
    least,
    settled_limit,
    subject,
)
from cagewise.indicators.winding.insulation_context import (
    InsulationContext,
    OneMinute,
    direct_head,
    one_minute,
    resistance_at,
    temperature_of,
)
from cagewise.indicators.winding.limits import InsulationLimits
from cagewise.machine.winding_limits import (
    MEGOHM,
    TEST_VOLTAGE_SOURCE,
    THERMOPLASTIC,
    THERMOSETTING_RANGE_DEGC,
    discharge_time_s,
    insulation_test_voltage_v,
    minimum_insulation_ohm,
    winding_kinds,
)
from cagewise.measurement.test_sheet import InsulationResistanceTest
from cagewise.quantities import NORMAL_COVERAGE_FACTOR, Estimate, NotKnown

RESISTANCE = direct_head(
    "insulation_resistance", "insulation resistance after 1 min at 40 degC", "megohm"
)
FALL = direct_head(
    "insulation_resistance_fall", "largest fall of insulation resistance with time", "%"
)
CHANGE = direct_head(
    "insulation_resistance_change",
    "insulation resistance at 40 degC over that of earlier tests",
    "1",
)

CABLE = "the cable is in parallel: the winding alone has at least this resistance"

WHOLE, PHASE, GUARDED = 1.0, 2.0, 3.0
"""Minimum of what was tested over the minimum of the whole winding: one phase with the others
earthed has about twice, with the others guarded three times the resistance of the whole (IEEE 43
cl. 12.3, from memory)."""


def read_resistance(context: InsulationContext, test: InsulationResistanceTest) -> Reading:
    """Read the insulation resistance after one minute, referred to 40 degC."""
    head = RESISTANCE.titled(subject(test.tested))
    caveats = (*voltage_caveats(context, test), *context.common_caveats())
    found = one_minute(context, test, context.sheet)
    if isinstance(found, NotKnown):
        refused = head.refused(found.reason, caveats)
        return replace(refused, details=_as_measured(context, test))
    low, high = found.at_40_ohm
    half_width = math.exp(found.log_error(context.limits))
    value = Estimate(low, low / half_width, high * half_width).scaled(1.0 / MEGOHM)
    limit, doubts = _minimum(context, test, value.value)
    cable = cable_caveat(context.sheet, CABLE)
    caveats = (*_correction_caveats(context, found), *doubts, *caveats, *cable)
    details = _as_measured(context, test) | _corrections(found)
    return replace(head.read(value, caveats), limit=limit, details=details)


def voltage_caveats(context: InsulationContext, test: InsulationResistanceTest) -> tuple[str, ...]:
    """Name a test voltage that is too high or too low for the rated voltage."""
    rated_v = context.motor.nameplate.rated_voltage_v
    low, high = insulation_test_voltage_v(rated_v)
    tolerance = context.limits.test_voltage_tolerance
    span = f"{low:g} V" if low == high else f"{low:g} to {high:g} V"
    for wrong, word in (
        (test.test_voltage_v < low * (1.0 - tolerance), "low"),
        (test.test_voltage_v > high * (1.0 + tolerance), "high"),
    ):
        if wrong:
            return (
                (
                    f"the test voltage of {test.test_voltage_v:g} V is too {word} for a winding "
                    f"rated {rated_v:g} V: {span} ({TEST_VOLTAGE_SOURCE})"
                ),
            )
    return ()


def _minimum(
    context: InsulationContext, test: InsulationResistanceTest, megohm: float
) -> tuple[ReferenceLimit | None, tuple[str, ...]]:
    """Return the minimum for this winding and test, and what is not known about it."""
    winding, rated_v = context.motor.winding, context.motor.nameplate.rated_voltage_v
    span = context.limits.changeover_span_years
    kinds = winding_kinds(winding.construction, winding.built_year, rated_v, span)
    parts = _parts(test.tested)
    candidates = [
        _of_part(least(minimum_insulation_ohm(kind, rated_v)), part)
        for kind in kinds
        for part in parts
    ]
    unknown = [
        words
        for words, doubtful in (
            ("form- or random-wound is not known", winding.construction is None),
            ("the year of the winding is not known", winding.built_year is None),
            ("two rows of the table apply", winding.construction and winding.built_year),
            ("how the other phases were connected is not known", len(parts) > 1),
        )
        if doubtful
    ]
    return settled_limit(megohm, candidates, ", ".join(unknown))


def _parts(tested: str) -> tuple[float, ...]:
    """Return the possible ratios of the minimum to that of the whole winding."""
    words = tested.lower()
    if not is_one_phase(words):
        return (WHOLE,) if not subject(tested) else (WHOLE, PHASE)
    if "guard" in words:
        return (GUARDED,)
    return (PHASE,) if "earthed" in words or "grounded" in words else (WHOLE, PHASE)


def _of_part(limit: ReferenceLimit, part: float) -> ReferenceLimit:
    """Return a minimum of the whole winding (ohm) as that of the part tested (megohm)."""
    form = limit.form if part == WHOLE else f"{limit.form}, times {part:g} for one phase"
    return replace(limit, value=limit.value * part / MEGOHM, form=form)


def _correction_caveats(context: InsulationContext, found: OneMinute) -> tuple[str, ...]:
    """Say which correction was used, and what it rests on."""
    low, high = THERMOSETTING_RANGE_DEGC
    caveats = []
    if len(found.factors) > 1:
        both = ", ".join(
            f"{found.measured_ohm * factor / MEGOHM:.4g} megohm if {kind}"
            for kind, factor in found.factors.items()
        )
        caveats.append(
            f"the kind of insulation is not known: {both}; the lower is the reading, the interval "
            "holds both"
        )
    if THERMOPLASTIC in found.factors and not low <= found.temperature_degc <= high:
        caveats.append(
            f"corrected over {abs(found.temperature_degc - 40.0):.0f} K by halving every 10 K, far "
            "beyond where such a rule can be relied on"
        )
    if context.motor.winding.insulation is not None:
        factor = next(iter(found.factors.values()))
        caveats.append(
            f"referred to 40 degC with the factor {factor:.4g} of "
            f"{context.motor.winding.insulation} insulation"
        )
    return tuple(caveats)


def _as_measured(context: InsulationContext, test: InsulationResistanceTest) -> dict[str, float]:
    """Return what was measured, uncorrected."""
    details = {"test_voltage_v": test.test_voltage_v}
    measured = resistance_at(test, 60.0, context.limits.time_tolerance)
    if not isinstance(measured, NotKnown):
        details["measured_1_min_megohm"] = measured / MEGOHM
    if test.time_s.size:
        details["least_discharge_s"] = discharge_time_s(float(test.time_s[-1]))
    temperature, dew = temperature_of(test, context.sheet), context.sheet.dew_point_degc
    if temperature is not None:
        details["winding_temperature_degc"] = temperature
    if dew is not None:
        details["dew_point_degc"] = dew
    return details


def _corrections(found: OneMinute) -> dict[str, float]:
    """Return factor and corrected resistance by kind of insulation."""
    details = {}
    for kind, factor in found.factors.items():
        details[f"factor_{kind}_1"] = factor
        details[f"at_40_degc_{kind}_megohm"] = found.measured_ohm * factor / MEGOHM
    return details


def read_fall(context: InsulationContext, test: InsulationResistanceTest) -> Reading:
    """Read by how much the resistance fell with time below an earlier reading of the same run.

    On a sound insulation the absorption current dies away and the resistance only rises.
    """
    head = FALL.titled(subject(test.tested))
    if test.time_s.size < 2:
        return head.refused("one reading shows no course in time")
    sound = np.all(np.diff(test.time_s) > 0.0) and np.all(test.resistance_ohm > 0.0)
    if not (sound and np.all(np.isfinite(test.resistance_ohm))):
        return head.refused("the times do not ascend, or a resistance is not a positive number")
    wet = context.wet(temperature_of(test, context.sheet))
    if wet:
        return head.refused(wet)
    logs = np.log(test.resistance_ohm)
    falls = np.maximum.accumulate(logs) - logs
    worst = int(np.argmax(falls))
    before = int(np.argmax(logs[: worst + 1]))
    fall, error = float(falls[worst]), _fall_error(test.time_s.size, context.limits)
    value = Estimate(
        *(-100.0 * math.expm1(-f) for f in (fall, max(0.0, fall - error), fall + error))
    )
    caveats = []
    if fall > error:
        caveats.append(
            f"the resistance fell from {test.time_s[before]:g} s to {test.time_s[worst]:g} s by "
            "more than readings repeat: end the test and look for moisture, dirt or a weak place"
        )
    details = {"fall_from_s": float(test.time_s[before]), "fall_to_s": float(test.time_s[worst])}
    limit = ReferenceLimit(
        value=100.0 * context.limits.largest_fall,
        sense=Sense.AT_MOST,
        source="our judgement; no standard has a number",
    )
    reading = head.read(value, (*caveats, *context.common_caveats()))
    return replace(reading, details=details, limit=limit)


def _fall_error(n_readings: int, limits: InsulationLimits) -> float:
    """Return how much the scatter of n readings moves the largest fall at most, 95 %.

    The largest fall of n logarithms moves by no more than twice the largest movement of any one,
    and that stays below the quantile at 1 - 0.025/n of the scatter (Bonferroni).
    """
    from scipy.special import ndtri

    sigma = limits.repeat_error / NORMAL_COVERAGE_FACTOR
    return 2.0 * float(ndtri(1.0 - 0.025 / n_readings)) * sigma


def read_change(context: InsulationContext, test: InsulationResistanceTest) -> Reading | None:
    """Compare with the median of earlier tests of the same part; None where there is none."""
    head = CHANGE.titled(subject(test.tested))
    others = [
        one_minute(context, other, sheet)
        for sheet in context.earlier
        for other in sheet.insulation
        if other.tested == test.tested
    ]
    if not others:
        return None
    found = one_minute(context, test, context.sheet)
    past = [other for other in others if not isinstance(other, NotKnown)]
    if isinstance(found, NotKnown):
        return head.refused(found.reason)
    if not past:
        return head.refused("no earlier test can be referred to 40 degC")
    logs = {
        kind: math.log(found.measured_ohm * factor)
        - float(np.median([math.log(p.measured_ohm * p.factors[kind]) for p in past]))
        for kind, factor in found.factors.items()
    }
    low, high = min(logs.values()), max(logs.values())
    errors = [p.log_error(context.limits) for p in past]
    error = math.hypot(found.log_error(context.limits), max(errors))
    value = Estimate(math.exp(low), math.exp(low - error), math.exp(high + error))
    caveat = "no standard limits the change; humidity and dirt on the surface change it too"
    details = {"earlier_tests_count": float(len(past))}
    return replace(head.read(value, (caveat, *context.common_caveats())), details=details)
