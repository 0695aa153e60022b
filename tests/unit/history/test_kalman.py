"""Filter and smoother against the joint normal distribution and against another library."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cagewise.history.kalman import (
    StateSpace,
    advanced,
    run_filter,
    run_smoother,
)
from cagewise.quantities import RealArray
from support.plain_readings import PlainReadings

SETS = 3


def space(seed: int, n: int = 7) -> StateSpace:
    """A level, a slope, a coefficient and an offset, visited at any times."""
    random = np.random.default_rng(seed)
    gaps = random.uniform(0.0, 0.6, n) * (random.uniform(size=n) > 0.2)
    gaps[0] = 0.0
    slope_variance, level_variance = np.array([0.0, 4.0, 30.0]), np.array([0.0, 2.0, 10.0])
    disturbance = np.zeros((n, SETS, 2, 2))
    for t, gap in enumerate(gaps):
        disturbance[t, :, 0, 0] = slope_variance * gap**3 / 3.0 + level_variance * gap
        disturbance[t, :, 0, 1] = disturbance[t, :, 1, 0] = slope_variance * gap**2 / 2.0
        disturbance[t, :, 1, 1] = slope_variance * gap
    return StateSpace(
        gaps=gaps,
        loadings=np.column_stack(
            [np.ones(n), np.zeros(n), random.normal(size=n), random.integers(0, 2, n)]
        ),
        start_mean=np.array([-10.0, 1.0, 0.0, 0.0]),
        start_covariance=np.diag([64.0, 36.0, 9.0, 4.0]),
        disturbance=disturbance,
    )


def joint(model: StateSpace, number: int) -> tuple[RealArray, RealArray]:
    """Mean (n, d) and covariance (n, d, n, d) of all states under one set of variances."""
    n, d = model.loadings.shape
    mean, covariance = np.zeros((n, d)), np.zeros((n, d, n, d))
    now, spread = model.start_mean, np.zeros((d, n * d + d))
    root = np.linalg.cholesky(model.start_covariance)
    spread[:, :d] = root
    factors = []
    for t in range(n):
        step = np.eye(d)
        step[0, 1] = model.gaps[t]
        now, spread = step @ now, step @ spread
        values, vectors = np.linalg.eigh(model.disturbance[t, number])
        spread[:2, d + t * d : d + t * d + 2] += vectors * np.sqrt(np.maximum(values, 0.0))
        mean[t] = now
        factors.append(spread.copy())
    stacked = np.stack(factors)
    covariance = np.einsum("tik,ujk->tiuj", stacked, stacked)
    return mean, covariance


@pytest.mark.parametrize("seed", range(4))
def test_all_states_are_those_of_the_joint_normal_distribution(seed: int) -> None:
    model = space(seed)
    n, d = model.loadings.shape
    random = np.random.default_rng(100 + seed)
    values = random.normal(-10.0, 6.0, size=(n,))
    variances = random.uniform(0.5, 5.0, (n, SETS))
    readings = PlainReadings(values, variances)
    smoothed = run_smoother(run_filter(model, readings.read))
    evidence = readings.log_density.sum(axis=0)
    for h in range(SETS):
        mean, covariance = joint(model, h)
        z = model.loadings
        seen = np.einsum("td,td->t", mean, z)
        between = np.einsum("td,tdue,ue->tu", z, covariance, z) + np.diag(variances[:, h])
        error = values - seen
        log_density = -0.5 * (
            error @ np.linalg.solve(between, error) + np.linalg.slogdet(2.0 * math.pi * between)[1]
        )
        assert evidence[h] == pytest.approx(log_density, rel=1e-9)
        for loading in np.eye(d):
            across = np.einsum("d,tdue,ue->tu", loading, covariance, z)
            wanted = mean @ loading + across @ np.linalg.solve(between, error)
            own = np.einsum("d,tdte,e->t", loading, covariance, loading)
            left = own - np.einsum("tu,ut->t", across, np.linalg.solve(between, across.T))
            got_mean, got_variance = smoothed.seen(np.tile(loading, (n, 1)))
            assert got_mean[:, h] == pytest.approx(wanted, rel=1e-8, abs=1e-9)
            assert got_variance[:, h] == pytest.approx(left, rel=1e-7, abs=1e-9)


def test_a_general_purpose_library_agrees() -> None:
    """Local linear trend with given variances and a given start: statsmodels."""
    structural = pytest.importorskip("statsmodels.tsa.statespace.structural")
    random = np.random.default_rng(3)
    n, noise, level, slope = 30, 2.0, 0.7, 0.2
    values = np.cumsum(random.normal(0.3, 1.0, n)) + random.normal(0.0, 1.4, n)
    start_mean, start_covariance = np.array([1.0, 0.2]), np.array([[9.0, 1.0], [1.0, 4.0]])
    other = structural.UnobservedComponents(values, "lltrend")
    other.ssm.initialize_known(start_mean, start_covariance)
    other.ssm.loglikelihood_burn = 0
    result = other.smooth([noise, level, slope])
    disturbance = np.tile(np.diag([level, slope]), (n, 1, 1, 1))
    disturbance[0] = 0.0
    model = StateSpace(
        gaps=np.r_[0.0, np.ones(n - 1)],
        loadings=np.tile([1.0, 0.0], (n, 1)),
        start_mean=start_mean,
        start_covariance=start_covariance,
        disturbance=disturbance,
    )
    readings = PlainReadings(values, np.full((n, 1), noise))
    smoothed = run_smoother(run_filter(model, readings.read))
    evidence = readings.log_density.sum()

    assert evidence == pytest.approx(result.llf, rel=1e-10)
    for i, loading in enumerate(np.eye(2)):
        mean, variance = smoothed.seen(np.tile(loading, (n, 1)))
        assert mean[:, 0] == pytest.approx(result.smoothed_state[i], rel=1e-8)
        assert variance[:, 0] == pytest.approx(result.smoothed_state_cov[i, i], rel=1e-8)


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10_000), st.integers(0, 6))
def test_a_point_that_says_nothing_changes_nothing(seed: int, where: int) -> None:
    model = space(seed)
    n = len(model.gaps)
    random = np.random.default_rng(seed)
    values, variances = random.normal(size=n), random.uniform(0.5, 2.0, (n, SETS))
    mute = variances.copy()
    mute[where] = np.inf
    filtered = run_filter(model, PlainReadings(values, mute).read)

    # without the point: its gap and its disturbance belong to the next one
    keep = np.arange(n) != where
    if where < n - 1:
        merged = model.disturbance.copy()
        step = np.array([[1.0, model.gaps[where + 1]], [0.0, 1.0]])
        merged[where + 1] += step @ model.disturbance[where] @ step.T
        gaps = model.gaps.copy()
        gaps[where + 1] += gaps[where]
        shorter = replace(
            model, gaps=gaps[keep], loadings=model.loadings[keep], disturbance=merged[keep]
        )
        without = run_filter(shorter, PlainReadings(values[keep], variances[keep]).read)
        assert filtered.end_mean == pytest.approx(without.end_mean, rel=1e-8, abs=1e-9)
        assert filtered.end_covariance == pytest.approx(without.end_covariance, rel=1e-8, abs=1e-9)
    assert filtered.push[where] == pytest.approx(np.zeros(SETS))
    assert filtered.pull[where] == pytest.approx(np.zeros(SETS))


def test_a_gap_in_two_parts_is_the_same_gap() -> None:
    mean, covariance = np.array([[1.0, 2.0]]), np.array([[[3.0, 0.5], [0.5, 1.0]]])

    def disturbance(gap: float) -> RealArray:
        return np.array([[[gap**3 / 3.0 + gap, gap**2 / 2.0], [gap**2 / 2.0, gap]]])

    once = advanced(mean, covariance, 0.7, disturbance(0.7))
    part = advanced(*advanced(mean, covariance, 0.3, disturbance(0.3)), 0.4, disturbance(0.4))

    assert part[0] == pytest.approx(once[0], rel=1e-12)
    assert part[1] == pytest.approx(once[1], rel=1e-12)
