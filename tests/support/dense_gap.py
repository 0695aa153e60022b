"""The damaged machine in a gap of any shape, loop by loop, its integrals summed point by point."""

from __future__ import annotations

import math

import numpy as np

from cagewise.quantities import RealArray
from cagewise.simulation import Damage, Eccentricity, GapShape, MachineGeometry
from cagewise.simulation.machine import geometry as g
from cagewise.simulation.machine.permeance import wave_numbers
from support.dense_machine import DenseMachine

_POINTS = 512
"""Places round the gap: the sums are exact for products of waves below half of it."""


class DenseGap(DenseMachine):
    """Modified winding functions over the loops; see :class:`.DenseMachine`.

    The followed waves of every winding make the integrals over the inverse gap; what uniform-gap
    inductances have beyond those waves stays as it is, in the mean gap.
    """

    def __init__(
        self,
        machine: MachineGeometry,
        damage: Damage,
        eccentricity: Eccentricity,
        shape: GapShape,
    ) -> None:
        super().__init__(machine, damage, Eccentricity())
        self._eccentricity, self._shape = eccentricity, shape
        self._place = 2.0 * math.pi * np.arange(_POINTS) / _POINTS
        fine = 2.0 * math.pi * np.arange(2048) / 2048
        rows = [self._permeance(fine, angle) for angle in fine[::16]]
        self.mean = float(np.mean(rows))
        self._numbers = wave_numbers(
            tuple(order * machine.pole_pairs for order in machine.orders),
            shape.orders(eccentricity),
            shape.reach,
        )

    def _permeance(self, on_rotor: RealArray, angle: float) -> RealArray:
        """Return g_e / g at places on the rotor."""
        on_stator = on_rotor + angle
        shape = np.ones(on_rotor.shape)
        for waves, place in ((self._shape.rotor, on_rotor), (self._shape.stator, on_stator)):
            for wave in waves:
                shape += wave.amplitude * np.cos(wave.order * place - wave.phase_rad)
        static, dynamic = self._eccentricity.static, self._eccentricity.dynamic
        return np.asarray(shape / (1.0 - static * np.cos(on_stator) - dynamic * np.cos(on_rotor)))

    def _windings(self, angle: float) -> RealArray:
        """Return the followed waves of every loop's winding, skew halved, shape (n + 4, points)."""
        m, n = self.machine, self.machine.rotor_bars
        centre = (np.arange(n) + 0.5) * m.bar_pitch_rad
        phase = 2.0 * math.pi / 3.0 / m.pole_pairs * np.arange(3)
        turns = np.zeros((n + 4, _POINTS))
        for wave in self._numbers:
            skew = g.skew_factor(m, wave / m.pole_pairs)
            root = math.sqrt(abs(skew))
            mesh = g.mesh_winding_amplitude(m, wave / m.pole_pairs) * root * np.sign(skew)
            turns[3 : 3 + n] += mesh * np.cos(wave * (self._place - centre[:, None]))
            order, rest = divmod(wave, m.pole_pairs)
            if rest == 0 and order in m.orders:
                stator = g.stator_winding_amplitude(m, order) * root
                turns[:3] += stator * np.cos(wave * (self._place + angle - phase[:, None]))
        return turns

    def inductance(self, angle: float) -> RealArray:
        """Return L over the free loops."""
        m, n = self.machine, self.machine.rotor_bars
        full = np.zeros((n + 4, n + 4))
        full[3:, 3:] = g.cage_matrix(np.full(n, m.bar_leakage_h), m.ring_leakage_h)
        full[3 : 3 + n, 3 : 3 + n] += self.mean * g.rotor_gap_inductance_h(m)
        for a in range(3):
            full[a, a] += m.stator_leakage_h
            for b in range(3):
                apart = 2.0 * math.pi / 3.0 * (a - b)
                full[a, b] += self.mean * g.stator_gap_inductance_h(m, apart)
        turns = self._windings(angle)
        permeance = self._permeance(self._place, angle)
        step = 2.0 * math.pi / _POINTS
        flux = m.permeance_h * step * (permeance * turns) @ turns.T
        net = step * turns @ permeance
        flux -= m.permeance_h * np.outer(net, net) / (step * permeance.sum())
        uniform = self.mean * m.permeance_h * step * turns @ turns.T
        uniform[:3, 3:] = uniform[3:, :3] = 0.0  # ``full`` has no mutual inductances yet
        return np.asarray(self.merge.T @ (full + flux - uniform) @ self.merge)
