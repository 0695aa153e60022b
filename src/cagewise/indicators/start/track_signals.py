"""Current and voltage of one start as space vectors and as slow envelopes."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from cagewise.conditioning.signals import StatorSignals
from cagewise.conditioning.starts import MotorStart
from cagewise.measurement import CURRENT_ROLES, Recording
from cagewise.quantities import ComplexArray, NotKnown, RealArray

WORKING_RATE_HZ = 2000.0
"""Block means are taken down to this rate: everything of interest lies between -f and f."""
ENVELOPE_CYCLES = 3.0
"""Length of the Hann window of the envelopes: its second zeros take offset and negative sequence
out, and it follows a start of fifteen cycles."""
STEPS_PER_CYCLE = 4
"""Points of the slow grid per supply cycle."""
TAIL_PART = 0.5
"""Length of the running part that is used, over the length of the start."""
LEAST_TAIL_CYCLES = 4.0
"""Least length of the running part that is used, supply cycles."""
MOST_TAIL_CYCLES = 50.0
"""Most of it: load and supply are those of the start."""

LEAST_RUNNING_S = 1.0
"""Least length of running current from which the frequency is taken where no voltage is measured:
the mains are nearer to their rated frequency than the phase of less current tells."""
MOST_RUNNING_S = 5.0
"""Most of it."""


@dataclass(frozen=True, kw_only=True)
class StartSignals:
    """One start; time counts from switching on. Space vectors are peak-valued.

    With a single current the vector holds the wave twice, at its frequency and at minus that.
    """

    current: ComplexArray
    """Stator current in A, shape (n_samples,)."""
    sampling_rate_hz: float
    """Rate of :attr:`current`."""
    frequency_hz: float
    """Supply frequency, measured, or rated where it could not be."""
    settled_s: float
    """End of the start."""
    step_s: float
    """Step of the slow grid."""
    current_envelope: ComplexArray
    """Fundamental in the frame exp(j w t), A, shape (n_slow,)."""
    voltage_envelope: ComplexArray | None
    """The same of the phase-to-neutral voltage, V; None without voltages."""
    currents_measured: int

    @property
    def angular_frequency(self) -> float:
        """Angular supply frequency w in rad/s."""
        return 2.0 * math.pi * self.frequency_hz

    @property
    def time_s(self) -> RealArray:
        """Times of :attr:`current`."""
        return np.arange(self.current.size) / self.sampling_rate_hz

    @property
    def slow_time_s(self) -> RealArray:
        """Times of the envelopes."""
        return np.asarray(self.step_s * np.arange(self.current_envelope.size))

    @property
    def first_running(self) -> int:
        """First point of the slow grid that belongs to the running part."""
        return min(round(self.settled_s / self.step_s), self.current_envelope.size - 1)


def start_signals(
    recording: Recording, start: MotorStart, rated_frequency_hz: float
) -> StartSignals | NotKnown:
    """Return the start's signals, or why they cannot be had."""
    if start.settled is None:
        return NotKnown("the record ends before the motor reached its speed")
    rate = recording.sampling_rate_hz
    running = start.stop - start.settled
    cycle = rate / rated_frequency_hz
    if running < LEAST_TAIL_CYCLES * cycle:
        return NotKnown("the record ends too soon after the start to know the running point")
    tail = max(TAIL_PART * (start.settled - start.switched_on), 2.0 * LEAST_TAIL_CYCLES * cycle)
    last = start.settled + round(min(tail, MOST_TAIL_CYCLES * cycle, running))
    signals = StatorSignals.from_recording(recording.section(start.switched_on, last))
    factor = max(1, math.floor(rate / WORKING_RATE_HZ))
    current = _thinned(_current(signals, recording), factor)
    voltage = None if signals.voltage is None else _thinned(signals.voltage, factor)
    slow_rate = rate / factor
    settled_s = (start.settled - start.switched_on) / rate
    frequency = (
        _running_frequency_hz(recording, start, rated_frequency_hz)
        if voltage is None
        else _frequency_hz(voltage, slow_rate, rated_frequency_hz)
    )
    stride = max(1, round(slow_rate / rated_frequency_hz / STEPS_PER_CYCLE))
    return StartSignals(
        current=current,
        sampling_rate_hz=slow_rate,
        frequency_hz=frequency,
        settled_s=settled_s,
        step_s=stride / slow_rate,
        current_envelope=_held(envelope(current, frequency, slow_rate)[::stride]),
        voltage_envelope=(
            None if voltage is None else _held(envelope(voltage, frequency, slow_rate)[::stride])
        ),
        currents_measured=signals.currents_measured,
    )


def envelope(vector: ComplexArray, frequency_hz: float, rate_hz: float) -> ComplexArray:
    """Return the fundamental of a vector in the frame exp(j w t), shape of ``vector``."""
    n = max(3, round(ENVELOPE_CYCLES * rate_hz / frequency_hz))
    window = np.hanning(n + 2)[1:-1]
    turned = vector * np.exp(-2j * np.pi * frequency_hz / rate_hz * np.arange(vector.size))
    weight = np.convolve(np.ones(vector.size), window, "same")
    return np.asarray(np.convolve(turned, window, "same") / weight)


def _held(slow: ComplexArray) -> ComplexArray:
    """Return an envelope whose first half window, which held offsets, has its first whole value."""
    whole = math.ceil(0.5 * ENVELOPE_CYCLES * STEPS_PER_CYCLE)
    slow[:whole] = slow[min(whole, slow.size - 1)]
    return slow


def _thinned(vector: ComplexArray, factor: int) -> ComplexArray:
    """Return block means."""
    n = vector.size // factor
    return np.asarray(vector[: n * factor].reshape(n, factor).mean(axis=1))


def _current(signals: StatorSignals, recording: Recording) -> ComplexArray:
    """Return the current vector; of a single current twice the current itself.

    The analytic signal of a record that begins with a jump rings; the current itself does not.
    """
    if signals.three_phase:
        return signals.current
    at = next(k for k, role in enumerate(CURRENT_ROLES) if recording.find(role) is not None)
    turn = np.exp(2j * np.pi / 3.0 * at)
    return np.asarray(2.0 * (signals.current * np.conj(turn)).real * turn)


def _running_frequency_hz(recording: Recording, start: MotorStart, rated_hz: float) -> float:
    """Return the frequency of the running current, the rated one where it ran too short a time.

    Until the speed stands the phase of the current moves, by half a radian in a short time.
    """
    settled = start.switched_on if start.settled is None else start.settled
    rate = recording.sampling_rate_hz
    stop = min(start.stop, settled + round(MOST_RUNNING_S * rate))
    later = (settled + stop) // 2
    if (stop - later) / rate < LEAST_RUNNING_S:
        return rated_hz
    signals = StatorSignals.from_recording(recording.section(later, stop))
    factor = max(1, math.floor(rate / WORKING_RATE_HZ))
    return _frequency_hz(_thinned(signals.current, factor), rate / factor, rated_hz)


def _frequency_hz(vector: ComplexArray, rate_hz: float, rated_hz: float) -> float:
    """Return the slope of the phase of a vector."""
    edge = round(ENVELOPE_CYCLES / 2.0 * rate_hz / rated_hz)
    frequency = rated_hz
    for _ in range(2):
        slow = envelope(vector, frequency, rate_hz)[edge : vector.size - edge]
        phase = np.unwrap(np.angle(slow))
        slope = np.polyfit(np.arange(phase.size) / rate_hz, phase, 1)[0]
        frequency += float(slope) / (2.0 * math.pi)
    return frequency
