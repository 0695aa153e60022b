"""Questions asked of the samples of one channel as the instrument stored them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from cagewise.measurement import Channel
from cagewise.quantities import RealArray

RawArray = NDArray[Any]
"""Samples as stored, any number type, shape (n_samples,)."""

STEP_PROBE = 20_000
"""Samples looked at to find the quantisation step."""
STEP_ROUNDING = 0.02
"""Largest distance of a difference from a whole number of steps, in steps."""
LEAST_RUN = 4
"""Equal samples in a row that can be called a run at all."""
LEAST_FLAT_TOP = 3
"""Equal samples in a row at an extreme that make a flat top; two occur in any quantised sine."""
HELD_PART = 0.95
"""Part of the changes that must fall on the same grid for samples to be called held."""


@dataclass(frozen=True, slots=True)
class Runs:
    """Runs of equal samples: first index and length of each, both of shape (n_runs,)."""

    start: NDArray[np.intp]
    length: NDArray[np.intp]

    @property
    def samples(self) -> int:
        """Samples in all runs together."""
        return int(self.length.sum())

    def where(self, mask: NDArray[np.bool_]) -> Runs:
        """Return the runs selected by ``mask``, shape (n_runs,)."""
        return Runs(self.start[mask], self.length[mask])


def constant_runs(raw: RawArray, least: int) -> Runs:
    """Return the runs of at least ``least`` equal samples."""
    equal = np.flatnonzero(raw[1:] == raw[:-1])
    if equal.size == 0:
        return Runs(equal, equal)
    breaks = np.flatnonzero(np.diff(equal) > 1)
    first = equal[np.concatenate(([0], breaks + 1))]
    last = equal[np.concatenate((breaks, [equal.size - 1]))]
    runs = Runs(first, last - first + 2)
    return runs.where(runs.length >= least)


def quantisation_step(raw: RawArray) -> float | None:
    """Return the step between neighbouring stored values, None when there is no visible step.

    For integers the greatest common divisor of the differences (a 12-bit converter stored in the
    upper bits of a 16-bit word steps by 16); for floats the smallest difference, provided that
    the others are multiples of it.
    """
    values = np.unique(raw[:STEP_PROBE])
    if np.issubdtype(raw.dtype, np.integer):
        return float(np.gcd.reduce(np.diff(values.astype(np.int64)))) if values.size > 1 else None
    return _step_of_floats(values[np.isfinite(values)].astype(np.float64))


def _step_of_floats(values: RealArray) -> float | None:
    """Return the common step of sorted distinct ``values``, None when there is none."""
    gaps = np.subtract(values[1:], values[:-1])
    if gaps.size < LEAST_RUN:
        return None
    step = _smallest_gap(gaps, float(np.abs(values).max()))
    if step is None:
        return None
    multiples = gaps / step
    even = np.abs(multiples - np.rint(multiples)) < STEP_ROUNDING * np.maximum(multiples, 1.0)
    many = values.size > (values[-1] - values[0]) / step * STEP_ROUNDING
    return step if bool(even.all()) and bool(many) else None


def _smallest_gap(gaps: RealArray, largest: float) -> float | None:
    """Return the smallest gap that is more than rounding, averaged over the gaps of its size."""
    rounding = largest * 16.0 * float(np.finfo(np.float32).eps)
    real = gaps[gaps > rounding]
    if real.size < gaps.size / 2.0:
        return None
    smallest = float(real.min())
    return float(real[real < 1.5 * smallest].mean())


def natural_run(amplitude_steps: float, samples_per_cycle: float) -> float:
    """Return how long the top of a quantised sine stays on one step, in samples.

    Within one step ``D`` of its peak ``A`` a sine spends ``2 arccos(1 - D/A)`` of ``2 pi``.
    """
    if amplitude_steps <= 0.5:
        return np.inf
    return float(samples_per_cycle * np.arccos(1.0 - min(1.0 / amplitude_steps, 2.0)) / np.pi)


def flat_tops(channel: Channel, samples_per_cycle: float) -> Runs:
    """Return the runs on the rails of the instrument, or at the extremes of the record.

    A stated rail counts from two samples in a row, an extreme of the record only when the run is
    longer than the top of an unclipped sine of that resolution.
    """
    raw = channel.raw
    low, high = raw.min(), raw.max()
    step = quantisation_step(raw)
    half_span = (float(high) - float(low)) / 2.0
    natural = 0.0 if step is None else natural_run(half_span / step, samples_per_cycle)
    runs = constant_runs(raw, 2)
    value = raw[runs.start]
    at_rail = np.zeros(value.shape, dtype=np.bool_)
    if channel.range_high is not None:
        at_rail |= value >= channel.range_high
    if channel.range_low is not None:
        at_rail |= value <= channel.range_low
    extreme = (value == high) | (value == low)
    long = (runs.length >= LEAST_FLAT_TOP) & (runs.length > 1.5 * natural + 1.0)
    return runs.where((at_rail & extreme) | (extreme & long))


def dropouts(channel: Channel, samples_per_cycle: float, dropout_cycles: float) -> Runs:
    """Return the runs of constant samples inside a sine that are no flat tops.

    A run must outlast ``dropout_cycles`` and the longest run that quantisation explains.
    """
    raw = channel.raw
    low, high = float(raw.min()), float(raw.max())
    step = quantisation_step(raw)
    natural = 0.0
    if step is not None:
        natural = natural_run((high - low) / 2.0 / step, samples_per_cycle)
    least = max(LEAST_RUN, dropout_cycles * samples_per_cycle, 1.5 * natural + 1.0)
    if not np.isfinite(least):
        return constant_runs(raw[:0], LEAST_RUN)
    runs = constant_runs(raw, int(np.ceil(least)))
    value = raw[runs.start]
    return runs.where((value != low) & (value != high))


def held_factor(raw: RawArray) -> int:
    """Return how many times each sample is repeated: 1 for a sound record, k when held k times."""
    changes = np.flatnonzero(raw[1:] != raw[:-1])
    if changes.size < LEAST_RUN or changes.size > 0.6 * raw.size:
        return 1
    factor = int(np.gcd.reduce(np.diff(changes)))
    if factor > 1:
        return factor
    spacing = np.diff(changes)
    factor = int(np.median(spacing))
    part = float(np.mean(spacing % factor == 0)) if factor > 1 else 0.0
    return factor if part >= HELD_PART else 1
