"""Random processes with a known spectrum, evaluated at any time."""

from __future__ import annotations

import numpy as np

from cagewise.quantities import RealArray

SMOOTHING_STEPS = 4.0
"""Standard deviation of the smoothing, in grid steps: makes the interpolation error negligible."""


def coloured_noise(
    rng: np.random.Generator, n: int, step_s: float, correlation_s: float
) -> RealArray:
    """Return Ornstein-Uhlenbeck noise of unit rms, smoothed, on a grid of ``n`` steps.

    The spectrum ``1 / (1 + (2 pi f tau)^2)`` is shaped in the frequency domain, so the noise is
    periodic over the grid; the mean is zero and the rms of this realisation is exactly one.
    """
    frequency = np.fft.rfftfreq(n, step_s)
    shape = 1.0 / np.sqrt(1.0 + (2.0 * np.pi * frequency * correlation_s) ** 2)
    shape *= np.exp(-0.5 * (2.0 * np.pi * frequency * SMOOTHING_STEPS * step_s) ** 2)
    shape[0] = 0.0
    parts = rng.standard_normal((2, frequency.size))
    values = np.fft.irfft(shape * (parts[0] + 1j * parts[1]), n)
    return np.asarray(values / values.std(), dtype=np.float64)
