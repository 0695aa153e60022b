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
MORE_BARS_THAN_SLOTS = 0.25
"""Part of the cages that have more bars than the stator has slots; common practice, no source."""
LARGEST_GROUP = 100
"""Draws solved at a time: their arrays stay in the processor's cache, and their matrix products are
too small for the linear algebra library to share among threads, which costs more than it gives."""
BAR_GROUPS = 8
"""Different numbers of bars drawn when the number is not known."""
QUARTER_GROUPS = 3
"""Numbers of bars drawn besides that have a bar at every 90 electrical degrees: without them bars
that hide from each other exactly would not be among what is possible."""
SLOTS_PER_POLE_AND_PHASE = {1: (3, 10), None: (2, 8)}
"""Range of q of three-phase stators above 1 kW, for one pole pair (whose poles are long: 18 to 60
slots) and for more; common practice, no source. With :data:`BARS_PER_SLOT` it is also the range of
bars where the slots are not known, so that no motor falls between the two."""
AIR_GAP_SHEAR_PA, SHEAR_AT_NM, SHEAR_EXPONENT = 12e3, 20.0, 1.0 / 6.0
"""Tangential force over the rotor's surface at rated torque: 12 kPa at 20 N m, 26 kPa at 2 kN m,
35 kPa at 13 kN m, as the cooling allows (from memory)."""
SLOT_PITCH_M, PITCH_AT_M, PITCH_EXPONENT = 9e-3, 0.1, 0.5
"""Stator slot pitch and the rotor diameter it belongs to: 9 mm at 0.1 m, 20 mm at 0.5 m; common
practice, no source."""
SLOTS_LOG_SPREAD = 0.25
"""Standard deviation of the logarithm of the number of slots that follows from these two."""
SMALLEST_WEIGHT = 1e-3
"""Weight of an unlikely number of bars relative to the likeliest: it is never ruled out by size."""
SIZE_GROUPS = 7
"""Numbers of bars that stand for what the size of the motor leaves possible."""
SLOTS_SHOW = 0.8
"""Probability that the numbers of bars to which slot lines point hold the true one: a third of the
cages, whose bars are no multiple of the poles, show weak slot lines or none (judgement)."""
COIL_PITCH = (0.72, 1.0)
"""Range of coil over pole pitch; two-layer windings are near 0.8, single-layer ones at 1. Coils
span whole slots, so few values are possible, and the 5th order seldom vanishes (pitch 0.8)."""
TWO_LAYER_PITCH, TWO_LAYER_SPREAD = 0.82, 0.05
"""Usual pitch of two-layer windings and its spread: 5/6 weakens the 5th and the 7th order alike,
4/5 takes the 5th away (textbook)."""
SINGLE_LAYER_SHARE, SINGLE_LAYER_POWER_W = (0.5, 0.05), (15e3, 100e3)
"""Part of the motors with a single-layer winding of full pitch, up to and from these powers, in the
logarithm of the power between: coils of large motors are wound in form, in two layers; common
practice, no source."""
ODD_PITCH_SHARE = 0.1
"""Part of the two-layer windings with any other whole number of slots in the range (judgement)."""
SKEW_STATOR_SLOTS = {"cast": (0.6, 1.3), "fabricated": (0.0, 0.2), None: (0.0, 1.3)}
"""Range of the skew in stator slot pitches: cast rotors are skewed by about one, bars driven into
slots are straight; common practice, no source."""
LENGTH_PER_POLE_PITCH = {1: (0.6, 1.3), None: (0.9, 2.5)}
"""Range of the core's length over the pole pitch, for one pole pair and for more (from memory)."""
RING_SECTION = {"cast": (1.2, 8.0), "fabricated": (1.1, 3.0), None: (1.1, 8.0)}
"""Range of the ring's section over the one with the current density of the bars: rings are laid out
for 0.75 to 0.8 of it (Boldea and Nasar, The Induction Machine Handbook, from memory), and are thick
when cast, since the mould wants it; the 3 kW reference motor has 7."""
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
    motor: Motor,
    circuit: EquivalentCircuit,
    order_pairs: int = 1,
    seen_bars: tuple[int, ...] = (),
) -> tuple[CageDraws, ...]:
    """Return cages consistent with the circuit ensemble, grouped by their number of bars.

    The winding orders are 1 and 6 mu +- 1 up to ``mu = order_pairs``. ``seen_bars`` are the numbers
    of bars that the slot lines of a record leave possible; they count where nobody has counted.
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
        for bars, members in _groups(motor, n_draws, seen_bars)
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


def slot_weights(motor: Motor) -> dict[int, float]:
    """Return how likely every number of stator slots is: known, or by the size of the motor.

    Rated torque over the shear stress of the air gap gives the volume of the rotor, its usual shape
    the diameter D, and the usual slot pitch at that diameter the number of slots.
    """
    p = motor.nameplate.pole_pairs
    if motor.cage.stator_slots is not None:
        return {motor.cage.stator_slots: 1.0}
    torque = motor.nameplate.rated_torque_nm
    shear = AIR_GAP_SHEAR_PA * (torque / SHEAR_AT_NM) ** SHEAR_EXPONENT
    shape = float(np.mean(LENGTH_PER_POLE_PITCH.get(p, LENGTH_PER_POLE_PITCH[None])))
    # torque = shear (pi / 2) D^2 l, length l = shape pi D / (2 p)
    diameter = (4.0 * p * torque / (shear * math.pi**2 * shape)) ** (1.0 / 3.0)
    pitch = SLOT_PITCH_M * (diameter / PITCH_AT_M) ** PITCH_EXPONENT
    usual = math.pi * diameter / pitch
    low, high = _range_of_q(p)
    off = {6 * p * q: math.log(6 * p * q / usual) / SLOTS_LOG_SPREAD for q in range(low, high + 1)}
    nearest = min(abs(x) for x in off.values())
    return {slots: math.exp(-0.5 * (x**2 - nearest**2)) for slots, x in off.items()}


def bar_weights(motor: Motor, seen_bars: tuple[int, ...] = ()) -> dict[int, float]:
    """Return how likely the numbers of bars are that are drawn.

    Known, or by the size of the motor; then numbers to which slot lines point gain what such a list
    is worth (Bayes): it holds the true number with probability :data:`SLOTS_SHOW`, and any other
    one as often as its length says.
    """
    candidates = bar_candidates(motor)
    if len(candidates) == 1:
        return {candidates[0]: 1.0}
    slots, every = slot_weights(motor), range(min(candidates), max(candidates) + 1)
    mass = {n: _density(n, slots) / n for n in every}
    by_size = _typical(mass, 4 * motor.nameplate.pole_pairs)
    seen = [n for n in sorted(set(seen_bars)) if n in every]
    if not seen or len(seen) == len(every):
        return by_size
    total, listed, length = sum(mass.values()), sum(mass[n] for n in seen), len(seen) / len(every)
    rest = (total - listed) * (1.0 - SLOTS_SHOW) / (1.0 - length)
    weights = {n: rest * x for n, x in by_size.items()}
    for n in seen:
        weights[n] = mass[n] * SLOTS_SHOW / length
    return dict(sorted(weights.items()))


def _typical(mass: dict[int, float], quarter: int) -> dict[int, float]:
    """Return a few numbers of bars that stand for all; their weights sum to 1.

    Every :data:`QUARTER_GROUPS` th of the multiples of ``quarter`` and every
    :data:`SIZE_GROUPS` th of all numbers is stood for by its middle.
    """
    weights: dict[int, float] = {}
    multiples = {n: x for n, x in mass.items() if n % quarter == 0}
    for group, count in ((mass, SIZE_GROUPS), (multiples, QUARTER_GROUPS)):
        if not group:
            continue
        cumulative = np.cumsum(list(group.values()))
        places = (np.arange(count) + 0.5) / count * cumulative[-1]
        for place in np.searchsorted(cumulative, places):
            n = list(group)[place]
            weights[n] = weights.get(n, 0.0) + 1.0
    total = sum(weights.values())
    return {n: weights[n] / total for n in sorted(weights)}


def _density(bars: int, slots: dict[int, float]) -> float:
    """Return how likely bars are, over their logarithm, up to a factor."""
    going = sum(weight * _goes_with(bars / count) for count, weight in slots.items())
    return max(going / sum(slots.values()), SMALLEST_WEIGHT)


def _goes_with(bars_per_slot: float) -> float:
    """Return how likely a number of bars per slot is, over its logarithm."""
    low, high = BARS_PER_SLOT
    if not low <= bars_per_slot <= high:
        return 0.0
    if bars_per_slot < 1.0:
        return (1.0 - MORE_BARS_THAN_SLOTS) / -math.log(low)
    return MORE_BARS_THAN_SLOTS / math.log(high)


def _groups(motor: Motor, n_draws: int, seen_bars: tuple[int, ...]) -> Iterator[tuple[int, slice]]:
    """Split the draws over the numbers of bars by how likely they are, in handy groups."""
    by_bars = bar_weights(motor, seen_bars)
    candidates, weights = tuple(by_bars), np.array(list(by_bars.values()))
    edges = np.concatenate([[0.0], np.cumsum(weights) / weights.sum()]) * n_draws
    edges = edges.round().astype(int)
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
        winding=StatorWinding(slots_per_pole_and_phase=q, coil_pitch=_coil_pitch(motor, q, rng)),
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
    by_size = slot_weights(motor)
    weights = np.array([w * _goes_with(bars / count) for count, w in by_size.items()])
    if not weights.any():
        weights = np.array(list(by_size.values()))
    chosen = rng.choice(np.array(list(by_size)), size=n, p=weights / weights.sum())
    return np.asarray(chosen / (6.0 * p))


def _range_of_q(pole_pairs: int) -> tuple[int, int]:
    """Return the least and the most slots per pole and phase."""
    return SLOTS_PER_POLE_AND_PHASE.get(pole_pairs, SLOTS_PER_POLE_AND_PHASE[None])


def _coil_pitch(motor: Motor, q: RealArray, rng: np.random.Generator) -> RealArray:
    """Draw the coil over the pole pitch: known, or whole slots by how usual they are."""
    span = motor.cage.coil_span_slots
    if span is not None:
        return np.minimum(span / (3.0 * q), 1.0)
    pitch = np.empty(q.size)
    for value in np.unique(q):
        pitches, weights = _pitch_weights(float(value), motor.nameplate.rated_power_w)
        members = q == value
        pitch[members] = rng.choice(pitches, size=int(members.sum()), p=weights)
    return pitch


def _pitch_weights(q: float, power_w: float) -> tuple[RealArray, RealArray]:
    """Return the possible coil pitches of a winding and how likely they are."""
    per_pole = 3.0 * q
    low, high = math.ceil(COIL_PITCH[0] * per_pole - 1e-9), math.floor(per_pole + 1e-9)
    pitches = np.arange(low, high + 1) / per_pole
    usual = np.exp(-0.5 * ((pitches - TWO_LAYER_PITCH) / TWO_LAYER_SPREAD) ** 2)
    two_layer = (1.0 - ODD_PITCH_SHARE) * usual / usual.sum() + ODD_PITCH_SHARE / pitches.size
    single = float(np.interp(math.log(power_w), np.log(SINGLE_LAYER_POWER_W), SINGLE_LAYER_SHARE))
    full = pitches == pitches[-1]
    return pitches, np.asarray((1.0 - single) * two_layer + single * full)


def _ring_resistance_share(motor: Motor, rng: np.random.Generator, n: int) -> RealArray:
    """Draw the part of the rotor resistance in the rings: x / (1 + x), x = 2 / (pi c l / tau)."""
    lengths = LENGTH_PER_POLE_PITCH.get(motor.nameplate.pole_pairs, LENGTH_PER_POLE_PITCH[None])
    length = rng.uniform(*lengths, size=n)
    log_low, log_high = np.log(RING_SECTION[motor.cage.construction])
    section = np.exp(rng.uniform(log_low, log_high, n))
    ratio = 2.0 / (np.pi * section * length)
    return np.asarray(ratio / (1.0 + ratio))
