"""The reference motor R3K: a 3 kW machine whose every dimension is published.

Dimensions, slot data and conductivities: the four-pole motor of J. Gyselinck's thesis as given in
a public finite-element data file; slot permeances and Carter factors computed from them here. The
nameplate (3 kW, 50 Hz, 380 V star, 6.7 A, 1420 rpm) is that of the hot machine.
"""

from __future__ import annotations

import math

from cagewise.simulation.machine.geometry import DEFAULT_ORDERS, MachineGeometry

STATOR_SLOTS = 36
ROTOR_BARS = 32
LENGTH_M = 0.127
RADIUS_M = 45.765e-3
MECHANICAL_GAP_M = 0.47e-3
STATOR_OPENING_M = 2.5e-3
ROTOR_OPENING_M = 2.0e-3
SATURATION_FACTOR = 1.25
"""Share of the iron in the magnetising force, as a widening of the gap: assumed, not published."""
BAR_AREA_M2 = 43.83e-6
CAGE_CONDUCTIVITY_S_PER_M = 26.7e6
BAR_SLOT_PERMEANCE = 1.109 + 0.5
"""Slot and tip permeance factors of the rotor slot."""
STATOR_SLOT_LEAKAGE_H = 3.845e-3
END_WINDING_LEAKAGE_H = 0.87e-3


def reference_motor_r3k(
    *, inertia_factor: float = 1.0, orders: tuple[int, ...] = DEFAULT_ORDERS
) -> MachineGeometry:
    """Return R3K in star with a cold rotor; ``inertia_factor`` scales the rotor's inertia."""
    return MachineGeometry(
        rotor_bars=ROTOR_BARS,
        pole_pairs=2,
        slots_per_pole_and_phase=3,
        series_turns=204,
        radius_m=RADIUS_M,
        length_m=LENGTH_M,
        gap_m=0.780e-3,
        skew_rad=2.0 * math.pi / STATOR_SLOTS,
        stator_resistance_ohm=2.2,
        stator_leakage_h=STATOR_SLOT_LEAKAGE_H + END_WINDING_LEAKAGE_H,
        bar_resistance_ohm=LENGTH_M / (BAR_AREA_M2 * CAGE_CONDUCTIVITY_S_PER_M),
        bar_leakage_h=4e-7 * math.pi * LENGTH_M * BAR_SLOT_PERMEANCE,
        ring_resistance_ohm=0.418e-6,
        ring_leakage_h=2.4e-9,
        inertia_kg_m2=5.63e-3 * inertia_factor,
        orders=orders,
    )
