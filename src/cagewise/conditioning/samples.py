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
"""Equal samples in a row, inside a sine, that can be called a dropout at all."""
LEAST_FLAT_TOP = 3
"""Equal samples in a row at an extreme that make a flat top; two occur in any quantised sine."""
RUN_MARGIN = 1.5
"""Runs are suspicious from this many times the length that quantisation explains."""
HIGHEST_FLATNESS = 6
"""Power with which a wave departs from where it is flat: 2 at the top of a sine, 4 or 6 on the
shoulders of a distorted wave, where lower orders cancel. Sets how far quantisation lets the samples
jump at the end of a run."""
LONG_RUN_CYCLES = 0.25
"""Runs of this length are dropouts however they begin and end."""
LEAST_HELD_PART = 0.4
"""Part of the samples that must equal the one before; half of them do when each is held twice."""
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

    def overlapping(self, start: int, stop: int) -> Runs:
        """Return the runs that touch samples ``start`` to ``stop``."""
        return self.where((self.start < stop) & (self.start + self.length > start))

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
    ordered = np.sort(raw[:STEP_PROBE])  # np.unique takes four times as long
    values = ordered[np.flatnonzero(np.append(True, ordered[1:] != ordered[:-1]))]
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


def natural_jump(length: NDArray[np.intp]) -> RealArray:
    """Return by how many steps a quantised wave can leave a run of ``length`` samples.

    A wave that departs as ``x^k`` and stays within one step over ``(L - 1) / 2`` sampling intervals
    on either side has departed by ``((L + 1) / (L - 1))^k`` one interval later; rounding adds one.
    """
    ends = (length + 1.0) / (length - 1.0)
    return np.asarray(ends**HIGHEST_FLATNESS + 1.0)


@dataclass(frozen=True, slots=True)
class Inspection:
    """What the samples of one channel look like, found in one pass."""

    low: float
    """Smallest stored value."""
    high: float
    """Largest stored value."""
    range_low: float
    """Lowest value the instrument can deliver; minus infinity when the file does not say."""
    range_high: float
    """Highest value the instrument can deliver; infinity when the file does not say."""
    step: float | None
    """Distance of neighbouring stored values; None when there is no visible step."""
    not_numbers: int
    """Samples that are no finite number."""
    runs: Runs
    """Runs of at least two equal samples."""
    value: RawArray
    """Stored value of each run, shape (n_runs,)."""
    jump: RealArray
    """Larger of the changes at both ends of each run, shape (n_runs,); 0 at an end of the record,
    infinite beside a sample that is no number."""

    def flat_tops(self, samples_per_cycle: float) -> Runs:
        """Return the runs on the rails of the instrument, or at the extremes of the record.

        A stated rail counts from two samples in a row, an extreme of the record only when the run
        is longer than the top of an unclipped sine of that resolution.
        """
        extreme = (self.value == self.high) | (self.value == self.low)
        at_rail = (self.value >= self.range_high) | (self.value <= self.range_low)
        natural = self._natural_run(samples_per_cycle)
        least = max(float(LEAST_FLAT_TOP), RUN_MARGIN * natural + 1.0)
        return self.runs.where(extreme & (at_rail | (self.runs.length >= least)))

    def dropouts(self, samples_per_cycle: float, dropout_cycles: float) -> Runs:
        """Return the runs of constant samples inside a sine that are no flat tops.

        A run must outlast ``dropout_cycles`` and the longest run that quantisation of a sine
        explains. A distorted wave stands still longer, on its shoulders and flattened tops, but it
        arrives there and leaves without a jump.
        """
        natural = self._natural_run(samples_per_cycle)
        least = max(float(LEAST_RUN), dropout_cycles * samples_per_cycle, RUN_MARGIN * natural + 1)
        inside = (self.value != self.high) & (self.value != self.low)
        long = self.runs.length >= LONG_RUN_CYCLES * samples_per_cycle
        broken = long | (self.jump >= natural_jump(self.runs.length) * (self.step or 0.0))
        return self.runs.where(inside & broken & (self.runs.length >= least))

    def _natural_run(self, samples_per_cycle: float) -> float:
        """Return how long quantisation alone can hold the signal, in samples."""
        if self.step is None:
            return 0.0
        return natural_run((self.high - self.low) / 2.0 / self.step, samples_per_cycle)


def inspect(channel: Channel) -> Inspection | None:
    """Return what the stored samples look like; None when none of them is a number."""
    raw = channel.raw
    if raw.size == 0:
        return None
    numbers, bad = raw, 0
    if not (np.isfinite(raw.min()) and np.isfinite(raw.max())):
        numbers = raw[np.isfinite(raw)]
        bad = raw.size - numbers.size
    if numbers.size == 0:
        return None
    runs = constant_runs(raw, 2)
    return Inspection(
        low=float(numbers.min()),
        high=float(numbers.max()),
        range_low=-np.inf if channel.range_low is None else channel.range_low,
        range_high=np.inf if channel.range_high is None else channel.range_high,
        step=quantisation_step(numbers),
        not_numbers=bad,
        runs=runs,
        value=raw[runs.start],
        jump=_jumps(raw, runs),
    )


def _jumps(raw: RawArray, runs: Runs) -> RealArray:
    """Return the larger of the changes at both ends of each run."""
    value = raw[runs.start].astype(np.float64)
    before = raw[np.maximum(runs.start - 1, 0)].astype(np.float64)
    after = raw[np.minimum(runs.start + runs.length, raw.size - 1)].astype(np.float64)
    jump = np.maximum(np.abs(value - before), np.abs(after - value))
    return np.asarray(np.nan_to_num(jump, nan=np.inf, posinf=np.inf))


def held_factor(raw: RawArray, inspection: Inspection) -> int:
    """Return how many times each sample is repeated: 1 for a sound record, k when held k times."""
    equal = inspection.runs.samples - inspection.runs.length.size
    if not LEAST_HELD_PART * raw.size < equal < raw.size - LEAST_RUN:
        return 1
    changes = np.flatnonzero(raw[1:] != raw[:-1])
    spacing = np.diff(changes)
    if spacing.size == 0:
        return 1
    factor = int(np.median(spacing))
    part = float(np.mean(spacing % factor == 0)) if factor > 1 else 0.0
    return factor if part >= HELD_PART else 1


REPEAT_WINDOW = 16
"""Samples about the peak of a cycle that are compared to find a repetition."""
REPEAT_CYCLES = 3.0
"""Cycles that must agree sample by sample to be called repeated."""
REPEAT_SAMPLES = 64
"""Samples that must agree in any case."""


@dataclass(frozen=True, slots=True)
class Repetition:
    """Samples that occur twice, exactly."""

    start: int
    """First sample of the second occurrence."""
    length: int
    """How many samples are repeated."""
    lag: int
    """Distance of the two occurrences."""

    def whole(self, n_samples: int) -> bool:
        """Return whether the entire record repeats with period :attr:`lag`."""
        return self.length >= n_samples - self.lag


def find_repetition(raw: RawArray, samples_per_cycle: float) -> Repetition | None:
    """Return the longest exact repetition of several cycles (a buffer delivered twice, a loop).

    Noise makes every cycle of a measurement differ in its last bits, so exact equality over
    several cycles does not happen by itself. The peak of each cycle serves as a marker.
    """
    block = round(samples_per_cycle)
    n_cycles = raw.size // max(block, 1) - 1
    if block < 4 or n_cycles < 2 * REPEAT_CYCLES or raw.size < 4 * REPEAT_SAMPLES:
        return None
    rows = raw[: n_cycles * block].reshape(n_cycles, block)
    peaks = rows.argmax(axis=1) + np.arange(n_cycles) * block
    peaks = peaks[peaks + REPEAT_WINDOW <= raw.size]
    windows = np.ascontiguousarray(raw[peaks[:, None] + np.arange(REPEAT_WINDOW)])
    keys = windows.view(np.dtype((np.void, windows.shape[1] * windows.itemsize))).ravel()
    order = np.argsort(keys, kind="stable")
    same = np.flatnonzero(keys[order[1:]] == keys[order[:-1]])
    if same.size == 0:
        return None
    lags, counts = np.unique(peaks[order[same + 1]] - peaks[order[same]], return_counts=True)
    lag = int(lags[np.argmax(counts)])
    runs = constant_runs(np.asarray(raw[lag:] == raw[:-lag]), 2)
    equal = raw[runs.start + lag] == raw[runs.start]
    runs = runs.where(equal)
    if lag <= 0 or runs.length.size == 0:
        return None
    longest = int(np.argmax(runs.length))
    length = int(runs.length[longest])
    if length < max(REPEAT_SAMPLES, REPEAT_CYCLES * samples_per_cycle):
        return None
    return Repetition(int(runs.start[longest]) + lag, length, lag)
