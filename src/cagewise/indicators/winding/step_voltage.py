"""Current against stepped direct voltage: the knee, and where the voltage must stop."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from cagewise.indicators.reading import Reading
from cagewise.indicators.winding.head import subject
from cagewise.indicators.winding.insulation_context import InsulationContext, direct_head
from cagewise.indicators.winding.knee import LEAST_STEPS, Knee, find_knee
from cagewise.machine.winding_limits import CONTROLLED_OVERVOLTAGE_FROM_V
from cagewise.measurement.test_sheet import StepVoltageTest

KNEE = direct_head(
    "step_voltage_knee", "growth of the conductance at the sharpest rise of the step test", "%"
)

NO_LIMIT = (
    "IEEE 95-2002 cl. 8 has no number: a current in proportion to the voltage is sound, a sharp "
    "rise is the reason to stop (from memory)"
)
EVEN_STEPS = (
    "absorption current decays within each step: the currents compare only if all steps took the "
    "same time and were read at their end"
)


def read_steps(context: InsulationContext, test: StepVoltageTest) -> Reading:
    """Read the sharpest rise of the current of one step-voltage test."""
    head = KNEE.titled(subject(test.tested))
    refusal = _refusal(test) or context.wet(context.sheet.winding_temperature_degc)
    if refusal:
        return head.refused(refusal)
    limits = context.limits
    error_a = np.hypot(limits.step_current_error * test.current_a, limits.step_current_floor_a)
    knee = find_knee(test.voltage_v, test.current_a, np.asarray(error_a))
    if knee is None:
        return head.refused("the current does not rise with the voltage: no slope to compare with")
    caveats = (
        *_finding(context, knee),
        NO_LIMIT,
        EVEN_STEPS if test.step_s is not None else f"the time of a step is not given; {EVEN_STEPS}",
        *_scope(context),
        *context.common_caveats(),
    )
    reading = head.read(knee.growth.scaled(100.0), caveats)
    return replace(
        reading,
        false_alarm_probability=knee.false_alarm_probability,
        details=_details(context, test, knee),
    )


def is_knee(context: InsulationContext, knee: Knee) -> bool:
    """Return whether the strongest candidate is a sharp rise and not scatter."""
    limits = context.limits
    return (
        knee.false_alarm_probability < limits.knee_false_alarm_probability
        and knee.growth.value >= limits.least_knee_growth
    )


def _refusal(test: StepVoltageTest) -> str:
    """Return why the test cannot be read; empty if it can."""
    n = test.voltage_v.size
    if n < LEAST_STEPS:
        return f"{n} steps cannot show a knee: at least {LEAST_STEPS} are needed"
    if not np.all(np.diff(test.voltage_v, prepend=0.0) > 0.0):
        return "the voltages do not ascend from zero"
    if not np.all(np.isfinite(test.current_a)) or np.any(test.current_a < 0.0):
        return "a current is negative or not a number"
    return ""


def _finding(context: InsulationContext, knee: Knee) -> tuple[str, ...]:
    """Return the advice to stop, where there is a knee."""
    if not is_knee(context, knee):
        return ()
    return (
        (
            f"the current rises sharply from {knee.voltage_v:.4g} V: stop, do not raise the "
            "voltage again beyond it before the cause is known"
        ),
    )


def _scope(context: InsulationContext) -> tuple[str, ...]:
    """Say so where the motor is outside the scope of the standard."""
    rated_v = context.motor.nameplate.rated_voltage_v
    if rated_v >= CONTROLLED_OVERVOLTAGE_FROM_V:
        return ()
    return (
        (
            f"rated {rated_v:g} V: IEEE 95 is for machines of {CONTROLLED_OVERVOLTAGE_FROM_V:g} V "
            "and above (secondary)"
        ),
    )


def _details(context: InsulationContext, test: StepVoltageTest, knee: Knee) -> dict[str, float]:
    """Return what the reading stands on; the knee's voltage only where there is one."""
    details = {
        "highest_voltage_v": float(test.voltage_v[-1]),
        "current_at_highest_voltage_a": float(test.current_a[-1]),
        "smooth_conductance_s": knee.smooth_conductance_s,
        "added_conductance_s": knee.added_conductance_s.value,
        "scatter_over_stated_error_1": knee.scatter_factor,
        "steps_count": float(test.voltage_v.size),
    }
    if is_knee(context, knee):
        details["knee_voltage_v"] = knee.voltage_v
    return details
