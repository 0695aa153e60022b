"""A window never hides a line: every column holds the extremes of its bins."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cagewise.pictures.level_series import BLOCKS_PER_COLUMN, FACTOR, LevelSeries

SIZES = st.integers(min_value=1, max_value=30_000)


def series_of(n: int, seed: int) -> LevelSeries:
    values = np.random.default_rng(seed).standard_normal(n).astype(np.float32)
    return LevelSeries(-3.0, 0.25, values)


@given(
    n=SIZES,
    seed=st.integers(0, 99),
    ends=st.tuples(st.floats(0, 1), st.floats(0, 1)),
    columns=st.integers(1, 60),
)
@settings(max_examples=150, deadline=None)
def test_extremes_of_every_column_are_those_of_its_bins(
    n: int, seed: int, ends: tuple[float, float], columns: int
) -> None:
    series = series_of(n, seed)
    low, high = sorted(series.first + part * (series.last - series.first) for part in ends)

    seen = series.window(low, high, columns)

    places = np.round((seen.x - series.first) / series.step).astype(int)
    assert np.all(series.values[places].astype(float) == seen.y)  # values of single bins, exactly
    assert np.all(np.diff(places) > 0)
    for start, stop in zip(seen.edges[:-1], seen.edges[1:], strict=True):
        inside = seen.y[(places >= start) & (places < stop)]
        assert inside.max() == series.values[start:stop].max()
        assert inside.min() == series.values[start:stop].min()


@given(
    n=SIZES,
    seed=st.integers(0, 99),
    ends=st.tuples(st.floats(0, 1), st.floats(0, 1)),
    columns=st.integers(1, 60),
)
@settings(max_examples=150, deadline=None)
def test_columns_cover_the_window_without_a_gap_and_hardly_more(
    n: int, seed: int, ends: tuple[float, float], columns: int
) -> None:
    series = series_of(n, seed)
    low, high = sorted(series.first + part * (series.last - series.first) for part in ends)

    seen = series.window(low, high, columns)

    wanted = np.flatnonzero(
        (series.first + series.step * np.arange(n) >= low - 1e-7)
        & (series.first + series.step * np.arange(n) <= high + 1e-7)
    )
    if wanted.size:
        assert seen.edges[0] <= wanted[0]
        assert seen.edges[-1] > wanted[-1]
        slack = max(1, wanted.size / columns / BLOCKS_PER_COLUMN)  # an eighth of a column
        assert wanted[0] - seen.edges[0] <= slack + 1
        assert seen.edges[-1] - 1 - wanted[-1] <= slack + 1
    assert np.all(np.diff(seen.edges) > 0)
    assert seen.y.size <= max(2 * columns, 1)


def test_a_single_line_among_millions_of_bins_is_seen_at_its_place() -> None:
    values = np.full(3_000_001, -120.0, dtype=np.float32)
    values[1_234_567] = -20.0
    series = LevelSeries(0.0, 0.001, values)

    seen = series.window(series.first, series.last, 800)

    assert not seen.exact
    assert seen.y.max() == -20.0
    assert seen.x[np.argmax(seen.y)] == pytest.approx(1234.567, rel=1e-12)
    assert seen.y.size <= 1600


def test_a_narrow_window_gives_every_bin() -> None:
    series = series_of(5000, 1)

    seen = series.window(10.0, 60.0, 400)

    assert seen.exact
    first = round((10.0 + 3.0) / 0.25)
    assert np.array_equal(seen.y, series.values[first : first + seen.y.size].astype(float))
    assert (seen.x[0], seen.x[-1]) == (10.0, 60.0)


def test_the_pyramid_takes_less_than_twice_the_values() -> None:
    series = series_of(8**6, 2)

    places = series.nbytes - series.values.nbytes
    assert places <= 2 * 8 * series.values.size / (FACTOR - 1) * 1.01  # geometric series, 8 bytes


def test_a_window_beside_the_series_gives_its_nearest_bin() -> None:
    series = series_of(100, 3)

    assert series.window(-50.0, -40.0, 10).x.tolist() == [series.first]
    assert series.window(500.0, float("inf"), 10).x.tolist() == [series.last]
    whole = series.window(float("-inf"), float("inf"), 50)
    assert whole.exact
    assert whole.y.size == 100


@pytest.mark.parametrize(("step", "values"), [(0.0, [1.0]), (-1.0, [1.0]), (1.0, [])])
def test_a_series_without_values_or_step_is_refused(step: float, values: list[float]) -> None:
    with pytest.raises(ValueError, match="positive step"):
        LevelSeries(0.0, step, np.array(values))
