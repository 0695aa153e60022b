"""From stated sample times to a sampling rate, or to the statement that they are not uniform."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from cagewise.errors import RecordingError
from cagewise.quantities import RealArray
from cagewise.readers.format import require_rate

NEGLIGIBLE_JITTER = 1e-4
"""Deviation from a uniform grid, in sampling intervals, that cannot matter: it turns the phase of
a component at half the sampling rate by 0.3 milliradians, -70 dB, and one at 50 Hz sampled at
10 kHz by 3 microradians."""

_COARSE = 0.05
"""Resolution of stated times, in sampling intervals, from which a missing sample could pass for
rounding."""

_MOST_SINGLE_GAPS = 3
"""Steps beyond one and a half typical ones: so few are missing samples, rounding makes many."""

_MOST_DECIMALS = 9
"""Decimals to which a printed time is searched for its resolution: nanoseconds."""

_PROBE = 2000
"""Number of times from the start, and of as many spread over the record, from which the printed
resolution is found: spread ones alone may all be multiples of a coarser step."""

_DIGITS = range(5, 9)
"""Significant digits to which exporting programs round; more than eight change nothing here."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Timing:
    """Sampling rate, and the sample times where they are not uniform."""

    sampling_rate_hz: float
    sample_times_s: RealArray | None = None
    """Times from the first sample, shape (n_samples,), or None when uniform."""
    notes: tuple[str, ...] = ()
    """What was decided about the times."""


def timing_from_times(
    times_s: RealArray, *, where: str, resolution_s: float | None = None
) -> Timing:
    """Return the timing that stated sample times imply.

    Times on paper have a last decimal: a grid that fits within it is uniform, and a sampling rate
    in whole hertz within what it can distinguish is taken.

    Parameters
    ----------
    times_s
        Stated times in seconds, shape (n_samples,).
    where
        File, for messages.
    resolution_s
        Step in which the times are stated; found from the values when None.

    Raises
    ------
    RecordingError
        If there are fewer than two times or they do not increase.
    """
    if times_s.size < 2:
        raise RecordingError(
            "one sample is not a recording", where=where, remedy="Record some seconds."
        )
    with np.errstate(over="ignore", invalid="ignore"):  # damaged times may be of any size
        if resolution_s is None:
            resolution_s = printed_resolution(times_s)
        elapsed = times_s - times_s[0]
        if bool(np.isfinite(elapsed).all()) and elapsed[-1] > 0.0:
            for step_s in (resolution_s, rounded_resolution(times_s)):
                uniform = _uniform(elapsed, float(np.abs(times_s).max()), step_s)
                if uniform is not None:
                    return uniform
        return _not_uniform(elapsed, where)


def printed_resolution(times_s: RealArray) -> float:
    """Return the decimal step (1, 0.1, ... 1e-9 s) of which all times are multiples, else 0."""
    probe = _probe(times_s)
    for decimals in range(_MOST_DECIMALS + 1):
        scaled = probe * 10.0**decimals
        rounding = np.spacing(np.abs(scaled)) * 2.0 + 1e-9
        if bool((np.abs(scaled - np.rint(scaled)) <= rounding).all()):
            return float(10.0**-decimals)
    return 0.0


def rounded_resolution(times_s: RealArray) -> float:
    """Return the step of the largest time if all are rounded to some digits, or single, else 0.

    A program that prints seven significant digits states the end of a long record more coarsely
    than its start.
    """
    probe = np.abs(_probe(times_s))
    probe = probe[probe > 0.0]
    if probe.size == 0:
        return 0.0
    largest = float(np.abs(times_s[np.isfinite(times_s)]).max())
    magnitude = np.floor(np.log10(probe))
    for digits in _DIGITS:
        scaled = probe * 10.0 ** (digits - 1 - magnitude)
        if bool((np.abs(scaled - np.rint(scaled)) <= 1e-6).all()):
            return float(10.0 ** (np.floor(np.log10(largest)) - digits + 1))
    if bool((probe == probe.astype(np.float32)).all()):
        return float(np.spacing(np.float32(largest)))
    return 0.0


def _probe(times_s: RealArray) -> RealArray:
    """Return some finite times: those of the start, and others spread over the record."""
    spread = times_s[:: max(1, times_s.size // _PROBE)]
    probe = np.concatenate((times_s[:_PROBE], spread, times_s[-1:]))
    return np.asarray(probe[np.isfinite(probe)])


def _uniform(elapsed: RealArray, largest_s: float, resolution_s: float) -> Timing | None:
    """Return the uniform timing if the straight line through the ends fits, else None."""
    n_intervals = elapsed.size - 1
    interval = float(elapsed[-1]) / n_intervals
    rounding = 4.0 * float(np.spacing(largest_s))
    tolerance = max(1.01 * resolution_s, NEGLIGIBLE_JITTER * interval, rounding)
    grid = np.arange(elapsed.size) * interval
    if float(np.abs(elapsed - grid).max()) > tolerance:
        return None
    if resolution_s > _COARSE * interval and 0 < _n_gaps(elapsed) <= _MOST_SINGLE_GAPS:
        return None
    rate = 1.0 / interval
    doubt = max(resolution_s, rounding) / float(elapsed[-1])
    if abs(rate - round(rate)) <= rate * doubt and round(rate) > 0:
        rate = float(round(rate))
    notes: tuple[str, ...] = ()
    if resolution_s > 0.1 * interval:
        notes = (
            f"times are stated to {resolution_s:g} s, samples are {interval:g} s apart: uniform",
        )
    return Timing(sampling_rate_hz=rate, notes=notes)


def _n_gaps(elapsed: RealArray) -> int:
    """Return the number of steps of more than one and a half typical ones."""
    steps = np.diff(elapsed)
    typical = float(np.median(steps))
    return int((steps > 1.5 * typical).sum()) if typical > 0.0 else 0


def _not_uniform(elapsed: RealArray, where: str) -> Timing:
    """Return the timing of times that are kept one by one."""
    steps = np.diff(elapsed)
    steps = steps[np.isfinite(steps)]
    typical = float(np.median(steps)) if steps.size else 0.0
    if not typical > 0.0:
        raise RecordingError(
            "the stated sample times do not increase",
            where=where,
            remedy="Check which column is the time, or state `sampling_rate_hz`.",
        )
    odd = int((np.abs(steps - typical) > 0.5 * typical).sum())
    note = f"sample times are not uniform ({odd} of {steps.size} steps off by more than half)"
    whole = odd == 0 and bool(np.isfinite(elapsed[-1]))
    interval = float(elapsed[-1]) / (elapsed.size - 1) if whole else typical
    rate = require_rate(1.0 / interval, where=where)
    return Timing(sampling_rate_hz=rate, sample_times_s=elapsed, notes=(note,))
