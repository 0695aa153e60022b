"""Time to speed, normalised by the voltage, against the motor's own earlier starts."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from cagewise.indicators.reading import IndependenceClass, Method, Reading
from cagewise.indicators.start.comparison import (
    PER_KELVIN,
    Chosen,
    Comparison,
    StartHead,
    comparable,
    compare,
    comparison_caveats,
    root_mean_square,
)
from cagewise.indicators.start.comparison_limits import StartComparisonLimits
from cagewise.indicators.start.expected import ExpectedStart, expect_start
from cagewise.indicators.start.facts import StartFacts
from cagewise.machine.circuit import EquivalentCircuit
from cagewise.machine.motor import Motor
from cagewise.quantities import Estimate, NotKnown

HEAD = StartHead(name="start_time", title="time to speed against earlier starts")
VOLTAGE_NOT_KNOWN = 0.05
"""Standard deviation of the voltage of an unmeasured start, per unit: half the 10 % range of
NEMA MG 1-12.44."""
NO_VOLTAGE = (
    "no voltage was measured during this start, and 5 % of it change the time by 10 %, as much as "
    "two open bars do"
)


def start_time(
    facts: StartFacts,
    earlier: Sequence[StartFacts],
    motor: Motor,
    circuit: EquivalentCircuit,
    limits: StartComparisonLimits,
    *,
    expected: ExpectedStart | NotKnown | None = None,
) -> Reading:
    """Read how much longer a start took than the earlier ones of the same motor.

    Parameters
    ----------
    facts
        The start in question.
    earlier
        Sound starts of the same motor, in any order; those under other conditions are left out.
    motor, circuit
        The motor, and one circuit or an ensemble.
    limits
        When starts may be compared.
    expected
        What open bars do to a start of this motor, if it was asked for before.
    """
    if isinstance(facts.time_to_speed_s, NotKnown):
        return HEAD.refused(facts.time_to_speed_s.reason)
    chosen = comparable(facts, earlier, limits, same_load=True)
    expected = expected or expected_of(facts, motor, circuit)
    reading = Reading(
        name=HEAD.name,
        title=HEAD.title,
        independence_class=IndependenceClass.START,
        method=Method.START_UP,
        unit="of the earlier starts",
        caveats=comparison_caveats(facts, chosen, limits.few_starts),
        details=_details(facts, chosen, expected),
    )
    if chosen.reason or isinstance(expected, NotKnown):
        known = expected.reason if isinstance(expected, NotKnown) else ""
        return replace(reading, reason=chosen.reason or known)
    comparison = _comparison(facts, chosen, expected, limits)
    with_voltage = isinstance(facts.normalised_time_s, Estimate)
    n_motors = expected.time_ratio.shape[1]
    return replace(
        reading,
        value=comparison.ratio,
        valid=with_voltage,
        reason="" if with_voltage else NO_VOLTAGE,
        false_alarm_probability=comparison.chance(+1),
        open_bar_equivalent=comparison.bars(expected.time_bars, n_motors),
        detection_limit_bars=comparison.detection_limit(+1, expected.time_bars, n_motors),
    )


def expected_of(
    facts: StartFacts, motor: Motor, circuit: EquivalentCircuit
) -> ExpectedStart | NotKnown:
    """Return what open bars do to a start of this motor under the load of this one."""
    running = facts.running_current_rms_a
    known = None if isinstance(running, NotKnown) else running
    return expect_start(motor, circuit, running_current_rms_a=known)


def _comparison(
    facts: StartFacts,
    chosen: Chosen,
    expected: ExpectedStart,
    limits: StartComparisonLimits,
) -> Comparison:
    """Return the comparison of the normalised times, or of the plain ones without voltages."""
    warmth = root_mean_square(expected.time_per_resistance) * PER_KELVIN
    spread = math.hypot(limits.time_repeatability, warmth * limits.temperature_spread_k)
    value = facts.normalised_time_s
    before = [e.normalised_time_s for e in chosen.starts]
    if isinstance(value, Estimate):
        spread = math.hypot(spread, _beyond_square_law(facts, chosen, expected))
    else:
        value = facts.time_to_speed_s
        before = [e.time_to_speed_s for e in chosen.starts]
        exponent = root_mean_square(expected.time_per_voltage)
        spread = math.hypot(spread, exponent * VOLTAGE_NOT_KNOWN)
    known = [time for time in (value, *before) if isinstance(time, Estimate)]
    return compare(known[0], known[1:], spread, limits)


def _beyond_square_law(facts: StartFacts, chosen: Chosen, expected: ExpectedStart) -> float:
    """Return what of the voltage's influence on the time its square leaves, 1 of the time."""
    voltages = [e.mean_voltage_pu for e in (facts, *chosen.starts)]
    logs = [math.log(v.value) for v in voltages if isinstance(v, Estimate)]
    excess = root_mean_square(expected.time_per_voltage + 2.0)
    return excess * abs(logs[0] - float(np.mean(logs[1:])))


def _details(
    facts: StartFacts, chosen: Chosen, expected: ExpectedStart | NotKnown
) -> dict[str, float]:
    """Return the times and what they would do with temperature and voltage."""
    details = {"earlier_starts_count": float(len(chosen.starts))}
    for name, value in (
        ("time_to_speed_s", facts.time_to_speed_s),
        ("normalised_time_s", facts.normalised_time_s),
        ("mean_voltage_pu", facts.mean_voltage_pu),
    ):
        if isinstance(value, Estimate):
            details[name] = value.value
    if not isinstance(expected, NotKnown):
        one, two = np.median(expected.time_ratio[:2], axis=1)
        warmer = np.median(expected.time_per_resistance) * PER_KELVIN * 10.0
        details |= {
            "expected_rise_one_bar_percent": 100.0 * (float(one) - 1.0),
            "expected_rise_two_bars_percent": 100.0 * (float(two) - 1.0),
            "expected_rise_10_k_warmer_percent": 100.0 * float(warmer),
            "voltage_exponent_1": float(np.median(expected.time_per_voltage)),
        }
    return details
