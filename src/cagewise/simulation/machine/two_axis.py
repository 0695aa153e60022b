"""The two-axis machine that a sound cage is to the fundamental wave: exact with order 1 alone."""

from __future__ import annotations

import math
from dataclasses import dataclass

from cagewise.simulation.machine.geometry import (
    MachineGeometry,
    mutual_amplitude_h,
    stator_gap_inductance_h,
    stator_winding_amplitude,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class TwoAxisMachine:
    """Parameters per phase of a star, rotor referred by the turns ratio of the magnetising wave."""

    stator_resistance_ohm: float
    rotor_resistance_ohm: float
    stator_inductance_h: float
    """L_s: all stator orders and leakage."""
    rotor_inductance_h: float
    """L_r."""
    magnetizing_inductance_h: float
    """L_m, the fundamental wave."""

    @property
    def flux_inductance_h(self) -> float:
        """L_M = L_m^2 / L_r of the inverse-gamma form."""
        return self.magnetizing_inductance_h**2 / self.rotor_inductance_h

    @property
    def transient_inductance_h(self) -> float:
        """L_sigma = L_s - L_M."""
        return self.stator_inductance_h - self.flux_inductance_h

    @property
    def flux_resistance_ohm(self) -> float:
        """R_R = (L_m / L_r)^2 R_r of the inverse-gamma form."""
        ratio = self.magnetizing_inductance_h / self.rotor_inductance_h
        return ratio**2 * self.rotor_resistance_ohm


def two_axis_machine(geometry: MachineGeometry) -> TwoAxisMachine:
    """Return the two-axis parameters of a sound cage in its single-cage form."""
    p, n = geometry.pole_pairs, geometry.rotor_bars
    magnetizing = 1.5 * math.pi * geometry.permeance_h * stator_winding_amplitude(geometry, 1) ** 2
    mutual = mutual_amplitude_h(geometry, 1)
    referral = magnetizing**2 / (0.75 * n * mutual**2)
    chord = 2.0 * (1.0 - math.cos(p * geometry.bar_pitch_rad))
    gap = geometry.permeance_h * geometry.bar_pitch_rad
    leakage = 2.0 * geometry.ring_leakage_h + chord * geometry.bar_leakage_h
    resistance = 2.0 * geometry.ring_resistance_ohm + chord * geometry.bar_resistance_ohm
    return TwoAxisMachine(
        stator_resistance_ohm=geometry.stator_resistance_ohm,
        rotor_resistance_ohm=referral * resistance,
        stator_inductance_h=geometry.stator_leakage_h
        + stator_gap_inductance_h(geometry)
        - stator_gap_inductance_h(geometry, 2.0 * math.pi / 3.0),
        rotor_inductance_h=referral * (gap + leakage),
        magnetizing_inductance_h=magnetizing,
    )
