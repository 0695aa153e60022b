"""What open bars put on the track of a start: the backward wave against the slip.

At fixed slips, with the circuit that acts there (``track_circuit``) and the cages that this motor
may have. What is solved is the harmonic solution at constant speed; why that is enough, and where
not: docs/theory/start-track.md.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from cagewise.indicators.start.track_circuit import StartCircuit
from cagewise.machine.cage.balance import OperatingCondition
from cagewise.machine.cage.clocks import QUICK
from cagewise.machine.cage.expectation import COUNTS
from cagewise.machine.cage.patterns import adjacent
from cagewise.machine.cage.plausible import plausible_cages
from cagewise.machine.cage.solution import LOWER, solve_cage
from cagewise.machine.circuit import EquivalentCircuit
from cagewise.machine.motor import Motor
from cagewise.quantities import ComplexArray, RealArray

SLIPS = np.array(
    [.05, .08, .1, .12, .15, .18, .21, .25, .3, .35, .4, .45, .48, .52, .55, .6, .65, .7, .8, .9]
)  # fmt: skip
"""Slips of the template: denser where the wave turns its phase; s = 1/2 itself, where the wave is
direct current and the stator's resistance alone limits it, lies between two."""


@dataclass(frozen=True, kw_only=True)
class WaveTemplate:
    """Backward wave over the fundamental of one open bar on the middle motor."""

    ratio: ComplexArray
    """At :data:`SLIPS`."""

    def at(self, slip: RealArray) -> ComplexArray:
        """Return the ratio at slips, same shape."""
        real = np.interp(slip, SLIPS, self.ratio.real)
        return np.asarray(real + 1j * np.interp(slip, SLIPS, self.ratio.imag))


def wave_template(motor: Motor, circuit: StartCircuit, frequency_hz: float) -> WaveTemplate:
    """Return the template of the middle draw."""
    middle = StartCircuit(np.median(circuit.state, axis=1, keepdims=True))
    ratios = [
        _ratio(motor, middle.at_slip(np.array([slip])), float(slip), 1, frequency_hz)[0]
        for slip in SLIPS
    ]
    return WaveTemplate(ratio=np.array(ratios))


def wave_levels(
    motor: Motor, circuit: StartCircuit, slips: RealArray, frequency_hz: float
) -> RealArray:
    """Return |wave| over |fundamental| of 1, 2, 3, 4 adjacent open bars, (counts, slips, draws)."""
    levels = np.empty((len(COUNTS), slips.size, circuit.n_draws))
    for k, slip in enumerate(slips):
        at = circuit.at_slip(np.full(circuit.n_draws, slip))
        for row, count in enumerate(COUNTS):
            levels[row, k] = np.abs(_ratio(motor, at, float(slip), count, frequency_hz))
    return levels


def _ratio(
    motor: Motor, circuit: EquivalentCircuit, slip: float, count: int, frequency_hz: float
) -> ComplexArray:
    """Return the wave over the fundamental, per draw; the voltage cancels."""
    damage_of = adjacent(count)
    parts = []
    for group in plausible_cages(motor, circuit):
        n = np.atleast_1d(getattr(circuit, fields(circuit)[0].name))[group.members].size
        condition = OperatingCondition(
            slip=np.full(n, slip),
            frequency_rad_s=2.0 * np.pi * frequency_hz,
            voltage_v=1.0,
            inertia_kg_m2=np.full(n, np.inf),
        )
        damage = damage_of(group.model.rotor_bars, group.model.pole_pairs)
        parts.append(solve_cage(group.model, damage, condition, QUICK).relative(LOWER))
    return np.concatenate(parts)
