"""What an answer from the repair shop is worth: how far each unknown widens the reading of bars.

For every question the motor file leaves open, the plausible answers are tried one after the other;
the mean width of the intervals under them is compared with the width without the answer.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from cagewise.machine.cage.ensemble import CageEnsemble, OperatingDraws
from cagewise.machine.cage.patterns import adjacent
from cagewise.machine.cage.plausible import COIL_PITCH, bar_weights
from cagewise.machine.cage.solution import FIFTH_FOUR
from cagewise.machine.circuit import EquivalentCircuit
from cagewise.machine.estimate import circuit_ensemble
from cagewise.machine.motor import Cage, Motor
from cagewise.quantities import COVERAGE, RealArray

N_DRAWS = 240
"""Draws for every answer: six lie beyond each end of a 95 % interval."""
MOST_ANSWERS = 3
"""Answers tried of a question that has many: the least, the middle and the largest."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Worth:
    """What one answer would be worth at full load.

    Spreads are the upper over the lower end of the 95 % interval of the response to one open bar:
    a reading turned into bars has the same spread.
    """

    question: str
    """What to ask for, in words."""
    direct_spread: float
    """Of the direct component, as long as the answer is not known."""
    direct_spread_answered: float
    """The same with the answer, mean over plausible answers."""
    harmonic_spread: float
    """Of the line at (5 - 4s) f, as long as the answer is not known."""
    harmonic_spread_answered: float
    """The same with the answer."""


def value_of_asking(motor: Motor) -> tuple[Worth, ...]:
    """Return every open question of a motor, the one worth most (both spreads) first.

    Empty when nothing is open.
    """
    circuit = circuit_ensemble(motor, N_DRAWS)
    direct, harmonic = _spreads(motor, circuit)
    worths = []
    for question, answers in _questions(motor, circuit):
        answered = [_spreads(known, known_circuit) for known, known_circuit in answers]
        direct_answered, harmonic_answered = np.exp(np.mean(np.log(answered), axis=0))
        worths.append(
            Worth(
                question=question,
                direct_spread=direct,
                direct_spread_answered=float(direct_answered),
                harmonic_spread=harmonic,
                harmonic_spread_answered=float(harmonic_answered),
            )
        )
    return tuple(
        sorted(worths, key=lambda w: w.direct_spread_answered * w.harmonic_spread_answered)
    )


_Answers = list[tuple[Motor, EquivalentCircuit]]


def _questions(motor: Motor, circuit: EquivalentCircuit) -> Iterator[tuple[str, _Answers]]:
    """Yield what is open, with plausible answers."""
    for question, cages in _open_of_cage(motor):
        yield question, [(replace(motor, cage=known), circuit) for known in cages]
    if motor.circuit is None:
        measured = replace(motor, circuit=circuit.median())
        yield "equivalent circuit", [(measured, circuit_ensemble(measured, N_DRAWS))]


def _open_of_cage(motor: Motor) -> Iterator[tuple[str, list[Cage]]]:
    """Yield what is open of cage and slots, with plausible answers."""
    cage = motor.cage
    bars = tuple(bar_weights(motor))
    if cage.rotor_bars is None:
        yield "number of rotor bars", [replace(cage, rotor_bars=n) for n in _few(bars)]
    if cage.stator_slots is None:
        slots = _slot_candidates(motor, bars)
        yield "number of stator slots", [replace(cage, stator_slots=n) for n in _few(slots)]
    elif cage.coil_span_slots is None:
        per_pole = cage.stator_slots / motor.nameplate.poles
        spans = tuple(range(math.ceil(COIL_PITCH[0] * per_pole), math.floor(per_pole) + 1))
        yield (
            "coil span of the stator winding, in slots",
            [replace(cage, coil_span_slots=n) for n in _few(spans)],
        )
    if cage.rotor_slots is None:
        kinds = ("open", "closed")
        yield "open or closed rotor slots", [replace(cage, rotor_slots=kind) for kind in kinds]
    if cage.construction is None:
        kinds = ("fabricated", "cast")
        yield "fabricated or cast cage", [replace(cage, construction=kind) for kind in kinds]


def _few(candidates: tuple[int, ...]) -> list[int]:
    """Return at most :data:`MOST_ANSWERS` of them, spread evenly."""
    places = np.linspace(0, len(candidates) - 1, min(MOST_ANSWERS, len(candidates)))
    return [candidates[k] for k in places.round().astype(int)]


def _slot_candidates(motor: Motor, bars: tuple[int, ...]) -> tuple[int, ...]:
    """Return numbers of stator slots that go with the number of bars."""
    step = 6 * motor.nameplate.pole_pairs
    middle = float(np.median(bars))
    per_phase = np.unique(np.clip(np.round(middle / step + np.array([-1, 0, 1])), 2, 6))
    return tuple(int(step * q) for q in per_phase)


def _spreads(motor: Motor, circuit: EquivalentCircuit) -> tuple[float, float]:
    """Return the spreads of the direct component and of (5 - 4s) f for one open bar.

    At constant speed: neither depends on the inertia to speak of.
    """
    plate = motor.nameplate
    point = OperatingDraws(
        slip=np.full(N_DRAWS, plate.rated_slip),
        frequency_hz=plate.rated_frequency_hz,
        voltage_v=plate.rated_phase_voltage_peak_v,
        inertia_kg_m2=np.full(N_DRAWS, np.inf),
    )
    response = CageEnsemble(motor, circuit, point).at_slip(adjacent(1))
    return _spread(response.direct_ratio), _spread(response.lines[FIFTH_FOUR])


def _spread(draws: RealArray) -> float:
    """Return the upper over the lower end of the 95 % interval."""
    tail = (1.0 - COVERAGE) / 2.0
    low, high = np.quantile(draws, [tail, 1.0 - tail])
    return float(high / low)
