"""How strong the wave on a track is: against its floor, in decibels, and in open bars."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import chndtrinc, fdtrc, fdtri

from cagewise.indicators.start.track_circuit import StartCircuit
from cagewise.indicators.start.track_expectation import wave_levels
from cagewise.indicators.start.track_windows import LEAKAGE, TrackWindows
from cagewise.machine.cage.expectation import bars_of_response
from cagewise.machine.motor import Motor
from cagewise.quantities import COVERAGE, ComplexArray, Estimate, RealArray

MODEL_ERROR = 0.2
"""What one window may err by, per unit of the wave: no single window outweighs the others."""
DISCREPANCY = 0.10
"""Standard deviation of the logarithm of all windows together: the accelerating machine against
fixed slips, 0.5 to 1.5 dB on the simulated motor."""
OVERLAP = 2.0
"""Windows that overlap by three quarters, per independent one."""
MOST_FLOOR_DEGREES = 20.0
"""Most degrees of freedom credited to the floor, and those of its constant part: what leaks is not
noise, and neighbours agree."""
NODES = 6
"""Slips at which the expectation is solved for every draw; between them its ratio to the middle
motor moves little."""
LEVEL_SLIP = 0.3
"""Slip at which the level is stated where it was read there: the wave is near its largest."""
NEAR = 0.06
"""Windows within this slip of it make the level."""
DETECTION_QUANTILE = 1.645
"""One-sided 95 % quantile of a normal distribution: 95 % of waves at the limit are found."""
LOBE = 0.69
"""A Hann window passes exp(-0.69 x^2) of a wave that is x over its length away: half at 1."""
_SEED = 43


@dataclass(frozen=True, kw_only=True)
class TrackStrength:
    """The wave along one track."""

    windows: TrackWindows
    weights: RealArray
    """Of the windows; their sum is 1."""
    cells: int = 1
    """Tracks that were searched."""
    blur: float = 0.0
    """How far the wave may lie from the nearest of them, in units of one over the window."""

    @classmethod
    def of(cls, windows: TrackWindows, cells: int = 1, blur: float = 0.0) -> TrackStrength:
        """Weigh the windows by floor and model."""
        weights = 1.0 / (windows.floor**2 + MODEL_ERROR**2)
        return cls(windows=windows, weights=weights / weights.sum(), cells=cells, blur=blur)

    @property
    def floor_power(self) -> float:
        """Weighted mean power with no wave, (bars of the middle motor)^2."""
        return float(np.sum(self.weights * self.windows.floor**2))

    @property
    def power(self) -> float:
        """Weighted mean power, floor included."""
        return float(np.sum(self.weights * np.abs(self.windows.wave) ** 2))

    @property
    def excess(self) -> float:
        """Power over that of the floor."""
        return self.power / self.floor_power

    @property
    def _degrees(self) -> tuple[float, float]:
        """Degrees of freedom of power and floor."""
        shares = self.weights * self.windows.floor**2
        independent = max(1.0, shares.sum() ** 2 / np.sum(shares**2) / OVERLAP)
        leakage = float(np.sum(self.weights * self.windows.leakage**2))
        noise = max(shares.sum() - leakage, 0.0)
        variance = leakage**2 / MOST_FLOOR_DEGREES + noise**2 / self.windows.floor_degrees
        return 2.0 * independent, min(shares.sum() ** 2 / variance, MOST_FLOOR_DEGREES)

    @property
    def false_alarm_probability(self) -> float:
        """Chance of this power with no wave, all searched tracks counted."""
        one = float(fdtrc(*self._degrees, self.excess))
        return min(1.0, self.cells * one)

    def detection_limit(self, chance: float) -> float:
        """Return the amplitude found 95 times in 100, bars of the middle motor."""
        first, second = self._degrees
        threshold = float(fdtri(first, second, 1.0 - chance / self.cells))
        above = max(threshold - 1.0, 0.0) * self.floor_power
        sd = np.sqrt(self.floor_power / first)
        return float((np.sqrt(above) + DETECTION_QUANTILE * sd) * np.exp(LOBE * self.blur**2))

    def upper_limit(self) -> float:
        """Return the amplitude above which a wave would have given more power, 97.5 %.

        Bars of the middle motor. A power below that of the floor counts as the floor's: chance made
        it small, and no wave is excluded by that which an average record would not exclude.
        """
        degrees = self._degrees[0]
        chance = (1.0 - COVERAGE) / 2.0
        noncentral = float(chndtrinc(degrees * max(self.excess, 1.0), degrees, chance))
        amplitude = np.sqrt(self.floor_power * noncentral / degrees)
        return float(amplitude * np.exp(LOBE * self.blur**2))

    def drawn_waves(self, n_draws: int) -> ComplexArray:
        """Return waves with noise drawn once more, (n_windows, n_draws)."""
        rng = np.random.default_rng(_SEED)
        shape = (self.windows.wave.size, n_draws)
        noise = rng.standard_normal(shape) + 1j * rng.standard_normal(shape)
        sd = self.windows.floor * np.sqrt(OVERLAP / 2.0)
        return np.asarray(self.windows.wave[:, np.newaxis] + sd[:, np.newaxis] * noise)

    def clean_power(self, waves: ComplexArray, weights: RealArray) -> RealArray:
        """Return weighted power less what measured and drawn noise put there, (n_draws,)."""
        noise = self.windows.floor**2 * (1.0 + OVERLAP)
        power = np.abs(waves) ** 2 - noise[:, np.newaxis]
        return np.asarray(np.maximum(np.einsum("w,wd->d", weights, power), 0.0))

    def level_weights(self) -> tuple[RealArray, float]:
        """Return the weights of the windows that make the level, and their slip."""
        slip = self.windows.slip
        centre = LEVEL_SLIP
        if np.min(np.abs(slip - centre)) > NEAR:
            centre = float(slip[np.argmax(self.weights * self.windows.expected**2)])
        near = self.weights * (np.abs(slip - centre) <= NEAR)
        return near / near.sum(), centre

    def level_db(self, n_draws: int) -> tuple[Estimate, float]:
        """Return |wave| over |fundamental| in dB and the slip where; LEAKAGE is the least."""
        weights, slip = self.level_weights()
        scaled = weights * self.windows.expected**2
        power = self.clean_power(self.drawn_waves(n_draws), scaled)
        return _decibels(power), slip

    def energy_ratio_db(self, n_draws: int) -> Estimate:
        """Return the fundamental's energy over that of the wave, over all windows read, in dB."""
        main = self.windows.fundamental_a**2
        power = self.clean_power(
            self.drawn_waves(n_draws), main * self.windows.expected**2 / main.sum()
        )
        below = _decibels(power)
        return Estimate(-below.value, -below.high, -below.low)


def _decibels(power: RealArray) -> Estimate:
    """Return powers, per unit of the fundamental's, as a level."""
    return Estimate.from_draws(10.0 * np.log10(np.maximum(power, LEAKAGE**2)))


@dataclass(frozen=True, kw_only=True)
class TrackBars:
    """What the strength means on this motor."""

    bars: Estimate
    """Adjacent open bars."""
    detection_limit_bars: float
    expected: RealArray
    """Median |wave| over |fundamental| of one and of two open bars, (2, n_windows)."""


def track_bars(
    strength: TrackStrength, motor: Motor, circuit: StartCircuit, frequency_hz: float, chance: float
) -> TrackBars:
    """Return the open bars that such a wave means.

    Without detection the interval begins at zero and reaches as far as noise could hide a wave: to
    draw noise once more about what noise has made small would not show that.
    """
    windows = strength.windows
    levels, nearest = _levels(windows, motor, circuit, frequency_hz)
    by_node = np.bincount(nearest, weights=strength.weights, minlength=levels.shape[1])
    typical = np.sqrt(np.einsum("k,ckd->cd", by_node, levels**2))
    waves = strength.drawn_waves(circuit.n_draws)
    rng = np.random.default_rng(_SEED + 1)
    error = np.exp(DISCREPANCY * rng.standard_normal(circuit.n_draws))
    amplitude = np.sqrt(strength.clean_power(waves, strength.weights)) * error
    bars = Estimate.from_draws(bars_of_response(typical, amplitude))
    if strength.false_alarm_probability > chance:
        hidden = np.full(circuit.n_draws, strength.upper_limit())
        high = max(bars.high, float(np.median(bars_of_response(typical, hidden))))
        bars = Estimate(bars.value, 0.0, high)
    limit = np.full(circuit.n_draws, strength.detection_limit(chance))
    one_and_two = np.median(levels[:2], axis=2)[:, nearest] * windows.expected
    return TrackBars(
        bars=bars,
        detection_limit_bars=float(np.median(bars_of_response(typical, limit))),
        expected=np.asarray(one_and_two),
    )


def _levels(
    windows: TrackWindows, motor: Motor, circuit: StartCircuit, frequency_hz: float
) -> tuple[RealArray, RealArray]:
    """Return levels over the template at a few windows, and which of them each window is next to.

    Shapes (counts, nodes, n_draws) and (n_windows,).
    """
    at = np.unique(np.linspace(0, windows.slip.size - 1, NODES).round().astype(np.intp))
    levels = wave_levels(motor, circuit, windows.slip[at], frequency_hz)
    levels /= windows.expected[at][np.newaxis, :, np.newaxis]
    nearest = np.argmin(np.abs(windows.slip[:, np.newaxis] - windows.slip[at]), axis=1)
    return levels, nearest
