"""Where in a recording current flowed: from switching on to switching off, to the sample."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from cagewise.conditioning.start_level import smoothed
from cagewise.conditioning.start_limits import StartLimits
from cagewise.conditioning.survey import Survey
from cagewise.measurement import CURRENT_ROLES, Recording
from cagewise.quantities import RealArray

ASSUMED_FREQUENCY_HZ = 50.0
"""Taken where neither samples nor file show a frequency: it only sets the window's length."""
ONSET_PART = 0.03
"""Part of the run's largest sample at which the current has begun: a started motor's current rises
through it within a few degrees."""
ONSET_MARGIN = 1.5
"""The current has begun when it leaves the noise before it by this factor."""
QUIET_CYCLES = 0.25
"""Shortest silence at the very beginning of a record that is a silence: no sine stays near zero for
so long."""
PEAK_BLOCKS = 3
"""Blocks of the running median before the largest is taken: a single spike is no current."""
GAP_SIDE_BLOCKS = 3
"""Blocks beside a gap from which the current before it is taken."""
STILL_HIGH = 0.5
"""Part of its largest value above which a current has not come down yet."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CurrentRun:
    """Samples ``first`` to ``stop`` during which current flowed."""

    first: int
    """First sample with current."""
    stop: int
    """One past the last whole block with current; the record's end if it lasts so long."""
    begins_before_record: bool
    ends_with_record: bool
    rest_s: float
    """Time without current before; infinite for the first run."""
    level_before_a: float
    """Rms current just before that rest; 0 for the first run."""
    gap_s: float = 0.0
    """Longest interruption inside, where a start was interrupted and went on."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CoarseCurrent:
    """Rms current of the phases, block by block."""

    level: RealArray
    """Quadratic mean of the phases about their means, A, shape (n_blocks,); 0 for no numbers."""
    block: int
    """Samples per block."""
    cycle: float
    """Samples per supply cycle."""

    @classmethod
    def of(cls, recording: Recording, survey: Survey) -> CoarseCurrent:
        """Return the block levels of the currents, with or without a known supply frequency."""
        rows = survey.rows(CURRENT_ROLES)
        rate = recording.sampling_rate_hz
        if isinstance(survey.frequency_hz, float):
            rms, block, cycle = (
                survey.rms[rows], survey.block_samples, rate / survey.frequency_hz,
            )  # fmt: skip
        else:
            cycle = rate / (recording.nominal_frequency_hz or ASSUMED_FREQUENCY_HZ)
            block = max(round(cycle), 1)
            rms = _block_rms(current_samples(recording), block)
        power = np.mean(np.nan_to_num(rms) ** 2, axis=0)
        return cls(level=np.asarray(np.sqrt(power)), block=block, cycle=cycle)


def current_samples(recording: Recording) -> RealArray:
    """Return the measured currents in A, shape (n_currents, n_samples)."""
    channels = [recording.find(role) for role in CURRENT_ROLES]
    return np.stack([channel.samples for channel in channels if channel is not None])


def current_runs(
    recording: Recording, coarse: CoarseCurrent, limits: StartLimits
) -> tuple[CurrentRun, ...]:
    """Return the runs in which a motor may have been started, in the order of time.

    A run that begins with the record and whose current never falls is left out.
    """
    level = coarse.level
    if level.size == 0 or not level.max() > 0.0:
        return ()
    spans = _spans(level > limits.off_part * float(smoothed(level, PEAK_BLOCKS).max()))
    rate = recording.sampling_rate_hz
    runs: list[CurrentRun] = []
    for number, (first, last) in enumerate(spans):
        after = spans[number - 1][1] if number else 0
        before = level[max(after - GAP_SIDE_BLOCKS, 0) : after]
        run = CurrentRun(
            first=first * coarse.block,
            stop=recording.n_samples if last == level.size else last * coarse.block,
            begins_before_record=first == 0,
            ends_with_record=last == level.size,
            rest_s=(first - after) * coarse.block / rate if number else np.inf,
            level_before_a=float(np.median(before)) if number else 0.0,
        )
        begun = bool(runs) and not runs[-1].begins_before_record
        since = runs[-1].first // coarse.block if begun else first
        if begun and _goes_on(level[since:after], level[first:last], run, limits):
            runs[-1] = replace(
                runs[-1],
                stop=run.stop,
                ends_with_record=run.ends_with_record,
                gap_s=max(runs[-1].gap_s, run.rest_s),
            )
        else:
            runs.append(run)
    return tuple(runs)


def _spans(on: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Return first and one past the last of the unbroken spans."""
    edges = np.flatnonzero(np.diff(np.concatenate(([False], on, [False])).astype(np.int8)))
    return [(int(first), int(last)) for first, last in edges.reshape(-1, 2)]


def _goes_on(before: RealArray, level: RealArray, run: CurrentRun, limits: StartLimits) -> bool:
    """Return whether a start was interrupted: before a short rest the current had not come down.

    ``before`` are the levels from switching on to the rest, ``level`` those after it.
    """
    if run.rest_s >= limits.least_rest_s or level.size < 2 * PEAK_BLOCKS:
        return False
    after = smoothed(level, PEAK_BLOCKS)
    falls = float(after.max()) > limits.least_current_ratio * float(after[1:-1].min())
    return falls and run.level_before_a > STILL_HIGH * float(smoothed(before, PEAK_BLOCKS).max())


def with_onset(run: CurrentRun, currents: RealArray, block: int, cycle: float) -> CurrentRun:
    """Return the run with its first sample found to a fraction of a cycle.

    Parameters
    ----------
    run
        Known to a block.
    currents
        Of the whole record in A, shape (n_currents, n_samples).
    block, cycle
        Samples.
    """
    begin = max(run.first - block, 0)
    quiet_from = max(begin - block, 0)
    if run.begins_before_record:
        begin, quiet_from = max(1, round(QUIET_CYCLES * cycle)), 0
    quiet = currents[:, quiet_from:begin]
    if quiet.shape[1] == 0:
        quiet = currents[:, :1]
    rest = np.median(quiet, axis=1, keepdims=True)
    head = np.abs(np.nan_to_num(currents[:, begin : run.first + 2 * block] - rest))
    noise = np.abs(np.nan_to_num(quiet - rest)).max(axis=1, keepdims=True)
    threshold = np.maximum(ONSET_PART * float(head.max()), ONSET_MARGIN * noise)
    if run.begins_before_record and np.any(noise > ONSET_PART * float(head.max())):
        return run
    risen = np.flatnonzero(np.any(head > threshold, axis=0))
    if not risen.size:
        return run
    return replace(run, first=begin + int(risen[0]), begins_before_record=False)


def _block_rms(channels: RealArray, block: int) -> RealArray:
    """Return the rms about the mean of every block, shape (n_channels, n_blocks)."""
    n = channels.shape[1] // block
    rows = np.nan_to_num(channels[:, : n * block]).reshape(channels.shape[0], n, block)
    return np.asarray(rows.std(axis=2))
