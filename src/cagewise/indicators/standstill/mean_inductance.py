"""Rise of the mean inductance against the motor's own history: weak evidence, and said so.

Derivation: ``docs/theory/mean-inductance.md``.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from cagewise.indicators.cage.open_bars import interval, safely
from cagewise.indicators.reading import IndependenceClass, Method, Reading
from cagewise.indicators.standstill.comparable import Comparison, MeanTest, compare, mean_tests
from cagewise.indicators.standstill.expected import StandstillScale, standstill_scale
from cagewise.indicators.standstill.limits import MeanInductanceLimits, PositionLimits
from cagewise.machine.circuit import EquivalentCircuit
from cagewise.machine.motor import Motor
from cagewise.measurement.test_sheet import Place, TestSheet
from cagewise.quantities import COVERAGE, Estimate, NotKnown, RealArray

NAME = "mean_inductance"
TITLE = "mean inductance against earlier tests"
WEAK = (
    "weak evidence: the mean moves with magnetisation, test level, bearing wear and the instrument "
    "as well, and it counts bars without saying where they are"
)
CABLE = "measured from the switchboard: the cable is part of every value"
CAGE_CONSTANT_K = 225.0
"""Temperature at which the resistance of aluminium extrapolates to zero, below 0 degC (IEC 60034-1,
from memory); 234.5 for a copper cage changes the small correction by 3 %."""
CIRCUIT_TEMPERATURE_DEGC = 75.0
"""Cage temperature to which a circuit's rotor resistance is taken to belong; common practice, no
source."""
_MANY = 1e4
"""Degrees of freedom of a scatter that is assumed."""
_DRAWS_EACH = 4
_SEED = 43


@dataclass(frozen=True, slots=True, kw_only=True)
class _Rise:
    """The rise with its scatter."""

    log_rise: float
    sd: float
    """Standard deviation of :attr:`log_rise`."""
    freedom: float
    temperature_slope_per_k: float

    @property
    def probability(self) -> float:
        """That scatter alone gives such a rise or more."""
        from scipy.special import stdtr

        return float(stdtr(self.freedom, -self.log_rise / self.sd))

    def factor(self, probability: float) -> float:
        """Return the quantile of Student's distribution."""
        from scipy.special import stdtrit

        return float(stdtrit(self.freedom, probability))

    @property
    def estimate(self) -> Estimate:
        """The relative rise with its 95 % interval."""
        half = self.factor(0.5 * (1.0 + COVERAGE)) * self.sd
        low, value, high = (math.expm1(self.log_rise + k * half) for k in (-1.0, 0.0, 1.0))
        return Estimate(value, low, high)


def read_mean_inductance(
    sheet: TestSheet,
    earlier: Sequence[TestSheet],
    motor: Motor,
    circuit: EquivalentCircuit,
    limits: MeanInductanceLimits,
    position_limits: PositionLimits | None = None,
) -> Reading:
    """Read the rise of the mean inductance.

    Parameters
    ----------
    sheet
        Today's test, with position series.
    earlier
        Other tests of the same motor in any order; those that were made otherwise are left out.
    motor, circuit
        For the number of open bars that such a rise would take.
    limits
        What may be compared, and how far an undisturbed motor scatters.
    position_limits
        For the mean over positions; defaults if None.
    """
    positions = position_limits or PositionLimits()
    tests = mean_tests(sheet, motor, circuit, positions)
    if isinstance(tests, NotKnown):
        return _refused(tests.reason)
    known = [(old, mean_tests(old, motor, circuit, positions)) for old in earlier]
    comparisons = [compare(test, known, limits) for test in tests]
    best = max(comparisons, key=lambda c: len(c.before))
    if not best.before:
        return _refused(_why_alone(best))
    rise = _rise(best, circuit, limits)
    scale = standstill_scale(motor, circuit, best.now.frequency_hz, ())
    return _reading(best, rise, scale, limits)


def _refused(reason: str) -> Reading:
    """Return the reading that could not be made."""
    return Reading(
        name=NAME,
        title=TITLE,
        independence_class=IndependenceClass.STANDSTILL_MEAN,
        method=Method.MEAN_INDUCTANCE,
        reason=reason,
    )


def _why_alone(comparison: Comparison) -> str:
    """Return why there is nothing to compare with."""
    if not comparison.left_out:
        return "no earlier test of this motor to compare with"
    return f"no earlier test can be compared: {'; '.join(comparison.left_out)}"


def _reading(
    comparison: Comparison, rise: _Rise, scale: StandstillScale, limits: MeanInductanceLimits
) -> Reading:
    """Return the reading of a rise."""
    found = rise.factor(1.0 - limits.false_alarm_probability) + rise.factor(COVERAGE)
    return Reading(
        name=NAME,
        title=TITLE,
        independence_class=IndependenceClass.STANDSTILL_MEAN,
        method=Method.MEAN_INDUCTANCE,
        value=rise.estimate.scaled(100.0),
        unit="% of the earlier mean inductance",
        valid=True,
        false_alarm_probability=rise.probability,
        open_bar_equivalent=_open_bars(rise, scale, limits),
        detection_limit_bars=safely(scale.bars_of_rise(math.expm1(found * rise.sd))),
        caveats=tuple(_caveats(comparison, limits)),
        details=dict(_details(comparison, rise)),
    )


def _rise(
    comparison: Comparison, circuit: EquivalentCircuit, limits: MeanInductanceLimits
) -> _Rise:
    """Return the rise over the mean of the earlier tests, with its scatter."""
    slope = temperature_slope_per_k(circuit, comparison.now)
    ratios = comparison.log_ratios(slope)
    n = ratios.size
    enough = n >= limits.wanted_baselines
    own = float(np.std(ratios, ddof=1)) if enough else 0.0
    one = max(own, limits.least_sd) if enough else limits.baseline_sd
    added = 0.0
    if not comparison.levels_known:
        added += limits.unknown_level_sd**2
    if not comparison.now.demagnetised:
        added += limits.not_demagnetised_sd**2
    if not comparison.temperatures_known:
        added += (slope * limits.unknown_temperature_k) ** 2
    return _Rise(
        log_rise=float(np.mean(ratios)),
        sd=math.sqrt(one**2 * (1.0 + 1.0 / n) + added),
        freedom=float(n - 1) if enough else _MANY,
        temperature_slope_per_k=slope,
    )


def temperature_slope_per_k(circuit: EquivalentCircuit, test: MeanTest) -> float:
    """Return d ln L / dT of the standing sound motor: a warmer cage keeps the field out less.

    ``L = L_s - L_m^2 w^2 L_r / (R_r^2 + w^2 L_r^2)``, R_r proportional to 225 K + T.
    """
    middle = circuit.median()
    omega = 2.0 * math.pi * test.frequency_hz
    reactance = float(omega * middle.rotor_inductance_h)
    resistance = float(middle.rotor_resistance_ohm)
    pushed = float((omega * middle.magnetizing_inductance_h) ** 2 / omega) * reactance
    square = resistance**2 + reactance**2
    inductance = float(middle.stator_inductance_h) - pushed / square
    per_resistance = pushed * 2.0 * resistance / square**2
    per_kelvin = resistance / (CAGE_CONSTANT_K + CIRCUIT_TEMPERATURE_DEGC)
    return per_resistance * per_kelvin / inductance


def _open_bars(rise: _Rise, scale: StandstillScale, limits: MeanInductanceLimits) -> Estimate:
    """Return the adjacent open bars that would raise the mean so far."""
    rng = np.random.default_rng(_SEED)
    value = float(np.median(scale.bars_of_rise(math.expm1(rise.log_rise))))
    draws = np.concatenate([_bar_draws(rise, scale, rng) for _ in range(_DRAWS_EACH)])
    return interval(value, draws, includes_zero=rise.probability > limits.false_alarm_probability)


def _bar_draws(rise: _Rise, scale: StandstillScale, rng: np.random.Generator) -> RealArray:
    """Return draws of open bars, one per solved cage."""
    logs = rise.log_rise + rise.sd * rng.standard_t(rise.freedom, scale.n_draws)
    return np.asarray(scale.bars_of_rise(np.expm1(logs)) * scale.conversion_error())


def _caveats(comparison: Comparison, limits: MeanInductanceLimits) -> Iterator[str]:
    yield WEAK
    n = len(comparison.before)
    if n < limits.wanted_baselines:
        yield (
            f"{n} comparable earlier test{'s' if n > 1 else ''}, {limits.wanted_baselines} are "
            "wanted: the scatter of this motor is assumed, not known"
        )
    if not comparison.levels_known:
        yield "the test current was not written down every time: inductance rises with it"
    if not comparison.now.demagnetised:
        yield "the rotor was not demagnetised, or nobody wrote it down"
    if not comparison.temperatures_known:
        yield "the temperature was not written down every time"
    if comparison.now.place is Place.SWITCHBOARD:
        yield CABLE
    if comparison.left_out:
        yield f"earlier tests left out: {'; '.join(comparison.left_out)}"


def _details(comparison: Comparison, rise: _Rise) -> Iterator[tuple[str, float]]:
    now = comparison.now
    yield "test_frequency_hz", now.frequency_hz
    yield "mean_inductance_h", float(np.mean(list(now.inductance_h.values())))
    yield "baselines_count", float(len(comparison.before))
    yield "scatter_percent", 100.0 * rise.sd
    yield "temperature_slope_percent_per_k", 100.0 * rise.temperature_slope_per_k
    slope = _trend_per_year(comparison, rise.temperature_slope_per_k)
    if slope is not None:
        yield "trend_percent_per_year", 100.0 * slope


def _trend_per_year(comparison: Comparison, temperature_slope: float) -> float | None:
    """Return the slope of ln L over the dates, today included; None with fewer than three."""
    years = np.append(comparison.years, 0.0)
    if np.unique(years).size < 3:
        return None
    logs = np.append(-comparison.log_ratios(temperature_slope), 0.0)
    centred = years - np.mean(years)
    return float(centred @ logs / (centred @ centred))
