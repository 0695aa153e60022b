"""From a reading to the number of adjacent open bars that would produce it on this motor.

The direct component goes through the motor's own cage solution (machine.cage.expectation). The
other functions of the pair do not know how much of the lower line the speed ripple took away, so
they carry the range that inertia can make of it (docs/theory/side-lines.md, table of ranges).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from cagewise.indicators.cage.point_draws import PointDraws, first_draws
from cagewise.indicators.lines.pair import SideLine
from cagewise.machine.cage.ensemble import CageEnsemble, OperatingDraws
from cagewise.machine.cage.expectation import CageExpectation, readings_of
from cagewise.machine.cage.solution import LOWER, Line
from cagewise.machine.motor import Motor
from cagewise.quantities import COVERAGE, Estimate, RealArray

SUM_OVER_DIRECT = (0.85, 1.15)
"""(|L| + |U|) / |d| over inertia from the rotor alone to infinite and load from 10 to 100 %, one to
three bars: 0.88 to 1.11 on the simulated 3 kW motor, rounded outwards."""
DIRECT_OVER_LOWER = (0.95, 2.5)
"""|d| / |L| over the same range: 1.0 at infinite inertia, 2.3 with the rotor alone. For the plan of
a record; a reading takes the inertias that its own drive may have."""
SUM_OVER_ROOT = (1.0, 2.0**0.5)
"""(|L| + |U|) over the root of |L|^2 + |U|^2, for any share between the two."""
CONVERSION_SD = 0.03
"""Relative standard deviation of the step from |d| to bars for what the cage solution leaves out
(one linear cage). Bar-by-bar simulations with displaced bar currents and saturated iron show |d|
0.96 to 1.03 times that of the solution of the same motor (2 % standard deviation); half as much
again for what is not simulated (judgement)."""
SOLVED_DRAWS = 100
"""Draws for which the cage is solved, each used for ``N_DRAWS / SOLVED_DRAWS`` readings: winding,
skew and rings are drawn independently of the circuit and spread wider than it."""
_SEED = 23


@dataclass(frozen=True, kw_only=True)
class BarScale:
    """What adjacent open bars would show on this motor; arrays of shape (n_draws,)."""

    expectation: CageExpectation
    """Solved for ``SOLVED_DRAWS`` draws."""
    rotor_current_a: RealArray
    """|I_r| of the sound cage at the measured stator current, A peak."""
    ensemble: CageEnsemble
    """The cages that this motor may have, sound, where it ran: ``SOLVED_DRAWS`` draws."""

    @classmethod
    def of(
        cls, motor: Motor, draws: PointDraws, direct_a: float, seen_bars: tuple[int, ...] = ()
    ) -> BarScale:
        """Return the scale of a motor that shows a direct component of this amplitude.

        ``seen_bars`` are the numbers of bars to which the record's own slot lines point.

        The circuit was matched to the fundamental of the motor as it is. Damage raises its mean
        rotor resistance by as much as it makes it unequal, ``|d| / |I_r|`` (kernels K0 and K2 are
        alike for adjacent bars), so the sound cage has that much less.
        """
        fundamental = draws.fundamental
        excess = direct_a / draws.rotor_current_a
        sound = replace(
            draws.circuit,
            rotor_resistance_ohm=draws.circuit.rotor_resistance_ohm / (1.0 + excess),
        )
        state = sound.at(draws.slip, 2.0 * np.pi * fundamental.frequency_hz)
        voltage_v = fundamental.voltage_v or motor.nameplate.rated_phase_voltage_peak_v
        point = OperatingDraws.of(
            motor,
            SOLVED_DRAWS,
            slip=draws.slip[:SOLVED_DRAWS],
            frequency_hz=fundamental.frequency_hz,
            voltage_v=voltage_v,
        )
        ensemble = CageEnsemble(motor, first_draws(sound, SOLVED_DRAWS), point, seen_bars)
        return cls(
            expectation=readings_of(ensemble),
            rotor_current_a=np.abs(state.rotor_current(fundamental.current_a)),
            ensemble=ensemble,
        )

    @property
    def n_draws(self) -> int:
        """Number of draws."""
        return int(self.rotor_current_a.size)

    def bars(self, amplitude_a: RealArray | float) -> RealArray:
        """Return open bars, shape (n_draws,), for a direct component of this amplitude (A peak)."""
        ratio = np.asarray(amplitude_a / self.rotor_current_a, dtype=np.float64)
        return _in_parts(self.expectation.direct_component_bars, ratio)

    def lower_line_bars(self, ratio: RealArray) -> RealArray:
        """Return open bars, shape (n_draws,), for draws of |L| over the fundamental.

        Every draw has its own inertia, which says how much of the line speed ripple takes away.
        """
        return _in_parts(lambda part: self.expectation.side_line_bars(LOWER, part), ratio)

    def harmonic_bars(self, line: Line, ratio: RealArray) -> RealArray:
        """Return open bars, shape (n_draws,), for draws of a harmonic line over the fundamental."""
        return _in_parts(lambda part: self.expectation.harmonic_line_bars(line, part), ratio)

    def draws(self, amplitudes_a: RealArray) -> RealArray:
        """Return draws of open bars, the error of the conversion included."""
        return self.with_error(self.bars(amplitudes_a))

    def with_error(self, bars: RealArray) -> RealArray:
        """Return draws of bars with the error of the conversion."""
        rng = np.random.default_rng(_SEED + 2)
        return np.asarray(bars * np.exp(CONVERSION_SD * rng.standard_normal(self.n_draws)))

    def through(self, amplitude_a: float, amplitudes_a: RealArray, factors: RealArray) -> Estimate:
        """Return open bars of a reading that is ``factors`` times smaller than |d|.

        Parameters
        ----------
        amplitude_a
            The reading, A peak.
        amplitudes_a
            Its draws, shape (n_draws,).
        factors
            Draws of |d| over the reading, shape (n_draws,).
        """
        value = float(np.median(self.bars(amplitude_a * factors)))
        return interval(value, self.draws(amplitudes_a * factors))


def _in_parts(count: Callable[[RealArray], RealArray], ratio: RealArray) -> RealArray:
    """Count bars for draws of a ratio, ``SOLVED_DRAWS`` at a time."""
    return np.concatenate([count(part) for part in ratio.reshape(-1, SOLVED_DRAWS)])


def safely(bars: RealArray) -> float:
    """Return the number of bars that 95 % of the motors this one may be would need."""
    return float(np.quantile(bars, COVERAGE))


def interval(value: float, draws: RealArray, *, includes_zero: bool = False) -> Estimate:
    """Return the 95 % interval of draws about a value; from zero where zero is not excluded."""
    tail = 0.5 * (1.0 - COVERAGE)
    low, high = (float(x) for x in np.quantile(draws, [tail, 1.0 - tail]))
    low = 0.0 if includes_zero else low
    return Estimate(value, min(low, value), max(high, value))


def amplitude_draws(line: SideLine, n_draws: int) -> RealArray:
    """Return draws of a line's amplitude from its floor, shape (n_draws,)."""
    rng = np.random.default_rng(_SEED)
    power = line.energy.power + line.energy.power_sd * rng.standard_normal(n_draws)
    return np.sqrt(np.maximum(power, 0.0))


def ranged(low_high: tuple[float, float], n_draws: int) -> RealArray:
    """Return draws of a factor known by its range, evenly in its logarithm."""
    rng = np.random.default_rng(_SEED + 1)
    low, high = np.log(low_high)
    return np.exp(rng.uniform(low, high, n_draws))
