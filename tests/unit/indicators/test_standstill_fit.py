"""The fit of orders 0, 2 and 4: statistics, uneven angles, drift, mistakes in writing."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import ncx2

from cagewise.indicators.standstill.amplitude import amplitude_estimate
from cagewise.indicators.standstill.fit import PairFit, fit_pair, sampling_of
from cagewise.indicators.standstill.mistakes import writing_mistake
from cagewise.indicators.standstill.moving import Movement, component, detection_factor
from cagewise.indicators.standstill.series import PairReadings, Quantity
from cagewise.machine.positions import aliased_orders, position_counts, possible_slot_orders
from cagewise.measurement.test_sheet import PositionSeries, TerminalPair
from cagewise.quantities import RealArray
from support.position_sheets import PAIRS, R3K, Test, shaft_angles, wave_sheet

L = Quantity.INDUCTANCE
P = 2


def readings_of(values: RealArray, angles: RealArray) -> PairReadings:
    series = PositionSeries(
        pair=TerminalPair.AB, frequency_hz=50.0, shaft_angle_rad=angles, inductance_h=values
    )
    return PairReadings.of(series, P)


def fits_of(**how: object) -> list[PairFit]:
    """Return the fits of a made-up sheet, one per pair; ``how`` as for ``wave_sheet``."""
    sheet = wave_sheet(**how)  # type: ignore[arg-type]  # passed on
    pairs = [PairReadings.of(series, P) for series in sheet.positions]
    return [fit_pair(r, L, sampling_of(r, possible_slot_orders(32, P))) for r in pairs]


def test_recovers_a_wave_exactly_at_uneven_angles_with_drift() -> None:
    rng = np.random.default_rng(1)
    angles = shaft_angles(P, 24) + np.radians(2.0) * rng.uniform(-1.0, 1.0, 48)
    x = P * angles
    drift = 0.004 * np.linspace(-0.5, 0.5, 48)
    relative = 1.0 + 0.02 * np.cos(2.0 * x - 0.5) + 0.005 * np.sin(4.0 * x) + drift
    relative += 0.003 * np.cos(16.0 * x)
    found = readings_of(0.03 * relative, angles)
    fit = fit_pair(found, L, sampling_of(found, (16.0, 32.0)))
    assert fit.mean == pytest.approx(0.03, rel=1e-12)
    expected = [0.02 * math.cos(0.5), 0.02 * math.sin(0.5), 0.0, 0.005]
    assert fit.pattern == pytest.approx(expected, abs=1e-12)
    assert fit.coefficients[1] == pytest.approx(0.004, rel=1e-9)
    assert fit.sampling.slot_orders == (16.0, 32.0)
    assert fit.curve(x) == pytest.approx(relative - 1.0 - drift, abs=1e-12)
    assert fit.aside == pytest.approx(drift, abs=1e-12)


def test_amplitude_scatters_by_root_two_over_n() -> None:
    """sd = sqrt(2 / N) sigma for equally spaced positions; 4 % from 600 draws of two components."""
    n, sigma = 48, 0.0015
    angles = shaft_angles(P, 24)
    rng = np.random.default_rng(2)
    draws = []
    for _ in range(600):
        readings = readings_of(1.0 + sigma * rng.standard_normal(n), angles)
        draws.append(fit_pair(readings, L, sampling_of(readings, ())).pattern)
    found = float(np.std(np.array(draws)[:, :2]))
    assert found == pytest.approx(math.sqrt(2.0 / n) * sigma, rel=0.04)


@pytest.mark.parametrize("count", [12, 14, 16, 18, 20, 24, 36, 37])
def test_leakage_agrees_with_the_arithmetic_of_aliases(count: int) -> None:
    """A ripple either folds whole (1), or is told apart, or falls on the mean (leaks nothing); the
    drift, which stands in the fit beside the waves, moves this by a few per cent."""
    readings = readings_of(np.ones(2 * count), shaft_angles(P, count))
    sampling = sampling_of(readings, (16.0, 32.0))
    for order in (16.0, 32.0):
        folded = aliased_orders(count, order, orders=(2, 4))
        if folded:
            assert sampling.leakage[order] == pytest.approx(1.0, abs=0.03)
        else:
            assert sampling.leakage.get(order, 0.0) < 0.05


def test_ripple_that_is_told_apart_leaves_the_pattern_alone() -> None:
    clean = fits_of(second=0.01, noise=0.0)[0].pattern
    rippled = fits_of(second=0.01, ripple=0.003, noise=0.0)[0].pattern
    assert rippled == pytest.approx(clean, abs=1e-9)


def test_angle_jitter_goes_into_the_scatter_and_the_interval_still_covers() -> None:
    """3 electrical degrees of jitter, ripple of 0.3 %, repeatability 0.1 %: the true amplitude of
    2 % lies within 95 % intervals in at least 88 of 100 series (3 sd below 95)."""
    rng = np.random.default_rng(5)
    angles = shaft_angles(P, 24)
    inside = 0
    for _ in range(100):
        x = P * angles + np.radians(3.0) * rng.standard_normal(48)
        values = 1.0 + 0.02 * np.cos(2.0 * x - 0.3) + 0.003 * np.cos(16.0 * x)
        values += 0.001 * rng.standard_normal(48)
        readings = readings_of(values, angles)
        part = component(
            [fit_pair(readings, L, sampling_of(readings, (16.0,)))], Movement.WITH_ROTOR
        )
        sd = math.sqrt(float(np.mean(np.diag(part.spread(2)))))
        found = amplitude_estimate(part.amplitude(2), sd, 2, part.freedom)
        inside += found.low <= 0.02 <= found.high
    assert inside >= 88


def test_false_alarms_come_at_their_rate() -> None:
    """600 sound rotors with noise: 5 % of the F tests below 5 % (binomial sd 0.9 %)."""
    tests = [
        component(fits_of(seed=seed), Movement.WITH_ROTOR).false_alarm_probability
        for seed in range(600)
    ]
    assert float(np.mean(np.array(tests) < 0.05)) == pytest.approx(0.05, abs=0.027)


def test_detection_factor_finds_ninety_five_of_a_hundred() -> None:
    """Noise of three pairs, a wave of the promised size: at least 95 % minus 3 binomial sd."""
    quiet = component(fits_of(), Movement.WITH_ROTOR)
    sd = math.sqrt(2.0 / 49.0 / 3.0) * 0.001
    size = sd * detection_factor(1e-3, quiet.freedom)
    found = [
        component(fits_of(second=size, seed=seed), Movement.WITH_ROTOR).false_alarm_probability
        for seed in range(200)
    ]
    assert float(np.mean(np.array(found) < 1e-3)) >= 0.95 - 3.0 * math.sqrt(0.95 * 0.05 / 200.0)


@pytest.mark.parametrize("movement", [1, 0, -1])
def test_the_three_movements_are_told_apart(movement: int) -> None:
    fits = fits_of(second=0.01, movement=movement)
    shares = {m: component(fits, m).share for m in Movement}
    best = max(shares, key=lambda m: shares[m])
    assert best.value == movement
    assert shares[best] > 0.99
    assert component(fits, best).amplitude(2) == pytest.approx(0.01, abs=3e-4)


def test_two_pairs_tell_movements_too() -> None:
    for movement in (1, 0, -1):
        fits = fits_of(second=0.01, movement=movement, pairs=PAIRS[:2])
        shares = {m: component(fits, m).share for m in Movement}
        assert max(shares, key=lambda m: shares[m]).value == movement


@pytest.mark.parametrize("size", [1.0, 2.0, 4.0, 9.0])
@pytest.mark.parametrize("components", [2, 4])
def test_amplitude_interval_covers(size: float, components: int) -> None:
    """Normal components of unit sd: 95 %, 2000 draws (binomial sd 0.5 %); an interval that is wide
    because zero is not excluded covers more."""
    rng = np.random.default_rng(7)
    inside = 0
    for _ in range(2000):
        vector = rng.standard_normal(components)
        vector[0] += size
        found = amplitude_estimate(float(np.linalg.norm(vector)), 1.0, components, 10**6)
        inside += found.low <= size <= found.high
    assert 0.935 <= inside / 2000.0 <= 0.99


def test_amplitude_interval_is_that_of_the_noncentral_distribution() -> None:
    found = amplitude_estimate(3.0, 1.0, 2, 10**7)
    assert ncx2.cdf(9.0, 2, found.high**2) == pytest.approx(0.025, rel=1e-4)
    assert ncx2.sf(9.0, 2, found.low**2) == pytest.approx(0.025, rel=1e-4)


def test_lucky_zero_does_not_prove_zero() -> None:
    assert amplitude_estimate(1e-6, 1.0, 2, 40).high > 2.0


def changed(values: RealArray, angles: RealArray) -> str:
    readings = readings_of(values, angles)
    return writing_mistake(fit_pair(readings, L, sampling_of(readings, (16.0,))), 1e-4)


def test_exchanged_and_wrong_readings_are_named() -> None:
    angles = shaft_angles(P, 24)
    rng = np.random.default_rng(9)
    values = 1.0 + 0.036 * np.cos(2.0 * P * angles) + 0.001 * rng.standard_normal(48)
    assert changed(values, angles) == ""
    swapped = values.copy()
    swapped[[5, 11]] = swapped[[11, 5]]
    assert changed(swapped, angles).startswith(
        "readings 6 and 12 of the inductance of terminals a-b (at 37.5 and 82.5 degrees)"
    )
    wrong = values.copy()
    wrong[20] *= 1.03
    assert changed(wrong, angles).startswith(
        "reading 21 of the inductance of terminals a-b (at 150"
    )


def test_noise_is_seldom_called_a_mistake() -> None:
    """1e-4 per test, two tests of 300 series: none expected, two at most."""
    angles = shaft_angles(P, 24)
    rng = np.random.default_rng(10)
    called = sum(bool(changed(1.0 + 0.001 * rng.standard_normal(48), angles)) for _ in range(300))
    assert called <= 2


def test_coverage_of_positions() -> None:
    def coverage(angles: RealArray) -> tuple[int, float]:
        return readings_of(np.ones(angles.size), angles).coverage

    assert coverage(shaft_angles(P, 24, 1)) == pytest.approx((24, 1.0))
    assert coverage(np.append(shaft_angles(P, 24), 2.0 * math.pi)) == pytest.approx((48, 2.0))
    across_zero = (shaft_angles(P, 24, 1) + math.radians(300.0)) % (2.0 * math.pi)
    assert coverage(across_zero) == pytest.approx((24, 1.0))
    assert coverage(np.zeros(3))[1] == 0.0


def test_return_error_is_judged_beyond_the_scatter() -> None:
    angles = np.append(shaft_angles(P, 24), 0.0)
    rng = np.random.default_rng(12)
    values = 1.0 + 0.001 * rng.standard_normal(49)
    values[-1] = values[0] + 0.01
    readings = readings_of(values, angles)
    fit = fit_pair(readings, L, sampling_of(readings, ()))
    assert fit.return_error == pytest.approx(0.01, rel=0.01)
    assert 0.002 < fit.excess_return_error < 0.01
    open_end = fit_pair(
        replace(readings, shaft_angle_rad=angles[:-1], values={L: values[:-1]}),
        L,
        sampling_of(replace(readings, shaft_angle_rad=angles[:-1]), ()),
    )
    assert open_end.return_error is None


def test_rounding_is_the_least_scatter() -> None:
    """Identical numbers cannot make an infinite test."""
    fit = fits_of(noise=0.0)[0]
    assert 0.0 < fit.scatter < 1e-6
    assert math.isfinite(component([fit], Movement.WITH_ROTOR).false_alarm_probability)


def test_made_up_tests_follow_the_advice() -> None:
    advice = position_counts(R3K)
    assert (Test().per_pole_pair, Test().covered) == (
        advice.positions_per_pole_pair,
        advice.pole_pairs,
    )
