"""The initial current of a start, at rated voltage, against earlier starts and the physics.

That a defective cage starts with a lower initial current is common practice without a source. The
physics says so too: every open bar takes about its own share of the conductors away, 2.7 % of the
current for one of 32 (docs/theory/start.md). That is little beside what else moves it.
"""

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
from cagewise.indicators.start.expected import ExpectedStart
from cagewise.indicators.start.facts import StartFacts
from cagewise.indicators.start.time_to_speed import expected_of
from cagewise.machine.circuit import EquivalentCircuit
from cagewise.machine.locked_rotor import code_letter_current_a
from cagewise.machine.motor import Motor
from cagewise.quantities import Estimate, NotKnown

HEAD = StartHead(name="initial_start_current", title="initial current of the start")
WEAK = (
    "weak evidence: that a defective cage draws less at first is common practice without a source, "
    "and saturation moves this current as much as a bar does"
)
UNIT = "of rated current, at rated voltage"


def initial_current(
    facts: StartFacts,
    earlier: Sequence[StartFacts],
    motor: Motor,
    circuit: EquivalentCircuit,
    limits: StartComparisonLimits,
    *,
    expected: ExpectedStart | NotKnown | None = None,
) -> Reading:
    """Read the initial current of a start.

    Parameters
    ----------
    facts
        The start in question.
    earlier
        Sound starts of the same motor, in any order; those at another voltage are left out.
    motor, circuit
        The motor, and one circuit or an ensemble.
    limits
        When starts may be compared.
    expected
        What open bars do to a start of this motor, if it was asked for before.
    """
    value = facts.initial_current_pu
    if isinstance(value, NotKnown):
        return HEAD.refused(value.reason)
    expected = expected or expected_of(facts, motor, circuit)
    chosen = comparable(facts, earlier, limits, same_load=False)
    details = {"initial_current_pu": value.value, **_from_physics(motor, expected)}
    reading = Reading(
        name=HEAD.name,
        title=HEAD.title,
        independence_class=IndependenceClass.START,
        method=Method.START_UP,
        value=value,
        unit=UNIT,
        caveats=(
            WEAK,
            *comparison_caveats(facts, chosen, limits.few_starts),
            *_out_of_band(value.value, details, limits),
        ),
        details=details,
    )
    if isinstance(expected, NotKnown):
        return replace(reading, reason=chosen.reason or expected.reason)
    if chosen.reason:
        return replace(reading, reason=chosen.reason + _alone(expected))
    comparison = _comparison(value, chosen, expected, limits)
    n_motors = expected.initial_current_a.size
    details |= {
        "over_earlier_starts_1": comparison.ratio.value,
        "earlier_starts_count": float(comparison.earlier),
    }
    return replace(
        reading,
        valid=True,
        false_alarm_probability=comparison.chance(-1),
        open_bar_equivalent=comparison.bars(expected.current_bars, n_motors),
        detection_limit_bars=comparison.detection_limit(-1, expected.current_bars, n_motors),
    )


def _comparison(
    value: Estimate, chosen: Chosen, expected: ExpectedStart, limits: StartComparisonLimits
) -> Comparison:
    """Return the comparison of the currents per unit of voltage."""
    warmth = root_mean_square(expected.current_per_resistance) * PER_KELVIN
    spread = math.hypot(limits.current_repeatability, warmth * limits.temperature_spread_k)
    before = [e.initial_current_pu for e in chosen.starts]
    known = [current for current in before if isinstance(current, Estimate)]
    return compare(value, known, spread, limits)


def _from_physics(motor: Motor, expected: ExpectedStart | NotKnown) -> dict[str, float]:
    """Return what circuit and code letter say of the initial current, per unit of rated."""
    rated = motor.nameplate.rated_current_a
    details: dict[str, float] = {}
    if not isinstance(expected, NotKnown):
        low, high = np.quantile(expected.initial_current_a / rated, [0.025, 0.975])
        drop = 1.0 - float(np.median(expected.current_ratio[0]))
        details |= {
            "circuit_low_pu": float(low),
            "circuit_high_pu": float(high),
            "expected_drop_one_bar_percent": 100.0 * drop,
        }
    band = code_letter_current_a(motor.nameplate)
    if band is not None:
        details |= {"code_letter_low_pu": band[0] / rated, "code_letter_high_pu": band[1] / rated}
    return details


def _out_of_band(
    value: float, details: dict[str, float], limits: StartComparisonLimits
) -> tuple[str, ...]:
    """Return what it means when the current is far from what the motor should draw."""
    source = "code_letter" if "code_letter_low_pu" in details else "circuit"
    if f"{source}_low_pu" not in details:
        return ()
    low, high = details[f"{source}_low_pu"], details[f"{source}_high_pu"]
    margin = 1.0 + limits.largest_first_current_difference
    if low / margin <= value <= high * margin:
        return ()
    said = "the code letter" if source == "code_letter" else "the equivalent circuit"
    text = (
        f"{value:.1f} times rated current is far from the {low:.1f} to {high:.1f} of {said}: check "
        "the ratio of the current channels, and whether this is the motor"
    )
    return (text,)


def _alone(expected: ExpectedStart) -> str:
    """Return how little the physics by itself can say."""
    low, middle, high = np.quantile(expected.initial_current_a, [0.025, 0.5, 0.975])
    drop = 1.0 - float(np.median(expected.current_ratio[0]))
    return (
        f"; the circuit knows the current within {100.0 * (low / middle - 1.0):+.0f} and "
        f"{100.0 * (high / middle - 1.0):+.0f} %, and one open bar lowers it by "
        f"{100.0 * drop:.1f} %"
    )
