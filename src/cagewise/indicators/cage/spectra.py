"""Spectra of one stretch for the figures."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from scipy.special import gammaincinv

from cagewise.conditioning.frame import OrderBand, SupplyFrame
from cagewise.indicators.cage.context import LOWEST_LEVEL_DBC, CageContext, frame_baseband
from cagewise.indicators.lines.fitting import Baseband, fit_pair, taper_weights, without_carrier
from cagewise.indicators.lines.spectrum import Spectrum
from cagewise.indicators.lines.tapers import N_TAPERS, BinArray, tapered_spectrum, tapers
from cagewise.quantities import ComplexArray, RealArray

MOST_POINTS = 1200
"""Points of a spectrum; the largest value of each group of bins is kept."""
PADDING = 2
"""Bins per 1/T: a line between two bins is drawn 0.2 dB too low at most."""
FLOOR_BINS = 128
"""Bins behind each point of the floor."""
LEAST_SPAN_HZ = 3.0
"""Smallest span shown on either side of the fundamental."""
PAIRS_SHOWN = 3.5
"""Span in pole-pass frequencies."""


def cage_spectra(
    frame: SupplyFrame, context: CageContext | None, most_points: int | None = MOST_POINTS
) -> tuple[Spectrum, ...]:
    """Return the spectra of the supply frame, the demodulated current and both harmonics.

    Parameters
    ----------
    frame
        The stretch.
    context
        Where the lines are; None when the slip is not known (no markers, no harmonic spectra).
    most_points
        Points of a spectrum, by the largest value of each group of bins; None for every bin.
    """
    base = frame_baseband(frame)
    fundamental_a = abs(base.samples.mean())
    f_pp = None if context is None else context.pair.frequency_hz
    span_hz = base.half_width_hz
    if f_pp is not None:
        span_hz = min(span_hz, max(PAIRS_SHOWN * f_pp, LEAST_SPAN_HZ))
    spectra = [_supply(base, fundamental_a, span_hz, f_pp)]
    modulus = np.abs(base.samples) / fundamental_a
    phase = np.unwrap(np.angle(base.samples))
    for name, title, series in (
        ("envelope_amplitude", "Demodulated current: amplitude", modulus),
        ("envelope_phase", "Demodulated current: phase (radian)", phase),
    ):
        spectra.append(_envelope(base, np.asarray(series), name, title, span_hz, f_pp))
    if context is not None and f_pp is not None:
        spectra += _harmonics(context, fundamental_a, f_pp)
    return tuple(spectra if most_points is None else [_thinned(s, most_points) for s in spectra])


def _supply(base: Baseband, fundamental_a: float, span_hz: float, f_pp: float | None) -> Spectrum:
    """Return the two-sided spectrum in the supply frame."""
    markers = {} if f_pp is None else {"lower side line": -f_pp, "upper side line": f_pp}
    return _spectrum(
        base,
        fundamental_a,
        (-span_hz, span_hz),
        name="supply_frame",
        title="Current in the frame of the supply",
        offset_label="from the supply frequency",
        markers_hz=markers,
        carrier=True,
    )


def _envelope(
    base: Baseband, series: RealArray, name: str, title: str, span_hz: float, f_pp: float | None
) -> Spectrum:
    """Return the one-sided spectrum of a real series; levels are peak ripple."""
    real = Baseband(2.0 * series.astype(np.complex128), base.sampling_rate_hz, base.half_width_hz)
    return _spectrum(
        real,
        1.0,
        (0.0, span_hz),
        name=name,
        title=title,
        offset_label="ripple frequency",
        markers_hz={} if f_pp is None else {"pole pass": f_pp},
        carrier=False,
    )


def _harmonics(context: CageContext, fundamental_a: float, f_pp: float) -> list[Spectrum]:
    """Return the spectra about the 5th and 7th harmonic; offsets as in the space vector."""
    spectra = []
    f = context.frame.supply_frequency_hz
    nyquist_hz = 0.5 * context.frame.signals.sampling_rate_hz
    three = context.frame.signals.three_phase
    for order, word, places in (
        (-5, "fifth", {"(5-4s)f": 2.0, "(5-6s)f": 3.0}),
        (7, "seventh", {"(7-6s)f": -3.0, "(7-8s)f": -4.0}),
    ):
        half_hz = min(5.0 * f_pp + 2.0, 0.9 * f)
        if abs(order) * f + 2.0 * half_hz > nyquist_hz:
            continue
        turned = order if three else abs(order)
        side = 1.0 if turned == order else -1.0
        band: OrderBand = context.frame.order_band(turned, half_hz, 2.6 * half_hz)
        spectra.append(
            _spectrum(
                Baseband(band.samples, band.sampling_rate_hz, half_hz),
                fundamental_a,
                (-half_hz, half_hz),
                name=f"{word}_harmonic",
                title=f"Current about the {word} harmonic",
                offset_label=f"from {turned:+d} times the supply frequency (space vector)",
                markers_hz={label: side * k * f_pp for label, k in places.items()},
                carrier=True,
            )
        )
    return spectra


def _spectrum(  # noqa: PLR0913 - one figure with its words
    base: Baseband,
    reference: float,
    span_hz: tuple[float, float],
    *,
    name: str,
    title: str,
    offset_label: str,
    markers_hz: dict[str, float],
    carrier: bool,
) -> Spectrum:
    """Return the spectrum of a baseband: the first taper for the lines, all for the floor.

    The carrier is taken out before the transform and drawn by its main lobe alone, so that its
    side lobes hide nothing.
    """
    n = base.samples.size
    fit = fit_pair(base, 2.0 / base.duration_s, 2.0 / base.duration_s, taper_weights(n))
    spectrum = tapered_spectrum(without_carrier(base, fit), base.sampling_rate_hz, PADDING)
    bins = spectrum.bins_between(*span_hz)
    first_sum = float(tapers(n).sums[0])
    offset_hz = np.asarray(bins * spectrum.resolution_hz, dtype=np.float64)
    line_a = np.abs(spectrum.coefficients[0, bins]) / first_sum
    if carrier:
        line_a = line_a + abs(fit.carrier) * _main_lobe(base, offset_hz)
    floor_a = np.sqrt(running_floor(spectrum.power[bins], N_TAPERS)) / first_sum
    return Spectrum(
        name=name,
        title=title,
        offset_label=offset_label,
        frequency_hz=offset_hz,
        level_dbc=levels(line_a / reference),
        floor_dbc=levels(floor_a / reference),
        markers_hz=markers_hz,
    )


def _thinned(spectrum: Spectrum, most_points: int) -> Spectrum:
    """Return a spectrum of few enough points to draw."""
    where = _strongest(spectrum.level_dbc, math.ceil(spectrum.level_dbc.size / most_points))
    return replace(
        spectrum,
        frequency_hz=spectrum.frequency_hz[where],
        level_dbc=spectrum.level_dbc[where],
        floor_dbc=spectrum.floor_dbc[where],
    )


def _strongest(values: RealArray, group: int) -> BinArray:
    """Return the index of the largest value of every ``group`` neighbours."""
    n_groups = math.ceil(values.size / group)
    padded = np.full(n_groups * group, -np.inf)
    padded[: values.size] = values
    rows = padded.reshape(n_groups, group)
    return np.asarray(np.arange(n_groups) * group + np.argmax(rows, axis=1), dtype=np.intp)


def _main_lobe(base: Baseband, frequency_hz: RealArray) -> RealArray:
    """Return the first taper's response to a unit carrier within its half-width, else 0."""
    n = base.samples.size
    first = tapers(n).windows[0]
    lobe = np.zeros(frequency_hz.size)
    inside = np.abs(frequency_hz) <= 3.0 / base.duration_s
    turn: ComplexArray = np.exp(-2j * np.pi * np.outer(frequency_hz[inside], base.time_s))
    lobe[inside] = np.abs(turn @ first) / first.sum()
    return lobe


def running_floor(power: RealArray, n_tapers: int) -> RealArray:
    """Return the floor of a power: medians of blocks of bins, joined by straight lines.

    The median of the mean of ``n_tapers`` squares lies below their mean; that is put right.
    """
    n_blocks = max(1, power.size // FLOOR_BINS)
    size = power.size // n_blocks
    blocks = power[: n_blocks * size].reshape(n_blocks, size)
    bias = float(gammaincinv(n_tapers, 0.5)) / n_tapers
    centres = (np.arange(n_blocks) + 0.5) * size
    return np.interp(np.arange(power.size), centres, np.median(blocks, axis=1) / bias)


def levels(ratio: RealArray) -> RealArray:
    """Return levels in dB, cut at the lowest."""
    lowest = 10.0 ** (LOWEST_LEVEL_DBC / 20.0)
    return np.asarray(20.0 * np.log10(np.maximum(ratio, lowest)))
