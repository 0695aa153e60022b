"""The fundamental of the supply: frequency, positive-sequence voltage and current, powers."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from cagewise.conditioning.frame import SupplyFrame
from cagewise.quantities import Estimate, RealArray

SMOOTH_S = 0.5
"""The wander of the supply is slower than this; what is faster in the phase is noise. Of a stretch
shorter than twice this it is half."""
TURN_S = 0.1
"""The phase at either end is the mean over this time."""
TURN_DEVIATIONS = 2.5
"""Difference between turn and slope, in deviations of its noise, from which it is believed."""
BAND_LOSS = 2.5
"""Samples of the frame per independent one: its band is 32 of 80 Hz."""
STUDENT = 1.62
"""95 % point of Student's distribution with three degrees of freedom over that of the normal: four
quarters know their scatter badly."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Supply:
    """Fundamental quantities, means over one steady stretch."""

    frequency_hz: Estimate
    frequency_wander_hz: float
    """Root-mean-square deviation from the mean, noise not counted."""
    current_a: complex
    """Positive-sequence current (A, peak); against the voltage when there is one."""
    voltage_v: complex | None
    """Positive-sequence phase voltage (V, peak)."""

    @property
    def line_current_rms_a(self) -> float:
        """Positive-sequence line current."""
        return abs(self.current_a) / math.sqrt(2.0)

    @property
    def line_voltage_rms_v(self) -> float | None:
        """Positive-sequence line-line voltage."""
        if self.voltage_v is None:
            return None
        return abs(self.voltage_v) * math.sqrt(1.5)

    @property
    def complex_power_va(self) -> complex | None:
        """``P + j Q = 3/2 v conj(i)`` into the motor; None without voltage."""
        if self.voltage_v is None:
            return None
        return 1.5 * self.voltage_v * self.current_a.conjugate()

    @property
    def power_factor(self) -> float | None:
        """Active over apparent power of the fundamental."""
        power = self.complex_power_va
        return None if power is None else power.real / max(abs(power), 1e-300)


def measure_supply(frame: SupplyFrame) -> Supply:
    """Return the fundamental of the supply over a steady stretch."""
    frequency, wander = mean_frequency(frame)
    return Supply(
        frequency_hz=frequency,
        frequency_wander_hz=wander,
        current_a=complex(np.mean(frame.current)),
        voltage_v=None if frame.voltage is None else complex(np.mean(frame.voltage)),
    )


def mean_frequency(frame: SupplyFrame) -> tuple[Estimate, float]:
    """Return the mean supply frequency with its interval, and its wander in Hz.

    The least-squares slope of the phase is the best estimate of a constant frequency, but it weighs
    the middle of the record; the mean of a wandering one is the turn from end to end. The value
    moves from the slope to the turn as far as the difference stands out of its noise. The
    deviation has three parts (docs/theory/operating-point.md): the bound of a straight line in
    white phase noise, the noise of the difference, and what the unseen ends of the record may
    hold, from the scatter of the quarters.
    """
    phase, rate = _whole_phase(frame), frame.sampling_rate_hz
    n, duration = phase.size, phase.size / rate
    time = frame.time_s - frame.time_s.mean()
    slope = (frame.supply_frequency_hz - frame.centre_hz) * 2.0 * math.pi
    rest = phase - phase.mean() - slope * time
    length = max(3, min(round(SMOOTH_S * rate), n // 2))
    slow = _moving_average(rest, length)
    noise_rad = float(np.std(rest[length // 2 :][: slow.size] - slow))
    per_turn = 1.0 / (2.0 * math.pi * duration)
    bound_hz = math.sqrt(12.0 / n) * noise_rad * per_turn
    ends = max(1, round(TURN_S * rate))
    turn_hz = float(np.mean(rest[-ends:]) - np.mean(rest[:ends])) * per_turn
    turn_noise_hz = math.sqrt(2.0 * BAND_LOSS / ends) * noise_rad * per_turn
    share = max(1.0 - (TURN_DEVIATIONS * turn_noise_hz / turn_hz) ** 2, 0.0) if turn_hz else 0.0
    unseen_hz = 0.5 * STUDENT * math.sqrt(_lost(frame)) * _quarter_scatter_hz(rest, rate)
    deviation = math.hypot(bound_hz, min(turn_noise_hz, abs(turn_hz)), unseen_hz)
    value = frame.supply_frequency_hz + share * turn_hz
    noise_hz = noise_rad / length * rate / (2.0 * math.pi)
    course_hz = np.gradient(slow, 1.0 / rate) / (2.0 * math.pi)
    wander_hz = math.sqrt(max(float(np.var(course_hz)) - noise_hz**2, 0.0))
    return Estimate.from_standard_deviation(value, deviation), wander_hz


def _lost(frame: SupplyFrame) -> float:
    """Return the part of the record that the filters and the smoothing of the ends cost."""
    return 1.0 - (frame.duration_s - TURN_S) / frame.signals.duration_s


def _quarter_scatter_hz(phase: RealArray, rate_hz: float) -> float:
    """Return the standard deviation of the mean frequencies of the quarters."""
    quarter = phase.size // 4
    time = (np.arange(quarter) - (quarter - 1) / 2.0) / rate_hz
    slopes = phase[: 4 * quarter].reshape(4, quarter) @ time / float(time @ time)
    return float(np.std(slopes, ddof=1)) / (2.0 * math.pi)


def _whole_phase(frame: SupplyFrame) -> RealArray:
    """Return the phase of the reference, its fast part included, shape (n_slow,)."""
    if frame.from_voltage:
        return frame.phase_rad
    return np.asarray(frame.phase_rad + np.unwrap(np.angle(frame.current)))


def _moving_average(values: RealArray, length: int) -> RealArray:
    """Return the mean of every ``length`` neighbours, shape (n - length + 1,)."""
    total = np.concatenate([[0.0], np.cumsum(values)])
    return np.asarray((total[length:] - total[:-length]) / length)
