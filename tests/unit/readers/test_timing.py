"""Stated sample times: what rounding does to them, and what it must not hide."""

from __future__ import annotations

import numpy as np
import pytest

from cagewise.readers.timing import (
    printed_resolution,
    rounded_resolution,
    timing_from_times,
)

RATE_HZ = 3000.0
N_SAMPLES = 60_000


def times() -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    return np.arange(N_SAMPLES) / RATE_HZ


def test_the_resolution_is_that_of_every_time_not_of_every_fiftieth() -> None:
    """At 2.5 kHz every 75th time is a multiple of 10 ms; the step is 0.1 ms all the same."""
    stated = np.round(np.arange(150_000) / 2500.0, 4)

    assert printed_resolution(stated) == 1e-4
    (note,) = timing_from_times(stated, where="x").notes
    assert note.startswith("times are stated to 0.0001 s")


@pytest.mark.parametrize("digits", [5, 6, 7, 8])
def test_times_rounded_to_significant_digits_are_uniform(digits: int) -> None:
    """Exports print seven digits: the step grows along the record, the rate is the stated one."""
    stated = np.array([float(f"{t:.{digits}g}") for t in times()])
    timing = timing_from_times(stated, where="x")

    assert timing.sample_times_s is None
    assert timing.sampling_rate_hz == RATE_HZ


def test_times_in_single_precision_are_uniform() -> None:
    stated = times().astype(np.float32).astype(np.float64)
    timing = timing_from_times(stated, where="x")

    assert rounded_resolution(stated) == np.spacing(np.float32(stated[-1]))
    assert timing.sample_times_s is None
    assert timing.sampling_rate_hz == RATE_HZ


@pytest.mark.parametrize("digits", [6, 7])
def test_rounding_hides_no_missing_samples(digits: int) -> None:
    whole = times()
    torn = np.concatenate((whole[:20_000], whole[20_010:]))
    stated = np.array([float(f"{t:.{digits}g}") for t in torn])

    assert timing_from_times(stated, where="x").sample_times_s is not None


def test_jittering_times_give_the_mean_rate() -> None:
    rng = np.random.default_rng(5)
    stated = times() + 0.05 / RATE_HZ * rng.standard_normal(N_SAMPLES)
    timing = timing_from_times(stated, where="x")

    assert timing.sample_times_s is not None
    assert timing.sampling_rate_hz == pytest.approx(RATE_HZ, rel=1e-5)  # 0.1 intervals in 60000
