"""One start against the motor's own earlier ones: a ratio, and how far sound starts scatter.

Logarithms of the values are compared. The scatter of few earlier starts says little, so it is
joined with what sound starts are known to scatter by, as if that had been seen on a few starts
more; the interval is that of a new observation (Student's t). docs/theory/start.md.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import stdtr, stdtrit

from cagewise.indicators.reading import IndependenceClass, Method, Reading
from cagewise.indicators.start.comparison_limits import StartComparisonLimits
from cagewise.indicators.start.facts import StartFacts
from cagewise.quantities import (
    COVERAGE,
    NORMAL_COVERAGE_FACTOR,
    Estimate,
    NotKnown,
    RealArray,
)

PER_KELVIN = 0.004
"""Relative rise of the resistance of copper and aluminium per kelvin."""
MOST_OPEN_BARS = 100.0
"""A detection limit is cut here."""
DRAWS_PER_MOTOR = 20
"""Draws of the ratio for each motor that this one may be."""
_SEED = 41


@dataclass(frozen=True, slots=True, kw_only=True)
class StartHead:
    """What a reading of a start is called."""

    name: str
    title: str

    def refused(self, reason: str) -> Reading:
        """Return the reading that could not be made."""
        return Reading(
            name=self.name,
            title=self.title,
            independence_class=IndependenceClass.START,
            method=Method.START_UP,
            reason=reason,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """A value against earlier ones of its kind, in logarithms."""

    log_ratio: float
    """Natural logarithm of the value over the geometric mean of the earlier ones."""
    standard_deviation: float
    """Of that difference for a sound motor."""
    degrees_of_freedom: float
    earlier: int
    """Values it was compared with."""

    @property
    def ratio(self) -> Estimate:
        """Value over the earlier ones, with the 95 % interval."""
        reach = self.standard_deviation * float(
            stdtrit(self.degrees_of_freedom, 0.5 * (1.0 + COVERAGE))
        )
        ends = (self.log_ratio, self.log_ratio - reach, self.log_ratio + reach)
        return Estimate(*(math.exp(end) for end in ends))

    def chance(self, sense: int) -> float:
        """Return the probability of so large a difference on an unchanged motor.

        ``sense`` is 1 for damage that raises the value, -1 for damage that lowers it.
        """
        distance = sense * self.log_ratio / self.standard_deviation
        return float(stdtr(self.degrees_of_freedom, -distance))

    def draws(self, n_draws: int) -> RealArray:
        """Return draws of the true ratio, shape (n_draws,)."""
        scatter = np.random.default_rng(_SEED).standard_t(self.degrees_of_freedom, n_draws)
        return np.exp(self.log_ratio + self.standard_deviation * scatter)

    def detectable(self, sense: int) -> float:
        """Return the ratio that would be seen with 95 % probability at 5 % false alarm."""
        reach = 2.0 * float(stdtrit(self.degrees_of_freedom, COVERAGE))
        return math.exp(sense * reach * self.standard_deviation)

    def bars(self, to_bars: Callable[[RealArray], RealArray], n_motors: int) -> Estimate:
        """Return the open bars that would change a start as much.

        ``to_bars`` turns ratios into bars for each of ``n_motors`` motors that this one may be.
        """
        value = float(np.median(to_bars(np.full(n_motors, math.exp(self.log_ratio)))))
        draws = self.draws(DRAWS_PER_MOTOR * n_motors).reshape(DRAWS_PER_MOTOR, n_motors)
        bars = np.concatenate([to_bars(part) for part in draws])
        low, high = np.quantile(bars, [0.5 * (1.0 - COVERAGE), 0.5 * (1.0 + COVERAGE)])
        return Estimate(value, min(float(low), value), max(float(high), value))

    def detection_limit(
        self, sense: int, to_bars: Callable[[RealArray], RealArray], n_motors: int
    ) -> float:
        """Return the open bars that 95 % of the motors this one may be would show."""
        bars = to_bars(np.full(n_motors, self.detectable(sense)))
        return min(float(np.quantile(bars, COVERAGE)), MOST_OPEN_BARS)


def compare(
    value: Estimate, earlier: Sequence[Estimate], prior_sd: float, limits: StartComparisonLimits
) -> Comparison:
    """Return the comparison of a value with at least one earlier.

    ``prior_sd`` is the standard deviation of the logarithm between sound starts that is expected
    before any is seen.
    """
    logs = np.log([estimate.value for estimate in earlier])
    weight, own = limits.prior_starts, logs.size - 1
    squares = weight * prior_sd**2 + float(np.sum((logs - logs.mean()) ** 2))
    spread = squares / (weight + own)
    reading = _log_sd(value) ** 2 + float(np.mean([_log_sd(e) ** 2 for e in earlier])) / logs.size
    return Comparison(
        log_ratio=math.log(value.value) - float(logs.mean()),
        standard_deviation=math.sqrt(spread * (1.0 + 1.0 / logs.size) + reading),
        degrees_of_freedom=weight + own,
        earlier=int(logs.size),
    )


@dataclass(frozen=True, slots=True)
class Chosen:
    """Which of the earlier starts may be compared, and why the others may not."""

    starts: tuple[StartFacts, ...]
    reason: str
    """Why none is left; empty when one is."""
    left_out: int


def comparable(
    facts: StartFacts,
    earlier: Sequence[StartFacts],
    limits: StartComparisonLimits,
    *,
    same_load: bool,
) -> Chosen:
    """Return the earlier starts made at the voltage and, if asked, under the load of this one."""
    if not earlier:
        return Chosen((), "no earlier start of this motor to compare with", 0)
    whole = [e for e in earlier if isinstance(e.time_to_speed_s, Estimate)]
    if not whole:
        return Chosen((), "none of the earlier starts could be read itself", len(earlier))
    voltage = [e for e in whole if _voltages_agree(facts, e, limits)]
    load = [e for e in voltage if not same_load or _loads_agree(facts, e, limits)]
    reason = ""
    if not voltage:
        reason = _other_voltage(facts, whole, limits)
    elif not load:
        reason = (
            "the running current after the start is "
            f"{_amperes(facts)} and was {_amperes(voltage[-1])}: another load, so the times cannot "
            "be compared (start against the same valve position)"
        )
    return Chosen(tuple(load), reason, len(earlier) - len(load))


def comparison_caveats(facts: StartFacts, chosen: Chosen, few: int) -> tuple[str, ...]:
    """Return what limits the comparison of a start."""
    caveats = [*facts.caveats, ALL_BARS_ALIKE, LINEAR]
    if 0 < len(chosen.starts) < few:
        caveats.append(
            f"only {_starts(len(chosen.starts))}: the interval rests on what sound motors "
            "usually scatter by"
        )
    if chosen.left_out and chosen.starts:
        caveats.append(
            f"{_starts(chosen.left_out)} left out: other voltage or load, or not readable"
        )
    if facts.currents_measured == 1:
        caveats.append("one current alone: an unbalance of the supply enters it in full")
    return tuple(caveats)


def _starts(n: int) -> str:
    """Return a number of earlier starts in words."""
    return f"{n} earlier {'start' if n == 1 else 'starts'}"


ALL_BARS_ALIKE = (
    "counts what all bars lose together: a warmer cage, a worn cage and a broken bar "
    "add up, wherever the bar is"
)
LINEAR = "the conversion to bars leaves saturation and currents between the bars out"


def root_mean_square(values: RealArray) -> float:
    """Return the root mean square of exponents that may have either sign, shape (n_motors,)."""
    return float(np.sqrt(np.mean(values**2)))


def _log_sd(estimate: Estimate) -> float:
    """Return the standard deviation of the logarithm of a normal estimate."""
    return (estimate.high - estimate.low) / (2.0 * NORMAL_COVERAGE_FACTOR * estimate.value)


def _voltages_agree(one: StartFacts, other: StartFacts, limits: StartComparisonLimits) -> bool:
    """Return whether two starts had voltages near each other; unknown ones are not told apart."""
    a, b = one.mean_voltage_pu, other.mean_voltage_pu
    if isinstance(a, NotKnown):
        return True
    return isinstance(b, Estimate) and abs(a.value - b.value) <= limits.largest_voltage_difference


def _loads_agree(one: StartFacts, other: StartFacts, limits: StartComparisonLimits) -> bool:
    """Return whether the motor carried the same load after two starts."""
    a, b = one.running_current_rms_a, other.running_current_rms_a
    if isinstance(a, NotKnown) or isinstance(b, NotKnown):
        return True
    return abs(a - b) <= limits.largest_load_difference * b


def _other_voltage(
    facts: StartFacts, earlier: list[StartFacts], limits: StartComparisonLimits
) -> str:
    """Return why no earlier start has the voltage of this one."""
    known = [e.mean_voltage_pu for e in earlier if isinstance(e.mean_voltage_pu, Estimate)]
    if not known or isinstance(facts.mean_voltage_pu, NotKnown):
        return (
            "no voltage was measured in the earlier starts, and 5 % of it change the time by 10 %"
        )
    return (
        f"the mean voltage was {100.0 * facts.mean_voltage_pu.value:.0f} % of rated and "
        f"{100.0 * known[-1].value:.0f} % before: more than "
        f"{100.0 * limits.largest_voltage_difference:.0f} % apart, where its square does not "
        "correct the time well enough"
    )


def _amperes(facts: StartFacts) -> str:
    """Return the running current in words."""
    current = facts.running_current_rms_a
    return "not known" if isinstance(current, NotKnown) else f"{current:.3g} A"
