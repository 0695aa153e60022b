"""The equations of the damaged machine, brought to the form in which a time step is cheap.

With power-invariant stator axes (alpha, beta), ``P(theta)`` the coupling of the stator axes to the
2H order waves of the cage and ``Q`` those waves at the meshes, the flux linkages are::

    l_s = L_s(theta) i_s + k(theta) P(theta) Q i_r
    l_r = L_rr(theta) i_r + k(theta) Q' P(theta)' i_s       k = 1 + e cos(theta)

The cage is turned once and for all into modes ``i_r = X a`` with ``X' L_rr X = 1`` and
``X' R_r X = diag(mu)``, where C has merged the meshes of open bars. The waves are turned so that
both their own gap inductance (to 1) and the cage's response to them (to ``diag(s)``) are diagonal.
What remains per step are two products with the matrix ``W`` (modes x 2H). Exact: no mode is left
out except those that cannot be excited. Derivation: ``docs/theory/simulation.md``.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from cagewise.errors import InputError
from cagewise.quantities import ComplexArray, RealArray
from cagewise.simulation.machine.cage_circuits import cage_circuits
from cagewise.simulation.machine.damage import Damage, Eccentricity
from cagewise.simulation.machine.geometry import (
    MachineGeometry,
    mesh_self_order_h,
    mutual_amplitude_h,
    stator_gap_inductance_h,
    stator_winding_amplitude,
)
from cagewise.simulation.machine.saturation import STRAIGHT, Bends, Saturation
from cagewise.simulation.plant.load import Load

_PHASE_RAD = 2.0 * math.pi / 3.0
_UNEXCITED = 1e-13
"""Modes coupled more weakly than this, relative to the strongest, stay at rest: rounding only."""


class CoupledModel(NamedTuple):
    """Constants of the equations of motion; arrays float64, H orders, N modes."""

    pole_pairs: float
    stator_resistance_ohm: float
    stator_inductance_h: float
    """L_s of either stator axis at k = 1."""
    stator_order_inductance_h: float
    """The part of L_s in the coupled orders, which follows k(theta)."""
    gap_ripple: float
    """e."""
    inertia_kg_m2: float
    orders: RealArray
    """h, shape (H,)."""
    sequence: RealArray
    """+1 where order h turns forwards with the stator currents, -1 backwards; shape (H,)."""
    amplitude_h: RealArray
    """A_h sqrt(3/2), shape (H,)."""
    waves: RealArray
    """B, the turned waves in terms of cos and sin of each order, shape (2H, 2H)."""
    response: RealArray
    """s, response of the cage to each turned wave, shape (2H,)."""
    coupling: RealArray
    """W transposed, shape (2H, N)."""
    decay_per_s: RealArray
    """mu, shape (N,)."""
    viscous_nm_s: float = 0.0
    """Load torque per speed."""
    quadratic_nm_s2: float = 0.0
    """Load torque per speed squared."""
    friction_nm: float = 0.0
    """Load torque against the motion, whatever the speed."""
    load_inertia_kg_m2: float = 0.0
    """J of the load behind an elastic shaft; 0 where the shaft is rigid."""
    stiffness_nm_per_rad: float = 0.0
    """K of that shaft."""
    damping_nm_s: float = 0.0
    """c of that shaft."""
    bends: Bends = STRAIGHT
    """Saturation of leakage and iron."""
    wave_numbers: NDArray[np.int64] = np.zeros(0, dtype=np.int64)
    """Wave pairs of every order in a shaped gap, shape (H,); empty where the gap has no shape."""
    permeance: ComplexArray = np.zeros((0, 0), dtype=np.complex128)
    """c_mk of :meth:`~.permeance.GapShape.series`; empty where the gap has no shape."""
    cage_response: RealArray = np.zeros((0, 0))
    """S = W' W in a shaped gap, shape (2H, 2H), where it is not diagonal."""

    @property
    def n_states(self) -> int:
        """Length of the state: angle, speed, two fluxes, modes, then twist and load speed."""
        return 4 + self.decay_per_s.size + (2 if self.load_inertia_kg_m2 else 0)


def with_load(model: CoupledModel, load: Load) -> CoupledModel:
    """Return the model driving ``load``."""
    shaft = load.shaft
    return model._replace(
        viscous_nm_s=load.viscous_nm_s,
        quadratic_nm_s2=load.quadratic_nm_s2,
        friction_nm=load.friction_nm,
        load_inertia_kg_m2=shaft.load_inertia_kg_m2 if shaft else 0.0,
        stiffness_nm_per_rad=shaft.stiffness_nm_per_rad if shaft else 0.0,
        damping_nm_s=shaft.damping_nm_s if shaft else 0.0,
    )


def unsaturated(geometry: MachineGeometry, saturation: Saturation) -> MachineGeometry:
    """Return the machine without the iron's share in its effective gap."""
    factor = saturation.main.factor if saturation.main else 1.0
    return replace(geometry, gap_m=geometry.gap_m / factor)


def with_saturation(
    model: CoupledModel, geometry: MachineGeometry, saturation: Saturation
) -> CoupledModel:
    """Return the model of the :func:`unsaturated` machine with its iron and leakage bent.

    ``geometry`` is that of the saturated machine.
    """
    main, leakage = saturation.main, saturation.leakage
    if leakage and leakage.lost_h >= geometry.stator_leakage_h:
        raise InputError(
            f"saturation cannot take {leakage.lost_h:.3g} H from a stator leakage of "
            f"{geometry.stator_leakage_h:.3g} H",
            where="leakage saturation",
        )
    gap = stator_axis_inductance_h(geometry) - geometry.stator_leakage_h
    bends = Bends(
        leakage_h=geometry.stator_leakage_h,
        lost_h=leakage.lost_h if leakage else 0.0,
        knee_a=math.sqrt(3.0) * leakage.knee_rms_a if leakage else 1.0,
        iron=main.iron_coefficient(gap) if main else 0.0,
        exponent=main.exponent if main else 1.0,
    )
    return model._replace(bends=bends)


def assemble(geometry: MachineGeometry, damage: Damage, eccentricity: Eccentricity) -> CoupledModel:
    """Return the coupled model of a machine with this damage."""
    damage.check(geometry.rotor_bars)
    geometry = _with_mean_gap(geometry, eccentricity)
    orders = tuple(h for h in geometry.orders if mesh_self_order_h(geometry, h) > 0.0)
    order_h = np.repeat([mesh_self_order_h(geometry, h) for h in orders], 2)
    modes, decay = cage_modes(geometry, damage)
    waves_in_modes = modes.T @ order_waves(geometry, np.array(orders)).T * np.sqrt(order_h)
    response, turn = np.linalg.eigh(waves_in_modes.T @ waves_in_modes)
    coupling = (waves_in_modes @ turn).T
    excited = excited_modes(coupling)
    squares = sum(stator_winding_amplitude(geometry, h) ** 2 for h in orders)
    return CoupledModel(
        pole_pairs=float(geometry.pole_pairs),
        stator_resistance_ohm=geometry.stator_resistance_ohm,
        stator_inductance_h=stator_axis_inductance_h(geometry),
        stator_order_inductance_h=1.5 * math.pi * geometry.permeance_h * squares,
        gap_ripple=eccentricity.ripple,
        inertia_kg_m2=geometry.inertia_kg_m2,
        orders=np.array(orders, dtype=np.float64),
        sequence=np.array([1.0 if h % 3 == 1 else -1.0 for h in orders]),
        amplitude_h=math.sqrt(1.5) * np.array([mutual_amplitude_h(geometry, h) for h in orders]),
        waves=np.ascontiguousarray(turn / np.sqrt(order_h)[:, None]),
        response=np.clip(response, 0.0, None),
        coupling=np.ascontiguousarray(coupling[:, excited]),
        decay_per_s=np.ascontiguousarray(decay[excited]),
    )


def stator_axis_inductance_h(geometry: MachineGeometry) -> float:
    """Return L_s of either stator axis, leakage included."""
    own = stator_gap_inductance_h(geometry)
    return geometry.stator_leakage_h + own - stator_gap_inductance_h(geometry, _PHASE_RAD)


def excited_modes(coupling: RealArray) -> NDArray[np.bool_]:
    """Return which modes the waves can excite; ``coupling`` of shape (2H, N)."""
    strength = np.abs(coupling).max(axis=0)
    return np.asarray(strength > _UNEXCITED * strength.max())


def _with_mean_gap(geometry: MachineGeometry, eccentricity: Eccentricity) -> MachineGeometry:
    """Return the machine whose gap has the mean permeance of the eccentric one."""
    return replace(geometry, gap_m=geometry.gap_m / eccentricity.mean_factor)


def order_waves(geometry: MachineGeometry, orders: RealArray) -> RealArray:
    """Return Q: cos and sin of every order at the mesh centres and the ring, (2H, n + 1)."""
    n = geometry.rotor_bars
    centre = (np.arange(n) + 0.5) * geometry.bar_pitch_rad * geometry.pole_pairs
    waves = np.zeros((2 * len(orders), n + 1))
    for row, order in enumerate(orders):
        waves[2 * row, :n] = np.cos(order * centre)
        waves[2 * row + 1, :n] = np.sin(order * centre)
    return waves


def cage_modes(geometry: MachineGeometry, damage: Damage) -> tuple[RealArray, RealArray]:
    """Return the rows of C X for meshes and ring, shape (n + 1, N), and mu, shape (N,)."""
    from scipy.linalg import eigh

    cage = cage_circuits(geometry, damage)
    decay, modes = eigh(
        cage.merge.T @ cage.resistance_ohm @ cage.merge,
        cage.merge.T @ cage.inductance_h @ cage.merge,
    )
    loops = cage.merge[: geometry.rotor_bars + 1]
    return np.asarray(loops @ modes), np.asarray(decay, dtype=np.float64)
