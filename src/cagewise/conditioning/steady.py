"""Where in a recording the motor ran steadily, found on the current of every block of cycles.

The question is whether the *mean* current changed. A broken cage makes the current beat at the
pole-pass frequency by up to ten per cent for as long as it runs; that is no change, so a step is
only accepted if it stands when a beat is fitted together with it.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from cagewise.conditioning.limits import QualityLimits
from cagewise.conditioning.survey import Survey, survey_recording
from cagewise.measurement import CURRENT_ROLES, LINE_VOLTAGE_ROLES, PHASE_VOLTAGE_ROLES, Recording
from cagewise.quantities import NotKnown, RealArray

STATOR_ROLES = CURRENT_ROLES + PHASE_VOLTAGE_ROLES + LINE_VOLTAGE_ROLES
"""Channels in which lost samples cut a stretch."""
RUNNING_PART = 0.01
"""Part of the largest block current below which the motor is off: no load draws a fifth of the
rated current and a direct start up to eight times as much, which leaves a factor of two."""
START_RATIO = 1.5
"""A part after switching on whose current exceeds the later current by this is the start."""
ABRUPT_STEP = 0.3
"""Per unit; a step this large needs no minimum duration on either side."""
LEAST_STEP_S = 1.0
"""A smaller step must last this long on both sides, or it is a fluctuation."""
LEAST_BLOCKS = 3
"""Fewest blocks that make a stretch, and fewest on either side of a step."""
SIGNIFICANCE = 6.0
"""A step must exceed this many standard errors of the difference of the means."""
OUTLIER = 4.0
"""Ends are trimmed while they are this many standard deviations from the median."""
BEAT_GRIDS = (np.linspace(-1.0, 1.0, 9), np.linspace(-0.2, 0.2, 9), np.linspace(-0.04, 0.04, 5))
"""Where about its spectral peak the frequency of the beat is searched, in bins, ever finer."""
LEAST_BEAT_POINTS = 16
"""Fewer blocks cannot show a beat beside a step."""
LEAST_OFF_S = 0.5
"""Shorter gaps in the current are dropouts of the record; no contactor acts that fast."""
MOST_POINTS = 4000
"""Longer series are averaged down before a beat is fitted."""


class Boundary(StrEnum):
    """Why a stretch begins or ends."""

    RECORD_EDGE = "edge of the record"
    START_UP = "start-up"
    SWITCH_OFF = "switched off"
    LOAD_STEP = "load step"
    DROPOUT = "dropout"


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """Samples ``start`` to ``stop`` during which the mean current did not change."""

    start: int
    """First sample."""
    stop: int
    """One past the last sample."""
    duration_s: float
    began: Boundary
    ended: Boundary
    current_rms_a: float
    """Mean rms fundamental current."""
    drift: float
    """Rms deviation of the block currents from their mean with the beat removed, per unit."""

    def cut(self, recording: Recording) -> Recording:
        """Return the stretch of a recording, as views."""
        step = f"cut to samples {self.start} to {self.stop}"
        return recording.section(self.start, self.stop).with_step(step)


@dataclass(slots=True)
class _Part:
    """Blocks ``first`` to ``last`` (exclusive) and why they begin and end."""

    first: int
    last: int
    began: Boundary
    ended: Boundary


def find_steady_stretches(
    recording: Recording, limits: QualityLimits | None = None, *, survey: Survey | None = None
) -> tuple[Stretch, ...]:
    """Return the steady stretches of a recording, longest first; empty when there is none.

    Parameters
    ----------
    recording
        Recording with at least one current role.
    limits
        ``load_step`` and ``dropout_cycles`` are used.
    survey
        Block values of the same recording, if they are at hand.
    """
    limits = limits or QualityLimits()
    survey = survey or survey_recording(recording)
    level = survey.current_level()
    if isinstance(survey.frequency_hz, NotKnown) or not np.isfinite(level).any():
        return ()
    cycle = recording.sampling_rate_hz / survey.frequency_hz
    unknown = _unknown_blocks(survey)
    broken = unknown | _dropout_blocks(survey, limits.dropout_cycles, cycle)
    running = ~broken & (level > RUNNING_PART * np.nanmax(level))
    stretches = []
    for run in _runs(running, unknown, round(LEAST_OFF_S / survey.block_s)):
        parts = _split(level, run, limits.load_step, survey.block_s)
        stretches += [_stretch(p, level, survey) for p in parts if p.last - p.first >= LEAST_BLOCKS]
    return tuple(sorted(stretches, key=lambda stretch: stretch.start - stretch.stop))


def _unknown_blocks(survey: Survey) -> NDArray[np.bool_]:
    """Return which blocks hold no numbers in a stator channel that holds numbers elsewhere."""
    known = np.isfinite(survey.rms[survey.rows(STATOR_ROLES)])
    return np.asarray(np.any(~known & known.any(axis=1, keepdims=True), axis=0))


def _dropout_blocks(survey: Survey, dropout_cycles: float, cycle: float) -> NDArray[np.bool_]:
    """Return which blocks hold a dropout in any live stator channel, shape (n_blocks,)."""
    bad = np.zeros(survey.n_blocks, dtype=np.bool_)
    for row in survey.rows(STATOR_ROLES):
        inspection = survey.inspections[row]
        if inspection is None or inspection.low == inspection.high:
            continue
        runs = inspection.dropouts(cycle, dropout_cycles)
        ends = runs.start + runs.length - 1
        for first, last in zip(
            runs.start // survey.block_samples, ends // survey.block_samples, strict=True
        ):
            bad[first : last + 1] = True
    return bad


def _runs(running: NDArray[np.bool_], unknown: NDArray[np.bool_], least_off: int) -> list[_Part]:
    """Return the unbroken runs of running blocks with their reasons.

    A gap is a dropout when it is shorter than ``least_off`` blocks or holds no numbers; a longer
    one means that the motor was off.
    """
    edges = np.flatnonzero(np.diff(np.concatenate(([False], running, [False])).astype(np.int8)))
    spans = [(int(first), int(last)) for first, last in edges.reshape(-1, 2)]
    runs = [_Part(first, last, Boundary.RECORD_EDGE, Boundary.RECORD_EDGE) for first, last in spans]
    gaps = [0, *(index for span in spans for index in span), running.size]
    for number, (first, last) in enumerate(zip(gaps[::2], gaps[1::2], strict=True)):
        if first == last:
            continue
        dropout = bool(unknown[first:last].any()) or last - first < least_off
        if number > 0:
            runs[number - 1].ended = Boundary.DROPOUT if dropout else Boundary.SWITCH_OFF
        if number < len(runs):
            runs[number].began = Boundary.DROPOUT if dropout else Boundary.START_UP
    return runs


def _split(level: RealArray, run: _Part, load_step: float, block_s: float) -> list[_Part]:
    """Return the parts of a run between which the mean current changed, the start left out."""
    waiting, cuts = [(run.first, run.last)], []
    while waiting:
        first, last = waiting.pop()
        cut = _find_step(level[first:last], load_step, block_s)
        if cut is not None:
            cuts.append(first + cut)
            waiting += [(first, first + cut), (first + cut, last)]
    edges = [run.first, *sorted(cuts), run.last]
    parts = [
        _Part(first, last, Boundary.LOAD_STEP, Boundary.LOAD_STEP)
        for first, last in itertools.pairwise(edges)
    ]
    parts[0].began, parts[-1].ended = run.began, run.ended
    kept = _without_start(level, parts, load_step, round(LEAST_STEP_S / block_s))
    return [_trimmed(level, part, load_step) for part in kept]


def _without_start(
    level: RealArray, parts: list[_Part], load_step: float, short: int
) -> list[_Part]:
    """Drop the leading parts that are the start of the motor, and what is left of its decay."""
    if parts[0].began is not Boundary.START_UP:
        return parts
    means = [float(level[part.first : part.last].mean()) for part in parts]
    first = 0
    while first + 1 < len(parts) and means[first] > START_RATIO * min(means[first + 1 :]):
        first += 1
    if first == 0:
        return parts
    while first + 1 < len(parts) and (
        means[first] > (1.0 + load_step) * means[first + 1]
        and parts[first].last - parts[first].first < 2 * short
    ):
        first += 1
    parts[first].began = Boundary.START_UP
    return parts[first:]


def _trimmed(level: RealArray, part: _Part, load_step: float) -> _Part:
    """Cut the ends of a part while they still move, one block at least where something changed."""
    values = level[part.first : part.last]
    middle = float(np.median(values))
    spread = OUTLIER * 1.4826 * float(np.median(np.abs(values - middle)))
    settled = np.flatnonzero(np.abs(values - middle) <= max(spread, load_step * middle))
    first = max(int(settled[0]), part.began is not Boundary.RECORD_EDGE)
    last = min(int(settled[-1]) + 1, values.size - (part.ended is not Boundary.RECORD_EDGE))
    return _Part(part.first + first, part.first + last, part.began, part.ended)


def _find_step(level: RealArray, load_step: float, block_s: float) -> int | None:
    """Return where the mean of ``level``, shape (n,), changes; None when it does not."""
    thinning = -(-level.size // MOST_POINTS)
    values = _thinned(level, thinning)
    n = values.size
    if n < 2 * LEAST_BLOCKS:
        return None
    cut = _balance_point(values)
    step, error, beat = _step_beside_beat(values, cut)
    moved = _balance_point(values - beat)
    if moved != cut:
        step, error, _ = _step_beside_beat(values, moved)
    mean = float(values.mean())
    if step <= load_step * mean or step <= SIGNIFICANCE * error:
        return None
    shorter_s = min(moved, n - moved) * thinning * block_s
    return moved * thinning if shorter_s >= LEAST_STEP_S or step >= ABRUPT_STEP * mean else None


def _thinned(level: RealArray, thinning: int) -> RealArray:
    """Return means of ``thinning`` neighbours, shape (n // thinning,)."""
    n = level.size // thinning
    return np.asarray(level[: n * thinning].reshape(n, thinning).mean(axis=1))


def _balance_point(values: RealArray) -> int:
    """Return where the cumulative deviation from the mean is largest."""
    balance = np.cumsum(values - values.mean())[LEAST_BLOCKS - 1 : values.size - LEAST_BLOCKS]
    return LEAST_BLOCKS + int(np.argmax(np.abs(balance)))


def _step_beside_beat(values: RealArray, cut: int) -> tuple[float, float, RealArray]:
    """Return the size of a step at ``cut`` fitted with one beat, its standard error, the beat.

    The smaller of the plain difference and the fitted one counts: a beat that is not there must
    not make a step.
    """
    n = values.size
    after = (np.arange(n) >= cut).astype(np.float64)
    plain = abs(float(values[cut:].mean() - values[:cut].mean()))
    base = np.column_stack([np.ones(n), after])
    weights, residual = _fit_with_beat(values, base)
    error = float(residual.std()) * np.sqrt(1.0 / cut + 1.0 / (n - cut))
    beat = values - base @ weights[:2] - residual
    return min(plain, abs(float(weights[1]))), float(error), np.asarray(beat)


def _fit_with_beat(values: RealArray, base: RealArray) -> tuple[RealArray, RealArray]:
    """Fit ``base``, shape (n, k), and one sine of unknown frequency; return weights, residual."""
    n = values.size
    weights, *_ = np.linalg.lstsq(base, values, rcond=None)
    residual = values - base @ weights
    if n < LEAST_BEAT_POINTS:
        return np.asarray(weights), np.asarray(residual)
    spectrum = np.abs(np.fft.rfft(residual))[1 : n // 2]
    middle = 1.0 + float(np.argmax(spectrum))
    for grid in BEAT_GRIDS:
        bins = np.maximum(middle + grid, 0.5)
        middle = float(bins[np.argmax(_explained(residual, base, bins))])
    angle = 2.0 * np.pi * middle * np.arange(n) / n
    basis = np.column_stack([base, np.cos(angle), np.sin(angle)])
    trial = np.linalg.solve(basis.T @ basis, basis.T @ values)
    rest = values - basis @ trial
    if float(rest @ rest) < float(residual @ residual):
        return np.asarray(trial), np.asarray(rest)
    return np.asarray(weights), np.asarray(residual)


def _explained(residual: RealArray, base: RealArray, bins: RealArray) -> RealArray:
    """Return how much of a residual's power a sine of each frequency explains beside the base.

    ``bins`` are periods within the values, shape (n_bins,); the residual is free of the base.
    """
    angle = 2.0 * np.pi / residual.size * np.outer(np.arange(residual.size), bins)
    own, _ = np.linalg.qr(base)
    waves = [wave - own @ (own.T @ wave) for wave in (np.cos(angle), np.sin(angle))]
    (cc, cs), (_, ss) = [[np.einsum("ij,ij->j", a, b) for b in waves] for a in waves]
    c, s = (residual @ wave for wave in waves)
    return np.asarray((c * c * ss - 2.0 * c * s * cs + s * s * cc) / (cc * ss - cs * cs))


def _stretch(part: _Part, level: RealArray, survey: Survey) -> Stretch:
    """Return a part in samples, running to the edges of the record where it touches them."""
    values = level[part.first : part.last]
    mean = float(values.mean())
    coarse = _thinned(values, -(-values.size // MOST_POINTS))
    _, residual = _fit_with_beat(coarse, np.ones((coarse.size, 1)))
    stop = part.last * survey.block_samples
    if part.last == survey.n_blocks:
        stop = survey.recording.n_samples
    start = part.first * survey.block_samples
    return Stretch(
        start=start,
        stop=stop,
        duration_s=(stop - start) / survey.recording.sampling_rate_hz,
        began=part.began,
        ended=part.ended,
        current_rms_a=mean,
        drift=float(residual.std()) / mean if mean > 0.0 else 0.0,
    )
