"""Limits against quadrature; what a limit may and may not say."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import log_ndtr, ndtr, ndtri

from cagewise.history import censored, mixture
from cagewise.history.censored import Forward, Observations, run_forward
from cagewise.history.kalman import StateSpace, run_smoother
from cagewise.quantities import RealArray

SETS = 40
"""The same set of variances so many times: more draws."""


def one_level(n: int, spread: float = 5.0) -> StateSpace:
    """The same level at every visit, so that everything is an integral over one number."""
    return StateSpace(
        gaps=np.zeros(n),
        loadings=np.tile([1.0, 0.0], (n, 1)),
        start_mean=np.array([-8.0, 0.0]),
        start_covariance=np.diag([spread**2, 0.0]),
        disturbance=np.zeros((n, SETS, 2, 2)),
    )


def forward_of(values: list[float], side: list[int], variance: float) -> Forward:
    n = len(values)
    observations = Observations(
        np.array(values), np.full((n, SETS), variance), np.array(side, dtype=np.int8)
    )
    return run_forward(one_level(n), observations, np.full(SETS, -math.log(SETS)))


def moments_of(forward: Forward) -> tuple[float, float, float]:
    """Log evidence, mean and variance of the level."""
    weights = mixture.normalised(forward.log_weight)
    means, variances = forward.filtered.end_mean[:, 0], forward.filtered.end_covariance[:, 0, 0]
    mean = float(weights @ means)
    variance = float(weights @ (variances + means**2)) - mean**2
    return float(np.logaddexp.reduce(forward.log_weight)), mean, variance


def by_quadrature(
    values: list[float], side: list[int], variance: float
) -> tuple[float, float, float]:
    """The same on a fine grid of levels."""
    level = np.linspace(-80.0, 60.0, 140_001)
    log_weight = -0.5 * (((level + 8.0) / 5.0) ** 2 + math.log(2.0 * math.pi * 25.0))
    for value, where in zip(values, side, strict=True):
        z = (value - level) / math.sqrt(variance)
        log_weight += (
            log_ndtr(-where * z) if where else -0.5 * (z * z + math.log(2.0 * math.pi * variance))
        )
    top = float(log_weight.max())
    weight = np.exp(log_weight - top)
    total = float(weight.sum())
    mean = float(weight @ level) / total
    return (
        top + math.log(total * (level[1] - level[0])),
        mean,
        float(weight @ (level - mean) ** 2) / total,
    )


@pytest.mark.parametrize("variance", [0.5, 4.0])
@pytest.mark.parametrize(
    ("values", "side"),
    [
        ([-10.0], [-1]),
        ([-10.0, -12.0, -9.0], [-1, -1, -1]),
        ([-10.0, -11.0, -13.0, -12.0], [-1, 0, -1, 0]),
        ([-14.0] * 12, [-1] * 12),
        ([-14.0, -20.0] * 6, [-1, 1] * 6),
    ],
)
def test_draws_have_the_moments_of_the_exact_posterior(
    values: list[float], side: list[int], variance: float
) -> None:
    """960 draws: an effective number of 300 at least meets a mean to a fifth of a standard
    deviation and a variance to a third, at three standard errors; most do far better."""
    log_evidence, mean, level_variance = moments_of(forward_of(values, side, variance))
    exact_evidence, exact_mean, exact_variance = by_quadrature(values, side, variance)

    assert mean == pytest.approx(exact_mean, abs=0.2 * math.sqrt(exact_variance))
    assert level_variance == pytest.approx(exact_variance, rel=0.33)
    assert log_evidence == pytest.approx(exact_evidence, abs=0.15)


def test_readings_alone_are_exact_and_drawn_once() -> None:
    values, side = [-10.0, -11.5, -9.0], [0, 0, 0]
    forward = forward_of(values, side, 2.0)

    assert forward.log_weight.size == SETS
    assert moments_of(forward) == pytest.approx(by_quadrature(values, side, 2.0), rel=1e-6)


def test_runs_that_multiply_keep_their_past(monkeypatch: pytest.MonkeyPatch) -> None:
    """The level never moves, so each run's smoothed level is its last one at every visit. Here the
    runs multiply after every draw."""
    monkeypatch.setattr(censored, "LEAST_SHARE", 1.0)
    forward = forward_of([-14.0, -20.0] * 20, [-1, 1] * 20, 0.5)
    mean, variance = run_smoother(forward.filtered).seen(forward.filtered.model.loadings)

    first_draws = forward.filtered.push[0]
    assert len(np.unique(first_draws)) < 0.75 * first_draws.size
    assert mean == pytest.approx(np.tile(forward.filtered.end_mean[:, 0], (40, 1)), rel=1e-6)
    assert variance == pytest.approx(
        np.tile(forward.filtered.end_covariance[:, 0, 0], (40, 1)), rel=1e-6, abs=1e-9
    )


@settings(max_examples=30, deadline=None)
@given(st.floats(-20.0, 0.0), st.floats(0.3, 9.0))
def test_a_limit_only_ever_lowers(limit: float, variance: float) -> None:
    _, mean, level_variance = moments_of(forward_of([limit], [-1], variance))

    assert mean < -8.0 + 0.1  # of one prior of 5 dB, drawn 960 times in layers
    assert level_variance < 25.0 * 1.05


def test_a_limit_far_above_says_nothing() -> None:
    log_evidence, mean, variance = moments_of(forward_of([90.0], [-1], 1.0))

    assert log_evidence == pytest.approx(0.0, abs=1e-9)
    assert mean == pytest.approx(-8.0, abs=0.02)
    assert variance == pytest.approx(25.0, rel=0.02)


@pytest.mark.parametrize("side", [-1, 1])
def test_score_of_a_limit_is_what_a_reading_there_would_have_on_average(side: int) -> None:
    """Readings of the forecast N(-8, 25 + 4), those beyond the limit, in its own units."""
    forward = forward_of([-10.0], [side], 4.0)
    z = np.linspace(-9.0, 9.0, 200_001)
    beyond = z <= forward.tail[0] if side < 0 else z >= forward.tail[0]
    density = np.exp(-0.5 * z**2) * beyond

    assert forward.tail[0] == pytest.approx(-2.0 / math.sqrt(29.0), rel=1e-9)
    assert forward.scores[0] == pytest.approx(float(density @ z / density.sum()), abs=1e-4)


def test_scores_of_mixtures_hold_in_both_tails() -> None:
    weights = np.array([0.25, 0.75])

    assert mixture.score(weights, np.array([1.3, 1.3])) == pytest.approx(1.3, rel=1e-12)
    assert mixture.score(weights, np.array([30.0, 30.0])) == pytest.approx(30.0, rel=1e-9)
    assert mixture.score(weights, np.array([-30.0, -30.0])) == pytest.approx(-30.0, rel=1e-9)
    assert mixture.score(weights, np.array([0.0, 1.0])) == pytest.approx(
        float(ndtri(0.25 * 0.5 + 0.75 * ndtr(1.0))), rel=1e-9
    )


@given(
    st.lists(st.floats(-30.0, 10.0), min_size=1, max_size=4),
    st.floats(0.01, 10.0),
    st.floats(-40.0, 20.0),
)
def test_quantiles_of_mixtures(means: list[float], deviation: float, least: float) -> None:
    """Their distribution function, cut at the least value, gives the probabilities back."""
    parts = np.array([means])
    weights = np.full(len(means), 1.0 / len(means))
    spread = np.full_like(parts, deviation)

    def above(value: float) -> float:
        return float(weights @ ndtr((parts[0] - value) / deviation))

    plain = mixture.quantiles(weights, parts, spread)[:, 0]
    for value, probability in zip(plain, mixture.TAILS, strict=True):
        assert 1.0 - above(value) == pytest.approx(probability, abs=1e-9)
    cut = mixture.quantiles(weights, parts, spread, least=least)[:, 0]
    assert np.all(cut >= least - 1e-9)
    if above(least) > 1e-12:
        shares: RealArray = np.array([above(v) for v in cut]) / above(least)
        assert 1.0 - shares == pytest.approx(np.array(mixture.TAILS), abs=1e-6)
