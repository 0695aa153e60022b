"""The supply: three phase voltages with the imperfections a plant has."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from cagewise.errors import InputError
from cagewise.quantities import ComplexArray, RealArray
from cagewise.simulation.noise import coloured_noise

WANDER_GRID_S = 0.02
"""Grid of the slow random processes of a supply."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Harmonic:
    """One harmonic of the supply voltage, of the natural sequence of its order."""

    order: int
    ratio: float
    """Amplitude relative to the fundamental."""
    phase_rad: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Modulation:
    """A slow sinusoidal modulation of the supply, or of a load torque."""

    amplitude: float
    """Per unit for amplitude modulation, radians for phase modulation, N m for a torque."""
    frequency_hz: float
    phase_rad: float = 0.0

    def at(self, time_s: RealArray) -> RealArray:
        """Return the modulation at ``time_s``."""
        argument = 2.0 * math.pi * self.frequency_hz * time_s + self.phase_rad
        return np.asarray(self.amplitude * np.cos(argument))


@dataclass(frozen=True, slots=True, kw_only=True)
class Supply:
    """A three-wire supply of zero impedance; random parts follow the seed of the run."""

    line_voltage_rms_v: float
    frequency_hz: float
    initial_phase_rad: float = 0.0
    """Phase of v_a at the first sample of the record, before wander and modulation."""
    unbalance: float = 0.0
    """Negative over positive sequence voltage."""
    unbalance_phase_rad: float = 0.0
    harmonics: tuple[Harmonic, ...] = ()
    amplitude_modulation: tuple[Modulation, ...] = ()
    phase_modulation: tuple[Modulation, ...] = ()
    wander_rms_hz: float = 0.0
    """Smoothed Ornstein-Uhlenbeck wander of the frequency."""
    wander_correlation_s: float = 10.0
    flicker_rms: float = 0.0
    """Random modulation of the amplitude, per unit."""
    flicker_correlation_s: float = 1.0

    def __post_init__(self) -> None:
        if not (self.line_voltage_rms_v > 0.0 and self.frequency_hz > 0.0):
            raise InputError("voltage and frequency must be positive", where="supply")
        if any(h.order % 3 == 0 or h.order < 2 for h in self.harmonics):
            raise InputError(
                "harmonics must have orders above 1 that are no multiples of three",
                where="supply",
                remedy="A three-wire machine cannot draw the others.",
            )


class SupplyRun:
    """One realisation of a supply from ``start_s`` on, for ``duration_s``."""

    def __init__(
        self, supply: Supply, start_s: float, duration_s: float, rng: np.random.Generator
    ) -> None:
        self._supply = supply
        n = math.ceil(duration_s / WANDER_GRID_S) + 2
        self._grid_s = start_s + WANDER_GRID_S * np.arange(n)
        wander = coloured_noise(rng, n, WANDER_GRID_S, supply.wander_correlation_s)
        flicker = coloured_noise(rng, n, WANDER_GRID_S, supply.flicker_correlation_s)
        self._wander_hz = supply.wander_rms_hz * wander
        self._flicker = supply.flicker_rms * flicker
        means = 0.5 * (self._wander_hz[1:] + self._wander_hz[:-1])
        self._turns = np.concatenate(([0.0], np.cumsum(means) * WANDER_GRID_S))

    def phase_rad(self, time_s: RealArray) -> RealArray:
        """Return the phase of the positive-sequence fundamental of v_a."""
        supply = self._supply
        phase = 2.0 * np.pi * supply.frequency_hz * time_s + supply.initial_phase_rad
        if supply.wander_rms_hz:
            phase += 2.0 * np.pi * self._wander_turns(time_s)
        for modulation in supply.phase_modulation:
            phase += modulation.at(time_s)
        return phase

    def _wander_turns(self, time_s: RealArray) -> RealArray:
        """Integrate the wander, linear between grid points, to turns."""
        position = (time_s - self._grid_s[0]) / WANDER_GRID_S
        k = np.clip(position.astype(np.int64), 0, self._grid_s.size - 2)
        part = position - k
        low, high = self._wander_hz[k], self._wander_hz[k + 1]
        return np.asarray(
            self._turns[k] + WANDER_GRID_S * (low * part + 0.5 * (high - low) * part**2)
        )

    def space_vector_v(self, time_s: RealArray) -> ComplexArray:
        """Return the voltage space vector (peak, amplitude-invariant), shape of ``time_s``."""
        supply = self._supply
        turn = np.exp(1j * self.phase_rad(time_s))
        unit = turn.copy()
        if supply.unbalance:
            angle = np.exp(1j * supply.unbalance_phase_rad)
            unit += np.conj(supply.unbalance * angle * turn)
        for harmonic in supply.harmonics:
            wave = harmonic.ratio * np.exp(1j * harmonic.phase_rad) * turn**harmonic.order
            unit += wave if harmonic.order % 3 == 1 else np.conj(wave)
        level = np.full(time_s.shape, supply.line_voltage_rms_v * math.sqrt(2.0 / 3.0))
        for modulation in supply.amplitude_modulation:
            level *= 1.0 + modulation.at(time_s)
        if supply.flicker_rms:
            level *= 1.0 + np.interp(time_s, self._grid_s, self._flicker)
        return np.asarray(level * unit)
