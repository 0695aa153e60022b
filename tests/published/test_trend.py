"""State space, cumulative sums and first passages against published numbers (all from memory)."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.special import ndtr

from cagewise.history.cusum import CusumDesign, growth_delay, one_sided_run_length, run_length
from cagewise.history.kalman import StateSpace, run_filter, run_smoother
from cagewise.history.time_to_limit import DRAWS, first_passages
from cagewise.history.trend import GrowthPosterior
from cagewise.quantities import RealArray
from support.plain_readings import PlainReadings

NILE = np.array(
    [
        *(1120, 1160, 963, 1210, 1160, 1160, 813, 1230, 1370, 1140),
        *(995, 935, 1110, 994, 1020, 960, 1180, 799, 958, 1140),
        *(1100, 1210, 1150, 1250, 1260, 1220, 1030, 1100, 774, 840),
        *(874, 694, 940, 833, 701, 916, 692, 1020, 1050, 969),
        *(831, 726, 456, 824, 702, 1120, 1100, 832, 764, 821),
        *(768, 845, 864, 862, 698, 845, 744, 796, 1040, 759),
        *(781, 865, 845, 944, 984, 897, 822, 1010, 771, 676),
        *(649, 846, 812, 742, 801, 1040, 860, 874, 848, 890),
        *(744, 749, 838, 1050, 918, 986, 797, 923, 975, 815),
        *(1020, 906, 901, 1170, 912, 746, 919, 718, 714, 740),
    ],
    dtype=float,
)
"""Annual flow of the Nile at Aswan 1871 to 1970, 10^8 m^3 (Durbin and Koopman 2012, chapter 2)."""
DIFFUSE = 1e11
"""Variance of the first level: nothing is known of it (the last digit of the maximum asks for
more than the 10^7 of the book's worked example)."""


def nile(level_variances: list[float]) -> StateSpace:
    n, sets = NILE.size, len(level_variances)
    disturbance = np.zeros((n, sets, 2, 2))
    disturbance[1:, :, 0, 0] = level_variances
    return StateSpace(
        gaps=np.ones(n),
        loadings=np.tile([1.0, 0.0], (n, 1)),
        start_mean=np.zeros(2),
        start_covariance=np.diag([DIFFUSE, 0.0]),
        disturbance=disturbance,
    )


def nile_log_likelihood(noise: list[float], level: list[float]) -> RealArray:
    """Of years 2 to 100, given the first: the diffuse log-likelihood of the book."""
    readings = PlainReadings(NILE, np.tile(noise, (NILE.size, 1)))
    run_filter(nile(level), readings.read)
    total: RealArray = readings.log_density[1:].sum(axis=0)
    return total


def test_nile_log_likelihood_and_its_maximum() -> None:
    """Maximum at 15099 and 1469.1 (Durbin and Koopman 2012, section 2.10), there -632.5456 with
    nothing known of the first level (Helske, J. Statistical Software 78, 2017)."""
    noise, level = 15099.0, 1469.1
    around = [(noise, level)]
    around += [(noise * f, level) for f in (0.98, 1.02)] + [
        (noise, level * f) for f in (0.95, 1.05)
    ]
    likelihoods = nile_log_likelihood([n for n, _ in around], [q for _, q in around])

    assert likelihoods[0] == pytest.approx(-632.5456, abs=0.0001)
    assert likelihoods.argmax() == 0


def test_nile_maximum_to_the_printed_digits() -> None:
    """Newton's method from 5 % off ends at 15099 and 1469.1."""
    at = np.log([15099.0 * 1.05, 1469.1 * 0.95])
    step = 1e-3
    for _ in range(8):
        offsets = np.array([[i, j] for i in (-1, 0, 1) for j in (-1, 0, 1)], dtype=float) * step
        grid = np.exp(at + offsets)
        value = nile_log_likelihood(grid[:, 0].tolist(), grid[:, 1].tolist()).reshape(3, 3)
        slope = np.array([value[2, 1] - value[0, 1], value[1, 2] - value[1, 0]]) / (2.0 * step)
        mixed = (value[2, 2] - value[2, 0] - value[0, 2] + value[0, 0]) / (4.0 * step**2)
        first = (value[2, 1] - 2.0 * value[1, 1] + value[0, 1]) / step**2
        second = (value[1, 2] - 2.0 * value[1, 1] + value[1, 0]) / step**2
        at = at - np.linalg.solve(np.array([[first, mixed], [mixed, second]]), slope)
    noise, level = np.exp(at)

    assert noise == pytest.approx(15099.0, abs=1.5)  # last printed digit, and the diffuse start
    assert level == pytest.approx(1469.1, abs=0.5)


def test_nile_filter_settles() -> None:
    """The variance of the filtered level settles at 4032.16 (Durbin and Koopman, section 2.3.3:
    the steady state solves x^2 - x q - q = 0 with q = 0.0973)."""
    ratio = 1469.1 / 15099.0
    steady = 15099.0 * (ratio + math.sqrt(ratio**2 + 4.0 * ratio)) / 2.0
    readings = PlainReadings(NILE, np.full((NILE.size, 1), 15099.0))
    filtered = run_filter(nile([1469.1]), readings.read)
    smoothed = run_smoother(filtered)
    mean, variance = smoothed.seen(filtered.model.loadings)

    assert readings.forecast_variance[-1, 0] == pytest.approx(steady, rel=1e-9)
    assert filtered.end_covariance[0, 0, 0] == pytest.approx(4032.16, abs=0.01)
    assert mean[-1, 0] == pytest.approx(798.37, abs=0.01)  # filtered level of 1970 (ibid.)
    assert variance[50, 0] < filtered.end_covariance[0, 0, 0]


@pytest.mark.parametrize(
    ("decision", "printed"),
    [
        (4.0, "168 74.2 26.6 13.3 8.38 4.75 3.34 2.62 2.19 1.71"),
        (5.0, "465 139 38.0 17.0 10.4 5.75 4.01 3.11 2.57 2.01"),
    ],
)
def test_run_lengths_of_tabular_sums(decision: float, printed: str) -> None:
    """Montgomery, Introduction to Statistical Quality Control: ARL of the tabular CUSUM with
    k = 1/2, two-sided, for these shifts in standard deviations."""
    shifts = (0.0, 0.25, 0.5, 0.75, 1.0, 1.5, 2.0, 2.5, 3.0, 4.0)
    design = CusumDesign(reference_sigma=0.5, decision_sigma=decision)
    for shift, text in zip(shifts, printed.split(), strict=True):
        last_digit = 10.0 ** -len(text.partition(".")[2])
        assert run_length(design, shift) == pytest.approx(float(text), abs=0.51 * last_digit + 0.03)


@pytest.mark.parametrize(
    ("reference", "decision"),
    [(0.25, 8.01), (0.5, 4.77), (0.75, 3.34), (1.0, 2.52), (1.25, 1.99), (1.5, 1.61)],
)
def test_designs_of_370_visits(reference: float, decision: float) -> None:
    """Hawkins 1993 (as printed by Montgomery): h for a two-sided ARL of 370; h has two decimals,
    and one unit of the last moves the run length by the tolerance."""
    design = CusumDesign(reference_sigma=reference, decision_sigma=decision)
    wider = CusumDesign(reference_sigma=reference, decision_sigma=decision + 0.01)
    digit = run_length(wider) - run_length(design)

    assert run_length(design) == pytest.approx(370.0, abs=1.05 * digit)


@pytest.mark.parametrize(
    ("growth", "visits_per_year", "years"),
    [(6.0, 12, "0.58"), (2.0, 12, "1.1"), (6.0, 4, "1.0"), (2.0, 4, "1.75")],
)
def test_delay_of_a_growth(growth: float, visits_per_year: int, years: str) -> None:
    """k = 0.5, h = 5, sigma 1.5 dB, level known: survey of methods, computed there; the medians
    agree to the printed digits."""
    design = CusumDesign(reference_sigma=0.5, decision_sigma=5.0)
    delay = growth_delay(design, growth, interval_years=1.0 / visits_per_year, sigma_db=1.5)
    assert delay is not None

    assert f"{delay.years:.{len(years.partition('.')[2])}f}" == years


def test_years_between_false_alarms() -> None:
    """One-sided 77.6, two-sided 38.8 years of monthly visits. A survey's 27 years are the mean of
    runs that were cut at 400 visits: m (1 - exp(-400/m)) of a run length near exponential."""
    design = CusumDesign(reference_sigma=0.5, decision_sigma=5.0)
    visits = one_sided_run_length(design)

    assert visits / 12.0 == pytest.approx(77.6, abs=0.05)
    assert run_length(design) / 12.0 == pytest.approx(38.8, abs=0.05)
    assert visits * -math.expm1(-400.0 / visits) / 12.0 == pytest.approx(27.0, abs=0.5)


@pytest.mark.parametrize(("decision", "percent"), [(4.0, 1.0), (5.0, 1.0), (6.0, 1.0)])
def test_run_lengths_by_the_approximation_of_siegmund(decision: float, percent: float) -> None:
    """Siegmund 1985, as printed by Montgomery and from memory: b = h + 1.166, drift -k in control;
    it is within a few percent for such designs. No integral and no chain stands in it."""
    reference = 0.5
    wide = 2.0 * reference * (decision + 1.166)
    approximate = (math.exp(wide) - wide - 1.0) / (2.0 * reference**2)

    design = CusumDesign(reference_sigma=reference, decision_sigma=decision)
    assert one_sided_run_length(design) == pytest.approx(approximate, rel=percent / 100.0)


@pytest.mark.parametrize(("slope", "noise"), [(3.0, 2.0), (1.0, 4.0), (0.0, 5.0)])
def test_first_passages_of_a_wandering_level(slope: float, noise: float) -> None:
    """Brownian motion with drift passes a level by the inverse Gaussian law (Schrodinger 1915)."""
    room, horizon = 5.0, 5.0
    posterior = GrowthPosterior(
        day=0.0,
        weights=np.ones(1),
        means=np.array([[0.0, slope]]),
        covariances=np.zeros((1, 2, 2)),
        noise_factor=np.ones(1),
        level_variance=np.array([noise**2]),
        slope_variance=np.zeros(1),
    )
    times = first_passages(posterior, room, horizon)
    for t in (0.5, 1.0, 2.0, 5.0):
        spread = noise * math.sqrt(t)
        law = ndtr((slope * t - room) / spread) + math.exp(2.0 * slope * room / noise**2) * ndtr(
            (-room - slope * t) / spread
        )
        error = 3.5 * math.sqrt(law * (1.0 - law) / DRAWS)  # drawn, eight checks of one seed
        assert np.mean(times <= t) == pytest.approx(law, abs=error)
