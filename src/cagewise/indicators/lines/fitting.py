"""Lines beside a carrier, on a slow complex baseband: frequency, amplitude, energy, floor.

Model of the baseband, time counted from the middle of the record::

    z(t) = c0 + c1 t + L exp(-j 2 pi f t) + U exp(+j 2 pi f t) + noise

The amplitudes are linear and are solved for at every trial f (variable projection: Golub and
Pereyra, SIAM Journal on Numerical Analysis 10(2), 1973); only f is searched. The carrier is part
of the model, so the search cannot lock on it. The theory page is docs/theory/line-estimation.md.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy import fft
from scipy.special import fdtrc, gammaincinv

from cagewise.indicators.lines.tapers import (
    N_TAPERS,
    BinArray,
    TaperedSpectrum,
    tapered_spectrum,
    tapers,
)
from cagewise.quantities import ComplexArray, RealArray

GRID_PER_CELL = 4
"""Trial frequencies per 1/T: the explained energy falls by 5 % at most between two of them."""
REFINED_STEPS = (1.0 / 16.0, 1.0 / 128.0)
"""Steps, in cells of 1/T, of the parabolas that refine the best trial frequency."""
DIRECT_SEARCH_CELLS = 16
"""Windows wider than this are first searched with a transform, then exactly."""
RING_INNER = 3.0
"""Inner edge of the ring in which the floor is read, in half-widths of the line's band."""
RING_OUTER = 8.0
"""Outer edge of the ring."""
LEAST_NEAR_BINS = 6
"""Ring bins nearer to the carrier than the line that can show the slope of the floor: one
independent cell of the tapers."""
STEEPEST_FLOOR = 4.0
"""Power of the distance with which a floor falls at most: the phase of a supply whose frequency is
filtered white noise. What is steeper is a line in the ring."""
MEDIAN_EFFICIENCY = 0.64
"""Degrees of freedom a median keeps against a mean (2/pi for normal data)."""


@dataclass(frozen=True)
class Baseband:
    """A slow complex series about a carrier at zero frequency."""

    samples: ComplexArray
    """Shape (n,)."""
    sampling_rate_hz: float
    half_width_hz: float
    """Half-width of the pass band about zero."""

    @property
    def duration_s(self) -> float:
        """T."""
        return self.samples.size / self.sampling_rate_hz

    @cached_property
    def time_s(self) -> RealArray:
        """Time from the middle of the record, shape (n,)."""
        n = self.samples.size
        return np.asarray((np.arange(n) - 0.5 * (n - 1)) / self.sampling_rate_hz)


@dataclass(frozen=True, kw_only=True)
class PairFit:
    """A carrier with drift and one pair of lines, fitted together; phases at mid-record."""

    frequency_hz: float
    """f > 0: the lines stand at -f and +f."""
    carrier: complex
    """c0, in the unit of the samples."""
    drift_per_s: complex
    """c1."""
    lower: complex
    """L."""
    upper: complex
    """U."""
    at_edge: bool
    """The best frequency is an end of the searched range: there is no line of its own in it."""
    variance_gain: float
    """Variance of L (complex, both parts together) per unit of noise variance."""
    frequency_gain_hz2: float
    """Variance of f per unit of noise variance over line power ``|L|^2 + |U|^2``."""

    def frequency_sd_hz(self, noise_variance: float) -> float:
        """Return the standard deviation of f at a noise variance per sample."""
        power = abs(self.lower) ** 2 + abs(self.upper) ** 2
        return math.sqrt(self.frequency_gain_hz2 * noise_variance / power) if power else math.inf


def fit_pair(base: Baseband, low_hz: float, high_hz: float, weights: RealArray) -> PairFit:
    """Fit carrier, drift and a pair of lines whose frequency lies in a range.

    Parameters
    ----------
    base
        The series.
    low_hz, high_hz
        Range of f; an empty range (equal ends) fits at that frequency.
    weights
        Symmetric weights with unit sum, shape (n,): constant, or the window of the tapers.
    """
    low_hz = max(low_hz, 1.0 / base.duration_s)
    high_hz = max(high_hz, low_hz)
    cell_hz = 1.0 / base.duration_s
    first, last = low_hz, high_hz
    if (high_hz - low_hz) > DIRECT_SEARCH_CELLS * cell_hz:
        near = _locate(base, low_hz, high_hz, weights)
        first, last = max(low_hz, near - cell_hz), min(high_hz, near + cell_hz)
    n_grid = 1 + math.ceil(GRID_PER_CELL * (last - first) / cell_hz)
    best = _best_on(base, np.linspace(first, last, n_grid), weights)
    for step in REFINED_STEPS if last > first else ():
        trial = best + step * cell_hz * np.array([-1.0, 0.0, 1.0])
        best = _best_on(base, np.clip(trial, low_hz, high_hz), weights)
    margin = REFINED_STEPS[-1] * cell_hz
    edge = high_hz > low_hz and not low_hz + margin < best < high_hz - margin
    return _fit_at(base, best, weights, at_edge=edge)


def _locate(base: Baseband, low_hz: float, high_hz: float, weights: RealArray) -> float:
    """Return the strongest pair in a wide range, carrier and drift removed beforehand."""
    time = base.time_s
    mean = complex(weights @ base.samples)
    slope = complex((weights * time) @ base.samples) / float((weights * time) @ time)
    n_bins = int(fft.next_fast_len(GRID_PER_CELL * time.size))
    spectrum = np.abs(fft.fft(weights * (base.samples - mean - slope * time), n_bins)) ** 2
    resolution_hz = base.sampling_rate_hz / n_bins
    bins = np.arange(math.ceil(low_hz / resolution_hz), math.floor(high_hz / resolution_hz) + 1)
    return float(bins[np.argmax(spectrum[bins] + spectrum[-bins])] * resolution_hz)


def _best_on(base: Baseband, grid_hz: RealArray, weights: RealArray) -> float:
    """Return where on a grid the model explains most, by a parabola through the best three."""
    if grid_hz.size == 1:
        return float(grid_hz[0])
    explained = _project(base, grid_hz, weights)[1]
    k = int(np.argmax(explained))
    if k in (0, grid_hz.size - 1):
        return float(grid_hz[k])
    left, middle, right = explained[k - 1 : k + 2]
    curvature = left - 2.0 * middle + right
    shift = 0.5 * (left - right) / curvature if curvature < 0.0 else 0.0
    return float(grid_hz[k] + shift * (grid_hz[1] - grid_hz[0]))


def _project(
    base: Baseband, grid_hz: RealArray, weights: RealArray
) -> tuple[ComplexArray, RealArray, RealArray]:
    """Solve the weighted normal equations at every trial frequency.

    Returns
    -------
    tuple
        Amplitudes (c0, c1 in units of T, L, U), shape (n_grid, 4); explained weighted energy,
        shape (n_grid,); leading diagonal of the inverse Gram matrix, shape (n_grid, 4).
    """
    time = base.time_s / base.duration_s
    turn = np.exp(2j * np.pi * np.outer(grid_hz, base.time_s))
    weighted = weights * base.samples
    cosine = turn.real @ weights
    sine = turn.imag @ (weights * time)
    double = (2.0 * turn.real**2 - 1.0) @ weights
    gram = np.zeros((grid_hz.size, 4, 4), dtype=np.complex128)
    gram[:, 0, 0] = gram[:, 2, 2] = gram[:, 3, 3] = 1.0
    gram[:, 1, 1] = weights @ time**2
    gram[:, 0, 2] = gram[:, 0, 3] = gram[:, 2, 0] = gram[:, 3, 0] = cosine
    gram[:, 1, 3] = gram[:, 2, 1] = 1j * sine
    gram[:, 1, 2] = gram[:, 3, 1] = -1j * sine
    gram[:, 2, 3] = gram[:, 3, 2] = double
    right = np.empty((grid_hz.size, 4), dtype=np.complex128)
    right[:, 0] = weighted.sum()
    right[:, 1] = weighted @ time
    right[:, 2] = turn @ weighted
    right[:, 3] = turn.conj() @ weighted
    inverse = np.linalg.inv(gram)
    amplitudes = (inverse @ right[:, :, None])[:, :, 0]
    explained = np.sum(right.conj() * amplitudes, axis=1).real
    diagonal = np.einsum("kii->ki", inverse).real
    return amplitudes, explained, diagonal


def _fit_at(base: Baseband, frequency_hz: float, weights: RealArray, *, at_edge: bool) -> PairFit:
    """Return the fit at one frequency."""
    amplitudes, _, diagonal = _project(base, np.array([frequency_hz]), weights)
    carrier, drift, lower, upper = (complex(value) for value in amplitudes[0])
    energy = float(weights @ weights)
    angular = 2.0 * np.pi * base.time_s
    spread = float(weights @ angular**2)
    return PairFit(
        frequency_hz=frequency_hz,
        carrier=carrier,
        drift_per_s=drift / base.duration_s,
        lower=lower,
        upper=upper,
        at_edge=at_edge,
        variance_gain=energy * float(diagonal[0, 2]),
        frequency_gain_hz2=float(weights**2 @ angular**2) / (2.0 * spread**2),
    )


def without_carrier(base: Baseband, fit: PairFit) -> ComplexArray:
    """Return the series less carrier and drift."""
    return np.asarray(base.samples - fit.carrier - fit.drift_per_s * base.time_s)


def without_lines(base: Baseband, fit: PairFit) -> ComplexArray:
    """Return the series less carrier, drift and the pair of lines."""
    turn = np.exp(2j * np.pi * fit.frequency_hz * base.time_s)
    return np.asarray(without_carrier(base, fit) - fit.lower * turn.conj() - fit.upper * turn)


@dataclass(frozen=True)
class LineBand:
    """The bins that hold one line, and those beside it in which the floor is read."""

    bins: BinArray
    """Signed bin numbers of the line, shape (n_line,)."""
    ring: BinArray
    """Signed bin numbers of the ring, shape (n_ring,)."""
    captured: float
    """Share of a steady line's energy within :attr:`bins`."""


def line_band(
    spectrum: TaperedSpectrum,
    centre_hz: float,
    half_width_hz: float,
    *,
    avoid_hz: tuple[float, ...],
    pass_band_hz: float,
) -> LineBand:
    """Return the bins of a line and of its ring.

    Parameters
    ----------
    spectrum
        Spectrum with the carrier removed.
    centre_hz
        Signed frequency of the line.
    half_width_hz
        Half-width of the band over which the line's energy is summed.
    avoid_hz
        Signed frequencies of other lines and of the carrier, whose own bands the ring leaves out
        (the carrier has been removed: the spectral half-width is enough).
    pass_band_hz
        Half-width of the pass band, which the ring must not leave.
    """
    bins = spectrum.bins_between(centre_hz - half_width_hz, centre_hz + half_width_hz)
    reach_hz = RING_OUTER * half_width_hz
    ring = spectrum.bins_between(
        max(centre_hz - reach_hz, -pass_band_hz), min(centre_hz + reach_hz, pass_band_hz)
    )
    keep = np.abs(ring * spectrum.resolution_hz - centre_hz) >= RING_INNER * half_width_hz
    for other_hz in avoid_hz:
        guard_hz = spectrum.half_width_hz if other_hz == 0.0 else half_width_hz
        keep &= np.abs(ring * spectrum.resolution_hz - other_hz) >= guard_hz
    time = np.arange(spectrum.n_samples) / (spectrum.resolution_hz * spectrum.n_bins)
    pure = tapered_spectrum(
        np.exp(2j * np.pi * centre_hz * time), spectrum.resolution_hz * spectrum.n_bins
    )
    captured = float(pure.power[bins].sum()) / spectrum.n_bins
    return LineBand(bins, ring[keep], captured)


def floor_variance(power: RealArray) -> float:
    """Return the noise variance behind spectral powers averaged over the tapers.

    The median is used, so lines that stand in the ring do not count; it is divided by the median
    of a unit-mean gamma variable of ``N_TAPERS`` degrees of freedom.
    """
    if power.size == 0:
        return math.inf
    return float(np.median(power)) * N_TAPERS / float(gammaincinv(N_TAPERS, 0.5))


def local_floor(power: RealArray, offset_hz: RealArray, centre_hz: float) -> float:
    """Return the noise variance at a line from a ring whose floor falls away from the carrier.

    What a swinging load and a wandering supply put beside the carrier falls as a power of the
    distance, by tens of decibels over a ring. The medians of its near and of its far part are
    joined by such a power; where the near part is missing the ring is halved and continued. The
    larger of that and of the plain median is taken: a floor read too low is a false line.

    Parameters
    ----------
    power
        Of the ring's bins, averaged over the tapers.
    offset_hz
        Their distance from the carrier (signed), same shape.
    centre_hz
        That of the line.
    """
    flat = floor_variance(power)
    distance = np.abs(offset_hz)
    if power.size < 2 * LEAST_NEAR_BINS:
        return flat
    near = distance < abs(centre_hz)
    if np.count_nonzero(near) < LEAST_NEAR_BINS or np.all(near):
        near = distance < np.median(distance)
    levels = np.log([floor_variance(power[near]), floor_variance(power[~near])])
    places = [float(np.mean(np.log(distance[part]))) for part in (near, ~near)]
    slope = (levels[1] - levels[0]) / (places[1] - places[0])
    slope = min(max(slope, -STEEPEST_FLOOR), 0.0)
    joined = levels[1] + slope * (math.log(abs(centre_hz)) - places[1])
    return max(flat, math.exp(float(joined)))


@dataclass(frozen=True, kw_only=True)
class BandEnergy:
    """Energy of a line over its band, against the floor beside it."""

    power: float
    """Line power, floor removed (square of the unit of the samples); may be negative."""
    null_sd: float
    """Standard deviation of :attr:`power` when there is no line."""
    cross_variance: float
    """Variance that the floor adds per unit of line power."""
    noise_power: float
    """What the floor alone puts into the band."""
    floor: float
    """Noise variance per sample."""
    false_alarm_probability: float
    """Chance that the floor alone gives this much energy in the band."""

    @property
    def power_sd(self) -> float:
        """Standard deviation of :attr:`power` from the floor."""
        return math.sqrt(self.null_sd**2 + self.cross_variance * max(self.power, 0.0))

    @property
    def amplitude(self) -> float:
        """Line amplitude, floor removed; 0 where the band holds no more than the floor."""
        return math.sqrt(max(self.power, 0.0))


def ring_degrees(spectrum: TaperedSpectrum, band: LineBand) -> float:
    """Return the independent complex values behind the floor of a ring."""
    return max(band.ring.size * spectrum.degrees_per_bin * MEDIAN_EFFICIENCY, 1.0)


def band_energy(spectrum: TaperedSpectrum, floor: float, band: LineBand) -> BandEnergy:
    """Sum the energy of a line over its band.

    Under noise alone the ratio of band to ring energy follows an F distribution.
    """
    degrees = band.bins.size * spectrum.degrees_per_bin
    scale = 1.0 / (spectrum.n_bins * band.captured)
    measured = float(spectrum.power[band.bins].sum())
    noise = floor * band.bins.size
    beside = ring_degrees(spectrum, band)
    return BandEnergy(
        power=(measured - noise) * scale,
        null_sd=noise * scale * math.sqrt(1.0 / degrees + 1.0 / beside),
        cross_variance=2.0 * floor / spectrum.n_samples,
        noise_power=noise * scale,
        floor=floor,
        false_alarm_probability=float(fdtrc(2.0 * degrees, 2.0 * beside, measured / noise)),
    )


def coherent_energy(
    amplitude: complex,
    variance_gain: float,
    floor: float,
    band: LineBand,
    spectrum: TaperedSpectrum,
) -> BandEnergy:
    """Return the energy of a fitted line where the record is too short to sum over a band."""
    noise = floor * variance_gain
    measured = abs(amplitude) ** 2
    beside = ring_degrees(spectrum, band)
    return BandEnergy(
        power=measured - noise,
        null_sd=noise * math.sqrt(1.0 + 1.0 / beside),
        cross_variance=2.0 * noise,
        noise_power=noise,
        floor=floor,
        false_alarm_probability=float(fdtrc(2.0, 2.0 * beside, measured / noise)),
    )


def flat_weights(n_samples: int) -> RealArray:
    """Return equal weights with unit sum: the efficient choice in white noise."""
    return np.full(n_samples, 1.0 / n_samples)


def taper_weights(n_samples: int) -> RealArray:
    """Return the window of the tapers: nearly as efficient, and blind to what is far away."""
    return tapers(n_samples).line_window
