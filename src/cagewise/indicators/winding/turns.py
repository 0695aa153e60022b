"""Turn insulation: the answers of the pairs of terminals to a steep front, compared.

A short between turns takes inductance from one phase: the pairs that hold it ring faster and no
longer lie over the third.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from cagewise.indicators.reading import IndependenceClass, Part, Reading, ReferenceLimit, Sense
from cagewise.indicators.winding.head import RestHead, cable_caveat, comparable
from cagewise.indicators.winding.limits import TurnLimits
from cagewise.indicators.winding.waveforms import (
    Difference,
    Ringing,
    compare,
    half_width,
    ringing,
)
from cagewise.machine.motor import Motor
from cagewise.machine.winding_limits import surge_unit_v
from cagewise.measurement.test_sheet import TerminalPair, TestSheet, TurnTest
from cagewise.quantities import Estimate, NotKnown, RealArray


def _head(name: str, title: str) -> RestHead:
    return RestHead(
        name=name,
        title=title,
        unit="%",
        part=Part.WINDING,
        independence_class=IndependenceClass.WINDING_TURNS,
    )


DIFFERENCE = _head("waveform_difference", "largest difference between the waveforms of two pairs")
FREQUENCY = _head(
    "ringing_frequency_difference",
    "largest difference between the ringing frequencies, of their mean",
)
CHANGE = _head("waveform_change", "largest difference from the same pair's earlier waveform")
HEADS = (DIFFERENCE, FREQUENCY)

LEAST_SAMPLES = 16
"""Samples of a waveform below which there is nothing to lay over."""
UNEVEN = 1e-2
"""Part of a step by which times may deviate from uniform: a printed time has few digits."""

ROTOR = (
    "a cage rotor makes the pairs' inductances depend on its position: turn the shaft and repeat "
    "before a difference is believed, and compare with earlier waveforms at the same position"
)
NO_LIMIT = "IEEE 522 has no limit for the comparison (from memory)"
CABLE = "the cable rings with the winding and damps differences"


def read_turns(
    sheet: TestSheet, earlier: Sequence[TestSheet], motor: Motor, limits: TurnLimits
) -> tuple[Reading, ...]:
    """Read the turn test of one sheet; nothing is returned if none was made.

    Parameters
    ----------
    sheet
        Readings of one occasion.
    earlier
        Sheets of the same motor to compare with, in any order.
    motor
        Rated voltage and construction of the winding.
    limits
        What the comparison can tell.
    """
    test = sheet.turns
    if test is None:
        return ()
    refusal = _refusal(test)
    if refusal:
        return tuple(head.refused(refusal) for head in HEADS)
    caveats = (NO_LIMIT, ROTOR, *_scope(motor), *cable_caveat(sheet, CABLE))
    rings = {
        pair: ringing(test.time_s, wave, limits.least_ringing_periods)
        for pair, wave in test.voltage_v.items()
    }
    readings = [
        _with_limit(_difference(test, rings, limits), limits.waveform_repeat),
        _with_limit(_frequencies(rings), limits.frequency_repeat),
    ]
    before = [other.turns for other in comparable(sheet, earlier, motor) if other.turns is not None]
    if before:
        change = _change(test, before[-1], rings, limits)
        readings.append(_with_limit(change, limits.waveform_repeat))
    crest = _crest(test, motor)
    return tuple(
        replace(r, caveats=(*r.caveats, *caveats), details={**r.details, **crest}) for r in readings
    )


def _with_limit(reading: Reading, repeat: float) -> Reading:
    """Return a reading beside what instruments repeat: no standard limits it, we have to."""
    if not reading.valid:
        return reading
    limit = ReferenceLimit(
        value=100.0 * repeat,
        sense=Sense.AT_MOST,
        source="our judgement",
        form="what instruments repeat",
    )
    return replace(reading, limit=limit)


def _refusal(test: TurnTest) -> str:
    """Return why the waveforms cannot be compared; empty if they can."""
    if len(test.voltage_v) < 2:
        return "one waveform has nothing to be compared with"
    steps = np.diff(test.time_s)
    if steps.size < LEAST_SAMPLES - 1 or not _uniform(steps):
        return "the times are too few or not uniform"
    for pair, wave in test.voltage_v.items():
        middle = wave[wave.size // 4 : -(wave.size // 4)]
        if wave.shape != test.time_s.shape or not np.all(np.isfinite(wave)) or not np.any(middle):
            return f"the waveform of pair {pair.value} is empty, incomplete or not a number"
    return ""


def _uniform(steps: RealArray) -> bool:
    """Return whether steps of time are equal, positive numbers."""
    mean = float(steps.mean())
    return mean > 0.0 and bool(np.all(np.abs(steps - mean) <= UNEVEN * mean))


def _largest_shift_s(
    test: TurnTest, rings: Mapping[TerminalPair, Ringing | NotKnown], limits: TurnLimits
) -> float:
    """Return by how much waveforms may be shifted; not at all where no ringing was found."""
    known = [ring.frequency_hz.value for ring in rings.values() if isinstance(ring, Ringing)]
    if not known:
        return 0.0
    span = float(test.time_s[-1] - test.time_s[0])
    return min(limits.largest_shift / float(np.mean(known)), 0.1 * span)


def _difference(
    test: TurnTest, rings: Mapping[TerminalPair, Ringing | NotKnown], limits: TurnLimits
) -> Reading:
    """Compare every two pairs and read the largest difference."""
    shift_s = _largest_shift_s(test, rings, limits)
    found = {
        (one, two): compare(test.time_s, test.voltage_v[one], test.voltage_v[two], shift_s)
        for one, two in itertools.combinations(sorted(test.voltage_v), 2)
    }
    worst = max(found.values(), key=lambda difference: difference.area.value)
    details: dict[str, float] = {}
    for (one, two), difference in found.items():
        details |= _of_difference(f"{one.value}_{two.value}", difference)
    caveats = (*_odd_one(found, limits), *_reversed(found))
    return replace(DIFFERENCE.read(worst.area.scaled(100.0), caveats), details=details)


def _of_difference(name: str, difference: Difference) -> dict[str, float]:
    return {
        f"difference_{name}_percent": 100.0 * difference.area.value,
        f"noise_floor_{name}_percent": 100.0 * difference.noise_floor,
        f"scale_{name}_1": difference.scale,
        f"shift_{name}_s": difference.shift_s,
    }


def _odd_one(
    found: Mapping[tuple[TerminalPair, TerminalPair], Difference], limits: TurnLimits
) -> tuple[str, ...]:
    """Name the pair that differs from two others that are alike."""
    alike = [pairs for pairs, d in found.items() if d.area.high <= limits.waveform_repeat]
    unlike = [pairs for pairs, d in found.items() if d.area.low > limits.waveform_repeat]
    if len(found) != 3 or len(alike) != 1 or len(unlike) != 2:
        return ()
    odd = next(pair for pair in TerminalPair if pair not in alike[0])
    return (f"pair {odd.value} differs from the other two, which are alike",)


def _reversed(found: Mapping[tuple[TerminalPair, TerminalPair], Difference]) -> tuple[str, ...]:
    """Name the pairs that are alike upside down only: leads were swapped."""
    pairs = [f"{one.value} and {two.value}" for (one, two), d in found.items() if d.scale < 0.0]
    return (f"opposite polarity between {', '.join(pairs)}: leads were swapped",) if pairs else ()


def _frequencies(rings: Mapping[TerminalPair, Ringing | NotKnown]) -> Reading:
    """Read the spread of the ringing frequencies."""
    reasons = [
        f"pair {pair.value}: {ring.reason}"
        for pair, ring in rings.items()
        if isinstance(ring, NotKnown)
    ]
    if reasons:
        return FREQUENCY.refused("; ".join(reasons))
    known = {pair: ring for pair, ring in rings.items() if isinstance(ring, Ringing)}
    values = np.array([ring.frequency_hz.value for ring in known.values()])
    mean = float(values.mean())
    sigma = math.sqrt(2.0) * max(half_width(ring.frequency_hz) for ring in known.values()) / mean
    spread = float(np.ptp(values)) / mean
    error = 2.0 * sigma
    estimate = Estimate(spread, max(0.0, spread - error), spread + error)
    details: dict[str, float] = {}
    for pair, ring in known.items():
        details[f"ringing_{pair.value}_hz"] = ring.frequency_hz.value
        details[f"decay_{pair.value}_per_s"] = ring.decay_rate_per_s
        details[f"misfit_{pair.value}_1"] = ring.misfit
    # f goes with 1/sqrt(L): twice the spread is the part of the inductance that is missing
    details["inductance_difference_percent"] = 200.0 * spread
    return replace(FREQUENCY.read(estimate.scaled(100.0)), details=details)


def _change(
    test: TurnTest,
    before: TurnTest,
    rings: Mapping[TerminalPair, Ringing | NotKnown],
    limits: TurnLimits,
) -> Reading:
    """Compare every pair with its own waveform on the latest earlier sheet."""
    shared = [pair for pair in TerminalPair if pair in test.voltage_v and pair in before.voltage_v]
    if not shared or _refusal(before):
        return CHANGE.refused("the earlier sheet has no waveform of these pairs to compare with")
    end = min(float(test.time_s[-1]), float(before.time_s[-1]))
    inside = test.time_s <= end
    time_s = test.time_s[inside]
    if time_s.size < LEAST_SAMPLES or time_s[0] < before.time_s[0]:
        return CHANGE.refused("the earlier waveforms cover another stretch of time")
    shift_s = _largest_shift_s(test, rings, limits)
    found = {}
    for pair in shared:
        past: RealArray = np.interp(time_s, before.time_s, before.voltage_v[pair])
        found[pair] = compare(time_s, past, test.voltage_v[pair][inside], shift_s)
    worst = max(found.values(), key=lambda difference: difference.area.value)
    details: dict[str, float] = {}
    for pair, difference in found.items():
        details |= _of_difference(pair.value, difference)
    return replace(CHANGE.read(worst.area.scaled(100.0)), details=details)


def _scope(motor: Motor) -> tuple[str, ...]:
    """Say so where the winding is not of the kind the standard is for."""
    construction = motor.winding.construction
    if construction == "form":
        return ()
    known = "is random-wound" if construction == "random" else "may not be form-wound"
    return (f"IEEE 522 is for form-wound multiturn coils; this winding {known}",)


def _crest(test: TurnTest, motor: Motor) -> dict[str, float]:
    """Return the applied crest, also per unit of the crest of the phase voltage."""
    if test.peak_voltage_v is None:
        return {}
    unit = surge_unit_v(motor.nameplate.rated_voltage_v)
    return {"crest_v": test.peak_voltage_v, "crest_per_unit_1": test.peak_voltage_v / unit}
