"""Lines in closed form: what is fitted, summed and called noise."""

from __future__ import annotations

import math

import numpy as np
import pytest

from cagewise.indicators.lines.fitting import (
    Baseband,
    band_energy,
    fit_pair,
    flat_weights,
    floor_variance,
    line_band,
    local_floor,
    taper_weights,
    without_carrier,
    without_lines,
)
from cagewise.indicators.lines.tapers import N_TAPERS, tapered_spectrum
from cagewise.quantities import ComplexArray, RealArray, decibel

RATE = 80.0


def pair(
    duration_s: float,
    f_hz: float,
    *,
    lower: complex = 0.01,
    upper: complex = 0.006j,
    drift_per_s: complex = 0.0,
    phase_rad: RealArray | None = None,
) -> Baseband:
    """Return carrier 1, drift and a pair; ``phase_rad`` adds to the phase of the upper line."""
    n = round(duration_s * RATE)
    time = (np.arange(n) - 0.5 * (n - 1)) / RATE
    turn = np.exp(2j * np.pi * f_hz * time + 1j * (0.0 if phase_rad is None else phase_rad))
    return Baseband(1.0 + drift_per_s * time + lower * turn.conj() + upper * turn, RATE, 16.0)


def noise(n: int, variance: float, seed: int) -> ComplexArray:
    rng = np.random.default_rng(seed)
    parts = rng.standard_normal((2, n)) * math.sqrt(0.5 * variance)
    return np.asarray(parts[0] + 1j * parts[1])


@pytest.mark.parametrize(
    ("duration_s", "f_hz", "windowed"),
    [
        (60.0, 0.4, True),
        (60.0, 0.4, False),
        (20.0, 2.137, True),
        (20.0, 2.137, False),
        (4.0, 4.4, True),
        (5.0, 0.4, False),
    ],
)
def test_fit_returns_what_was_put_in(duration_s: float, f_hz: float, *, windowed: bool) -> None:
    base = pair(duration_s, f_hz, drift_per_s=0.002 - 0.001j)
    n = base.samples.size
    weights = taper_weights(n) if windowed else flat_weights(n)
    reach = 0.75 / duration_s
    fit = fit_pair(base, f_hz - reach, f_hz + 0.9 * reach, weights)
    # the last parabola is 1/128 of a cell wide
    assert fit.frequency_hz == pytest.approx(f_hz, abs=1e-5 / duration_s)
    assert fit.lower == pytest.approx(0.01, abs=1e-6)
    assert fit.upper == pytest.approx(0.006j, abs=1e-6)
    assert fit.carrier == pytest.approx(1.0, abs=1e-6)
    assert fit.drift_per_s == pytest.approx(0.002 - 0.001j, abs=1e-7)
    assert not fit.at_edge


def test_search_over_a_wide_range_finds_the_pair() -> None:
    base = pair(60.0, 3.21)
    fit = fit_pair(base, 1.0, 6.0, taper_weights(base.samples.size))
    assert fit.frequency_hz == pytest.approx(3.21, abs=1e-6)


def test_a_carrier_alone_does_not_pull_the_search_towards_it() -> None:
    """Two periods from the carrier, no lines: nothing is found, least of all the carrier."""
    base = pair(5.0, 0.4, lower=0.0, upper=0.0, drift_per_s=0.01)
    fit = fit_pair(base, 0.25, 0.6, flat_weights(base.samples.size))
    assert max(abs(fit.lower), abs(fit.upper)) < 1e-9


def test_a_line_outside_the_range_is_flagged() -> None:
    base = pair(30.0, 1.0)
    fit = fit_pair(base, 1.05, 1.2, taper_weights(base.samples.size))
    assert fit.at_edge


def test_range_below_one_period_is_moved_off_the_carrier() -> None:
    base = pair(10.0, 0.5)
    fit = fit_pair(base, 0.0, 0.05, flat_weights(base.samples.size))
    assert fit.frequency_hz >= 1.0 / base.duration_s


def test_amplitudes_scale_with_the_signal() -> None:
    base = pair(30.0, 1.3)
    scaled = Baseband(123.0 * base.samples, RATE, 16.0)
    weights = taper_weights(base.samples.size)
    one, many = fit_pair(base, 1.2, 1.4, weights), fit_pair(scaled, 1.2, 1.4, weights)
    assert many.lower == pytest.approx(123.0 * one.lower, rel=1e-9)
    assert many.frequency_hz == pytest.approx(one.frequency_hz, rel=1e-12)


def test_conjugating_the_signal_exchanges_the_lines() -> None:
    base = pair(30.0, 1.3)
    mirror = Baseband(base.samples.conj(), RATE, 16.0)
    weights = taper_weights(base.samples.size)
    one, other = fit_pair(base, 1.2, 1.4, weights), fit_pair(mirror, 1.2, 1.4, weights)
    assert other.upper == pytest.approx(one.lower.conjugate(), abs=1e-9)


def test_floor_is_the_noise_variance_and_ignores_a_line() -> None:
    floors = []
    for seed in range(30):
        base = pair(30.0, 2.0, lower=0.0, upper=0.0)
        noisy = Baseband(base.samples + noise(base.samples.size, 1e-6, seed), RATE, 16.0)
        fit = fit_pair(noisy, 2.0, 2.0, taper_weights(noisy.samples.size))
        line = 1e-3 * np.exp(2j * np.pi * 2.7 * noisy.time_s)  # 30 dB over the floor, in the ring
        background = tapered_spectrum(without_lines(noisy, fit) + line, RATE)
        band = line_band(background, 2.0, 0.1, avoid_hz=(0.0, -2.0), pass_band_hz=16.0)
        floors.append(floor_variance(background.power[band.ring]))
    # the line fills 7 of the 30 bins of the ring, so the median of all is the 65 % quantile of the
    # noise, a fifth more; a mean would rise eighty-fold
    assert np.mean(floors) == pytest.approx(1.2e-6, rel=0.15)


def test_median_of_averaged_powers_is_corrected_for_its_bias() -> None:
    rng = np.random.default_rng(4)
    power = rng.gamma(N_TAPERS, 1.0 / N_TAPERS, 40000)
    assert floor_variance(power) == pytest.approx(1.0, rel=0.01)


def test_ring_leaves_out_carrier_other_line_and_stop_band() -> None:
    base = pair(30.0, 2.0)
    spectrum = tapered_spectrum(base.samples, RATE)
    band = line_band(spectrum, 2.0, 0.5, avoid_hz=(0.0, -1.0), pass_band_hz=5.0)
    ring_hz = band.ring * spectrum.resolution_hz
    assert np.min(np.abs(ring_hz)) >= spectrum.half_width_hz
    assert np.min(np.abs(ring_hz + 1.0)) >= 0.5
    assert np.min(np.abs(ring_hz - 2.0)) >= 1.5
    assert np.max(ring_hz) <= 5.0


def energy_level_db(wander: float, seed: int, f_hz: float = 2.0) -> tuple[float, float]:
    """Return level of a line of 0 dB under slip wander: band energy, and coherent amplitude."""
    rng = np.random.default_rng(seed)
    n = round(60.0 * RATE)
    kicks = rng.standard_normal(n)
    decay = math.exp(-1.0 / (10.0 * RATE))
    course = np.empty(n)
    level = 0.0
    for k in range(n):
        level = decay * level + kicks[k]
        course[k] = level
    course -= course.mean()
    course *= wander * f_hz / course.std()
    base = pair(60.0, f_hz, lower=0.0, upper=1.0, phase_rad=2.0 * np.pi * np.cumsum(course) / RATE)
    fit = fit_pair(base, f_hz, f_hz, taper_weights(n))
    spectrum = tapered_spectrum(without_carrier(base, fit), RATE)
    half_hz = max(4.0 * wander * f_hz, spectrum.half_width_hz)
    band = line_band(spectrum, f_hz, half_hz, avoid_hz=(0.0, -f_hz), pass_band_hz=16.0)
    best = fit_pair(base, f_hz - 0.2, f_hz + 0.2, taper_weights(n))
    return decibel(band_energy(spectrum, 1e-12, band).amplitude), decibel(abs(best.upper))


@pytest.mark.parametrize("wander", [0.01, 0.05, 0.12])
def test_band_energy_survives_slip_wander(wander: float) -> None:
    """The survey found peaks down by 1.0 dB at 5 % and 2.5 dB at 12 %, energies by 0.01 dB.

    Ours reach 0.1 dB: the band holds 98.8 % of a steady line's energy by design, and how a
    wandering line fills its edges differs by that.
    """
    energies, peaks = zip(*(energy_level_db(wander, seed) for seed in range(4)), strict=True)
    assert np.max(np.abs(energies)) < 0.1
    assert np.mean(peaks) < (-0.5 if wander >= 0.05 else 0.0)


@pytest.mark.parametrize("exponent", [2.0, 4.0])
@pytest.mark.parametrize("offsets", [(4, 13, 31, 46), (31, 46, 46, 52)])
def test_floor_follows_noise_that_falls_away_from_the_carrier(
    exponent: float, offsets: tuple[int, int, int, int]
) -> None:
    """Noise of a known power law, ring on both sides of bin 22 and beyond it only."""
    rng = np.random.default_rng(8)
    ring = np.concatenate([np.arange(*offsets[:2]), np.arange(*offsets[2:])])
    found, flat = [], []
    for _ in range(300):
        gamma = rng.gamma(5.0, 0.2, ring.size)
        power = gamma * (22.0 / ring) ** exponent
        found.append(local_floor(power, ring.astype(float), 22.0))
        flat.append(floor_variance(power))
    assert np.median(found) == pytest.approx(1.0, rel=0.25)
    assert not 0.6 < np.median(flat) < 1.4


def test_floor_of_white_noise_is_hardly_raised() -> None:
    """The larger of two estimates is a little too high; never too low on the whole."""
    rng = np.random.default_rng(9)
    ring = np.concatenate([np.arange(4.0, 13.0), np.arange(31.0, 46.0)])
    found = [local_floor(rng.gamma(5.0, 0.2, ring.size), ring, 22.0) for _ in range(300)]
    assert 1.0 <= np.mean(found) < 1.15
