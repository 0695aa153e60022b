"""The machine as built, and the inductances that follow from its dimensions.

Winding functions over a uniform effective gap ``g``, smooth surfaces, infinite iron permeability;
``K = mu0 r l / g``. Orders ``h`` count in units of the pole pairs. Derivation and sources:
``docs/theory/simulation.md`` (after Luo, Liao, Toliyat, El-Antably and Lipo 1995).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from cagewise.errors import InputError
from cagewise.quantities import RealArray
from cagewise.simulation.machine.bars import BarNetwork, DeepBar, DoubleCageBar, plain_bar

VACUUM_PERMEABILITY_H_PER_M = 4e-7 * math.pi
"""mu0; the CODATA 2018 value differs by 5e-10."""

HIGHEST_STATOR_ORDER = 99
"""Orders summed into the stator's own inductance. The next ones, slot orders all, would add 0.17 %
with infinitely narrow slots (R3K); slots of finite opening carry less of them."""

DEFAULT_ORDERS = (1, 5, 7, 11, 13, 17, 19)
"""Orders through which stator and cage couple; see :attr:`MachineGeometry.orders`."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MachineGeometry:
    """A three-phase squirrel-cage motor, star-equivalent, described by its dimensions."""

    rotor_bars: int
    """n."""
    pole_pairs: int
    """p."""
    slots_per_pole_and_phase: int
    """q of the stator winding."""
    coil_pitch: float = 1.0
    """Coil span as a fraction of the pole pitch."""
    series_turns: int
    """N_t, turns in series per phase of the star equivalent."""
    radius_m: float
    """r, mean radius of the air gap."""
    length_m: float
    """l, active length."""
    gap_m: float
    """g_e, effective gap: slotting (Carter) and saturation included."""
    skew_rad: float = 0.0
    """Skew of the bars along the active length, mechanical angle."""
    stator_resistance_ohm: float
    """R_s per phase."""
    stator_leakage_h: float
    """Slot and end-winding leakage per phase; gap harmonics are counted separately."""
    bar_resistance_ohm: float
    """R_b of one sound bar, for direct current."""
    bar_leakage_h: float
    """L_b of one bar, for direct current."""
    ring_resistance_ohm: float
    """R_e of one segment of one end ring."""
    ring_leakage_h: float
    """L_e of one segment of one end ring."""
    inertia_kg_m2: float
    """J of rotor and coupled load."""
    orders: tuple[int, ...] = DEFAULT_ORDERS
    """Stator winding orders that couple with the cage. Multiples of three do not act with an
    isolated star point; principal slot lines need ``n/p - 1`` or ``n/p + 1`` in the list."""
    bar: DeepBar | DoubleCageBar | None = None
    """Displacement of the current in the bars; none if None."""

    def __post_init__(self) -> None:
        faults = [
            *(f"{name} must be positive" for name in _POSITIVE if not getattr(self, name) > 0.0),
            *(f"{name} must not be negative" for name in _NOT_NEGATIVE if getattr(self, name) < 0),
        ]
        if self.rotor_bars <= 2 * self.pole_pairs:
            faults.append("rotor_bars must exceed the number of poles")
        if not self.orders or self.orders[0] != 1 or list(self.orders) != sorted(set(self.orders)):
            faults.append("orders must rise, without repetition, from 1")
        if any(order % 2 == 0 or order % 3 == 0 for order in self.orders):
            faults.append("orders must be odd and no multiples of three")
        if faults:
            raise InputError(
                "; ".join(faults), where="machine geometry", remedy="Check the dimensions."
            )
        _ = self.bar_network  # raises if the bar cannot have its leakage

    @property
    def bar_pitch_rad(self) -> float:
        """a_r = 2 pi / n, mechanical."""
        return 2.0 * math.pi / self.rotor_bars

    @property
    def bar_network(self) -> BarNetwork:
        """Resistance and leakage of one sound bar over its total and its inner currents."""
        shape = plain_bar if self.bar is None else self.bar.network
        return shape(self.bar_resistance_ohm, self.bar_leakage_h)

    @property
    def permeance_h(self) -> float:
        """K = mu0 r l / g_e."""
        return VACUUM_PERMEABILITY_H_PER_M * self.radius_m * self.length_m / self.gap_m


_POSITIVE = (
    "pole_pairs", "slots_per_pole_and_phase", "coil_pitch", "series_turns", "radius_m", "length_m",
    "gap_m", "stator_resistance_ohm", "stator_leakage_h", "bar_resistance_ohm", "bar_leakage_h",
    "ring_resistance_ohm", "ring_leakage_h", "inertia_kg_m2",
)  # fmt: skip
_NOT_NEGATIVE = ("skew_rad",)


def carter_factor(slot_opening_m: float, slot_pitch_m: float, gap_m: float) -> float:
    """Return Carter's factor of one slotted surface: effective over actual gap."""
    ratio = slot_opening_m / gap_m
    return slot_pitch_m / (slot_pitch_m - gap_m * ratio**2 / (5.0 + ratio))


def winding_factor(geometry: MachineGeometry, order: int) -> float:
    """Return k_wh, signed: distribution of q coils times pitch."""
    q = geometry.slots_per_pole_and_phase
    slot_angle = math.pi / (3.0 * q)
    distribution = math.sin(q * order * slot_angle / 2.0) / (q * math.sin(order * slot_angle / 2.0))
    return distribution * math.sin(order * geometry.coil_pitch * math.pi / 2.0)


def stator_winding_amplitude(geometry: MachineGeometry, order: int) -> float:
    """Return N_h, the amplitude of order ``h`` of a phase's winding function, in turns."""
    turns_per_pole = geometry.series_turns / (2.0 * geometry.pole_pairs)
    return 4.0 / math.pi * turns_per_pole * winding_factor(geometry, order) / order


def mesh_winding_amplitude(geometry: MachineGeometry, order: float) -> float:
    """Return the amplitude of order ``h`` of the winding function of one rotor mesh, in turns."""
    wave = order * geometry.pole_pairs
    return 2.0 / (math.pi * wave) * math.sin(wave * geometry.bar_pitch_rad / 2.0)


def skew_factor(geometry: MachineGeometry, order: float) -> float:
    """Return k_sk of order ``h``."""
    half = order * geometry.pole_pairs * geometry.skew_rad / 2.0
    return math.sin(half) / half if half else 1.0


def stator_gap_inductance_h(geometry: MachineGeometry, phase_difference_rad: float = 0.0) -> float:
    """Return the gap inductance between phases ``phase_difference_rad`` (electrical) apart."""
    total = sum(
        stator_winding_amplitude(geometry, h) ** 2 * math.cos(h * phase_difference_rad)
        for h in range(1, HIGHEST_STATOR_ORDER + 1, 2)
    )
    return math.pi * geometry.permeance_h * total


def mutual_amplitude_h(geometry: MachineGeometry, order: int) -> float:
    """Return A_h, amplitude of order ``h`` of the inductance between a phase and a mesh."""
    return (
        math.pi
        * geometry.permeance_h
        * stator_winding_amplitude(geometry, order)
        * mesh_winding_amplitude(geometry, order)
        * skew_factor(geometry, order)
    )


def mesh_self_order_h(geometry: MachineGeometry, order: int) -> float:
    """Return the share of order ``h`` in the gap inductance of a mesh with itself."""
    return math.pi * geometry.permeance_h * mesh_winding_amplitude(geometry, order) ** 2


def rotor_gap_inductance_h(geometry: MachineGeometry) -> RealArray:
    """Return the gap inductances among the meshes, shape (n, n): all orders."""
    n = geometry.rotor_bars
    pitch = geometry.bar_pitch_rad
    return np.asarray(geometry.permeance_h * pitch * (np.eye(n) - np.full((n, n), 1.0 / n)))


def cage_matrix(bar_values: RealArray, ring_value: float) -> RealArray:
    """Return the mesh matrix of a cage of equal elements (all R, or all L), shape (n+1, n+1).

    Mesh ``k`` lies between bars ``k`` and ``k + 1`` and holds one segment of each ring; the last
    loop runs round one ring. The current of bar ``k`` is that of mesh ``k`` less that of ``k - 1``.
    """
    n = bar_values.size
    matrix = np.zeros((n + 1, n + 1))
    mesh = np.arange(n)
    after = (mesh + 1) % n
    matrix[mesh, mesh] = bar_values + bar_values[after] + 2.0 * ring_value
    np.subtract.at(matrix, (mesh, after), bar_values[after])
    np.subtract.at(matrix, (after, mesh), bar_values[after])
    matrix[mesh, n] = matrix[n, mesh] = -ring_value
    matrix[n, n] = n * ring_value
    return matrix
