"""What cannot be what was measured: mixed units, copied columns, readings in the wrong row."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import combinations

import numpy as np

from cagewise.indicators.standstill.limits import PositionLimits
from cagewise.indicators.standstill.series import PairReadings, Quantity
from cagewise.machine.circuit import EquivalentCircuit

_NEAR = 0.15
"""Relative distance at which a factor is taken for 1000, a million or 2 pi f."""


def entry_fault(
    pairs: Sequence[PairReadings], circuit: EquivalentCircuit, limits: PositionLimits
) -> str:
    """Return what is wrong with the entry, in one clause; empty when nothing is seen."""
    return next(_faults(pairs, circuit, limits), "")


def _faults(
    pairs: Sequence[PairReadings], circuit: EquivalentCircuit, limits: PositionLimits
) -> Iterator[str]:
    for readings in pairs:
        if [other.pair for other in pairs].count(readings.pair) > 1:
            yield f"terminals {readings.name} stand twice in the sheet at the same frequency"
    for readings in pairs:
        yield from _impossible(readings)
        yield from _mixed_within(readings, limits)
    for one, other in combinations(pairs, 2):
        yield from _mixed_between(one, other, limits)
        yield from _copied(one, other)
    if len({tuple(sorted(readings.values)) for readings in pairs}) > 1:
        yield "the pairs of terminals were not read in the same quantities"
    for readings in pairs:
        yield from _unlike_motor(readings, circuit, limits)


def _impossible(readings: PairReadings) -> Iterator[str]:
    """Yield a reading that no passive winding gives."""
    for quantity, values in readings.values.items():
        if not (np.all(np.isfinite(values)) and np.all(values > 0.0)):
            yield f"a {quantity} of terminals {readings.name} is not a positive number"


def _mixed_within(readings: PairReadings, limits: PositionLimits) -> Iterator[str]:
    """Yield readings of one series that differ by more than a rotor can make."""
    for quantity, values in readings.values.items():
        ratios = values / np.median(values)
        worst = int(np.argmax(np.abs(np.log(ratios))))
        factor = max(ratios[worst], 1.0 / ratios[worst])
        if factor > limits.largest_step_factor:
            yield (
                f"reading {worst + 1} of the {quantity} of terminals {readings.name} differs "
                f"from the others by a factor of {factor:.3g}{_hint(factor, readings)}"
            )


def _mixed_between(one: PairReadings, other: PairReadings, limits: PositionLimits) -> Iterator[str]:
    """Yield pairs that differ by more than a winding can make."""
    for quantity in one.values.keys() & other.values.keys():
        ratio = float(np.median(one.values[quantity]) / np.median(other.values[quantity]))
        factor = max(ratio, 1.0 / ratio)
        if factor > limits.largest_pair_factor:
            yield (
                f"the {quantity} of terminals {one.name} and {other.name} differs by a factor of "
                f"{factor:.3g}{_hint(factor, one)}"
            )


def _copied(one: PairReadings, other: PairReadings) -> Iterator[str]:
    """Yield columns that are the same numbers: two pairs never repeat each other's noise."""
    for quantity in one.values.keys() & other.values.keys():
        a, b = one.values[quantity], other.values[quantity]
        if a.size > 2 and a.shape == b.shape and np.array_equal(a, b) and np.ptp(a) > 0.0:
            yield (
                f"terminals {one.name} and {other.name} have the same {quantity} to the last "
                "digit at every position: one column was copied"
            )


def _unlike_motor(
    readings: PairReadings, circuit: EquivalentCircuit, limits: PositionLimits
) -> Iterator[str]:
    """Yield readings that no test of this motor can give, whatever its iron does."""
    middle = circuit.median()
    omega = 2.0 * math.pi * readings.frequency_hz
    rotor = middle.rotor_resistance_ohm + 1j * omega * middle.rotor_inductance_h
    seen = (
        middle.stator_resistance_ohm
        + 1j * omega * middle.stator_inductance_h
        + (omega * middle.magnetizing_inductance_h) ** 2 / rotor
    )
    expected = {
        Quantity.RESISTANCE: 2.0 * float(seen.real),
        Quantity.INDUCTANCE: 2.0 * float(seen.imag) / omega,
        Quantity.MODULUS: 2.0 * float(abs(seen)),
    }
    for quantity, values in readings.values.items():
        ratio = float(np.median(values)) / expected[quantity]
        factor = max(ratio, 1.0 / ratio)
        if factor > limits.largest_motor_factor:
            yield (
                f"the {quantity} of terminals {readings.name} differs from what this motor can "
                f"have by a factor of about {factor:.2g}: check the unit"
            )


def _hint(factor: float, readings: PairReadings) -> str:
    """Return which mistake makes this factor, if one does."""
    known = {
        1e3: "units a thousand apart were mixed",
        1e6: "units a million apart were mixed",
        2.0 * math.pi * readings.frequency_hz: "reactance and inductance were mixed",
        2e-3 * math.pi * readings.frequency_hz: "reactance and inductance in mH were mixed",
    }
    for value, words in known.items():
        size = max(value, 1.0 / value)
        if size > 2.0 and abs(factor / size - 1.0) < _NEAR:
            return f": {words}"
    return ": check unit and decimal point"
