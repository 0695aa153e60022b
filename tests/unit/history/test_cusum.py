"""Run lengths against the Markov chain and against drawn histories."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.special import ndtr

from cagewise.history.cusum import (
    CusumDesign,
    growth_delay,
    one_sided_run_length,
    run_cusum,
    run_length,
    survival,
)

QUICK = CusumDesign(reference_sigma=0.5, decision_sigma=5.0)
SLOW = CusumDesign(reference_sigma=0.25, decision_sigma=8.01)


def by_markov_chain(design: CusumDesign, shift: float, states: int) -> float:
    """Brook and Evans 1972: the sum lives in cells of equal width, the first half as wide."""
    width = 2.0 * design.decision_sigma / (2 * states - 1)
    middle = width * np.arange(states)
    upper = ndtr(middle[None, :] + 0.5 * width - middle[:, None] + design.reference_sigma - shift)
    moves = np.diff(upper, axis=1, prepend=0.0)
    return float(np.linalg.solve(np.eye(states) - moves, np.ones(states))[0])


@pytest.mark.parametrize("design", [QUICK, SLOW])
@pytest.mark.parametrize("shift", [-0.25, 0.0, 0.5, 2.0])
def test_integral_equation_and_markov_chain_agree(design: CusumDesign, shift: float) -> None:
    """The chain is short by a term of order 1/states^2: extrapolated from two chains."""
    coarse, fine = (by_markov_chain(design, shift, states) for states in (150, 300))
    ratio = (599.0 / 299.0) ** 2

    assert one_sided_run_length(design, shift) == pytest.approx(
        (ratio * fine - coarse) / (ratio - 1.0), rel=2e-5
    )


def test_drawn_run_lengths_have_this_mean() -> None:
    """6000 two-sided runs at a shift of half a sigma; five standard errors."""
    random = np.random.default_rng(11)
    runs, design, shift = 6000, QUICK, 0.5
    up, down = np.zeros((2, runs))
    length = np.zeros(runs)
    running = np.ones(runs, dtype=bool)
    while running.any():
        z = random.normal(shift, 1.0, runs)
        up = np.maximum(0.0, up + z - design.reference_sigma)
        down = np.maximum(0.0, down - z - design.reference_sigma)
        length += running
        running &= (up <= design.decision_sigma) & (down <= design.decision_sigma)
    error = length.std() / np.sqrt(runs)

    assert run_length(design, shift) == pytest.approx(length.mean(), abs=5.0 * error)
    assert 5.0 * error < 0.1 * run_length(design, shift)


def test_the_mean_of_the_distribution_is_the_run_length() -> None:
    left = survival(QUICK, lambda _: 1.0)

    assert left[:-1].sum() == pytest.approx(one_sided_run_length(QUICK, 1.0), rel=1e-6)


@pytest.mark.parametrize("visits_before", [None, 6, 24])
def test_delay_of_drawn_growths(visits_before: int | None) -> None:
    """Self-starting errors of a level that is learned, then grows; medians of 4000 histories lie
    within half a visit of the computed distribution."""
    random = np.random.default_rng(2)
    runs, step, after = 4000, 0.4, 60
    before = visits_before or 0
    y = random.normal(size=(runs, before + after))
    y[:, before:] += step * np.arange(1, after + 1)
    if visits_before is None:
        errors = y
    else:
        counts = np.arange(before, before + after)
        means = np.cumsum(y, axis=1)[:, before - 1 : -1] / counts
        errors = (y[:, before:] - means) * np.sqrt(counts / (counts + 1.0))
    total, signal = np.zeros(runs), np.full(runs, after)
    for i in range(after):
        total = np.maximum(0.0, total + errors[:, i] - QUICK.reference_sigma)
        signal = np.where((total > QUICK.decision_sigma) & (signal == after), i + 1, signal)
    delay = growth_delay(QUICK, step, interval_years=1.0, sigma_db=1.0, visits_before=visits_before)
    assert delay is not None

    assert delay.median_visits == np.median(signal)
    assert delay.mean_visits == pytest.approx(signal.mean(), abs=5.0 * signal.std() / np.sqrt(runs))


def test_a_growth_that_is_never_noticed() -> None:
    """Once in two thousand visits a sigma: false alarms come first, and not soon."""
    wide = CusumDesign(reference_sigma=1.5, decision_sigma=8.0)

    assert growth_delay(wide, 1e-6, interval_years=1.0, sigma_db=1.0) is None


@given(st.floats(0.1, 1.5), st.floats(1.0, 8.0), st.floats(0.0, 2.0), st.floats(0.05, 1.0))
def test_run_lengths_fall_with_the_shift(k: float, h: float, shift: float, more: float) -> None:
    design = CusumDesign(reference_sigma=k, decision_sigma=h)
    wider = CusumDesign(reference_sigma=k, decision_sigma=h + more)

    assert one_sided_run_length(design, shift + more) < one_sided_run_length(design, shift)
    assert one_sided_run_length(wider, shift) > one_sided_run_length(design, shift)
    assert one_sided_run_length(design, shift) >= 1.0 - 1e-9


def test_sums_signal_and_onset() -> None:
    path = run_cusum(QUICK, np.array([0.2, -1.0, 3.0, 3.0, 3.0, -20.0]))

    assert path.upper == pytest.approx((0.0, 0.0, 2.5, 5.0, 7.5, 0.0))
    assert path.signal == 4
    assert path.onset == 2
    assert path.signal_down == 5
    assert path.lower[-1] == pytest.approx(19.5)
