"""The position test of this motor: where to put the shaft, and the smallest damage it will show.

Derivation: ``docs/theory/plan.md``, section 8.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from cagewise.decision.limits import Limits, load_limits
from cagewise.machine.motor import Motor
from cagewise.machine.positions import PositionAdvice, position_counts
from cagewise.measurement.test_sheet import TerminalPair
from cagewise.quantities import Estimate

if TYPE_CHECKING:
    from cagewise.machine.circuit import EquivalentCircuit

N_PAIRS = len(TerminalPair)
UNKNOWNS_PER_PAIR = 8
"""Mean, drift, two damage orders and one slot order with two waves each."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StandstillPlan:
    """The position test."""

    advice: PositionAdvice
    """Where to put the shaft."""
    pairs: tuple[TerminalPair, ...]
    """All three: a pattern that moves from pair to pair is the rotor's, one that stays is not."""
    frequencies_hz: tuple[float, ...]
    """Of the test voltage; the first is that of :attr:`bars`."""
    repeatability: float
    """Standard deviation of a repeated reading that is assumed, relative."""
    sound_anisotropy: float
    """Amplitude over the mean that a sound rotor may show by itself."""
    instrument_bars: Estimate
    """Smallest damage that stands out of the scatter of the readings."""
    bars: Estimate
    """Smallest damage that stands out of that and of what a sound rotor may show by itself."""

    @property
    def readings(self) -> int:
        """Readings of the whole test, returns included."""
        per_series = len(self.advice.shaft_angles_deg) + 1
        return per_series * len(self.pairs) * len(self.frequencies_hz)


def standstill_plan(
    motor: Motor,
    circuit: EquivalentCircuit,
    limits: Limits | None = None,
    repeatability: float | None = None,
) -> StandstillPlan:
    """Return the position test of a motor.

    Parameters
    ----------
    motor, circuit
        The motor and its circuit ensemble.
    limits
        Those in force when left out.
    repeatability
        Standard deviation of a repeated reading, relative; that of the limits when left out.
    """
    from cagewise.indicators.standstill.expected import Signal, standstill_scale

    limits, advice = limits or load_limits(), position_counts(motor)
    repeatability = repeatability or limits.plan.position_repeatability
    gate = limits.position
    rated_hz = motor.nameplate.rated_frequency_hz
    scale = standstill_scale(motor, circuit, rated_hz)
    positions = len(advice.shaft_angles_deg)
    smallest = smallest_amplitude(repeatability, positions, gate.false_alarm_probability)
    noise = scale.bars(Signal.INDUCTANCE, smallest)
    own = scale.bars(Signal.INDUCTANCE, gate.healthy_anisotropy)
    return StandstillPlan(
        advice=advice,
        pairs=tuple(TerminalPair),
        frequencies_hz=(rated_hz, limits.plan.position_second_frequency * rated_hz),
        repeatability=repeatability,
        sound_anisotropy=gate.healthy_anisotropy,
        instrument_bars=Estimate.from_draws(noise),
        bars=Estimate.from_draws(np.maximum(noise, own)),
    )


def smallest_amplitude(
    repeatability: float, positions: int, false_alarm_probability: float
) -> float:
    """Return the amplitude over the mean that 95 of 100 tests of three pairs will find.

    Cosine and sine of an order over N readings scatter by ``sigma sqrt(2/N)``; the factor is that
    of the test which the reading itself has to pass.

    Parameters
    ----------
    repeatability
        sigma, relative.
    positions
        Of one pair, without the return.
    false_alarm_probability
        Of a pattern in noise alone.
    """
    from cagewise.indicators.standstill.moving import detection_factor

    freedom = N_PAIRS * (positions + 1 - UNKNOWNS_PER_PAIR)
    sd = repeatability * math.sqrt(2.0 / (N_PAIRS * positions))
    return sd * detection_factor(false_alarm_probability, freedom)
