"""Two ringing waveforms laid over each other: how much of one is not in the other.

Each waveform is what the winding answers to the same steep front. The comparison does not depend
on the scale of either, nor on small shifts of the trigger; it is derived in
``docs/theory/turn-test.md``.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from cagewise.quantities import NORMAL_COVERAGE_FACTOR, Estimate, NotKnown, RealArray

_STENCIL = np.array([1.0, -4.0, 6.0, -4.0, 1.0])
"""Fourth difference: it removes any smooth waveform and keeps white noise."""
_MEDIAN_TO_SIGMA = 1.4826022185056018
"""Standard deviation over median modulus of a normal variable (1 / quantile at 0.75)."""
_MEAN_MODULUS = math.sqrt(2.0 / math.pi)
"""Mean modulus over standard deviation of a normal variable."""
_FLOOR_SPREAD = 2.1
"""Relative standard deviation of a noise floor times the root of the number of samples: 1.9 of the
median modulus of fourth differences, which are correlated, and 0.8 of the area itself."""
CROSSING_MARGIN = 6.0
"""Standard deviations of noise that an extremum of the ringing must exceed to be counted: beyond
it noise alone does not make crossings."""
ITERATIONS = 60
"""Steps of the damped-sine fit before it is given up; it usually takes fewer than ten."""
CONVERGED = 1e-10
"""Relative step of frequency and decay below which the fit has come to rest."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """Two waveforms compared after laying one over the other."""

    area: Estimate
    """Area of the difference over that of the reference, with what noise can do to it (1)."""
    noise_floor: float
    """Area that the noise of both alone would leave (1)."""
    scale: float
    """Factor that laid the other waveform over the reference."""
    shift_s: float
    """Delay of the other waveform that was taken out."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ringing:
    """The damped sine of a waveform."""

    frequency_hz: Estimate
    decay_rate_per_s: float
    start_s: float
    """First zero crossing after the crest, from which on the sine was fitted."""
    misfit: float
    """Rms of what the sine leaves over the rms of the waveform there (1)."""


def noise_sigma(waveform: RealArray) -> float:
    """Return the standard deviation of the noise of an oversampled waveform, shape (n,).

    The median modulus of the fourth difference; what of the waveform it still holds is counted as
    noise, which errs to the safe side.
    """
    if waveform.size < _STENCIL.size:
        return math.nan
    rough = np.convolve(waveform, _STENCIL, mode="valid")
    return float(_MEDIAN_TO_SIGMA * np.median(np.abs(rough)) / np.linalg.norm(_STENCIL))


def compare(
    time_s: RealArray, reference: RealArray, other: RealArray, largest_shift_s: float
) -> Difference:
    """Return the area of the difference of two waveforms over that of the reference.

    Parameters
    ----------
    time_s
        Uniform, shape (n,).
    reference, other
        Waveforms, shape (n,), not all zero.
    largest_shift_s
        Trigger delay that may be taken out.
    """
    step = float(time_s[1] - time_s[0])
    reach = int(largest_shift_s / step)
    base = reference[reach + 2 : reference.size - reach - 2]
    lag = _best_lag(base, other, reach)
    moved = _delayed(other, reach + 2 + lag, base.size)
    scale = float(moved @ base) / float(moved @ moved)
    area = float(np.sum(np.abs(base)))
    sigma = math.hypot(noise_sigma(reference), scale * noise_sigma(other))
    floor = _MEAN_MODULUS * sigma * base.size / area
    value = float(np.sum(np.abs(base - scale * moved))) / area
    reach_of_noise = floor * (1.0 + NORMAL_COVERAGE_FACTOR * _FLOOR_SPREAD / math.sqrt(base.size))
    return Difference(
        area=Estimate(value, max(0.0, value - reach_of_noise), value + reach_of_noise),
        noise_floor=floor,
        scale=scale,
        shift_s=lag * step,
    )


def _best_lag(base: RealArray, other: RealArray, reach: int) -> float:
    """Return the delay of ``other`` (samples) that makes it most alike, whatever its scale."""
    lags = range(-reach, reach + 1)
    likeness = [_likeness(base, other[reach + 2 + lag :][: base.size]) for lag in lags]
    best = int(np.argmax(likeness))
    if not 0 < best < len(likeness) - 1:
        return float(best - reach)
    left, middle, right = likeness[best - 1 : best + 2]
    curvature = left - 2.0 * middle + right
    return best - reach + (0.5 * (left - right) / curvature if curvature < 0.0 else 0.0)


def _likeness(base: RealArray, piece: RealArray) -> float:
    """Return the correlation coefficient (about zero) of two pieces."""
    return float(piece @ base) / float(np.linalg.norm(piece) * np.linalg.norm(base))


def _delayed(waveform: RealArray, start: float, size: int) -> RealArray:
    """Return ``size`` samples from the fractional index ``start`` on, by cubic interpolation."""
    whole = math.floor(start)
    f = start - whole
    # Lagrange's cubic through the neighbours at -1, 0, 1 and 2
    weights = (
        -f * (f - 1.0) * (f - 2.0) / 6.0,
        (f + 1.0) * (f - 1.0) * (f - 2.0) / 2.0,
        -(f + 1.0) * f * (f - 2.0) / 2.0,
        (f + 1.0) * f * (f - 1.0) / 6.0,
    )
    moved = np.zeros(size)
    for offset, weight in zip((-1, 0, 1, 2), weights, strict=True):
        moved += weight * waveform[whole + offset :][:size]
    return moved


def crossings(time_s: RealArray, waveform: RealArray) -> RealArray:
    """Return the times of zero crossings between swings that stand out of the noise, shape (k,).

    A swing counts from where the waveform exceeds the margin over its noise; between two swings
    of opposite sign a straight line is laid through the samples, and its zero is the crossing.
    """
    threshold = CROSSING_MARGIN * noise_sigma(waveform)
    crest = int(np.argmax(np.abs(waveform)))
    outside = crest + np.flatnonzero(np.abs(waveform[crest:]) > threshold)
    negative = np.signbit(waveform[outside])
    found = []
    for turn in np.flatnonzero(negative[1:] != negative[:-1]):
        between = slice(int(outside[turn]), int(outside[turn + 1]) + 1)
        times, values = time_s[between], waveform[between]
        middle = times.mean()
        slope = float((times - middle) @ values) / float(np.sum((times - middle) ** 2))
        found.append(float(middle - values.mean() / slope))
    return np.array(found)


def ringing(time_s: RealArray, waveform: RealArray, least_periods: float) -> Ringing | NotKnown:
    """Fit ``exp(-d t) (A cos w t + B sin w t) + C`` from the first crossing after the crest on.

    Parameters
    ----------
    time_s
        Uniform, shape (n,).
    waveform
        Shape (n,).
    least_periods
        Periods between zero crossings without which nothing is fitted.
    """
    zeros = crossings(time_s, waveform)
    if zeros.size < 2 or 0.5 * (zeros.size - 1) < least_periods:
        return NotKnown("the waveform does not ring long enough above its noise")
    omega = math.pi * (zeros.size - 1) / float(zeros[-1] - zeros[0])
    inside = time_s >= zeros[0]
    t, y = time_s[inside] - zeros[0], waveform[inside]
    fitted = _damped_sine(t, y, omega, 0.1 * omega)
    if fitted is None:
        return NotKnown("the waveform is not one damped sine")
    omega, decay, deviation, misfit = fitted
    frequency = omega / (2.0 * math.pi)
    return Ringing(
        frequency_hz=Estimate.from_standard_deviation(frequency, deviation / (2.0 * math.pi)),
        decay_rate_per_s=decay,
        start_s=float(zeros[0]),
        misfit=misfit,
    )


def _damped_sine(
    t: RealArray, y: RealArray, omega: float, decay: float
) -> tuple[float, float, float, float] | None:
    """Return angular frequency, decay rate, deviation of the first, misfit; by Gauss-Newton."""
    for _ in range(ITERATIONS):
        basis = _basis(t, omega, decay)
        a, b, _c = weights = np.linalg.lstsq(basis, y, rcond=None)[0]
        by_omega = t * (b * basis[:, 0] - a * basis[:, 1])
        by_decay = -t * (a * basis[:, 0] + b * basis[:, 1])
        jacobian = np.column_stack([basis, by_omega, by_decay])
        step = np.linalg.lstsq(jacobian, y - basis @ weights, rcond=None)[0][3:]
        # a step of more than a tenth leaves the region in which the model is nearly linear
        step = np.clip(step, -0.1 * omega, 0.1 * omega)
        omega, decay = omega + float(step[0]), max(0.0, decay + float(step[1]))
        if np.max(np.abs(step)) <= CONVERGED * omega:
            break
    else:
        return None
    left = y - basis @ weights
    sigma = float(np.linalg.norm(left)) / math.sqrt(max(1, t.size - 5))
    covariance = np.linalg.pinv(jacobian.T @ jacobian)
    deviation = sigma * math.sqrt(max(0.0, float(covariance[3, 3])))
    return omega, decay, deviation, float(np.linalg.norm(left) / np.linalg.norm(y))


def _basis(t: RealArray, omega: float, decay: float) -> RealArray:
    """Return the three terms that enter linearly, shape (n, 3)."""
    fall = np.exp(-decay * t)
    return np.column_stack([fall * np.cos(omega * t), fall * np.sin(omega * t), np.ones_like(t)])


def half_width(estimate: Estimate) -> float:
    """Return the standard deviation behind a normal interval."""
    return (estimate.high - estimate.low) / (2.0 * NORMAL_COVERAGE_FACTOR)
