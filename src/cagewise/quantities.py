"""Constants, conversions and conventions: the only place where they are stated.

Conventions used throughout
---------------------------
* SI units inside; the unit is part of every name at a boundary (``rated_voltage_v``).
* Space vectors are peak-valued and amplitude-invariant: ``x = 2/3 (x_a + a x_b + a^2 x_c)`` with
  ``a = exp(j 2 pi / 3)``, so a balanced set of peak value X has ``|x| = X``. Positive sequence
  turns forwards (positive frequency).
* Root-mean-square values carry ``_rms_`` in their names.
* Levels in dB are amplitude levels, ``20 log10``; "dBc" is relative to the fundamental current.
* Currents flow into the motor (load convention): motoring power is positive.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

RealArray: TypeAlias = NDArray[np.float64]
ComplexArray: TypeAlias = NDArray[np.complex128]

WATT_PER_HORSEPOWER = 745.6998715822702
"""Mechanical horsepower, 550 ft lbf/s (NIST SP 811, Appendix B.8)."""

PHASE_OPERATOR = complex(-0.5, math.sqrt(3.0) / 2.0)
"""``a = exp(j 2 pi / 3)``."""

COVERAGE = 0.95
"""Coverage probability of every interval, unless its name says otherwise."""

NORMAL_COVERAGE_FACTOR = 1.959963984540054
"""Half width of the 95 % interval of a normal distribution, in standard deviations."""


@dataclass(frozen=True, slots=True)
class Estimate:
    """A value with its 95 % interval; the unit is in the name of the field that holds it."""

    value: float
    low: float
    high: float

    def __post_init__(self) -> None:
        if not self.low <= self.value <= self.high:
            message = f"estimate {self.value} lies outside its interval {self.low}..{self.high}"
            raise ValueError(message)

    @classmethod
    def from_standard_deviation(cls, value: float, standard_deviation: float) -> Estimate:
        """Return the normal 95 % interval about ``value``."""
        half_width = NORMAL_COVERAGE_FACTOR * standard_deviation
        return cls(value, value - half_width, value + half_width)

    @classmethod
    def from_draws(cls, draws: RealArray) -> Estimate:
        """Return median and equal-tailed 95 % interval of ``draws``, shape (n_draws,)."""
        tail = (1.0 - COVERAGE) / 2.0
        low, middle, high = np.quantile(draws, [tail, 0.5, 1.0 - tail])
        return cls(float(middle), float(low), float(high))

    def scaled(self, factor: float) -> Estimate:
        """Return the estimate in another unit."""
        low, high = sorted((self.low * factor, self.high * factor))
        return Estimate(self.value * factor, low, high)


@dataclass(frozen=True, slots=True)
class NotKnown:
    """A quantity that could not be had, with the reason in one clause."""

    reason: str


def decibel(ratio: float) -> float:
    """Return the amplitude level of ``ratio`` in dB; minus infinity for zero."""
    return 20.0 * math.log10(ratio) if ratio > 0.0 else -math.inf


def amplitude_ratio(level_db: float) -> float:
    """Return the amplitude ratio of a level in dB."""
    return float(10.0 ** (level_db / 20.0))


def space_vector(phase_a: RealArray, phase_b: RealArray, phase_c: RealArray) -> ComplexArray:
    """Return the peak-valued space vector of three phase quantities, shape (n_samples,)."""
    # written into its place part by part: records are long, and this is on the way of every one
    vector = np.empty(phase_a.shape, dtype=np.complex128)
    part = np.subtract(phase_b, phase_c)
    np.multiply(part, 1.0 / math.sqrt(3.0), out=vector.imag)
    np.add(phase_b, phase_c, out=part)
    part *= -0.5
    part += phase_a
    np.multiply(part, 2.0 / 3.0, out=vector.real)
    return vector


def synchronous_speed_rpm(frequency_hz: float, pole_pairs: int) -> float:
    """Return the synchronous speed in revolutions per minute."""
    return 60.0 * frequency_hz / pole_pairs


def wrap_angle(angle_rad: float) -> float:
    """Return ``angle_rad`` in the half-open interval (-pi, pi]."""
    return math.pi - (math.pi - angle_rad) % (2.0 * math.pi)


KEPT_DIGITS = 12
"""Significant digits of numbers that are kept: more than any reading has, by far."""


def significant(value: float) -> float:
    """Return a number with the digits that are kept.

    The last digits of a result depend on the machine, even on where in memory a record lay.
    """
    return float(f"{value:.{KEPT_DIGITS}g}")
