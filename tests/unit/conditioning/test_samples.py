"""Stored samples: runs, steps, rails, lost and repeated samples."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from cagewise.conditioning.samples import (
    Inspection,
    RawArray,
    constant_runs,
    find_repetition,
    held_factor,
    inspect,
    natural_run,
    quantisation_step,
)
from cagewise.measurement import Channel

CYCLE = 200.0
"""Samples per cycle."""


def sine(amplitude: float, n: int = 20_000, noise: float = 0.0, cycle: float = 199.37) -> RawArray:
    rng = np.random.default_rng(3)
    wave = amplitude * np.sin(2.0 * np.pi * np.arange(n) / cycle)
    return np.asarray(wave + noise * rng.standard_normal(n))


def inspected(raw: RawArray, low: float | None = None, high: float | None = None) -> Inspection:
    found = inspect(Channel(name="I", raw=raw, range_low=low, range_high=high))
    assert found is not None
    return found


def slow_runs(raw: RawArray, least: int) -> list[tuple[int, int]]:
    """Return runs of equal samples the slow way."""
    runs, start = [], 0
    for _, group in itertools.groupby(raw.tolist()):
        length = len(list(group))
        if length >= least:
            runs.append((start, length))
        start += length
    return runs


@pytest.mark.parametrize("least", [2, 3, 5])
def test_runs_equal_their_slow_twin(least: int) -> None:
    raw = np.random.default_rng(least).integers(0, 2, 3000)
    runs = constant_runs(raw, least)
    assert list(zip(runs.start.tolist(), runs.length.tolist(), strict=True)) == slow_runs(
        raw, least
    )


def test_step_of_integers_is_their_common_divisor() -> None:
    left_justified = (np.round(sine(1500.0)) * 16.0).astype(np.int16)
    assert quantisation_step(left_justified) == 16.0
    assert quantisation_step(np.round(sine(1500.0)).astype(np.int32)) == 1.0


@pytest.mark.parametrize("step", [0.001, 1.0 / 32768.0, 5.0 / 4096.0])
def test_step_of_floats_is_found_behind_scaling(step: float) -> None:
    values = np.round(sine(400.0)) * step
    assert quantisation_step(values) == pytest.approx(step, rel=1e-6)
    assert quantisation_step(values.astype(np.float32)) == pytest.approx(step, rel=1e-4)


def test_continuous_floats_have_no_step() -> None:
    assert quantisation_step(sine(1.0, noise=0.01)) is None
    assert quantisation_step(sine(1.0, noise=0.01).astype(np.float32)) is None


@pytest.mark.parametrize("amplitude", [5.0, 40.0, 500.0])
def test_natural_run_of_a_quantised_sine(amplitude: float) -> None:
    """The longest run of a rounded sine is the arc above its last half step, at most one step."""
    raw = np.round(sine(amplitude, cycle=CYCLE)).astype(np.int16)
    longest = int(constant_runs(raw, 2).length.max())
    assert 0.5 * natural_run(amplitude, CYCLE) <= longest <= natural_run(amplitude, CYCLE) + 1.0


@pytest.mark.parametrize("amplitude", [5.0, 40.0, 500.0, 20000.0])
def test_an_unclipped_sine_has_no_flat_tops_and_no_dropouts(amplitude: float) -> None:
    for noise in (0.0, 1.0):
        found = inspected(np.round(sine(amplitude, noise=noise)).astype(np.int16))
        assert found.flat_tops(CYCLE).samples == 0
        assert found.dropouts(CYCLE, 0.02).samples == 0


@pytest.mark.parametrize("amplitude", [40.0, 360.0, 960.0])
@pytest.mark.parametrize("cycle", [83.3, 166.7, 199.37])
@pytest.mark.parametrize("part", [0.02, 0.03, 0.04])
def test_a_distorted_current_has_no_dropouts_where_it_is_flat(
    amplitude: float, cycle: float, part: float
) -> None:
    """A 5th harmonic of 4 % in opposite phase takes all curvature from the top (arithmetic)."""
    wave = sine(amplitude, noise=0.3, cycle=cycle)
    wave -= part * amplitude * np.sin(10.0 * np.pi * np.arange(wave.size) / cycle)
    found = inspected(np.round(wave).astype(np.int16))
    assert found.dropouts(cycle, 0.02).samples == 0


def test_a_few_samples_held_on_the_slope_are_a_dropout() -> None:
    raw = np.round(sine(500.0, noise=0.2)).astype(np.int16)
    held = round(0.05 * CYCLE)
    start = int(np.flatnonzero(np.abs(raw[3000:]) < 20)[0]) + 3000
    raw[start : start + held] = raw[start]
    runs = inspected(raw).dropouts(CYCLE, 0.02)
    assert runs.start.tolist() == [start]


@pytest.mark.parametrize("level", [0.99, 0.9, 0.5])
def test_clipped_samples_are_counted(level: float) -> None:
    wave = np.round(sine(2000.0))
    raw = np.clip(wave, -level * 2000.0, level * 2000.0).astype(np.int16)
    clipped = int(np.count_nonzero(np.abs(raw) == np.abs(raw).max()))
    assert inspected(raw).flat_tops(CYCLE).samples == pytest.approx(clipped, rel=0.02)


def test_a_stated_rail_counts_from_two_samples() -> None:
    raw = np.round(sine(1000.0, n=400, cycle=200.0)).astype(np.int16)
    raw[48:53] = [998, 1000, 1000, 998, 997]
    raw[raw > 1000] = 999
    at_rail = np.where(np.arange(raw.size) < 100, raw, np.minimum(raw, 990)).astype(np.int16)
    assert inspected(at_rail).flat_tops(CYCLE).samples == 0
    assert inspected(at_rail, low=-2000.0, high=1000.0).flat_tops(CYCLE).samples == 2


def test_soft_extremes_stated_by_the_file_are_no_rails() -> None:
    """Some recorders state the extremes of the record as its range."""
    raw = sine(1.0, noise=0.01)
    found = inspected(raw, low=float(raw.min()), high=float(raw.max()))
    assert found.flat_tops(CYCLE).samples == 0


@pytest.mark.parametrize("value", [0.0, None])
def test_dropouts_are_found_whether_they_fall_to_zero_or_hold(value: float | None) -> None:
    raw = sine(100.0, noise=0.1)
    for start in (3000, 9000):
        raw[start : start + 30] = raw[start] if value is None else value
    runs = inspected(raw).dropouts(CYCLE, 0.02)
    assert runs.start.tolist() == [3000, 9000]
    assert runs.length.tolist() == [30, 30]


@pytest.mark.parametrize("factor", [1, 2, 3, 10])
def test_held_samples(factor: int) -> None:
    raw = np.repeat(sine(100.0, n=6000, noise=0.1), factor)
    for stored in (raw, raw[1:], np.round(raw).astype(np.int16)):
        assert held_factor(stored, inspected(stored)) == factor


def test_a_buffer_delivered_twice_is_found() -> None:
    raw = np.round(sine(5000.0, noise=2.0)).astype(np.int16)
    torn = np.concatenate([raw[:8000], raw[7000:]])
    found = find_repetition(torn, CYCLE)
    assert found is not None
    assert (found.start, found.length, found.lag) == (8000, 1000, 1000)
    assert not found.whole(torn.size)
    assert find_repetition(raw, CYCLE) is None


def test_a_looped_record_is_found_whole() -> None:
    raw = np.tile(np.round(sine(5000.0, n=4000, noise=2.0)).astype(np.int16), 5)
    found = find_repetition(raw, CYCLE)
    assert found is not None
    assert found.lag == 4000
    assert found.whole(raw.size)


def test_nothing_but_nan_is_no_inspection() -> None:
    assert inspect(Channel(name="I", raw=np.full(10, np.nan))) is None
    found = inspected(np.array([np.nan, 1.0, 2.0, np.inf, 3.0]))
    assert (found.low, found.high, found.not_numbers) == (1.0, 3.0, 2)
