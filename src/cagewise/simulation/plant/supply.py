"""The supply: three phase voltages with the imperfections a plant has.

Equations and sources: ``docs/theory/simulation-supply.md``.
"""

from __future__ import annotations

import cmath
import math
from dataclasses import dataclass
from typing import Self

import numpy as np

from cagewise.errors import InputError
from cagewise.quantities import PHASE_OPERATOR, ComplexArray, RealArray
from cagewise.simulation.plant.converter import FrequencyRamp, PulseWidth, VectorControl
from cagewise.simulation.plant.noise import coloured_noise
from cagewise.simulation.plant.soft_start import SoftStart

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
class SourceImpedance:
    """Series impedance per phase between the stiff source and the motor's terminals."""

    resistance_ohm: float = 0.0
    inductance_h: float = 0.0

    def __post_init__(self) -> None:
        if not (self.resistance_ohm >= 0.0 and self.inductance_h >= 0.0):
            raise InputError("source impedance must not be negative", where="supply")

    @classmethod
    def from_short_circuit(
        cls, *, power_va: float, line_voltage_rms_v: float, frequency_hz: float, x_over_r: float
    ) -> Self:
        """Return the impedance of a supply of this three-phase short-circuit power."""
        if not min(power_va, line_voltage_rms_v, frequency_hz, x_over_r) > 0.0:
            raise InputError(
                "short-circuit power, voltage, frequency and X/R must be positive", where="supply"
            )
        magnitude = line_voltage_rms_v**2 / power_va
        resistance = magnitude / math.hypot(1.0, x_over_r)
        return cls(
            resistance_ohm=resistance,
            inductance_h=resistance * x_over_r / (2.0 * math.pi * frequency_hz),
        )

    def __bool__(self) -> bool:
        return self.resistance_ohm > 0.0 or self.inductance_h > 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Supply:
    """A three-wire supply; random parts follow the seed of the run."""

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
    source: SourceImpedance = SourceImpedance()
    """Weak grid; what is recorded is then the voltage at the motor's terminals."""
    soft_start: SoftStart | None = None
    """Ramp of the voltage by thyristors."""
    ramp: FrequencyRamp | None = None
    """Start at a converter; the frequency stated above is then where the ramp ends."""
    pulse_width: PulseWidth | None = None
    """Open-loop converter: lines about its carrier beside the fundamental stated here."""
    control: VectorControl | None = None
    """Closed-loop converter; voltage and frequency stated here are then where the run begins."""

    def __post_init__(self) -> None:
        if not (self.line_voltage_rms_v > 0.0 and self.frequency_hz > 0.0):
            raise InputError("voltage and frequency must be positive", where="supply")
        if any(h.order % 3 == 0 or h.order < 2 for h in self.harmonics):
            raise InputError(
                "harmonics must have orders above 1 that are no multiples of three",
                where="supply",
                remedy="A three-wire machine cannot draw the others.",
            )
        devices = (self.soft_start, self.ramp, self.pulse_width, self.control)
        if sum(device is not None for device in devices) > 1:
            raise InputError(
                "a motor has one of soft starter, frequency ramp, open-loop and closed-loop "
                "converter",
                where="supply",
            )
        if self.control is not None and self.source:
            raise InputError(
                "a closed-loop converter forces the voltage at the motor",
                where="supply",
                remedy="Leave the source impedance out.",
            )
        if self.pulse_width is not None:
            self.pulse_width.lines(self.phase_voltage_peak_v)

    @property
    def phase_voltage_peak_v(self) -> float:
        """Peak phase-to-neutral voltage, positive sequence."""
        return self.line_voltage_rms_v * math.sqrt(2.0 / 3.0)

    @classmethod
    def from_line_voltages(
        cls, ab_rms_v: float, bc_rms_v: float, ca_rms_v: float, frequency_hz: float
    ) -> Self:
        """Return the supply with these three line voltages: a triangle fixes both sequences."""
        sides = (ab_rms_v, bc_rms_v, ca_rms_v)
        if not 0.0 < 2.0 * max(sides) < sum(sides):
            raise InputError(f"line voltages {sides} do not close a triangle", where="supply")
        cosine = (ab_rms_v**2 + bc_rms_v**2 - ca_rms_v**2) / (2.0 * ab_rms_v * bc_rms_v)
        ab = complex(ab_rms_v)
        bc = -bc_rms_v * cmath.exp(1j * math.acos(cosine))
        ca = -ab - bc
        a = PHASE_OPERATOR
        positive = (ab + a * bc + a**2 * ca) / 3.0
        negative = (ab + a**2 * bc + a * ca) / 3.0
        # phase a lags line voltage a-b by 30 degrees in the positive system, leads it in the other
        ratio = negative / positive * cmath.exp(1j * math.pi / 3.0)
        return cls(
            line_voltage_rms_v=abs(positive),
            frequency_hz=frequency_hz,
            unbalance=abs(ratio),
            unbalance_phase_rad=cmath.phase(ratio),
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
        turns = supply.frequency_hz * time_s
        if supply.ramp is not None:
            turns = supply.ramp.turns(time_s, supply.frequency_hz)
        phase = 2.0 * np.pi * turns + supply.initial_phase_rad
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
        phase = self.phase_rad(time_s)
        turn = np.exp(1j * phase)
        unit = turn.copy()
        if supply.unbalance:
            angle = np.exp(1j * supply.unbalance_phase_rad)
            unit += np.conj(supply.unbalance * angle * turn)
        for harmonic in supply.harmonics:
            wave = harmonic.ratio * np.exp(1j * harmonic.phase_rad) * turn**harmonic.order
            unit += wave if harmonic.order % 3 == 1 else np.conj(wave)
        if supply.soft_start is not None:
            unit = supply.soft_start.applied(unit, turn, time_s)
        voltage = self._level_v(time_s) * unit
        if supply.pulse_width is not None:
            voltage += supply.pulse_width.ripple_v(time_s, phase, supply.phase_voltage_peak_v)
        return np.asarray(voltage)

    def _level_v(self, time_s: RealArray) -> RealArray:
        """Return the amplitude with its modulations."""
        supply = self._supply
        level = np.full(time_s.shape, supply.phase_voltage_peak_v)
        if supply.ramp is not None:
            level *= supply.ramp.level(time_s, supply.frequency_hz)
        for modulation in supply.amplitude_modulation:
            level *= 1.0 + modulation.at(time_s)
        if supply.flicker_rms:
            level *= 1.0 + np.interp(time_s, self._grid_s, self._flicker)
        return level
