"""A plausible machine for a motor of which little more than the nameplate is known.

Circuit and losses come from the nameplate (or are given), bars and slots from the motor file where
it has them; the rest is what such motors usually have. ``docs/theory/simulation-nameplate.md``.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from cagewise.errors import InputError
from cagewise.machine.estimate import circuit_nominal
from cagewise.machine.motor import Motor
from cagewise.machine.nameplate import Nameplate
from cagewise.machine.nameplate_draws import middle_machine
from cagewise.simulation.machine.design import CageShape, machine_for_circuit
from cagewise.simulation.machine.geometry import MachineGeometry
from cagewise.simulation.machine.two_axis import TwoAxisMachine

SLOTS_PER_POLE_AND_PHASE = {1: 4, 2: 3, 3: 3}
"""q by pole pairs below :data:`LARGE_W`; 2 for more poles. Common practice, no source."""

LARGE_W = 50e3
"""Above this power one slot more per pole and phase; common practice, no source."""

COIL_PITCH = 5.0 / 6.0
"""Coil over pole pitch of two-layer windings, rounded to slots; common practice, no source."""

BARS_PER_SLOT = 0.85
"""Rotor bars over stator slots; common practice, no source."""

SKEW_STATOR_SLOTS = {"cast": 1.0, "fabricated": 0.0, None: 1.0}
"""Skew by construction of the cage; common practice, no source."""

RING_SHARE = 0.15
"""Part of rotor resistance and leakage that lies in the rings; common practice, no source."""

ROTOR_INERTIA_CONSTANT_S = 0.02
"""Kinetic energy of the rotor over rated power at 3 kW (the reference motor); grows with the root
of the power (from memory)."""

TOTAL_OVER_ROTOR_INERTIA = 3.0
"""Where the motor file does not know the driven machine; common practice, no source."""

FUNDAMENTAL_ORDERS = (1, 5, 7, 11, 13)
"""Winding orders that always couple, as far as the recording can show their lines."""

_BAND = 0.45
"""Orders are followed up to this part of the sampling rate: above, their lines fold."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NameplateMachine:
    """A machine and the torque it carries at rated output."""

    geometry: MachineGeometry
    rated_torque_nm: float
    """At the shaft."""
    friction_nm: float
    """Mechanical and stray losses of the motor as a torque; loads it beside the shaft."""


def machine_for_motor(motor: Motor, sampling_rate_hz: float) -> NameplateMachine:
    """Return a machine that meets the nameplate of ``motor``.

    Orders of the winding whose lines the sampling rate cannot show are left out.

    Raises
    ------
    MotorFileError
        If no cage motor has this nameplate.
    InputError
        If a cage with these bars and slots cannot have so little leakage.
    """
    plate = motor.nameplate
    circuit = circuit_nominal(motor)
    shape = shape_for(motor)
    friction = float(middle_machine(plate).mechanical_loss_w) / _rated_speed_rad_s(plate)
    geometry = machine_for_circuit(
        TwoAxisMachine(
            stator_resistance_ohm=float(circuit.stator_resistance_ohm),
            rotor_resistance_ohm=float(circuit.rotor_resistance_ohm),
            stator_inductance_h=float(circuit.stator_inductance_h),
            rotor_inductance_h=float(circuit.rotor_inductance_h),
            magnetizing_inductance_h=float(circuit.magnetizing_inductance_h),
        ),
        shape,
        pole_pairs=plate.pole_pairs,
        rated_torque_nm=plate.rated_torque_nm,
        flux_vs=plate.rated_phase_voltage_peak_v / (2.0 * math.pi * plate.rated_frequency_hz),
        inertia_kg_m2=_inertia_kg_m2(motor),
        orders=_orders(motor, shape, sampling_rate_hz),
    )
    return NameplateMachine(
        geometry=geometry, rated_torque_nm=plate.rated_torque_nm, friction_nm=friction
    )


def shape_for(motor: Motor) -> CageShape:
    """Return bars, winding and skew: stated ones as they are, others as usual."""
    plate, cage = motor.nameplate, motor.cage
    p = plate.pole_pairs
    if cage.stator_slots is not None:
        q = max(1, round(cage.stator_slots / (6 * p)))  # a winding of broken q by the nearest whole
    else:
        q = SLOTS_PER_POLE_AND_PHASE.get(p, 2) + (1 if plate.rated_power_w > LARGE_W else 0)
    bars = cage.rotor_bars
    if bars is None:
        # an even number per pole pair: the principal slot lines exist
        bars = 2 * p * max(4, round(3 * q * BARS_PER_SLOT))
    if bars <= 2 * p:
        raise InputError(
            f"{bars} bars are too few for {2 * p} poles",
            where="cage",
            remedy="A cage has more bars than poles.",
        )
    pitch = round(3 * q * COIL_PITCH) / (3 * q) if plate.rated_power_w > LARGE_W else 1.0
    return CageShape(
        rotor_bars=bars,
        slots_per_pole_and_phase=q,
        coil_pitch=pitch,
        skew_stator_slots=SKEW_STATOR_SLOTS.get(cage.construction, 1.0),
        ring_resistance_share=RING_SHARE,
        ring_leakage_share=RING_SHARE,
    )


def _orders(motor: Motor, shape: CageShape, sampling_rate_hz: float) -> tuple[int, ...]:
    """Return the winding orders that couple: low ones and those of the slot lines."""
    p = motor.nameplate.pole_pairs
    orders = set(FUNDAMENTAL_ORDERS)
    if shape.rotor_bars % p == 0:
        per_pair = shape.rotor_bars // p
        orders |= {h for h in (per_pair - 1, per_pair + 1) if h % 2 and h % 3}
    highest = _BAND * sampling_rate_hz / motor.nameplate.rated_frequency_hz
    return tuple(sorted(h for h in orders if h == 1 or h <= highest))


def _rated_speed_rad_s(plate: Nameplate) -> float:
    """Return the rated speed, mechanical."""
    return plate.rated_speed_rpm * math.pi / 30.0


def _inertia_kg_m2(motor: Motor) -> float:
    """Return the inertia of rotor and load: stated, or usual for the power."""
    plate, train = motor.nameplate, motor.drive_train
    rotor = train.rotor_inertia_kg_m2
    if rotor is None:
        constant = ROTOR_INERTIA_CONSTANT_S * math.sqrt(plate.rated_power_w / 3e3)
        rotor = 2.0 * constant * plate.rated_power_w / _rated_speed_rad_s(plate) ** 2
    if train.load_inertia_kg_m2 is None:
        return TOTAL_OVER_ROTOR_INERTIA * rotor
    return rotor + train.load_inertia_kg_m2
