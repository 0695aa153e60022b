"""The coupled circuits of a damaged machine written out loop by loop: slow, plain, no modes.

Every inductance stands in one matrix over three phases, n meshes and the ring loop; torque is half
the quadratic form of its derivative. The fast model must give the same numbers.
"""

from __future__ import annotations

import math

import numpy as np

from cagewise.quantities import RealArray
from cagewise.simulation import Damage, Eccentricity, MachineGeometry
from cagewise.simulation.machine import geometry as g

STAR = np.array([[1.0, 0.0], [0.0, 1.0], [-1.0, -1.0]])
"""Phase currents of an isolated star from those of phases a and b."""


class DenseMachine:
    """State: flux linkages of the free loops, angle, speed."""

    def __init__(
        self, machine: MachineGeometry, damage: Damage, eccentricity: Eccentricity
    ) -> None:
        self.machine, self.ripple = machine, eccentricity.ripple
        self.mean = eccentricity.mean_factor
        n = machine.rotor_bars
        self.merge = np.zeros((3 + n + 1, 2 + n + 1))
        self.merge[:3, :2] = STAR
        self.merge[3:, 2:] = np.eye(n + 1)
        self._tie(damage)
        resistance = np.zeros((n + 4, n + 4))
        resistance[:3, :3] = machine.stator_resistance_ohm * np.eye(3)
        bars = damage.bar_resistances(machine.bar_resistance_ohm, n)
        resistance[3:, 3:] = g.cage_matrix(bars, machine.ring_resistance_ohm)
        self.resistance = self.merge.T @ resistance @ self.merge

    def _tie(self, damage: Damage) -> None:
        """Make the mesh before every open bar follow the mesh after it (no chains round)."""
        n = self.machine.rotor_bars
        for bar in sorted(damage.open_bars):
            keep, drop = 2 + bar, 2 + (bar - 1) % n
            rows = self.merge[:, drop].copy()
            self.merge[:, keep] += rows
            self.merge[:, drop] = 0.0
        self.merge = self.merge[:, np.abs(self.merge).sum(axis=0) > 0.0]

    def inductance(self, angle: float) -> RealArray:
        """Return L over the free loops."""
        m, n = self.machine, self.machine.rotor_bars
        ripple = self.ripple * math.cos(angle)
        full = np.zeros((n + 4, n + 4))
        full[3:, 3:] = g.cage_matrix(np.full(n, m.bar_leakage_h), m.ring_leakage_h)
        full[3 : 3 + n, 3 : 3 + n] += self.mean * g.rotor_gap_inductance_h(m)
        for a in range(3):
            full[a, a] += m.stator_leakage_h
            for b in range(3):
                full[a, b] += self.mean * g.stator_gap_inductance_h(
                    m, 2.0 * math.pi / 3.0 * (a - b)
                )
        for order in m.orders:
            self._add_order(full, order, angle, ripple)
        return np.asarray(self.merge.T @ full @ self.merge)

    def _add_order(self, full: RealArray, order: int, angle: float, ripple: float) -> None:
        """Add the mutual inductances of one order, and the ripple of its own ones."""
        m, n = self.machine, self.machine.rotor_bars
        wave = order * m.pole_pairs
        centre = (np.arange(n) + 0.5) * m.bar_pitch_rad
        phase = 2.0 * math.pi / 3.0 / m.pole_pairs * np.arange(3)
        mutual = np.cos(wave * (angle + centre[None, :] - phase[:, None]))
        mutual *= g.mutual_amplitude_h(m, order) * self.mean * (1.0 + ripple)
        full[:3, 3 : 3 + n] += mutual
        full[3 : 3 + n, :3] += mutual.T
        stator = math.pi * m.permeance_h * g.stator_winding_amplitude(m, order) ** 2
        rotor = g.mesh_self_order_h(m, order)
        between = np.cos(wave * (phase[:, None] - phase[None, :]))
        full[:3, :3] += self.mean * ripple * stator * between
        meshes = np.cos(wave * (centre[:, None] - centre[None, :]))
        full[3 : 3 + n, 3 : 3 + n] += self.mean * ripple * rotor * meshes

    def currents(self, angle: float, flux: RealArray) -> RealArray:
        """Return the currents of the free loops."""
        return np.asarray(np.linalg.solve(self.inductance(angle), flux))

    def torque(self, angle: float, current: RealArray) -> float:
        """Return 1/2 i' dL/dtheta i, the derivative by a five-point difference."""
        h = 2e-4
        derivative = (
            8.0 * (self.inductance(angle + h) - self.inductance(angle - h))
            - (self.inductance(angle + 2.0 * h) - self.inductance(angle - 2.0 * h))
        ) / (12.0 * h)
        return float(0.5 * current @ derivative @ current)

    def rate(self, state: RealArray, phase_voltages: RealArray, load_nm: float) -> RealArray:
        """Return d state / dt of (angle, speed, flux linkages)."""
        current = self.currents(state[0], state[2:])
        flux = -self.resistance @ current
        flux[:2] += STAR.T @ phase_voltages
        accelerating = self.torque(state[0], current) - load_nm
        return np.concatenate(([state[1], accelerating / self.machine.inertia_kg_m2], flux))

    def at_rest(self) -> RealArray:
        """Return the state without flux at standstill."""
        return np.zeros(2 + self.merge.shape[1])


def dense_start(dense: DenseMachine, drive: RealArray, step_s: float, load_nm: float) -> RealArray:
    """Return (i_alpha, i_beta, angle, speed, torque) step by step from rest, Runge-Kutta.

    ``drive`` holds power-invariant stator voltages in its first two columns at every half step.
    """
    to_phases = math.sqrt(2.0 / 3.0) * np.array(
        [[1.0, 0.0], [-0.5, math.sqrt(0.75)], [-0.5, -math.sqrt(0.75)]]
    )
    state, rows = dense.at_rest(), []
    for step in range((len(drive) - 1) // 2):
        volts = [to_phases @ drive[2 * step + k, :2] for k in range(3)]
        current = dense.currents(state[0], state[2:])
        axes = to_phases.T @ STAR @ current[:2]
        rows.append([*axes, state[0], state[1], dense.torque(state[0], current)])
        k1 = dense.rate(state, volts[0], load_nm)
        k2 = dense.rate(state + 0.5 * step_s * k1, volts[1], load_nm)
        k3 = dense.rate(state + 0.5 * step_s * k2, volts[1], load_nm)
        k4 = dense.rate(state + step_s * k3, volts[2], load_nm)
        state = state + step_s / 6.0 * (k1 + 2.0 * (k2 + k3) + k4)
    return np.array(rows)
