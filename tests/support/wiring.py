"""Recordings of a motor in closed form, and every way of clamping and naming them wrongly."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from cagewise.machine.circuit import EquivalentCircuit
from cagewise.machine.nameplate import Nameplate
from cagewise.measurement import (
    CURRENT_ROLES,
    LINE_VOLTAGE_ROLES,
    PHASE_VOLTAGE_ROLES,
    Channel,
    Provenance,
    Recording,
    Role,
)
from cagewise.quantities import ComplexArray, RealArray


@dataclass(frozen=True, kw_only=True)
class Wired:
    """A motor on a supply: positive and negative sequence from its circuit, and disturbances."""

    circuit: EquivalentCircuit
    nameplate: Nameplate
    load: float = 1.0
    """Slip over rated slip."""
    frequency_hz: float = 50.0
    sampling_rate_hz: float = 2000.0
    duration_s: float = 1.0
    line_voltages: bool = True
    sequence: int = 1
    voltage_unbalance: complex = 0.0
    """Negative over positive sequence of the supply."""
    harmonics: float = 0.0
    """Fifth harmonic of the current, per unit."""
    direct_offset: float = 0.0
    """Direct component of every channel, per unit of its peak."""
    zero_sequence: float = 0.0
    """Third harmonic and fundamental zero sequence of phase voltages, per unit."""
    noise: float = 1e-3
    voltage_factor: float = 1.0
    current_factor: float = 1.0

    def phasors(self) -> tuple[complex, complex, complex, complex]:
        """Return V1, V2, I1, I2 as peak phasors of phase a."""
        w = 2.0 * np.pi * self.frequency_hz
        slip = self.nameplate.rated_slip * self.load
        flux = self.frequency_hz / self.nameplate.rated_frequency_hz
        one = self.nameplate.rated_phase_voltage_peak_v * flux
        two = one * self.voltage_unbalance
        forward = complex(self.circuit.at(slip, w).voltage_response(0.0))
        backward = complex(self.circuit.at(2.0 - slip, w).voltage_response(0.0))
        return one, two, one * forward, two * backward

    def recording(self) -> Recording:
        """Return i_a, i_b, i_c and three line or phase voltages, rightly named."""
        time_s = np.arange(round(self.duration_s * self.sampling_rate_hz)) / self.sampling_rate_hz
        v1, v2, i1, i2 = self.phasors()
        rng = np.random.default_rng(7)
        turn = np.exp(2j * np.pi * self.frequency_hz * time_s)
        currents = [self._phase(i1, i2, k, turn) for k in range(3)]
        voltages = [self._phase(v1, v2, k, turn) for k in range(3)]
        fifth = self.harmonics * abs(i1)
        channels = []
        for k, role in enumerate(CURRENT_ROLES):
            shift = -self.sequence * 2.0 * np.pi * k / 3.0
            fifths = fifth * np.cos(5.0 * np.angle(turn) - shift)
            samples = self.current_factor * (currents[k] + fifths)
            channels.append(self._channel(f"I{k + 1}", role, samples, rng))
        common = self.zero_sequence * abs(v1) * (turn.real + (turn**3).real)
        for k in range(3):
            if self.line_voltages:
                samples, role = voltages[k] - voltages[(k + 1) % 3], LINE_VOLTAGE_ROLES[k]
            else:
                samples, role = voltages[k] + common, PHASE_VOLTAGE_ROLES[k]
            channels.append(self._channel(f"U{k + 1}", role, self.voltage_factor * samples, rng))
        return Recording(
            channels=tuple(channels),
            sampling_rate_hz=self.sampling_rate_hz,
            provenance=Provenance(source="wired.csv", format_name="closed form"),
        )

    def _phase(self, one: complex, two: complex, k: int, turn: ComplexArray) -> RealArray:
        """Return phase k of a positive and a negative sequence."""
        shift = np.exp(-2j * np.pi / 3.0 * k * self.sequence)
        return np.asarray(np.real(one * turn * shift + two * turn * np.conj(shift)))

    def _channel(
        self, name: str, role: Role, samples: RealArray, rng: np.random.Generator
    ) -> Channel:
        """Return a channel with offset and noise."""
        peak = float(np.abs(samples).max())
        samples = samples + peak * self.direct_offset
        samples = samples + peak * self.noise * rng.standard_normal(samples.size)
        return Channel(name=name, raw=samples, role=role, unit="A" if name[0] == "I" else "V")


def rewired(
    recording: Recording, letter: str, order: tuple[int, ...], signs: tuple[int, ...]
) -> Recording:
    """Return the recording with the channels named ``letter``* fed from others, some reversed.

    Channel k keeps its name and role but holds ``signs[k]`` times what channel ``order[k]`` held.
    """
    rows = [k for k, c in enumerate(recording.channels) if c.name.startswith(letter)]
    channels = list(recording.channels)
    for k, row in enumerate(rows):
        source = recording.channels[rows[order[k]]]
        channels[row] = replace(
            recording.channels[row], raw=source.raw, scale=signs[k] * source.scale
        )
    return replace(recording, channels=tuple(channels))


def only(recording: Recording, *names: str) -> Recording:
    """Return the recording with the named channels only."""
    kept = tuple(c for c in recording.channels if c.name in names)
    return replace(recording, channels=kept)
