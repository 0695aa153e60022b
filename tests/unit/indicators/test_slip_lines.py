"""Whitening and the search for lines, sharp and smeared (docs/theory/slip.md, section 3)."""

from __future__ import annotations

import math

import numpy as np
import pytest

from cagewise.indicators.running.slip_lines import LineTable, find_lines
from cagewise.indicators.running.whitening import (
    LOWEST_FLOOR_DBC,
    cell_offsets_hz,
    hann_power,
    level_floor,
    lowest_power,
    skirt_floor,
)
from cagewise.quantities import ComplexArray, RealArray

RATE_HZ = 75.0
N = 4500


def noise(seed: int, n: int = N) -> ComplexArray:
    """Return complex white noise of unit variance."""
    rng = np.random.default_rng(seed)
    return np.asarray((rng.standard_normal(n) + 1j * rng.standard_normal(n)) / math.sqrt(2.0))


def tone(cells: float, snr_db: float, n: int = N) -> ComplexArray:
    """Return a tone ``cells`` cells from the middle; SNR is that of its energy over noise."""
    amplitude = math.sqrt(10.0 ** (snr_db / 10.0) / n)
    return np.asarray(amplitude * np.exp(2j * np.pi * cells * np.arange(n) / n))


def lines_of(samples: ComplexArray, least_nats: float = 9.0) -> LineTable:
    """Return the lines of a record, positions in cells from the middle."""
    power = hann_power(samples)
    floor = level_floor(power, RATE_HZ / samples.size, 1e-30)
    found = find_lines(power[np.newaxis], floor[np.newaxis], least_nats)
    return found.mapped(-float(samples.size // 2), 1.0)


def test_whitened_noise_has_unit_mean_and_an_exponential_tail() -> None:
    records = [7.0 * hann_power(noise(seed)) for seed in range(10)]
    energy = np.concatenate([power / level_floor(power, RATE_HZ / N, 1e-30) for power in records])
    # 45 000 cells, two thirds independent: 0.6 % on the mean, and the block medians add 1 %.
    assert energy.mean() == pytest.approx(1.0, abs=0.03)
    assert np.mean(energy > 5.0) == pytest.approx(math.exp(-5.0), rel=0.2)


def test_the_floor_does_not_follow_a_line() -> None:
    quiet, loud = noise(1), noise(1) + tone(300.25, 60.0)
    floor = level_floor(hann_power(quiet), RATE_HZ / N, 1e-30)
    with_line = level_floor(hann_power(loud), RATE_HZ / N, 1e-30)
    # The line fills some 20 of the 480 cells of a block, which moves a median by 3 %.
    np.testing.assert_allclose(with_line, floor, rtol=0.1)


def test_the_floor_follows_a_skirt() -> None:
    distance = np.arange(900) + 1.0
    rng = np.random.default_rng(2)
    power = distance**-2.0 * rng.exponential(size=900)
    energy = power / skirt_floor(power, RATE_HZ / N, 1e-30)
    for low, high in ((20, 60), (60, 200), (200, 900)):
        # The mean of 40 exponential values is known to 16 %.
        assert energy[low:high].mean() == pytest.approx(1.0, abs=0.4)


def test_the_lowest_floor_hides_what_no_sensor_resolves() -> None:
    fundamental_a = 10.0
    level = 10.0 ** ((LOWEST_FLOOR_DBC - 3.0) / 20.0)
    faint = fundamental_a * level * np.exp(2j * np.pi * 300 * np.arange(N) / N)
    power = hann_power(faint)
    floor = level_floor(power, RATE_HZ / N, lowest_power(fundamental_a, N))
    assert (power / floor).max() == pytest.approx(10.0**-0.3, rel=1e-3)


def test_cells_are_counted_from_the_middle() -> None:
    power = hann_power(tone(-17.0, 40.0))
    assert cell_offsets_hz(N, RATE_HZ)[np.argmax(power)] == pytest.approx(-17.0 * RATE_HZ / N)


def test_noise_makes_fewer_lines_than_one_per_record() -> None:
    found = sum(lines_of(noise(seed), math.log(N)).nats.size for seed in range(100))
    # At the threshold ln N independent cells would give one per record; energies of three cells
    # weigh less than the best statistic would, so the count is lower, but it is not zero.
    assert 1 <= found <= 100


@pytest.mark.parametrize("cells", [300.0, 300.5, -812.3])
def test_a_sharp_line_is_placed_within_its_deviation(cells: float) -> None:
    errors, deviations = [], []
    for seed in range(60):
        lines = lines_of(noise(seed) + tone(cells, 24.0))
        best = np.argmax(lines.nats)
        errors.append(lines.position[best] - cells)
        deviations.append(lines.deviation[best])
    rms = float(np.sqrt(np.mean(np.square(errors))))
    # 24 dB of energy: the bound is sqrt(6 / SNR) / (2 pi) = 0.025 cells.
    assert rms < 2.5 * math.sqrt(6.0 / 10**2.4) / (2.0 * math.pi)
    assert rms == pytest.approx(float(np.mean(deviations)), rel=0.5)


def smeared(
    seed: int, cells: float, deviation: float, snr_db: float
) -> tuple[ComplexArray, float, float]:
    """Return a tone whose frequency wanders, and the Hann-weighted mean and deviation of that."""
    rng = np.random.default_rng(seed)
    knots = rng.standard_normal(40)
    course = np.interp(np.linspace(0.0, 39.0, N), np.arange(40), knots)
    course = cells + deviation * course / course.std()
    weight: RealArray = np.hanning(N) ** 2
    phase = 2.0 * np.pi * np.cumsum(course) / N
    amplitude = math.sqrt(10.0 ** (snr_db / 10.0) / N)
    mean = float(np.sum(weight * course) / np.sum(weight))
    spread = float(np.sqrt(np.sum(weight * (course - mean) ** 2) / np.sum(weight)))
    return np.asarray(amplitude * np.exp(1j * phase)), mean, spread


@pytest.mark.parametrize("deviation", [3.0, 10.0, 25.0])
def test_a_smeared_line_is_one_line_at_its_mean(deviation: float) -> None:
    for seed in range(12):
        samples, mean, spread = smeared(seed, 400.0, deviation, 40.0)
        lines = lines_of(samples + noise(seed + 100))
        best = int(np.argmax(lines.nats))
        error = abs(lines.position[best] - mean)
        assert error < 4.0 * lines.deviation[best]
        assert error < 0.3 * deviation
        # A box may miss the last teeth of a ragged line, so the width is a rough number.
        assert 0.5 * spread < lines.width[best] < 1.5 * spread
        near = np.abs(lines.position - mean) < 2.0 * deviation
        assert np.sum(near & (lines.nats > 0.2 * lines.nats[best])) == 1


def test_two_lines_in_one_broad_box_stay_two() -> None:
    samples = noise(5) + tone(300.0, 50.0) + tone(390.0, 46.0)
    lines = lines_of(samples)
    strongest = np.sort(lines.position[np.argsort(-lines.nats)[:2]])
    np.testing.assert_allclose(strongest, [300.0, 390.0], atol=0.05)


def test_the_skirt_of_a_strong_line_is_not_a_line() -> None:
    lines = lines_of(noise(6) + tone(300.37, 90.0))
    near = np.abs(lines.position - 300.37) < 100.0
    assert np.sum(near) == 1


def test_a_pair_is_found_where_neither_line_is() -> None:
    hits = {"pair": 0, "single": 0}
    for seed in range(40):
        power = np.array([hann_power(noise(2 * seed + k) + tone(200.0, 11.5)) for k in (0, 1)])
        floor = level_floor(power, RATE_HZ / N, 1e-30)
        pair = find_lines(power, floor, 9.0).mapped(-float(N // 2), 1.0)
        single = find_lines(power[:1], floor[:1], 9.0).mapped(-float(N // 2), 1.0)
        hits["pair"] += bool(np.any(np.abs(pair.position - 200.0) < 1.5))
        hits["single"] += bool(np.any(np.abs(single.position - 200.0) < 1.5))
    assert hits["pair"] > hits["single"] + 5
