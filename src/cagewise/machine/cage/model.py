"""The cage bar by bar, as the harmonic solution sees it: winding harmonics and mesh impedances.

Symbols (docs/theory/cage-harmonic-solution.md): ``p`` pole pairs, ``n`` bars, ``a_r = 2 pi / n``;
``nu = 1 + 6 mu`` signed order of a stator winding harmonic (1, -5, 7, -11, 13, ...: the sign is the
direction in which the field of a positive-sequence current turns); ``M_nu`` peak mutual inductance
between one stator phase and one rotor mesh; ``z_m(gamma)`` impedance of the healthy cage to a mesh
current pattern ``exp(j m a_r k)`` at rotor frequency ``gamma``.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from cagewise.machine.circuit import EquivalentCircuit
from cagewise.quantities import RealArray

DEFAULT_ORDER_PAIRS = 2
"""Winding orders kept: 1, and 6 mu +- 1 up to mu = 2; orders 17 and above move the lines read here
by less than 0.05 dB (36 stator slots, 32 bars)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StatorWinding:
    """What the harmonic solution needs to know of a symmetrical three-phase winding."""

    slots_per_pole_and_phase: RealArray | float = 3.0
    """q; two-layer windings of large motors have 3 to 6. Shape () or (n_draws,)."""
    coil_pitch: RealArray | float = 1.0
    """Coil pitch over pole pitch; 5/6 nearly removes the 5th and 7th harmonics. Same shape."""

    def relative_amplitude(self, order: int) -> RealArray:
        """Return the field amplitude of harmonic ``order`` over that of the fundamental, signed."""
        return self._amplitude(order) / self._amplitude(1)

    def _amplitude(self, h: int) -> RealArray:
        """Return k_w,h / h with the sign of the full-pitch coil's harmonic."""
        q = np.asarray(self.slots_per_pole_and_phase, dtype=np.float64)
        half_slot = np.pi / (6.0 * q)
        distribution = np.sin(h * np.pi / 6.0) / (q * np.sin(h * half_slot))
        pitch = np.sin(h * np.pi / 2.0 * np.asarray(self.coil_pitch))
        return np.asarray(distribution * pitch / h)


def winding_orders(pairs: int = DEFAULT_ORDER_PAIRS) -> tuple[int, ...]:
    """Return the signed orders ``1 + 6 mu``, ``mu = -pairs .. pairs``: -11, -5, 1, 7, 13."""
    return tuple(1 + 6 * mu for mu in range(-pairs, pairs + 1))


@dataclass(frozen=True, slots=True, kw_only=True)
class CageModel:
    """Stator winding and cage meshes of one motor; arrays of shape () or (n_draws,)."""

    pole_pairs: int
    rotor_bars: int
    orders: tuple[int, ...]
    """Signed winding orders nu as :func:`winding_orders` returns them."""
    mutual_h: RealArray
    """M_nu, shape (..., n_orders)."""
    stator_resistance_ohm: RealArray
    stator_inductance_h: RealArray
    """L_s of the space vector, all harmonics and leakages included."""
    magnetizing_inductance_h: RealArray
    """L_m, the part of L_s that the fundamental field makes."""
    gap_inductance_h: RealArray
    """K a_r: self inductance of a mesh pattern through the air gap."""
    bar_resistance_ohm: RealArray
    bar_inductance_h: RealArray
    ring_resistance_ohm: RealArray
    """Per segment between two bars."""
    ring_inductance_h: RealArray

    @classmethod
    def from_circuit(  # noqa: PLR0913 - a circuit and the five shape parameters that it leaves open
        cls,
        circuit: EquivalentCircuit,
        *,
        pole_pairs: int,
        rotor_bars: int,
        winding: StatorWinding,
        skew_rad: RealArray | float = 0.0,
        ring_resistance_share: RealArray | float = 0.15,
        ring_leakage_share: RealArray | float = 0.15,
        order_pairs: int = DEFAULT_ORDER_PAIRS,
    ) -> CageModel:
        """Return the cage that has exactly this equivalent circuit.

        The number of turns drops out (N_1 = 1). The circuit fixes the impedance of the meshes to
        the fundamental pattern; ``ring_*_share`` says how much of the rotor resistance and leakage
        lies in the end rings, the rest in the bars. ``skew_rad`` is a mechanical angle.
        """
        p, n = pole_pairs, rotor_bars
        a_r = 2.0 * math.pi / n
        gap = circuit.magnetizing_inductance_h / (1.5 * math.pi)
        orders = winding_orders(order_pairs)
        shapes = [_mesh_coupling(abs(v), p, a_r, winding, skew_rad) for v in orders]
        mutual = np.stack(np.broadcast_arrays(*(gap * shape for shape in shapes)), axis=-1)
        referral = circuit.magnetizing_inductance_h**2 / (
            0.75 * n * mutual[..., orders.index(1)] ** 2
        )
        resistance = circuit.rotor_resistance_ohm / referral
        leakage = circuit.rotor_inductance_h / referral - gap * a_r
        chord = 2.0 * (1.0 - math.cos(p * a_r))
        return cls(
            pole_pairs=p,
            rotor_bars=n,
            orders=orders,
            mutual_h=mutual,
            stator_resistance_ohm=circuit.stator_resistance_ohm,
            stator_inductance_h=circuit.stator_inductance_h,
            magnetizing_inductance_h=circuit.magnetizing_inductance_h,
            gap_inductance_h=gap * a_r,
            bar_resistance_ohm=resistance * (1.0 - np.asarray(ring_resistance_share)) / chord,
            bar_inductance_h=leakage * (1.0 - np.asarray(ring_leakage_share)) / chord,
            ring_resistance_ohm=resistance * np.asarray(ring_resistance_share) / 2.0,
            ring_inductance_h=leakage * np.asarray(ring_leakage_share) / 2.0,
        )

    def with_order_pairs(self, pairs: int) -> CageModel:
        """Return the model with fewer winding orders; itself if it has no more than these."""
        surplus = (len(self.orders) - 1) // 2 - pairs
        if surplus <= 0:
            return self
        kept = slice(surplus, len(self.orders) - surplus)
        return replace(self, orders=self.orders[kept], mutual_h=self.mutual_h[..., kept])

    def circuit(self) -> EquivalentCircuit:
        """Return the equivalent circuit of the sound cage: the fundamental field alone."""
        magnetizing = self.magnetizing_inductance_h
        mutual = self.mutual_h[..., self.orders.index(1)]
        referral = magnetizing**2 / (0.75 * self.rotor_bars * mutual**2)
        chord = 2.0 * (1.0 - math.cos(self.pole_pairs * self.bar_angle_rad))
        resistance = 2.0 * self.ring_resistance_ohm + chord * self.bar_resistance_ohm
        leakage = 2.0 * self.ring_inductance_h + chord * self.bar_inductance_h
        return EquivalentCircuit(
            stator_resistance_ohm=self.stator_resistance_ohm,
            rotor_resistance_ohm=referral * resistance,
            stator_leakage_h=self.stator_inductance_h - magnetizing,
            rotor_leakage_h=referral * (leakage + self.gap_inductance_h) - magnetizing,
            magnetizing_inductance_h=magnetizing,
        )

    @property
    def bar_angle_rad(self) -> float:
        """Mechanical angle between two bars, a_r."""
        return 2.0 * math.pi / self.rotor_bars


def _mesh_coupling(
    order: int,
    pole_pairs: int,
    bar_angle: float,
    winding: StatorWinding,
    skew_rad: RealArray | float,
) -> RealArray:
    """Return M_h / K for N_1 = 1: one phase to one mesh of width ``bar_angle``, skewed bars."""
    space_order = order * pole_pairs
    width = 2.0 / space_order * math.sin(space_order * bar_angle / 2.0)
    skew = np.sinc(space_order * np.asarray(skew_rad) / (2.0 * np.pi))
    return np.asarray(winding.relative_amplitude(order) * width * skew)
