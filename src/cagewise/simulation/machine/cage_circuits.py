"""Resistance and inductance of the whole cage: loops, bars with inner currents, damage."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from cagewise.errors import InputError
from cagewise.quantities import RealArray
from cagewise.simulation.machine.bars import DoubleCageBar
from cagewise.simulation.machine.damage import Damage, constraint
from cagewise.simulation.machine.geometry import (
    MachineGeometry,
    cage_matrix,
    rotor_gap_inductance_h,
)


class CageCircuits(NamedTuple):
    """Forms over n meshes, the ring loop and the inner currents of all bars, F in number."""

    resistance_ohm: RealArray
    """R, shape (F, F)."""
    inductance_h: RealArray
    """L in a uniform gap, shape (F, F)."""
    merge: RealArray
    """C, from free currents to all, shape (F, n_free)."""


def cage_circuits(geometry: MachineGeometry, damage: Damage) -> CageCircuits:
    """Return the circuits of the cage with this damage."""
    n = geometry.rotor_bars
    bar = geometry.bar_network
    inner = bar.resistance_ohm.shape[0] - 1
    ringless = np.zeros(n)
    size = n + 1 + inner * n
    resistance, inductance = np.zeros((size, size)), np.zeros((size, size))
    resistance[: n + 1, : n + 1] = cage_matrix(ringless, geometry.ring_resistance_ohm)
    inductance[: n + 1, : n + 1] = cage_matrix(ringless, geometry.ring_leakage_h)
    inductance[:n, :n] += rotor_gap_inductance_h(geometry)
    factors = damage.bar_resistances(1.0, n)
    for k in range(n):
        currents = _bar_currents(k, n, inner)
        resistance += factors[k] * currents.T @ bar.resistance_ohm @ currents
        inductance += currents.T @ bar.leakage_h @ currents
    return CageCircuits(resistance, inductance, _merge(geometry, damage, inner))


def _bar_currents(bar: int, n: int, inner: int) -> RealArray:
    """Return total and inner currents of a bar from all currents, shape (1 + inner, F)."""
    rows = np.zeros((1 + inner, n + 1 + inner * n))
    rows[0, bar], rows[0, (bar - 1) % n] = 1.0, -1.0
    for k in range(inner):
        rows[1 + k, n + 1 + bar * inner + k] = 1.0
    return rows


def _merge(geometry: MachineGeometry, damage: Damage, inner: int) -> RealArray:
    """Return C: loops tied by the damage, no inner currents in open bars.

    Where only the outer bar of a double cage is open the inner current is the total one.
    """
    n = geometry.rotor_bars
    if damage.open_outer_bars and not isinstance(geometry.bar, DoubleCageBar):
        raise InputError(
            "only a double cage has outer bars", where="damage", remedy="Give open_bars instead."
        )
    loops = constraint(damage, n)
    bound = {*damage.open_bars, *damage.open_outer_bars}
    free = [bar for bar in range(n) if bar not in bound]
    merge = np.zeros((n + 1 + inner * n, loops.shape[1] + inner * len(free)))
    merge[: n + 1, : loops.shape[1]] = loops
    for place, bar in enumerate(free):
        for k in range(inner):
            merge[n + 1 + bar * inner + k, loops.shape[1] + place * inner + k] = 1.0
    for bar in damage.open_outer_bars:
        merge[n + 1 + bar] = merge[bar] - merge[(bar - 1) % n]
    return merge
