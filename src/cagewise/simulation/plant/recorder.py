"""What a recorder does to a signal: anti-alias filter, sampling with jitter, faulty transfer.

All of it works on the samples of a course by band-limited interpolation: a sinc under a Kaiser
window, good to -80 dB up to 0.37 of the course's rate (``docs/theory/simulation-supply.md``).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Self

import numpy as np
from numpy.typing import NDArray

from cagewise.errors import InputError
from cagewise.quantities import RealArray

GUARD_SAMPLES = 32
"""Samples simulated on either side of the record, so that phase errors need no invented ends."""

_HALF_WIDTH = 12
"""Half the length of the windowed sinc."""

_KAISER_SHAPE = 8.0
"""Kaiser window of it: error below -80 dB up to 0.37 of the sampling rate."""

_LARGEST_TAIL = 1e-4
"""Largest part of the anti-alias filter's response that may lie before the guard (-80 dB)."""

_NODES = 12
"""Gauss nodes per sample in the integral of the filter: exact to rounding for such smooth parts."""

_LARGEST_JITTER = 0.2
"""Largest rms jitter in samples of the course: five standard deviations are then one sample."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sampling:
    """What a recorder does between a sensor and the file; the defaults are ideal."""

    oversampling: int = 1
    """Samples of the course per recorded sample: what lies between is seen by the anti-alias
    filter and by nothing else."""
    anti_alias_hz: float | None = None
    """Corner (-3 dB per pole) of the recorder's analogue low-pass filter."""
    anti_alias_poles: int = 2
    """Equal real poles of that filter."""
    jitter_rms_s: float = 0.0
    """Random error of the sampling instants, common to all channels."""
    lost_samples: int = 0
    """Samples missing from the file, at random places; the others close up."""
    repeated_samples: int = 0
    """Samples replaced by the one before, at random places."""

    def __post_init__(self) -> None:
        if min(self.oversampling, self.anti_alias_poles) < 1:
            raise InputError("oversampling and filter poles must be at least 1", where="sensors")
        if min(self.jitter_rms_s, self.lost_samples, self.repeated_samples) < 0:
            raise InputError("jitter and faulty samples must not be negative", where="sensors")


class Recorder:
    """Filter and sampling of one recording; the same instants and faults in every channel."""

    def __init__(
        self, kernel: RealArray, stride: int, shifts: RealArray, kept: NDArray[np.int64]
    ) -> None:
        self._kernel, self._stride, self._shifts, self._kept = kernel, stride, shifts, kept

    @classmethod
    def of(
        cls, sampling: Sampling, n_course: int, rate_hz: float, rng: np.random.Generator
    ) -> Self:
        """Return the recorder for a course of ``n_course`` samples at ``rate_hz``, with guards."""
        n = -(-(n_course - 2 * GUARD_SAMPLES) // sampling.oversampling)
        kernel = np.ones(1)
        if sampling.anti_alias_hz is not None:
            corner = 2.0 * math.pi * sampling.anti_alias_hz / rate_hz
            kernel = filter_kernel(corner, sampling.anti_alias_poles)
        shifts = np.zeros(0)
        if sampling.jitter_rms_s:
            rms = sampling.jitter_rms_s * rate_hz
            if not rms <= _LARGEST_JITTER:
                raise InputError(
                    f"a jitter of {rms:.2f} samples rms is more than the model of the recorder "
                    f"can take ({_LARGEST_JITTER})",
                    where="sensors",
                )
            shifts = rms * rng.standard_normal(n)
        return cls(kernel, sampling.oversampling, shifts, _kept(sampling, n, rng))

    def taken(self, values: RealArray) -> RealArray:
        """Return the samples of one channel, without the guards."""
        if self._kernel.size > 1:
            values = np.convolve(values, self._kernel)[_HALF_WIDTH : _HALF_WIDTH + values.size]
        places = np.arange(GUARD_SAMPLES, values.size - GUARD_SAMPLES, self._stride)
        if not self._shifts.size:
            return np.asarray(values[places])
        return _between(values, places, self._shifts)

    def kept(self, values: RealArray) -> RealArray:
        """Return the samples that reach the file."""
        return np.asarray(values[self._kept])


def _kept(sampling: Sampling, n: int, rng: np.random.Generator) -> NDArray[np.int64]:
    """Return which sample stands at each place of the file."""
    index = np.arange(n)
    faults = sampling.lost_samples + sampling.repeated_samples
    if not faults:
        return index
    if faults > n // 2:
        raise InputError(
            f"{faults} of {n} samples lost or repeated leave no recording", where="sensors"
        )
    places = 1 + rng.choice(n - 1, size=faults, replace=False)
    repeated = places[: sampling.repeated_samples]
    index[repeated] = repeated - 1
    return np.delete(index, places[sampling.repeated_samples :])


def _sinc(offset: RealArray) -> RealArray:
    """Return the windowed sinc."""
    inside = np.clip(1.0 - (offset / _HALF_WIDTH) ** 2, 0.0, None)
    window = np.i0(_KAISER_SHAPE * np.sqrt(inside)) * (np.abs(offset) <= _HALF_WIDTH)
    return np.asarray(np.sinc(offset) * window / np.i0(_KAISER_SHAPE))


def advanced(values: RealArray, shift: float) -> RealArray:
    """Return ``values`` advanced by ``shift`` samples, valid inside the guards."""
    if shift == 0.0:
        return values
    whole = math.floor(shift)
    taps = np.arange(-_HALF_WIDTH + 1, _HALF_WIDTH + 1)
    offset = taps - (shift - whole)
    inside = np.clip(1.0 - (offset / _HALF_WIDTH) ** 2, 0.0, None)
    weights = np.sinc(offset) * np.i0(_KAISER_SHAPE * np.sqrt(inside))
    weights /= weights.sum()
    if abs(whole) + _HALF_WIDTH > GUARD_SAMPLES:
        raise InputError(
            f"a phase error of {shift:.0f} samples is more than the model of the sensor can take",
            where="sensors",
        )
    result = np.zeros_like(values)
    for tap, weight in zip(taps, weights, strict=True):
        result += weight * np.roll(values, -(whole + int(tap)))
    return result


def _between(values: RealArray, places: NDArray[np.int64], shifts: RealArray) -> RealArray:
    """Return values at ``places + shifts``."""
    whole = np.floor(shifts).astype(np.int64)
    part = shifts - whole
    total, weight_sum = np.zeros(places.size), np.zeros(places.size)
    for tap in range(-_HALF_WIDTH + 1, _HALF_WIDTH + 1):
        weight = _sinc(tap - part)
        total += weight * values[places + whole + tap]
        weight_sum += weight
    return np.asarray(total / weight_sum)


def filter_kernel(corner_rad: float, poles: int) -> RealArray:
    """Return what ``poles`` equal real poles do to samples, shape (HALF_WIDTH + GUARD + 1,).

    The impulse response ``w^n t^(n-1) exp(-w t) / (n-1)!`` acts on the band-limited signal between
    the samples, so that gain and phase are those of the analogue filter, not of a digital one.

    Parameters
    ----------
    corner_rad
        Corner of every pole in radians per sample of the course.
    poles
        Their number, n.
    """
    from scipy.special import gammaincc

    if not float(gammaincc(poles, corner_rad * GUARD_SAMPLES)) <= _LARGEST_TAIL:
        raise InputError(
            f"an anti-alias filter at {corner_rad / (2.0 * math.pi):.3f} of the course's rate "
            "remembers more than the guard holds",
            where="sensors",
            remedy="Raise anti_alias_hz, or lower the oversampling or the number of poles.",
        )
    nodes, shares = np.polynomial.legendre.leggauss(_NODES)
    inside = 0.5 * (1.0 + nodes)
    times = (np.arange(GUARD_SAMPLES + _HALF_WIDTH)[:, None] + inside).ravel()
    weights = np.tile(0.5 * shares, GUARD_SAMPLES + _HALF_WIDTH)
    response = corner_rad * (corner_rad * times) ** (poles - 1) * np.exp(-corner_rad * times)
    response /= math.factorial(poles - 1)
    taps = np.arange(-_HALF_WIDTH, GUARD_SAMPLES + 1)
    kernel = _sinc(taps[:, None] - times) @ (weights * response)
    return np.asarray(kernel / kernel.sum())
