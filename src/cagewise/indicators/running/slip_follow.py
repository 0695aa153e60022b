"""Whether a line follows the torque that the motor is seen to take.

The slip of a motor follows its torque, and the torque is measured: ``s(t)/s = T(t)/T (V/V(t))^2``.
The phase of every line of this rotor therefore strays by ``b s psi(t)`` with::

    psi(t) = 2 pi f  int ( P/P_mean - V^2/V^2_mean ) dt

Lines that have nothing to do with this rotor do not (docs/theory/slip.md, section 4).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy import fft

from cagewise.conditioning.frame import OrderBand, SupplyFrame
from cagewise.indicators.running.slip_search import Support
from cagewise.indicators.running.slip_track import line_band, members
from cagewise.indicators.running.whitening import hann_power
from cagewise.quantities import ComplexArray, RealArray

OWN_GAINS = np.linspace(0.85, 1.30, 10)
"""Phase of a line of this rotor over ``b s psi``: torque bends away from a straight line with the
slip (up to 1.15 at rated load), and a part of the power that is no torque moves it the same way."""
OTHER_GAINS = np.array([-2.0, -1.0, -0.5, 0.25, 0.5, 0.7, 1.45, 1.7, 2.0, 3.0])
"""Gains with which a line strays that follows this torque but is not what it is read as."""
STRANGE_GAINS = np.array([-3.0, -2.5, -2.0, -1.5, -1.0, -0.5, 0.5, 1.0, 1.5, 2.0, 2.5, 3.0])
"""Gains that are tried with courses that this motor did not take."""
SHIFTS = 7
"""Courses that this motor did not take: its own shifted by eighths of the record, each also run
backwards."""
LARGEST_FOLLOW = 4.0
"""Most that following counts, nats: 55 to 1 (docs/theory/slip.md, section 6)."""
LARGEST_STRAYING = 3.0
"""Most that not following counts, nats: the course is that of a linear motor."""
LINE_CELLS = 3.0
"""Reach within which the line is searched after its phase is straightened, in cells."""
FOLLOWED_UP = 6
"""Phases, the best at frequencies half a cell apart, whose best frequency is searched."""
TONE_STEPS = 3
"""Newton steps to the maximum of a line: what is compared are thousandths of its energy."""
LEAST_GAIN_NATS = 4.0
"""Energy that the course must be able to move before it is asked whether a line follows it."""
COURSE_POINTS = 256
"""Points on which the course is followed; a power of two."""
RING_CELLS = (15, 120)
"""Cells either side from which the noise is taken."""
NOTCH = (0.7, 1.4)
"""Part of the course that is taken out, over twice the frequency of the slip: a damaged cage makes
torque of that frequency without moving the shaft as much."""


@dataclass(frozen=True, slots=True)
class Course:
    """Phase that a line of b = 1 strays by, over the slip."""

    time_s: RealArray
    phase_rad: RealArray
    """psi without its mean and straight trend, shape (n_slow,)."""


def torque_course(frame: SupplyFrame, slip: float) -> Course:
    """Return the course of the slip that the measured torque asks for.

    ``slip`` is about that of the motor: it says where the torque of a damaged cage is.
    """
    if frame.voltage is None:
        message = "the torque needs a voltage"
        raise ValueError(message)
    power = np.real(frame.voltage * np.conj(frame.current))
    square = np.abs(frame.voltage) ** 2
    deviation = power / np.mean(power) - square / np.mean(square)
    n, rate = deviation.size, frame.sampling_rate_hz
    spectrum = np.asarray(fft.rfft(deviation))
    frequency = np.arange(spectrum.size) * (rate / n)
    pole_pass = 2.0 * slip * frame.supply_frequency_hz
    spectrum[(frequency > NOTCH[0] * pole_pass) & (frequency < NOTCH[1] * pole_pass)] = 0.0
    cleaned = np.asarray(fft.irfft(spectrum, n))
    phase = 2.0 * np.pi * frame.supply_frequency_hz / rate * np.cumsum(cleaned)
    return Course(frame.time_s, _straightened(phase))


def _straightened(phase: RealArray) -> RealArray:
    """Return a phase less its mean and straight trend."""
    ramp = np.linspace(-1.0, 1.0, phase.size)
    return np.asarray(phase - phase.mean() - ramp * (ramp @ phase) / (ramp @ ramp))


def follow_nats(frame: SupplyFrame, course: Course, support: Support) -> float:
    """Return the log-likelihood ratio that the line of a support follows the torque; 0 is unknown.

    Energies are log-likelihoods (nats) of a tone in noise. A line that follows must gain more than
    one that stands still, more than with another gain, and more than with every course that this
    motor did not take.
    """
    own, standing, strange = np.sum(
        [_energies(frame, course, line) for line in members(support)], axis=0
    )
    if own > max(standing, strange):
        return float(min(own - max(standing, strange), LARGEST_FOLLOW))
    return float(max(min(own - standing, 0.0), -LARGEST_STRAYING))


def _energies(frame: SupplyFrame, course: Course, line: Support) -> tuple[float, float, float]:
    """Return the energy of one line with the course, standing, and with courses never taken.

    All three are 0 where the course is too straight to make a difference.
    """
    band = line_band(frame, line)
    n, rate = band.samples.size, band.sampling_rate_hz
    at = band.time_s[0] + np.arange(COURSE_POINTS) * (n / rate / COURSE_POINTS)
    phase = _straightened(np.interp(at, course.time_s, course.phase_rad)) * line.slope * line.slip
    if line.line_nats * float(np.var(phase)) < LEAST_GAIN_NATS:
        return 0.0, 0.0, 0.0
    own = np.outer(OWN_GAINS, phase)
    standing = np.zeros((1, COURSE_POINTS))
    strange = [np.outer(OTHER_GAINS, phase)]
    strange += [np.outer(STRANGE_GAINS, other) for other in _never_taken(phase)]
    samples, scale = _narrowed(band.samples), n / COURSE_POINTS**2 / _noise(band)
    most = [scale * _most_energy(samples, phases) for phases in (own, standing, np.vstack(strange))]
    return most[0], most[1], most[2]


def _never_taken(phase: RealArray) -> list[RealArray]:
    """Return the course shifted in time, and each of these and itself run backwards."""
    shifts = COURSE_POINTS // (SHIFTS + 1) * np.arange(1, SHIFTS + 1)
    shifted = [_straightened(np.roll(phase, int(shift))) for shift in shifts]
    return [*shifted, *(course[::-1] for course in (phase, *shifted))]


def _noise(band: OrderBand) -> float:
    """Return the mean power of a cell beside the line."""
    power = hann_power(band.samples)
    n = band.samples.size
    distance = np.abs(np.arange(n) - n // 2)
    ring = (distance > RING_CELLS[0]) & (distance < RING_CELLS[1])
    return float(np.median(power[ring])) / math.log(2.0)


def _narrowed(samples: ComplexArray) -> ComplexArray:
    """Return a band on :data:`COURSE_POINTS` points, what lies outside of them cut off."""
    spectrum = np.asarray(fft.fft(samples))
    half = min(COURSE_POINTS, samples.size) // 2
    kept = np.zeros(COURSE_POINTS, dtype=np.complex128)
    kept[:half], kept[-half:] = spectrum[:half], spectrum[-half:]
    return np.asarray(fft.ifft(kept)) * (COURSE_POINTS / samples.size)


def _most_energy(samples: ComplexArray, phase: RealArray) -> float:
    """Return the squared sum of the samples less the best phase, at the best frequency.

    Half a cell between frequencies costs a few per cent of the energy at most, so only the few best
    phases are followed to their best frequency.
    """
    position = (np.arange(COURSE_POINTS) + 0.5) / COURSE_POINTS
    window = math.sqrt(2.0) * np.sin(np.pi * position)
    turned = samples * window * np.exp(-1j * phase)
    cells = np.arange(-LINE_CELLS, LINE_CELLS + 0.5, 0.5)
    centred = 2.0 * np.pi * (position - 0.5)
    tones = np.exp(-1j * np.outer(centred, cells))
    sums = np.abs(turned @ tones)
    best = np.argsort(sums.max(axis=1))[-FOLLOWED_UP:]
    cell, turned = cells[np.argmax(sums[best], axis=1)], turned[best]
    moments = np.column_stack([np.ones(COURSE_POINTS), centred, centred**2])
    for _ in range(TONE_STEPS):
        zeroth, first, second = (turned * np.exp(-1j * np.outer(cell, centred)) @ moments).T
        slope = 2.0 * (np.conj(zeroth) * first).imag
        bend = 2.0 * (np.abs(first) ** 2 - (np.conj(zeroth) * second).real)
        step = np.where(bend < 0.0, slope / np.where(bend < 0.0, bend, 1.0), 0.0)
        cell = cell - np.clip(step, -0.5, 0.5)
    return float(np.max(np.abs(zeroth) ** 2))
