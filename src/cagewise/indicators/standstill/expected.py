"""What adjacent open bars would show on this motor at rest, and back: a reading as open bars.

One linear cage per draw; the conductors' skin effect at the test frequency, which the running motor
does not tell, is drawn beside it. Derivation: ``docs/theory/position-pattern.md``.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np

from cagewise.machine.cage.damage import Damage
from cagewise.machine.cage.expectation import COUNTS, smallest_count
from cagewise.machine.cage.model import CageModel
from cagewise.machine.cage.plausible import plausible_cages
from cagewise.machine.cage.standstill import PositionPattern, position_pattern
from cagewise.machine.circuit import EquivalentCircuit
from cagewise.machine.motor import Motor
from cagewise.machine.positions import DAMAGE_ORDERS
from cagewise.quantities import RealArray

SOLVED_DRAWS = 100
"""Draws for which the cage is solved: two or three lie beyond each end of a 95 % interval."""
CONVERSION_SD = 0.05
"""Relative standard deviation of the step from a pattern to bars for what one linear cage leaves
out (iron, currents between bars); judgement, as for the direct component."""
BAR_DEPTH = (0.3, 3.0)
"""Range of the conductor's height over the depth of penetration at rated frequency: from the low
bars of a few kilowatts (10 mm) to deep bars of large motors (40 mm); common practice, no source."""
CONDUCTOR_SHARE = (0.5, 0.9)
"""Range of the part of a bar's slot leakage that lies in the conductor, where the current
crowds; the rest is above it. 0.69 in the 3 kW reference motor; others from memory."""
_ANGLES = 48
"""Positions per electrical turn at which |Z| is computed: aliases of order 44 and above."""
_SEED = 31


class Signal(StrEnum):
    """What is relative to what."""

    INDUCTANCE = "inductance"
    """L over mean L."""
    RESISTANCE = "resistance"
    """R over mean R."""
    MODULUS = "impedance"
    """|Z| over mean |Z|."""
    VECTOR = "resistance and reactance"
    """Root of the squares of R and X, over the modulus of the mean Z."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StandstillScale:
    """What adjacent open bars would show on this motor; arrays (len(COUNTS), n_draws)."""

    frequency_hz: float
    amplitudes: Mapping[tuple[Signal, int], RealArray]
    """Signal and order to amplitude over the mean, of the signals that were asked for."""
    mean_rise: RealArray
    """Mean inductance over that of the sound cage, less one."""
    one_bar_pattern: PositionPattern

    @property
    def n_draws(self) -> int:
        """Number of draws."""
        return int(self.mean_rise.shape[1])

    def response(self, signal: Signal, orders: Sequence[int]) -> RealArray:
        """Return the root of the squares of the amplitudes of these orders."""
        squares = [self.amplitudes[signal, order] ** 2 for order in orders]
        return np.asarray(np.sqrt(np.sum(squares, axis=0)))

    def bars(
        self, signal: Signal, amplitude: RealArray | float, orders: Sequence[int] = DAMAGE_ORDERS
    ) -> RealArray:
        """Return open bars for an amplitude (or its draws) over the mean, shape (n_draws,)."""
        reading = np.broadcast_to(np.asarray(amplitude, dtype=np.float64), (self.n_draws,))
        return smallest_count(self.response(signal, orders), reading)

    def bars_of_rise(self, rise: RealArray | float) -> RealArray:
        """Return adjacent open bars for a relative rise of the mean inductance, (n_draws,)."""
        reading = np.broadcast_to(np.asarray(rise, dtype=np.float64), (self.n_draws,))
        return smallest_count(self.mean_rise, np.maximum(reading, 0.0))

    def typical_one_bar(self, signal: Signal, angle_rad: RealArray) -> RealArray:
        """Return what one open bar shows on the cage of middling response, (n_angles,)."""
        second = self.amplitudes[signal, 2][0]
        middle = int(np.argsort(second)[second.size // 2])
        pattern = self.one_bar_pattern
        one = replace(pattern, terms_ohm=pattern.terms_ohm[middle : middle + 1])
        return np.asarray(relative_curve(one, signal, angle_rad)[0])

    def conversion_error(self) -> RealArray:
        """Return draws of the factor by which one linear cage may be wrong, shape (n_draws,)."""
        rng = np.random.default_rng(_SEED + 1)
        return np.exp(CONVERSION_SD * rng.standard_normal(self.n_draws))


def standstill_scale(
    motor: Motor,
    circuit: EquivalentCircuit,
    frequency_hz: float,
    signals: Collection[Signal] = tuple(Signal),
) -> StandstillScale:
    """Return what this motor would show at rest.

    Parameters
    ----------
    motor, circuit
        The motor and its circuit, one or an ensemble, which is thinned to ``SOLVED_DRAWS``.
    frequency_hz
        Of the test.
    signals
        Those whose amplitudes are wanted; none for the mean alone.
    """
    draws = _thinned(circuit)
    depth = math.sqrt(frequency_hz / motor.nameplate.rated_frequency_hz)
    models = [group.model for group in plausible_cages(motor, draws)]
    models = [_with_skin_effect(model, depth, k) for k, model in enumerate(models)]
    patterns = {
        count: _joined(
            [position_pattern(m, Damage.adjacent_open(count), frequency_hz) for m in models]
        )
        for count in (0, *COUNTS)
    }
    sound = patterns[0].mean_inductance_h
    return StandstillScale(
        frequency_hz=frequency_hz,
        amplitudes={
            (signal, order): np.stack([_amplitude(patterns[c], signal, order) for c in COUNTS])
            for signal in signals
            for order in DAMAGE_ORDERS
        },
        mean_rise=np.stack([patterns[c].mean_inductance_h / sound - 1.0 for c in COUNTS]),
        one_bar_pattern=patterns[1],
    )


def relative_curve(pattern: PositionPattern, signal: Signal, angle_rad: RealArray) -> RealArray:
    """Return the signal over its mean, less one, of every draw at electrical angles.

    Of the vector the reactance over the modulus of the mean is returned: its larger part.
    """
    z = pattern.at(angle_rad)
    mean = pattern.mean_ohm[:, np.newaxis]
    if signal is Signal.INDUCTANCE:
        return np.asarray(z.imag / mean.imag - 1.0)
    if signal is Signal.RESISTANCE:
        return np.asarray(z.real / mean.real - 1.0)
    if signal is Signal.MODULUS:
        return np.asarray(np.abs(z) / np.mean(np.abs(z), axis=1, keepdims=True) - 1.0)
    return np.asarray((z.imag - mean.imag) / np.abs(mean))


def _amplitude(pattern: PositionPattern, signal: Signal, order: int) -> RealArray:
    """Return the amplitude of one order over the mean, shape (n_draws,)."""
    resistance = pattern.resistance_amplitude_ohm(order)
    inductance = pattern.inductance_amplitude_h(order)
    if signal is Signal.RESISTANCE:
        return np.asarray(resistance / pattern.mean_ohm.real)
    if signal is Signal.INDUCTANCE:
        return np.asarray(inductance / pattern.mean_inductance_h)
    if signal is Signal.VECTOR:
        reactance = 2.0 * math.pi * pattern.frequency_hz * inductance
        return np.asarray(np.hypot(resistance, reactance) / np.abs(pattern.mean_ohm))
    angle = 2.0 * math.pi * np.arange(_ANGLES) / _ANGLES
    curve = relative_curve(pattern, signal, angle)
    return np.asarray(2.0 / _ANGLES * np.abs(curve @ np.exp(-1j * order * angle)))


def _with_skin_effect(model: CageModel, relative_depth: float, group: int) -> CageModel:
    """Return the cage with the bars' resistance and leakage at the test frequency.

    Rectangular conductor (the classic solution): with ``x`` its height over the depth of
    penetration, ``K_R = x (sinh 2x + sin 2x) / (cosh 2x - cos 2x)`` and
    ``K_L = 3 / (2x) (sinh 2x - sin 2x) / (cosh 2x - cos 2x)``.
    """
    rng = np.random.default_rng([_SEED, group])
    n = np.atleast_1d(model.bar_resistance_ohm).size
    x = rng.uniform(*BAR_DEPTH, size=n) * relative_depth
    share = rng.uniform(*CONDUCTOR_SHARE, size=n)
    below = np.cosh(2.0 * x) - np.cos(2.0 * x)
    resistance = x * (np.sinh(2.0 * x) + np.sin(2.0 * x)) / below
    leakage = 1.5 / x * (np.sinh(2.0 * x) - np.sin(2.0 * x)) / below
    return replace(
        model,
        bar_resistance_ohm=model.bar_resistance_ohm * resistance,
        bar_inductance_h=model.bar_inductance_h * (1.0 + share * (leakage - 1.0)),
    )


def _thinned(circuit: EquivalentCircuit) -> EquivalentCircuit:
    """Return ``SOLVED_DRAWS`` of an ensemble; one circuit is repeated."""
    size = int(np.asarray(circuit.rotor_resistance_ohm).size)
    kept = np.linspace(0, size - 1, SOLVED_DRAWS).round().astype(int)
    return EquivalentCircuit(
        stator_resistance_ohm=np.atleast_1d(circuit.stator_resistance_ohm)[kept],
        rotor_resistance_ohm=np.atleast_1d(circuit.rotor_resistance_ohm)[kept],
        stator_leakage_h=np.atleast_1d(circuit.stator_leakage_h)[kept],
        rotor_leakage_h=np.atleast_1d(circuit.rotor_leakage_h)[kept],
        magnetizing_inductance_h=np.atleast_1d(circuit.magnetizing_inductance_h)[kept],
    )


def _joined(parts: list[PositionPattern]) -> PositionPattern:
    """Return the patterns of all groups of draws as one."""
    return PositionPattern(
        frequency_hz=parts[0].frequency_hz,
        orders=parts[0].orders,
        terms_ohm=np.concatenate([part.terms_ohm for part in parts]),
    )
