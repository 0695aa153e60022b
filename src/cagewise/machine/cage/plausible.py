"""Cages that this motor may have: what the nameplate and the shop's answers leave open, drawn.

A circuit ensemble fixes what the cage is to the fundamental field. Number of bars, winding, skew,
the part of the end rings and the inertia decide what a broken bar does at other orders and in the
side lines. Known values are taken as they are, so an answer from the repair shop narrows every
interval that depends on it. Ranges and their reasons: ``docs/theory/cage-plausible.md``.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, fields

import numpy as np

from cagewise.machine.cage.model import CageModel, StatorWinding
from cagewise.machine.circuit import EquivalentCircuit
from cagewise.machine.motor import Motor
from cagewise.quantities import RealArray

BARS = (16, 120)
"""Range of rotor bars in total; common practice, no source."""
BARS_PER_SLOT = (0.70, 1.35)
"""Range of rotor bars per stator slot; common practice, no source."""
LARGEST_GROUP = 100
"""Draws solved at a time: their arrays stay in the processor's cache, and their matrix products are
too small for the linear algebra library to share among threads, which costs more than it gives."""
BAR_GROUPS = 8
"""Different numbers of bars drawn when the number is not known."""
QUARTER_GROUPS = 4
"""Numbers of bars drawn besides that have a bar at every 90 electrical degrees: without them bars
that hide from each other exactly would not be among what is possible."""
SLOTS_PER_POLE_AND_PHASE = {1: (3, 10), None: (2, 6)}
"""Range of q of three-phase stators above 1 kW, for one pole pair (whose poles are long: 18 to 60
slots) and for more; common practice, no source. With :data:`BARS_PER_SLOT` it is also the range of
bars where the slots are not known, so that no motor falls between the two."""
COIL_PITCH = (0.72, 1.0)
"""Range of coil over pole pitch; two-layer windings are near 0.8, single-layer ones at 1. Coils
span whole slots, so few values are possible, and the 5th order seldom vanishes (pitch 0.8)."""
SKEW_STATOR_SLOTS = {"cast": (0.6, 1.3), "fabricated": (0.0, 0.2), None: (0.0, 1.3)}
"""Range of the skew in stator slot pitches: cast rotors are skewed by about one, bars driven into
slots are straight; common practice, no source."""
LENGTH_PER_POLE_PITCH = {1: (0.6, 1.3), None: (0.9, 2.5)}
"""Range of the core's length over the pole pitch, for one pole pair and for more (from memory)."""
RING_SECTION = {"cast": (1.0, 8.0), "fabricated": (0.8, 3.0), None: (0.8, 8.0)}
"""Range of the ring's section over the one with the current density of the bars: thick when cast,
since the mould wants it; the 3 kW reference motor has 7 (others: common practice, no source)."""
RING_LEAKAGE_SHARE = {"closed": (0.02, 0.18), "open": (0.05, 0.35), None: (0.02, 0.35)}
"""Range of the ring's part of the rotor leakage: the bridge over a closed slot adds to the bars'
part (from memory)."""
ROTOR_INERTIA_CONSTANT_S = 0.02
"""Kinetic energy over rated power of a 3 kW rotor: 0.021 s for the reference motor."""
ROTOR_INERTIA_EXPONENT = 0.5
"""Growth of that constant with rated power: 0.12 s at 100 kW, 0.4 s at 1 MW (from memory)."""
ROTOR_INERTIA_LOG_SPREAD = 0.35
"""Standard deviation of its logarithm; common practice, no source."""
LOAD_INERTIA_FACTOR = (1.1, 20.0)
"""Range of total over rotor inertia, evenly in its logarithm: from a pump to a large fan; common
practice, no source."""
GIVEN_INERTIA_SPREAD = 0.1
"""Relative standard deviation of an inertia that the motor file gives."""
_REFERENCE_POWER_W = 3000.0
_SEED = 7


@dataclass(frozen=True, slots=True)
class CageDraws:
    """Models with one number of bars, and which draws of the ensemble they belong to."""

    model: CageModel
    members: slice
    """Draws of the circuit ensemble in this group."""


def plausible_cages(
    motor: Motor, circuit: EquivalentCircuit, order_pairs: int = 1
) -> tuple[CageDraws, ...]:
    """Return cages consistent with the circuit ensemble, grouped by their number of bars.

    The winding orders are 1 and 6 mu +- 1 up to ``mu = order_pairs``.
    """
    n_draws = int(circuit.rotor_resistance_ohm.size)
    return tuple(
        CageDraws(
            _draw_models(
                motor,
                _members(circuit, members),
                bars,
                order_pairs,
                np.random.default_rng([_SEED, bars, members.start]),
            ),
            members,
        )
        for bars, members in _groups(motor, n_draws)
    )


def plausible_inertia(motor: Motor, n_draws: int) -> RealArray:
    """Return draws of the total inertia at the shaft in kg m^2, shape (n_draws,)."""
    rng = np.random.default_rng([_SEED, n_draws])
    rotor_scatter = rng.standard_normal(n_draws)
    load_scatter = rng.standard_normal(n_draws)
    log_low, log_high = np.log(LOAD_INERTIA_FACTOR)
    factor = np.exp(rng.uniform(log_low, log_high, n_draws))
    train, plate = motor.drive_train, motor.nameplate
    if train.rotor_inertia_kg_m2 is not None:
        rotor = train.rotor_inertia_kg_m2 * np.exp(GIVEN_INERTIA_SPREAD * rotor_scatter)
    else:
        growth = (plate.rated_power_w / _REFERENCE_POWER_W) ** ROTOR_INERTIA_EXPONENT
        energy = ROTOR_INERTIA_CONSTANT_S * growth * plate.rated_power_w
        speed = 2.0 * math.pi * plate.synchronous_speed_rpm / 60.0
        rotor = 2.0 * energy / speed**2 * np.exp(ROTOR_INERTIA_LOG_SPREAD * rotor_scatter)
    if train.load_inertia_kg_m2 is not None:
        load = train.load_inertia_kg_m2 * np.exp(GIVEN_INERTIA_SPREAD * load_scatter)
        return np.asarray(rotor + load)
    return np.asarray(rotor * factor)


def bar_candidates(motor: Motor) -> tuple[int, ...]:
    """Return the number of bars if it is known, else a spread of plausible ones."""
    if motor.cage.rotor_bars is not None:
        return (motor.cage.rotor_bars,)
    p, slots = motor.nameplate.pole_pairs, motor.cage.stator_slots
    fewest, most = (6.0 * p * q for q in _range_of_q(p))
    low = max(float(BARS[0]), BARS_PER_SLOT[0] * fewest)
    high = min(float(BARS[1]), BARS_PER_SLOT[1] * most)
    if slots is not None:
        low = max(float(2 * p + 1), BARS_PER_SLOT[0] * slots)
        high = BARS_PER_SLOT[1] * slots
    high = max(high, low * 1.5)
    spread = np.round(np.geomspace(low, high, BAR_GROUPS))
    quarters = np.round(np.geomspace(low, high, QUARTER_GROUPS + 2)[1:-1] / (4.0 * p)) * 4.0 * p
    return tuple(int(n) for n in np.unique(np.concatenate([spread, quarters])))


def _groups(motor: Motor, n_draws: int) -> Iterator[tuple[int, slice]]:
    """Split the draws evenly over the candidate numbers of bars, in handy groups."""
    candidates = bar_candidates(motor)
    edges = np.linspace(0, n_draws, len(candidates) + 1).round().astype(int)
    for bars, first, last in zip(candidates, edges[:-1], edges[1:], strict=True):
        for start in range(int(first), int(last), LARGEST_GROUP):
            yield bars, slice(start, min(start + LARGEST_GROUP, int(last)))


def _members(circuit: EquivalentCircuit, members: slice) -> EquivalentCircuit:
    """Return some draws of an ensemble."""
    return EquivalentCircuit(
        **{f.name: np.atleast_1d(getattr(circuit, f.name))[members] for f in fields(circuit)}
    )


def _draw_models(
    motor: Motor,
    circuit: EquivalentCircuit,
    bars: int,
    order_pairs: int,
    rng: np.random.Generator,
) -> CageModel:
    """Draw winding, skew and ring shares for one number of bars."""
    n = circuit.rotor_resistance_ohm.size
    cage, p = motor.cage, motor.nameplate.pole_pairs
    q = _slots_per_pole_and_phase(motor, bars, rng, n)
    skew = rng.uniform(*SKEW_STATOR_SLOTS[cage.construction], size=n) * 2.0 * np.pi / (6.0 * p * q)
    return CageModel.from_circuit(
        circuit,
        pole_pairs=p,
        rotor_bars=bars,
        winding=StatorWinding(
            slots_per_pole_and_phase=q, coil_pitch=_coil_pitch(cage.coil_span_slots, q, rng)
        ),
        skew_rad=skew,
        ring_resistance_share=_ring_resistance_share(motor, rng, n),
        ring_leakage_share=rng.uniform(*RING_LEAKAGE_SHARE[cage.rotor_slots], size=n),
        order_pairs=order_pairs,
    )


def _slots_per_pole_and_phase(
    motor: Motor, bars: int, rng: np.random.Generator, n: int
) -> RealArray:
    """Draw q: known, or one of those that go with the number of bars."""
    p, slots = motor.nameplate.pole_pairs, motor.cage.stator_slots
    if slots is not None:
        return np.full(n, slots / (6.0 * p))
    low, high = _range_of_q(p)
    choices = np.arange(low, high + 1)
    ratio = bars / (6.0 * p * choices)
    fitting = choices[(ratio >= BARS_PER_SLOT[0]) & (ratio <= BARS_PER_SLOT[1])]
    return rng.choice(fitting if fitting.size else choices, size=n).astype(np.float64)


def _range_of_q(pole_pairs: int) -> tuple[int, int]:
    """Return the least and the most slots per pole and phase."""
    return SLOTS_PER_POLE_AND_PHASE.get(pole_pairs, SLOTS_PER_POLE_AND_PHASE[None])


def _coil_pitch(span: int | None, q: RealArray, rng: np.random.Generator) -> RealArray:
    """Draw the coil over the pole pitch: known, or any whole number of slots in the usual range."""
    per_pole = 3.0 * q
    if span is not None:
        return np.minimum(span / per_pole, 1.0)
    low, high = np.ceil(COIL_PITCH[0] * per_pole - 1e-9), np.floor(per_pole + 1e-9)
    spans = low + np.floor(rng.uniform(size=q.size) * (high - low + 1.0))
    return np.asarray(spans / per_pole)


def _ring_resistance_share(motor: Motor, rng: np.random.Generator, n: int) -> RealArray:
    """Draw the part of the rotor resistance in the rings: x / (1 + x), x = 2 / (pi c l / tau)."""
    lengths = LENGTH_PER_POLE_PITCH.get(motor.nameplate.pole_pairs, LENGTH_PER_POLE_PITCH[None])
    length = rng.uniform(*lengths, size=n)
    log_low, log_high = np.log(RING_SECTION[motor.cage.construction])
    section = np.exp(rng.uniform(log_low, log_high, n))
    ratio = 2.0 / (np.pi * section * length)
    return np.asarray(ratio / (1.0 + ratio))
