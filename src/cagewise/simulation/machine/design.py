"""A machine with dimensions for a circuit that is known: what a drawing would say, made up.

The terminals of a sound machine show nothing but its two-axis circuit. Dimensions are chosen as
motors of this torque have them, the gap and the cage so that the fundamental wave sees exactly the
given circuit. ``docs/theory/simulation-nameplate.md``.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from cagewise.errors import InputError
from cagewise.simulation.machine.geometry import (
    DEFAULT_ORDERS,
    VACUUM_PERMEABILITY_H_PER_M,
    MachineGeometry,
    stator_winding_amplitude,
    winding_factor,
)
from cagewise.simulation.machine.two_axis import TwoAxisMachine, two_axis_machine

SHEAR_STRESS_PA = 12.1e3
"""Torque per rotor surface and radius at 20 N m (the reference motor's); common practice."""

SHEAR_STRESS_EXPONENT = 0.16
"""Its growth with the torque: 25 kPa at 2 kN m; common practice, no source."""

LENGTH_OVER_RADIUS = 2.7
"""Of four-pole motors; goes with the root of the poles. Common practice, no source."""

GAP_FIELD_T = 0.8
"""Peak fundamental field in the gap; common practice, no source."""

_MARGIN = 0.05
"""Part of the range of the leakage split that is kept free at either end."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CageShape:
    """What the circuit leaves open."""

    rotor_bars: int
    slots_per_pole_and_phase: int = 3
    coil_pitch: float = 1.0
    skew_stator_slots: float = 1.0
    ring_resistance_share: float = 0.15
    """Part of the referred rotor resistance that lies in the rings."""
    ring_leakage_share: float = 0.15
    """The same of the leakage of bars and rings."""


def machine_for_circuit(  # noqa: PLR0913 - a circuit, its rating and what it leaves open
    circuit: TwoAxisMachine,
    shape: CageShape,
    *,
    pole_pairs: int,
    rated_torque_nm: float,
    flux_vs: float,
    inertia_kg_m2: float,
    orders: tuple[int, ...] = DEFAULT_ORDERS,
) -> MachineGeometry:
    """Return a machine whose fundamental wave sees exactly ``circuit`` at its terminals.

    ``flux_vs`` is the peak flux linkage of a phase at rated voltage, V / w. How the leakage divides
    between stator and rotor does not show at the terminals; it is kept as given where the harmonics
    of winding and cage, which are part of it, leave room, and moved where they do not.

    Raises
    ------
    InputError
        If winding and cage of this shape alone have more leakage than the circuit.
    """
    frame = _frame(shape, pole_pairs, rated_torque_nm, flux_vs)
    frame = replace(frame, inertia_kg_m2=inertia_kg_m2, orders=orders)
    circuit = _with_room(circuit, frame, shape)
    machine = _with_gap(frame, circuit.magnetizing_inductance_h)
    bare = two_axis_machine(machine)
    chord = 2.0 * (1.0 - math.cos(pole_pairs * machine.bar_pitch_rad))
    gap = machine.permeance_h * machine.bar_pitch_rad
    referral = bare.rotor_inductance_h / _mesh_inductance(machine, chord)
    resistance = circuit.rotor_resistance_ohm / referral
    leakage = circuit.rotor_inductance_h / referral - gap
    return replace(
        machine,
        stator_resistance_ohm=circuit.stator_resistance_ohm,
        stator_leakage_h=machine.stator_leakage_h
        + circuit.stator_inductance_h
        - bare.stator_inductance_h,
        bar_resistance_ohm=resistance * (1.0 - shape.ring_resistance_share) / chord,
        bar_leakage_h=leakage * (1.0 - shape.ring_leakage_share) / chord,
        ring_resistance_ohm=0.5 * resistance * shape.ring_resistance_share,
        ring_leakage_h=0.5 * leakage * shape.ring_leakage_share,
    )


def _mesh_inductance(machine: MachineGeometry, chord: float) -> float:
    """Return L of a mesh to the fundamental pattern, not referred."""
    leakage = 2.0 * machine.ring_leakage_h + chord * machine.bar_leakage_h
    return machine.permeance_h * machine.bar_pitch_rad + leakage


def _frame(
    shape: CageShape, pole_pairs: int, rated_torque_nm: float, flux_vs: float
) -> MachineGeometry:
    """Return a machine of the right size; gap, resistances and leakages are not yet its own."""
    stress = SHEAR_STRESS_PA * (rated_torque_nm / 20.0) ** SHEAR_STRESS_EXPONENT
    slenderness = LENGTH_OVER_RADIUS * math.sqrt(2.0 / pole_pairs)
    radius = (rated_torque_nm / (2.0 * math.pi * stress * slenderness)) ** (1.0 / 3.0)
    length = slenderness * radius
    slots = 6 * pole_pairs * shape.slots_per_pole_and_phase
    frame = MachineGeometry(
        rotor_bars=shape.rotor_bars,
        pole_pairs=pole_pairs,
        slots_per_pole_and_phase=shape.slots_per_pole_and_phase,
        coil_pitch=shape.coil_pitch,
        series_turns=1,
        radius_m=radius,
        length_m=length,
        gap_m=1e-3,
        skew_rad=shape.skew_stator_slots * 2.0 * math.pi / slots,
        stator_resistance_ohm=1.0,
        stator_leakage_h=1e-9,
        bar_resistance_ohm=1e-4,
        bar_leakage_h=1e-9,
        ring_resistance_ohm=1e-6,
        ring_leakage_h=1e-9,
        inertia_kg_m2=1.0,
    )
    pole_flux = 2.0 * GAP_FIELD_T * radius * length / pole_pairs
    turns = max(1, round(flux_vs / (pole_flux * winding_factor(frame, 1))))
    return replace(frame, series_turns=turns)


def _with_gap(frame: MachineGeometry, magnetizing_h: float) -> MachineGeometry:
    """Return the machine with the gap that gives this magnetising inductance."""
    permeance = magnetizing_h / (1.5 * math.pi * stator_winding_amplitude(frame, 1) ** 2)
    gap = VACUUM_PERMEABILITY_H_PER_M * frame.radius_m * frame.length_m / permeance
    return replace(frame, gap_m=gap)


def _with_room(circuit: TwoAxisMachine, frame: MachineGeometry, shape: CageShape) -> TwoAxisMachine:
    """Return the circuit with its leakage divided so that stator and rotor can both have theirs.

    Scaling ``L_m`` by a and ``R_r, L_r`` by a^2 changes nothing at the terminals.
    """
    unit = _with_gap(frame, 1.0)
    bare = two_axis_machine(unit)
    chord = 2.0 * (1.0 - math.cos(frame.pole_pairs * frame.bar_pitch_rad))
    gap_share = unit.permeance_h * unit.bar_pitch_rad / _mesh_inductance(unit, chord)
    with_harmonics_rotor = bare.rotor_inductance_h * gap_share
    with_harmonics_stator = bare.stator_inductance_h - unit.stator_leakage_h
    magnetizing = circuit.magnetizing_inductance_h
    low = magnetizing * with_harmonics_rotor / circuit.rotor_inductance_h
    high = circuit.stator_inductance_h / (magnetizing * with_harmonics_stator)
    if not low < high:
        raise InputError(
            f"{shape.rotor_bars} bars, {shape.slots_per_pole_and_phase} slots per pole and phase "
            "and their skew have more leakage than the whole motor",
            where="cage",
            remedy="Check the number of bars and the nameplate's current and speed.",
        )
    margin = _MARGIN * (high - low)
    scale = min(max(1.0, low + margin), high - margin)
    return replace(
        circuit,
        magnetizing_inductance_h=scale * magnetizing,
        rotor_inductance_h=scale**2 * circuit.rotor_inductance_h,
        rotor_resistance_ohm=scale**2 * circuit.rotor_resistance_ohm,
    )
