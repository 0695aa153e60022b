"""Tapers against their definition, and the line test against its distribution."""

from __future__ import annotations

import numpy as np
import pytest

from cagewise.indicators.lines.tapers import (
    N_TAPERS,
    TIME_HALF_BANDWIDTH,
    eigen_coefficients,
    line_test,
    tapered_spectrum,
    tapers,
)


def test_tapers_are_the_most_concentrated_sequences() -> None:
    """Slepian 1978: eigenvectors of the sinc kernel, eigenvalues the energy within +-W."""
    n = 64
    windows = tapers(n).windows
    apart = np.subtract.outer(np.arange(n), np.arange(n))
    kernel = 2.0 * TIME_HALF_BANDWIDTH / n * np.sinc(2.0 * TIME_HALF_BANDWIDTH / n * apart)
    concentrations = np.linalg.eigvalsh(kernel)[::-1][:N_TAPERS]
    assert np.sum(windows * (windows @ kernel), axis=1) == pytest.approx(concentrations, abs=1e-12)
    # what the docstring of the constants says
    assert concentrations.mean() == pytest.approx(0.988, abs=0.001)
    assert windows @ windows.T == pytest.approx(np.eye(N_TAPERS), abs=1e-12)


def test_energy_of_a_line_is_its_squared_amplitude() -> None:
    n, rate = 1501, 80.0
    line = 0.3 * np.exp(2j * np.pi * 2.17 / rate * np.arange(n) + 0.4j)
    spectrum = tapered_spectrum(line, rate)
    assert spectrum.power.sum() / spectrum.n_bins == pytest.approx(0.3**2, rel=1e-12)


def test_white_noise_gives_its_variance_in_every_bin() -> None:
    rng = np.random.default_rng(1)
    noise = rng.standard_normal(4096) + 1j * rng.standard_normal(4096)
    # 4096 independent values: the mean is good to 1.6 %
    assert tapered_spectrum(noise, 80.0).power.mean() == pytest.approx(2.0, rel=0.06)


def test_coefficients_at_an_exact_frequency_are_those_of_the_bin() -> None:
    rng = np.random.default_rng(2)
    series = rng.standard_normal(500) + 1j * rng.standard_normal(500)
    spectrum = tapered_spectrum(series, 80.0)
    for k in (-37, 0, 12):
        exact = eigen_coefficients(series, 80.0, k * spectrum.resolution_hz)
        assert exact == pytest.approx(spectrum.coefficients[:, k], abs=1e-9)


@pytest.mark.parametrize(
    ("n_tapers", "chance", "critical"),
    [(5, 1e-3, 18.5), (7, 1e-3, 13.0), (9, 1e-3, 11.0), (5, 1e-5, 67.0), (7, 1e-5, 35.0)],
)
def test_critical_values_of_the_line_test(n_tapers: int, chance: float, critical: float) -> None:
    """F(2, 2K - 2) as computed for the methods survey; printed to three or two digits."""
    sums = np.ones(n_tapers)
    scatter = np.exp(2j * np.pi * np.arange(n_tapers) / n_tapers)  # orthogonal to the sums
    rest = float(np.sum(np.abs(scatter) ** 2))
    line = np.sqrt(critical * rest / (n_tapers - 1) / n_tapers)
    ratio, probability = line_test(line * sums + scatter, sums)
    assert ratio == pytest.approx(critical, rel=1e-12)
    assert probability == pytest.approx(chance, rel=0.03)


def test_line_test_alarms_as_often_as_it_says() -> None:
    rng = np.random.default_rng(3)
    sums = tapers(512).sums
    chances = [
        line_test(rng.standard_normal(N_TAPERS) + 1j * rng.standard_normal(N_TAPERS), sums)[1]
        for _ in range(4000)
    ]
    for level in (0.5, 0.1, 0.01):
        # binomial scatter of 4000 trials, three standard deviations
        allowed = 3.0 * np.sqrt(level * (1.0 - level) / 4000)
        assert np.mean(np.array(chances) < level) == pytest.approx(level, abs=allowed)


def test_silence_is_no_line() -> None:
    assert line_test(np.zeros(N_TAPERS, dtype=np.complex128), tapers(64).sums) == (0.0, 1.0)
