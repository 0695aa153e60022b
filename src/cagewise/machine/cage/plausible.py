"""Cages that this motor may have: what the nameplate and the shop's answers leave open, drawn.

A circuit ensemble fixes what the cage is to the fundamental field. Number of bars, winding, skew
and the part of the end rings decide what a broken bar does at other orders. Known values are taken
as they are, so an answer from the repair shop narrows every interval that depends on it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields

import numpy as np

from cagewise.machine.cage.model import CageModel, StatorWinding
from cagewise.machine.circuit import EquivalentCircuit
from cagewise.machine.motor import Motor
from cagewise.quantities import RealArray

BARS_PER_POLE_PAIR = (9.0, 30.0)
"""Range of rotor bars per pole pair; common practice, no source."""
BARS = (16, 120)
"""Range of rotor bars in total; common practice, no source."""
BAR_GROUPS = 6
"""Different numbers of bars drawn when the number is not known."""
SLOTS_PER_POLE_AND_PHASE = (2, 6)
"""Range of q of three-phase stators above 1 kW; common practice, no source."""
COIL_PITCH = (0.72, 1.0)
"""Range of coil over pole pitch; two-layer windings are near 0.8, single-layer ones at 1."""
SKEW_STATOR_SLOTS = (0.0, 1.3)
"""Range of the skew in stator slot pitches; common practice, no source."""
RING_RESISTANCE_SHARE = (0.03, 0.35)
"""Range of the ring's part of the referred rotor resistance; more with few poles (from memory)."""
RING_LEAKAGE_SHARE = (0.02, 0.35)
"""Range of the ring's part of the rotor leakage (from memory)."""
_SEED = 7


@dataclass(frozen=True, slots=True)
class CageDraws:
    """Models with one number of bars, and which draws of the ensemble they belong to."""

    model: CageModel
    members: slice
    """Draws of the circuit ensemble in this group."""


def plausible_cages(motor: Motor, circuit: EquivalentCircuit) -> tuple[CageDraws, ...]:
    """Return cages consistent with the circuit ensemble, grouped by their number of bars."""
    n_draws = int(circuit.rotor_resistance_ohm.size)
    return tuple(
        CageDraws(_draw_models(motor, _members(circuit, members), bars), members)
        for bars, members in _groups(motor, n_draws)
    )


def bar_candidates(motor: Motor) -> tuple[int, ...]:
    """Return the number of bars if it is known, else a spread of plausible ones."""
    if motor.cage.rotor_bars is not None:
        return (motor.cage.rotor_bars,)
    p = motor.nameplate.pole_pairs
    low = max(BARS[0], BARS_PER_POLE_PAIR[0] * p)
    high = min(BARS[1], BARS_PER_POLE_PAIR[1] * p)
    spread = np.geomspace(low, max(high, low * 1.5), BAR_GROUPS)
    return tuple(int(n) for n in np.unique(np.round(spread)))


def _groups(motor: Motor, n_draws: int) -> Iterator[tuple[int, slice]]:
    """Split the draws evenly over the candidate numbers of bars."""
    candidates = bar_candidates(motor)
    edges = np.linspace(0, n_draws, len(candidates) + 1).round().astype(int)
    for bars, start, stop in zip(candidates, edges[:-1], edges[1:], strict=True):
        if stop > start:
            yield bars, slice(int(start), int(stop))


def _members(circuit: EquivalentCircuit, members: slice) -> EquivalentCircuit:
    """Return some draws of an ensemble."""
    return EquivalentCircuit(
        **{f.name: np.atleast_1d(getattr(circuit, f.name))[members] for f in fields(circuit)}
    )


def _draw_models(motor: Motor, circuit: EquivalentCircuit, bars: int) -> CageModel:
    """Draw winding, skew and ring shares for one number of bars."""
    n = circuit.rotor_resistance_ohm.size
    rng = np.random.default_rng([_SEED, bars])
    p, slots = motor.nameplate.pole_pairs, motor.cage.stator_slots
    if slots is not None:
        q: RealArray = np.full(n, slots / (6.0 * p))
    else:
        q = rng.integers(*SLOTS_PER_POLE_AND_PHASE, size=n, endpoint=True).astype(np.float64)
    skew = rng.uniform(*SKEW_STATOR_SLOTS, size=n) * 2.0 * np.pi / (6.0 * p * q)
    return CageModel.from_circuit(
        circuit,
        pole_pairs=p,
        rotor_bars=bars,
        winding=StatorWinding(
            slots_per_pole_and_phase=q, coil_pitch=rng.uniform(*COIL_PITCH, size=n)
        ),
        skew_rad=skew,
        ring_resistance_share=rng.uniform(*RING_RESISTANCE_SHARE, size=n),
        ring_leakage_share=rng.uniform(*RING_LEAKAGE_SHARE, size=n),
    )
