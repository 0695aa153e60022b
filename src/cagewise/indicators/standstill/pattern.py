"""The fits of all pairs at one frequency: what moves with the rotor, and whether it may be read."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from cagewise.indicators.standstill.entry import entry_fault
from cagewise.indicators.standstill.expected import Signal
from cagewise.indicators.standstill.fit import PairFit, fit_pair
from cagewise.indicators.standstill.limits import PositionLimits
from cagewise.indicators.standstill.mistakes import writing_mistake
from cagewise.indicators.standstill.moving import Component, Movement, component
from cagewise.indicators.standstill.sampling import SamplingCheck, check_sampling
from cagewise.indicators.standstill.series import PAIR_ORDER, PairReadings, Quantity
from cagewise.machine.circuit import EquivalentCircuit
from cagewise.machine.motor import Motor
from cagewise.quantities import NotKnown, RealArray

SIGNAL_OF = {
    Quantity.INDUCTANCE: Signal.INDUCTANCE,
    Quantity.RESISTANCE: Signal.RESISTANCE,
    Quantity.MODULUS: Signal.MODULUS,
}
"""What each quantity is over its own mean."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PatternFits:
    """Everything fitted at one frequency."""

    frequency_hz: float
    checks: tuple[SamplingCheck, ...]
    """One per pair."""
    fits: Mapping[Quantity, tuple[PairFit, ...]]
    """One fit per pair, in the order of the phases."""
    movements: Mapping[Movement, Mapping[Quantity, Component]]
    """The pattern as it would be if it moved in one way."""

    @property
    def signal(self) -> Signal:
        """What the pattern is read in."""
        return Signal.VECTOR if len(self.fits) > 1 else SIGNAL_OF[next(iter(self.fits))]

    @property
    def rotor(self) -> Mapping[Quantity, Component]:
        """The part that moves with the rotor."""
        return self.movements[Movement.WITH_ROTOR]

    @property
    def pairs(self) -> tuple[PairReadings, ...]:
        """The pairs that were read."""
        return tuple(fit.readings for fit in next(iter(self.fits.values())))

    @property
    def missing(self) -> tuple[str, ...]:
        """The pairs that were not read, as a person writes them."""
        read = {readings.pair for readings in self.pairs}
        return tuple("-".join(pair.value) for pair in PAIR_ORDER if pair not in read)

    def mean(self, quantity: Quantity) -> float:
        """Return the mean over positions and pairs, ohm or henry."""
        return float(np.mean([fit.mean for fit in self.fits[quantity]]))

    @property
    def weights(self) -> Mapping[Quantity, float]:
        """Factor from each quantity over its own mean to the signal's scale."""
        if self.signal is not Signal.VECTOR:
            return dict.fromkeys(self.fits, 1.0)
        reactance = 2.0 * math.pi * self.frequency_hz * self.mean(Quantity.INDUCTANCE)
        resistance = self.mean(Quantity.RESISTANCE)
        modulus = math.hypot(resistance, reactance)
        return {
            Quantity.RESISTANCE: resistance / modulus,
            Quantity.INDUCTANCE: reactance / modulus,
        }

    def stacked(self, order: int) -> tuple[RealArray, RealArray]:
        """Return cosines and sines of one order in all quantities, and their variances."""
        weights = self.weights
        parts = [weights[q] * c.of(order) for q, c in self.rotor.items()]
        spread = [weights[q] ** 2 * np.diag(c.spread(order)) for q, c in self.rotor.items()]
        return np.concatenate(parts), np.concatenate(spread)

    def false_alarm_probability(self, movement: Movement = Movement.WITH_ROTOR) -> float:
        """Return the smallest F test of the quantities, times their number."""
        tests = [c.false_alarm_probability for c in self.movements[movement].values()]
        return min(1.0, len(tests) * min(tests))

    def order_probability(self, order: int) -> float:
        """Return the same for one order alone."""
        tests = [c.order_probability(order) for c in self.rotor.values()]
        return min(1.0, len(tests) * min(tests))

    def share(self, movement: Movement) -> float:
        """Return the part of the patterns' energy, in units of scatter, that moves in one way."""
        parts = self.movements[movement].values()
        whole = sum(c.explained + c.left for c in parts)
        return sum(c.explained for c in parts) / whole if whole > 0.0 else 1.0


def fit_pattern(
    pairs: Sequence[PairReadings],
    motor: Motor,
    circuit: EquivalentCircuit,
    limits: PositionLimits,
) -> PatternFits | NotKnown:
    """Return the fits of the pairs read at one frequency, or why they cannot be read."""
    fault = entry_fault(pairs, circuit, limits)
    if fault:
        return NotKnown(fault)
    checks = tuple(check_sampling(readings, motor, limits) for readings in pairs)
    refused = next((c.reason for c in checks if c.reason), "")
    if refused:
        return NotKnown(refused)
    fits = {
        quantity: tuple(
            fit_pair(readings, quantity, check.sampling)
            for readings, check in zip(pairs, checks, strict=True)
        )
        for quantity in pairs[0].values
    }
    return PatternFits(
        frequency_hz=pairs[0].frequency_hz,
        checks=checks,
        fits=fits,
        movements={
            movement: {quantity: component(of, movement) for quantity, of in fits.items()}
            for movement in Movement
        },
    )


def pattern_fault(fits: PatternFits, limits: PositionLimits) -> str:
    """Return why the pattern cannot be taken for the rotor's, in one clause; empty if it can."""
    return next(filter(None, _faults(fits, limits)), "")


def _faults(fits: PatternFits, limits: PositionLimits) -> Iterator[str]:
    for one in (fit for of in fits.fits.values() for fit in of):
        if one.excess_return_error > limits.largest_return_error:
            yield (
                f"back at the first angle the {one.quantity} of terminals {one.readings.name} "
                f"differs by {100.0 * abs(one.return_error or 0.0):.2g} %, "
                f"{100.0 * limits.largest_return_error:g} % beyond the scatter are allowed: read "
                "the series again"
            )
    for one in (fit for of in fits.fits.values() for fit in of):
        yield writing_mistake(one, limits.mistake_probability)
    yield _wrong_movement(fits, limits)


def _is_tiny(fits: PatternFits, movement: Movement, limits: PositionLimits) -> bool:
    """Return whether the pattern that moves like this is too small to matter in any quantity."""
    parts = fits.movements[movement].values()
    return all(float(np.linalg.norm(c.pattern)) < limits.least_amplitude for c in parts)


def _wrong_movement(fits: PatternFits, limits: PositionLimits) -> str:
    """Return what is wrong when the pattern does not go with the rotor; empty if nothing is."""
    best = max(Movement, key=fits.share)
    misfit = min(c.misfit_probability for c in fits.rotor.values())
    stands = fits.false_alarm_probability(best) < limits.false_alarm_probability
    if not stands or misfit > limits.false_alarm_probability or _is_tiny(fits, best, limits):
        return ""
    share = fits.share(Movement.WITH_ROTOR)
    if best is Movement.BACKWARDS and share < limits.least_moving_share:
        return (
            "the pattern moves 240 instead of 120 electrical degrees from pair to pair: two pairs "
            "are exchanged in the sheet, or the shaft was turned the other way"
        )
    if best is Movement.STAYS and share < limits.least_moving_share:
        return (
            "the pattern stays at the same angles on all pairs instead of moving with the rotor: "
            "it does not come from the cage (stator, leads, or drift with the position)"
        )
    if share < limits.least_moving_share:
        return (
            f"the pairs do not show one pattern: only {100.0 * share:.0f} % of it moves from pair "
            "to pair as the rotor does"
        )
    return ""
