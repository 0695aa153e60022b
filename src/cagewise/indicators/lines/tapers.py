"""Orthogonal tapers and the spectra made with them.

Discrete prolate spheroidal sequences hold the largest share of their energy within a chosen
half-width W about zero frequency. Several of them together read a noise floor with many degrees
of freedom from one record, and test a line against it (Thomson, Proc. IEEE 70(9), 1982, secs. IV
and XIII; from memory). The theory page is docs/theory/line-estimation.md.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from cagewise.quantities import ComplexArray, RealArray

BinArray: TypeAlias = NDArray[np.intp]
"""Signed bin numbers: negative ones index an array in FFT order from its end, as they should."""

TIME_HALF_BANDWIDTH = 3.0
"""N W: half-width of the spectral window in units of one over the record length. The smallest at
which five tapers still hold 98.8 % of their energy; larger values cost resolution."""
N_TAPERS = 5
"""2 N W - 1. A line's amplitude is read within 3 % of the bound on its standard deviation."""


@dataclass(frozen=True)
class Tapers:
    """Orthonormal tapers of one length."""

    windows: RealArray
    """Shape (n_tapers, n_samples); each has unit energy, symmetric ones a positive sum."""

    @cached_property
    def sums(self) -> RealArray:
        """Response of each taper to a line at its centre, shape (n_tapers,)."""
        return np.asarray(self.windows.sum(axis=1))

    @cached_property
    def line_window(self) -> RealArray:
        """Window whose transform is the least-squares line amplitude of all tapers together.

        Shape (n_samples,), unit sum: nearly flat with soft ends.
        """
        window = self.sums @ self.windows
        return np.asarray(window / window.sum())


@lru_cache(maxsize=8)
def tapers(
    n_samples: int, time_half_bandwidth: float = TIME_HALF_BANDWIDTH, n_tapers: int = N_TAPERS
) -> Tapers:
    """Return the first discrete prolate spheroidal sequences of a length.

    They are the eigenvectors of a symmetric tridiagonal matrix (Slepian, Bell Syst. Tech. J.
    57(5), 1978, eq. 14; from memory), which is well conditioned where the defining sinc kernel is
    not.
    """
    from scipy.linalg import eigh_tridiagonal

    k = np.arange(n_samples, dtype=np.float64)
    half_width = 2.0 * np.pi * time_half_bandwidth / n_samples
    diagonal = ((n_samples - 1.0) / 2.0 - k) ** 2 * np.cos(half_width)
    beside = k[1:] * (n_samples - k[1:]) / 2.0
    _, vectors = eigh_tridiagonal(
        diagonal, beside, select="i", select_range=(n_samples - n_tapers, n_samples - 1)
    )
    windows = np.asarray(vectors.T[::-1], dtype=np.float64)
    signs = np.where(windows.sum(axis=1) < 0.0, -1.0, 1.0)
    windows = np.ascontiguousarray(windows * signs[:, None])
    windows.setflags(write=False)
    return Tapers(windows)


@dataclass(frozen=True)
class TaperedSpectrum:
    """Eigen-coefficients of a slow complex series on a regular two-sided frequency grid.

    A line ``A exp(j 2 pi f t)`` gives ``A * response(f)``; white noise of variance S gives
    coefficients of variance S. ``energy`` of a line summed over all bins is ``|A|^2``.
    """

    coefficients: ComplexArray
    """Shape (n_tapers, n_bins), FFT order."""
    resolution_hz: float
    """Spacing of the bins."""
    n_samples: int
    """Length of the series (the transform may be a little longer)."""

    @property
    def n_bins(self) -> int:
        """Number of bins, positive and negative frequencies together."""
        return int(self.coefficients.shape[1])

    @property
    def half_width_hz(self) -> float:
        """W: half-width of the spectral window."""
        return TIME_HALF_BANDWIDTH * self.resolution_hz * self.n_bins / self.n_samples

    @property
    def degrees_per_bin(self) -> float:
        """Independent complex values per bin (below 1 when the transform is padded)."""
        return self.n_samples / self.n_bins

    @cached_property
    def power(self) -> RealArray:
        """Mean square modulus over the tapers, shape (n_bins,)."""
        squares = self.coefficients.real**2 + self.coefficients.imag**2
        return np.asarray(squares.mean(axis=0))

    def bins_between(self, low_hz: float, high_hz: float) -> BinArray:
        """Return the signed numbers of the bins in a closed frequency range."""
        first = int(np.ceil(low_hz / self.resolution_hz - 1e-9))
        last = int(np.floor(high_hz / self.resolution_hz + 1e-9))
        return np.arange(first, last + 1, dtype=np.intp)


def tapered_spectrum(
    samples: ComplexArray | RealArray, sampling_rate_hz: float, padding: int = 1
) -> TaperedSpectrum:
    """Return the eigen-coefficients of a series, shape (n_samples,).

    ``padding`` times as many bins interpolate the spectrum for the eye.
    """
    n_samples = samples.size
    n_bins = int(fft.next_fast_len(padding * n_samples))
    tapered = tapers(n_samples).windows * samples
    coefficients = np.asarray(fft.fft(tapered, n_bins, axis=1), dtype=np.complex128)
    return TaperedSpectrum(coefficients, sampling_rate_hz / n_bins, n_samples)


def eigen_coefficients(
    samples: ComplexArray, sampling_rate_hz: float, frequency_hz: float
) -> ComplexArray:
    """Return the eigen-coefficients at one exact frequency, shape (n_tapers,)."""
    turn = np.exp(-2j * np.pi * frequency_hz / sampling_rate_hz * np.arange(samples.size))
    turned = samples * turn
    parts = tapers(samples.size).windows @ np.stack([turned.real, turned.imag], axis=1)
    return np.asarray(parts[:, 0] + 1j * parts[:, 1])


def line_test(coefficients: ComplexArray, sums: RealArray) -> tuple[float, float]:
    """Test for a steady line at the frequency of the coefficients (Thomson's F-test).

    Parameters
    ----------
    coefficients
        Eigen-coefficients, shape (n_tapers,).
    sums
        Response of the tapers to a line, shape (n_tapers,).

    Returns
    -------
    tuple
        F, and the probability that noise of any level gives more. F has 2 and 2 K - 2 degrees of
        freedom, for which that probability is ``(1 + F / (K - 1)) ** -(K - 1)``.
    """
    energy = float(sums @ sums)
    amplitude = complex(sums @ coefficients) / energy
    rest = float(np.sum(np.abs(coefficients - amplitude * sums) ** 2))
    degrees = sums.size - 1
    line = abs(amplitude) ** 2 * energy
    if line == 0.0:
        return 0.0, 1.0
    ratio = degrees * line / max(rest, np.finfo(np.float64).tiny)
    return ratio, float((1.0 + ratio / degrees) ** -degrees)
