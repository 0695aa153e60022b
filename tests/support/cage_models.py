"""The harmonic solution's machine, from the dimensions that the time-domain simulation uses.

The two descriptions meet here only: inductances of the winding functions, bars and rings. Neither
an equivalent circuit nor any reading lies between them.
"""

from __future__ import annotations

import math

import numpy as np

from cagewise.machine.cage.model import CageModel, winding_orders
from cagewise.simulation import MachineGeometry, reference_motor_r3k
from cagewise.simulation.machine import geometry as g


def cage_of(machine: MachineGeometry, order_pairs: int = 2) -> CageModel:
    """Return the cage model of a machine given by its dimensions."""
    orders = winding_orders(order_pairs)
    phases = 2.0 * math.pi / 3.0
    fundamental = g.stator_winding_amplitude(machine, 1)
    return CageModel(
        pole_pairs=machine.pole_pairs,
        rotor_bars=machine.rotor_bars,
        orders=orders,
        mutual_h=np.array([g.mutual_amplitude_h(machine, abs(order)) for order in orders]),
        stator_resistance_ohm=np.array(machine.stator_resistance_ohm),
        stator_inductance_h=np.array(
            machine.stator_leakage_h
            + g.stator_gap_inductance_h(machine)
            - g.stator_gap_inductance_h(machine, phases)
        ),
        magnetizing_inductance_h=np.array(1.5 * math.pi * machine.permeance_h * fundamental**2),
        gap_inductance_h=np.array(machine.permeance_h * machine.bar_pitch_rad),
        bar_resistance_ohm=np.array(machine.bar_resistance_ohm),
        bar_inductance_h=np.array(machine.bar_leakage_h),
        ring_resistance_ohm=np.array(machine.ring_resistance_ohm),
        ring_inductance_h=np.array(machine.ring_leakage_h),
    )


def reference_cage(order_pairs: int = 2) -> CageModel:
    """Return the cage model of the reference motor R3K."""
    return cage_of(reference_motor_r3k(), order_pairs)
