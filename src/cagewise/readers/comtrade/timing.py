"""Sampling rate and sample times of a COMTRADE recording."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from cagewise.errors import RecordingError
from cagewise.quantities import RealArray
from cagewise.readers.comtrade.config import Configuration, Segment
from cagewise.readers.comtrade.data import elapsed_seconds
from cagewise.readers.timing import Timing, timing_from_times

_SAME_RATE = 1e-3
"""Relative difference up to which stamps and stated rate agree: clocks and rounding stay below."""

_SAME_SCALE = 0.1
"""Relative difference of the typical step from the stated interval up to which stamps that are not
uniform are believed; beyond it their unit is in doubt."""

_BLOCK = 32768
"""Stamps that are compared at a time: they stay in the processor's cache."""


def timing_of(
    config: Configuration, stamps: NDArray[Any] | None, n_samples: int, where: str
) -> Timing:
    """Return the timing: the stated rate, checked against the time stamps of the samples.

    Stamps with gaps are kept as sample times. Stamps that are uniform at another rate, or do not
    increase, do not overrule the stated rate; a note says so.

    Raises
    ------
    RecordingError
        If the file states neither a rate nor usable stamps.
    """
    rates = {segment.rate_hz for segment in config.segments}
    if len(rates) == 1 and 0.0 not in rates and _stamps_agree(config, stamps):
        return Timing(sampling_rate_hz=config.segments[0].rate_hz)
    elapsed = _usable(stamps, config.stamp_unit_s)
    if 0.0 in rates:
        if elapsed is None:
            raise RecordingError(
                "it states neither a sampling rate nor usable time stamps",
                where=where,
                remedy="State it with --rate, or as `sampling_rate_hz` in the sidecar file.",
            )
        return timing_from_times(elapsed, where=where, resolution_s=config.stamp_unit_s)
    if len(rates) > 1:
        return _several_rates(config, elapsed, n_samples)
    return _one_rate(config, rates.pop(), elapsed, where)


def _stamps_agree(config: Configuration, stamps: NDArray[Any] | None) -> bool:
    """Return whether all stamps are those of the one stated rate; the usual case, made quick."""
    if stamps is None or not stamps.size:
        return False
    step = 1.0 / (config.segments[0].rate_hz * config.stamp_unit_s)
    tolerance = max(2.0, _SAME_RATE * step)
    for start in range(0, stamps.size, _BLOCK):
        block = stamps[start : start + _BLOCK].astype(np.float64)
        block -= float(stamps[0])
        block -= np.arange(start, start + block.size) * step
        if max(-float(block.min()), float(block.max())) > tolerance:
            return False
    return True


def _usable(stamps: NDArray[Any] | None, stamp_unit_s: float) -> RealArray | None:
    """Return the elapsed times if there are stamps that increase from first to last."""
    if stamps is None or stamps.size < 2:
        return None
    elapsed = elapsed_seconds(stamps, stamp_unit_s)
    return elapsed if elapsed[-1] > 0.0 else None


def _one_rate(config: Configuration, rate: float, elapsed: RealArray | None, where: str) -> Timing:
    """Return the stated rate, with sample times if the stamps show gaps."""
    if elapsed is None:
        note = "no usable time stamps; the stated sampling rate is used"
        return Timing(sampling_rate_hz=rate, notes=(note,))
    measured = timing_from_times(elapsed, where=where, resolution_s=config.stamp_unit_s)
    step_ratio = rate / measured.sampling_rate_hz
    if measured.sample_times_s is None:
        if math.isclose(step_ratio, 1.0, rel_tol=_SAME_RATE):
            return Timing(sampling_rate_hz=rate)
    elif math.isclose(step_ratio, 1.0, rel_tol=_SAME_SCALE):
        return Timing(sampling_rate_hz=rate, sample_times_s=elapsed, notes=measured.notes)
    note = (
        f"time stamps suggest {measured.sampling_rate_hz:g} Hz, the configuration states "
        f"{rate:g} Hz, which is used"
    )
    return Timing(sampling_rate_hz=rate, notes=(note,))


def _several_rates(config: Configuration, elapsed: RealArray | None, n_samples: int) -> Timing:
    """Return the rate of the longest segment and the time of every sample."""
    times = _times_of_segments(config.segments, n_samples)
    if elapsed is not None and math.isclose(elapsed[-1], times[-1], rel_tol=_SAME_SCALE):
        times = elapsed
    firsts = [0, *(segment.last_sample for segment in config.segments[:-1])]
    lengths = [s.last_sample - first for s, first in zip(config.segments, firsts, strict=True)]
    longest = config.segments[lengths.index(max(lengths))]
    listed = ", ".join(f"{segment.rate_hz:g}" for segment in config.segments)
    note = f"several sampling rates ({listed} Hz): sample times are kept one by one"
    return Timing(sampling_rate_hz=longest.rate_hz, sample_times_s=times, notes=(note,))


def _times_of_segments(segments: tuple[Segment, ...], n_samples: int) -> RealArray:
    """Return sample times that the rates imply; a sample follows at the rate of its segment."""
    intervals = np.empty(n_samples)
    first = 0
    for segment in segments:
        intervals[first : segment.last_sample] = 1.0 / segment.rate_hz
        first = segment.last_sample
    intervals[0] = 0.0
    return np.cumsum(intervals)
