"""A soft starter: thyristor pairs in the lines let through a growing part of every half wave."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from cagewise.errors import InputError
from cagewise.quantities import ComplexArray, RealArray

PHASE_CONTROL_ORDERS = (5, 7, 11, 13)
"""Orders of phase-angle control kept; multiples of three do not act in a three-wire machine."""

_ANGLES_RAD = np.linspace(0.5 * math.pi, math.pi, 4001)
"""Firing angles at which the fundamental is tabulated: linear between them to 1e-7."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SoftStart:
    """A linear ramp of the fundamental voltage, from ``initial`` to full voltage."""

    initial: float
    """Part of the voltage at the beginning of the ramp, 0 to 1."""
    ramp_s: float
    start_s: float = 0.0
    """Time of the beginning of the ramp; before it there is the initial voltage."""
    phase_control: bool = True
    """Whether harmonics of phase-angle control accompany the ramp, or the fundamental alone."""

    def __post_init__(self) -> None:
        if not (0.0 < self.initial <= 1.0 and self.ramp_s > 0.0):
            raise InputError(
                f"a soft start from {self.initial} of the voltage in {self.ramp_s} s is impossible",
                where="soft starter",
                remedy="Give an initial voltage above 0 and at most 1, and a positive time.",
            )

    def level(self, time_s: RealArray) -> RealArray:
        """Return the part of the fundamental let through."""
        share = np.clip((time_s - self.start_s) / self.ramp_s, 0.0, 1.0)
        return np.asarray(self.initial + (1.0 - self.initial) * share)

    def applied(self, unit: ComplexArray, turn: ComplexArray, time_s: RealArray) -> ComplexArray:
        """Return the voltage ``unit`` behind the soft starter.

        ``turn`` is the unit vector of the positive-sequence fundamental.
        """
        level = self.level(time_s)
        voltage = level * unit
        if self.phase_control:
            angle = firing_angle_rad(level)
            for order in PHASE_CONTROL_ORDERS:
                wave = math.sin(order * 0.5 * math.pi) * harmonic_ratio(order, angle) * turn**order
                voltage += wave if order % 3 == 1 else np.conj(wave)
        return np.asarray(voltage)


def fundamental_ratio(angle_rad: RealArray) -> RealArray:
    """Return the fundamental behind a thyristor pair fired at ``angle_rad``, inductive load.

    The current flows from the firing angle a to 2 pi - a, so the fundamental is
    ``(2 (pi - a) + sin 2a) / pi`` for a between pi/2 and pi.
    """
    return np.asarray((2.0 * (math.pi - angle_rad) + np.sin(2.0 * angle_rad)) / math.pi)


def harmonic_ratio(order: int, angle_rad: RealArray) -> RealArray:
    """Return the sine amplitude of an odd order above 1, relative to the source's fundamental."""
    above, below = order + 1, order - 1
    return np.asarray(
        2.0 / math.pi * (np.sin(above * angle_rad) / above - np.sin(below * angle_rad) / below)
    )


def firing_angle_rad(level: RealArray) -> RealArray:
    """Return the firing angle that lets through ``level`` of the fundamental."""
    return np.interp(-level, -fundamental_ratio(_ANGLES_RAD), _ANGLES_RAD)
