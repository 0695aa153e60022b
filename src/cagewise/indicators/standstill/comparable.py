"""Which earlier tests of a motor the mean inductance of today may be compared with."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from cagewise.indicators.standstill.limits import MeanInductanceLimits, PositionLimits
from cagewise.indicators.standstill.pattern import PatternFits, fit_pattern
from cagewise.indicators.standstill.series import Quantity, in_frequencies
from cagewise.machine.circuit import EquivalentCircuit
from cagewise.machine.motor import Motor
from cagewise.measurement.test_sheet import Place, TerminalPair, TestSheet
from cagewise.quantities import NotKnown, RealArray


@dataclass(frozen=True, slots=True, kw_only=True)
class MeanTest:
    """The mean inductances of one occasion at one frequency, and the state they belong to."""

    measured_on: date
    frequency_hz: float
    place: Place
    inductance_h: Mapping[TerminalPair, float]
    """Mean over the positions, per pair."""
    test_current_rms_a: float | None
    winding_temperature_degc: float | None
    demagnetised: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """Today and the earlier tests that may be compared with it, in the order of their dates."""

    now: MeanTest
    before: tuple[MeanTest, ...]
    left_out: tuple[str, ...]
    """Why earlier tests were left out, with their number."""

    @property
    def years(self) -> RealArray:
        """Dates of the earlier tests in years from now, negative, shape (n,)."""
        days = [(test.measured_on - self.now.measured_on).days for test in self.before]
        return np.array(days, dtype=np.float64) / 365.25

    def log_ratios(self, temperature_slope_per_k: float) -> RealArray:
        """Return ln(L now / L then) of every earlier test, both at the temperature of now.

        Only pairs that both have are compared. ``temperature_slope_per_k`` is d ln L / dT.
        """
        return np.array([self._log_ratio(test, temperature_slope_per_k) for test in self.before])

    def _log_ratio(self, then: MeanTest, slope: float) -> float:
        pairs = self.now.inductance_h.keys() & then.inductance_h.keys()
        ratio = np.mean([math.log(self.now.inductance_h[p] / then.inductance_h[p]) for p in pairs])
        warm, cold = self.now.winding_temperature_degc, then.winding_temperature_degc
        if warm is None or cold is None:
            return float(ratio)
        return float(ratio) - slope * (warm - cold)

    @property
    def temperatures_known(self) -> bool:
        """Whether every test states its temperature."""
        tests = (self.now, *self.before)
        return all(test.winding_temperature_degc is not None for test in tests)

    @property
    def levels_known(self) -> bool:
        """Whether every test states its current."""
        return all(test.test_current_rms_a is not None for test in (self.now, *self.before))


def mean_tests(
    sheet: TestSheet, motor: Motor, circuit: EquivalentCircuit, limits: PositionLimits
) -> tuple[MeanTest, ...] | NotKnown:
    """Return the mean inductances of a sheet by frequency, or why there is none."""
    if not sheet.positions:
        return NotKnown("no inductance against position was entered")
    reason = "inductance was not read"
    found = []
    for pairs in in_frequencies(sheet.positions, motor.nameplate.pole_pairs).values():
        fits = fit_pattern(pairs, motor, circuit, limits)
        if isinstance(fits, NotKnown):
            reason = fits.reason
        elif Quantity.INDUCTANCE in fits.fits:
            found.append(_mean_test(sheet, fits))
    return tuple(found) if found else NotKnown(reason)


def compare(
    now: MeanTest,
    earlier: Sequence[tuple[TestSheet, tuple[MeanTest, ...] | NotKnown]],
    limits: MeanInductanceLimits,
) -> Comparison:
    """Return the earlier tests that were made like the one of today."""
    kept: list[MeanTest] = []
    why: Counter[str] = Counter()
    for sheet, tests in earlier:
        if isinstance(tests, NotKnown):
            why[f"not readable ({tests.reason})"] += 1
            continue
        if sheet.measured_on >= now.measured_on:
            why["of the same day or later"] += 1
            continue
        differences = [(_difference(now, test, limits), test) for test in tests]
        like = [test for difference, test in differences if not difference]
        if like:
            kept.append(like[0])
        else:
            why[differences[0][0]] += 1
    return Comparison(
        now=now,
        before=tuple(sorted(kept, key=lambda test: test.measured_on)),
        left_out=tuple(f"{number} {reason}" for reason, number in why.items()),
    )


def _mean_test(sheet: TestSheet, fits: PatternFits) -> MeanTest:
    """Return the means of one frequency with the state of the motor."""
    series = [s for s in sheet.positions if s.frequency_hz == fits.frequency_hz]
    currents = [s.test_current_rms_a for s in series if s.test_current_rms_a is not None]
    own = [s.winding_temperature_degc for s in series if s.winding_temperature_degc is not None]
    return MeanTest(
        measured_on=sheet.measured_on,
        frequency_hz=fits.frequency_hz,
        place=sheet.place,
        inductance_h={fit.readings.pair: fit.mean for fit in fits.fits[Quantity.INDUCTANCE]},
        test_current_rms_a=float(np.mean(currents)) if currents else None,
        winding_temperature_degc=float(np.mean(own)) if own else sheet.winding_temperature_degc,
        demagnetised=sheet.rotor_demagnetised is True,
    )


def _difference(now: MeanTest, then: MeanTest, limits: MeanInductanceLimits) -> str:
    """Return what forbids the comparison; empty if nothing does."""
    if abs(then.frequency_hz / now.frequency_hz - 1.0) > limits.largest_frequency_difference:
        return "at another test frequency"
    if then.place is not now.place:
        return "measured from another place"
    if then.demagnetised is not now.demagnetised:
        return "with the rotor in another state of magnetisation"
    if not then.inductance_h.keys() & now.inductance_h.keys():
        return "on other terminals"
    return "at another test current" if _other_level(now, then, limits) else ""


def _other_level(now: MeanTest, then: MeanTest, limits: MeanInductanceLimits) -> bool:
    """Return whether both test currents are known and differ."""
    if now.test_current_rms_a is None or then.test_current_rms_a is None:
        return False
    ratio = then.test_current_rms_a / now.test_current_rms_a
    return abs(ratio - 1.0) > limits.largest_level_difference
