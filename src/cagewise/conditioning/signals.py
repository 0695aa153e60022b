"""Stator current and voltage as space vectors, and their spectra: computed once, shared by all."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from scipy import fft

from cagewise.measurement import (
    CURRENT_ROLES,
    LINE_VOLTAGE_ROLES,
    PHASE_VOLTAGE_ROLES,
    Recording,
    Role,
)
from cagewise.quantities import ComplexArray, RealArray, space_vector

TRANSITION = 0.25
"""Transition band of a band filter over its half width."""
SETTLING_PERIODS = 2.0
"""Periods of the transition width after which the ends of the record have died away."""
SENSE_RATE_HZ = 2000.0
"""Rate of the block means on which the turning sense is judged."""
SENSE_SAMPLES = 16_384
"""Block means that are used for it (8 s)."""
SENSE_MARGIN = 1.1
"""The backward line must be stronger than the forward one by this power ratio."""

_MIRROR = {
    Role.CURRENT_B: Role.CURRENT_C,
    Role.CURRENT_C: Role.CURRENT_B,
    Role.VOLTAGE_B: Role.VOLTAGE_C,
    Role.VOLTAGE_C: Role.VOLTAGE_B,
    Role.VOLTAGE_AB: Role.VOLTAGE_CA,
    Role.VOLTAGE_CA: Role.VOLTAGE_AB,
}


@dataclass(frozen=True)
class Band:
    """A narrow band of a signal moved to zero frequency, on a slow time grid.

    ``signal(t) = Re or complex part of  samples(t) exp(j 2 pi centre_hz t)``.
    """

    samples: ComplexArray
    """Complex baseband, shape (n_slow,)."""
    centre_hz: float
    """Frequency that was moved to zero (a bin of the long transform, so it is exact)."""
    sampling_rate_hz: float
    """Rate of :attr:`samples`."""


@dataclass(frozen=True)
class StatorSignals:
    """Space vectors of one steady stretch and their two-sided spectra.

    With a single current (or a single line voltage) the analytic signal stands in for the space
    vector: the positive-sequence fundamental and its side lines read the same, but negative
    frequencies (negative sequence, 5th harmonic) fold onto the positive ones.
    """

    current: ComplexArray
    """Peak-valued current space vector in A, shape (n_samples,)."""
    voltage: ComplexArray | None
    """Peak-valued phase-to-neutral voltage space vector in V, or None."""
    sampling_rate_hz: float
    currents_measured: int
    """1, 2 (the third follows in a three-wire connection) or 3."""
    voltages_measured: int
    """0, 1 line voltage, 2 or 3."""
    sequence: int = 1
    """+1 when the phases follow each other as a-b-c; -1 for a-c-b, where phases b and c have been
    renamed into each other, so that the vectors turn forwards here too; 0 when it cannot be told
    and a-b-c is assumed (no two currents and no two voltages)."""

    @classmethod
    def from_recording(cls, recording: Recording) -> StatorSignals:
        """Build the space vectors from the proven roles; length cut to a fast transform length."""
        n = fft.prev_fast_len(recording.n_samples)
        section = recording.section(0, n)
        current, n_currents = _current_vector(section)
        voltage, n_voltages = _voltage_vector(section)
        sequence = 0
        if voltage is not None and n_voltages >= 2:
            sequence = turning_sense(voltage, recording.sampling_rate_hz)
        elif n_currents >= 2:
            sequence = turning_sense(current, recording.sampling_rate_hz)
        if sequence < 0:
            renamed = mirrored(section)
            current, _ = _current_vector(renamed)
            voltage, _ = _voltage_vector(renamed)
        return cls(current, voltage, recording.sampling_rate_hz, n_currents, n_voltages, sequence)

    @property
    def n_samples(self) -> int:
        """Number of samples."""
        return int(self.current.size)

    @property
    def duration_s(self) -> float:
        """Length of the stretch."""
        return self.n_samples / self.sampling_rate_hz

    @property
    def three_phase(self) -> bool:
        """Whether the current is a true space vector (two or three currents)."""
        return self.currents_measured >= 2

    @cached_property
    def current_spectrum(self) -> ComplexArray:
        """Two-sided transform of :attr:`current` divided by n: peak phasors, in FFT order."""
        return self._spectrum(self.current)

    @cached_property
    def voltage_spectrum(self) -> ComplexArray | None:
        """Two-sided transform of :attr:`voltage` divided by n, or None."""
        if self.voltage is None:
            return None
        return self._spectrum(self.voltage)

    def _spectrum(self, vector: ComplexArray) -> ComplexArray:
        """Return the two-sided transform divided by n."""
        return np.asarray(fft.fft(vector, norm="forward"))

    def band(
        self, spectrum: ComplexArray, centre_hz: float, half_width_hz: float, rate_hz: float
    ) -> Band:
        """Return the band ``centre_hz +- half_width_hz`` of a spectrum as a slow baseband signal.

        The rate is at least ``rate_hz``, and high enough for the band. The transition band is a
        raised cosine of a quarter of the half width, outside the pass band. Edges of the record
        ring for a few periods of the transition width: see :func:`settling_samples`.
        """
        least_hz = max(rate_hz, 2.0 * (1.0 + TRANSITION) * half_width_hz)
        n_slow = int(fft.next_fast_len(math.ceil(least_hz * self.duration_s)))
        resolution_hz = self.sampling_rate_hz / self.n_samples
        centre_bin = round(centre_hz / resolution_hz)
        offsets = np.asarray(fft.fftfreq(n_slow, 1.0 / n_slow)).astype(np.intp)
        weight = _raised_cosine(
            np.float64(resolution_hz) * offsets.astype(np.float64), half_width_hz
        )
        used = np.flatnonzero(weight)
        bins = np.zeros(n_slow, dtype=np.complex128)
        bins[used] = spectrum[(centre_bin + offsets[used]) % self.n_samples] * weight[used]
        return Band(
            samples=np.asarray(fft.ifft(bins)) * n_slow,
            centre_hz=centre_bin * resolution_hz,
            sampling_rate_hz=n_slow / self.duration_s,
        )


def settling_samples(half_width_hz: float, rate_hz: float) -> int:
    """Return how many slow samples at either end are disturbed by the ends of the record."""
    return math.ceil(SETTLING_PERIODS / (TRANSITION * half_width_hz) * rate_hz)


def turning_sense(vector: ComplexArray, rate_hz: float) -> int:
    """Return +1 when the strongest line of a space vector turns forwards, -1 for backwards.

    Judged on block means of the middle of the record, so that the carrier of a converter, which
    turns either way, has no say. A vector on a straight line (one phase lost) counts as forwards.
    """
    thinning = max(1, math.floor(rate_hz / SENSE_RATE_HZ))
    n = min(vector.size // thinning, SENSE_SAMPLES)
    start = (vector.size - n * thinning) // 2
    coarse = vector[start : start + n * thinning].reshape(n, thinning).mean(axis=1)
    power = np.abs(np.asarray(fft.fft((coarse - coarse.mean()) * np.hanning(n)))) ** 2
    half = n // 2
    forwards, backwards = power[1:half].max(initial=0.0), power[half + 1 :].max(initial=0.0)
    return -1 if backwards > forwards * SENSE_MARGIN else 1


def mirrored(recording: Recording) -> Recording:
    """Return the recording with phases b and c renamed into each other.

    A line voltage v_ab then is v_ac, which is -v_ca.
    """
    channels = tuple(
        replace(
            channel,
            role=_MIRROR.get(channel.role, channel.role),
            scale=-channel.scale if channel.role in LINE_VOLTAGE_ROLES else channel.scale,
            offset=-channel.offset if channel.role in LINE_VOLTAGE_ROLES else channel.offset,
        )
        for channel in recording.channels
    )
    return replace(recording, channels=channels)


def _raised_cosine(offset_hz: RealArray, half_width_hz: float) -> RealArray:
    """Return 1 inside the half width, falling to 0 over a quarter of it."""
    position = (np.abs(offset_hz) - half_width_hz) / (TRANSITION * half_width_hz)
    return np.asarray(0.5 * (1.0 + np.cos(np.pi * np.clip(position, 0.0, 1.0))))


def _analytic(samples: RealArray) -> ComplexArray:
    """Return the analytic signal (negative frequencies removed), mean removed."""
    spectrum = np.asarray(fft.fft(samples))
    n = samples.size
    spectrum[0] = 0.0
    spectrum[1 : (n + 1) // 2] *= 2.0
    spectrum[n // 2 + 1 :] = 0.0
    return np.asarray(fft.ifft(spectrum))


def _current_vector(recording: Recording) -> tuple[ComplexArray, int]:
    """Return the current space vector and how many currents it was made of."""
    channels = {role: recording.find(role) for role in CURRENT_ROLES}
    given = {role: channel.samples for role, channel in channels.items() if channel is not None}
    if not given:
        message = "a recording without a current channel cannot be examined"
        raise ValueError(message)
    if len(given) == 1:
        role, samples = next(iter(given.items()))
        turn = np.exp(2j * np.pi / 3.0 * CURRENT_ROLES.index(role))
        return _analytic(samples) * turn, 1
    if len(given) == 2:
        missing = next(role for role in CURRENT_ROLES if role not in given)
        first, second = given.values()
        given[missing] = -(first + second)
        return space_vector(*(given[role] for role in CURRENT_ROLES)), 2
    return space_vector(*(given[role] for role in CURRENT_ROLES)), 3


def _voltage_vector(recording: Recording) -> tuple[ComplexArray | None, int]:
    """Return the phase-to-neutral voltage space vector and how many voltages it was made of."""
    phase = {r: c.samples for r in PHASE_VOLTAGE_ROLES if (c := recording.find(r)) is not None}
    if len(phase) == 3:
        return space_vector(*(phase[role] for role in PHASE_VOLTAGE_ROLES)), 3
    line = {r: c.samples for r in LINE_VOLTAGE_ROLES if (c := recording.find(r)) is not None}
    if len(line) >= 2:
        return _vector_of_line_voltages(line), len(line)
    if len(line) == 1:
        role, samples = next(iter(line.items()))
        turn = np.exp(1j * (2.0 * np.pi / 3.0 * LINE_VOLTAGE_ROLES.index(role) - np.pi / 6.0))
        return _analytic(samples) * turn / math.sqrt(3.0), 1
    return None, 0


def _vector_of_line_voltages(line: dict[Role, RealArray]) -> ComplexArray:
    """Return the phase-to-neutral space vector; the line voltages sum to zero by definition."""
    if len(line) == 2:
        missing = next(role for role in LINE_VOLTAGE_ROLES if role not in line)
        first, second = line.values()
        line = {**line, missing: -(first + second)}
    vector = space_vector(*(line[role] for role in LINE_VOLTAGE_ROLES))
    vector *= np.exp(-1j * np.pi / 6.0) / math.sqrt(3.0)
    return vector
