"""Pictures of a start: everything that the current holds against time, and the line that was read.

The image is of the current space vector: the line of a damaged cage rises in it from -f to +f as
the motor speeds up, (1 - 2s) f, and crosses zero at half speed. Parameters of the image:
docs/theory/pictures.md.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from cagewise.indicators.lines.tapers import TIME_HALF_BANDWIDTH, tapers
from cagewise.indicators.start.side_line_track import StartTrack, TrackFigure
from cagewise.indicators.start.track_signals import StartSignals
from cagewise.pictures.parts import BARS, Drawn, absent
from cagewise.pictures.picture import Axis, Curve, Part, Picture, Raster
from cagewise.quantities import Estimate, NotKnown, RealArray

TITLE = "The start: current against time and frequency"
TRACK_TITLE = "The line of the start against the slip"
READINGS = ("start_side_line_track",)
COLUMNS = 260
"""Columns of the image."""
ROWS = 180
"""Rows of the image."""
REACH = 1.3
"""Frequencies shown, in units of the supply frequency, on either side of zero."""
LOWEST_DB, HIGHEST_DB = -75.0, 0.0
"""Levels that are told apart; below the first, windows leak and converters round."""
SHORTEST_CYCLES, LONGEST_CYCLES = 6.0, 30.0
"""Bounds of the window of the image, in supply cycles."""
GAP = 4.0
"""Steps from window to window above which a curve is broken, in the usual step."""
LOWEST_TRACK_DB = -80.0
"""Weaker lines along the track say nothing."""


@dataclass(frozen=True, kw_only=True)
class StartScene:
    """One start with what was found on it."""

    signals: StartSignals | NotKnown
    switched_on_s: float
    """From the first sample of the recording."""
    track: StartTrack
    three_phase: bool = True


def start_picture(scene: StartScene) -> Drawn:
    """Return the image of a start with the track of the cage's line."""
    signals = scene.signals
    if isinstance(signals, NotKnown):
        return absent("start", TITLE, signals.reason, READINGS)
    figure = scene.track.figure
    without = "" if figure else f" No track is drawn: {scene.track.reading.reason}."
    picture = Picture(
        name="start",
        title=TITLE,
        x=Axis(quantity="time in the recording", unit="s"),
        y=Axis(quantity="frequency of the current space vector", unit="Hz"),
        raster=image_of(signals, scene.switched_on_s),
        curves=() if figure is None else tuple(_tracks(figure, signals, scene)),
        readings=READINGS,
        meaning="A damaged cage draws a line along the track, from below through zero up towards "
        "the supply. Straight lines at fixed frequencies are not the cage's." + without,
    )
    return Drawn(picture=picture)


def _tracks(figure: TrackFigure, signals: StartSignals, scene: StartScene) -> Iterator[Curve]:
    """Yield where the line of a damaged cage would run, with the interval of the slip."""
    f = signals.frequency_hz
    inside = figure.time_s <= scene.switched_on_s + signals.settled_s

    def place(slip: RealArray) -> RealArray:
        along = f * (1.0 - 2.0 * slip[inside])
        return along if scene.three_phase else np.abs(along)

    low, high = place(figure.slip_high), place(figure.slip_low)
    yield Curve(
        label="(1-2s)f; band: the slip before the line was sought",
        part=Part.EXPECTED,
        x=figure.time_s[inside],
        y=place(figure.slip),
        low=np.minimum(low, high),
        high=np.maximum(low, high),
    )


def image_of(signals: StartSignals, begin_s: float) -> Raster:
    """Return the levels of a start against time and frequency, over the fundamental of the time.

    The window is the first discrete prolate spheroidal sequence, whose foot lies 70 dB below its
    top, of such a length that a line that sweeps from -f to +f in the time of the start moves by
    the width of the window's main lobe: shorter ones widen it, longer ones smear it.
    """
    rate, f = signals.sampling_rate_hz, signals.frequency_hz
    n = window_samples(signals)
    window = tapers(n).windows[0]
    window = window / window.sum()
    first = np.unique(np.linspace(0, signals.current.size - n, COLUMNS).round().astype(np.intp))
    y = np.linspace(-REACH * f, REACH * f, ROWS)
    padded = fft.next_fast_len(max(n, math.ceil(rate / (y[1] - y[0]))))
    pieces = np.lib.stride_tricks.sliding_window_view(signals.current, n)[first] * window
    spectrum = np.abs(fft.fft(pieces, padded, axis=1))
    bins = np.asarray(np.round(y / rate * padded), dtype=np.intp) % padded
    level = spectrum[:, bins].T
    at = first + n // 2
    slow = np.abs(np.interp(at / rate, signals.slow_time_s, np.abs(signals.current_envelope)))
    ratio = level / np.maximum(slow, np.finfo(np.float64).tiny)
    decibels = 20.0 * np.log10(np.maximum(ratio, 10.0 ** (LOWEST_DB / 20.0)))
    return Raster(
        x=begin_s + at / rate,
        y=y,
        level=np.clip(decibels, LOWEST_DB, HIGHEST_DB),
        unit="dB",
        lowest=LOWEST_DB,
        highest=HIGHEST_DB,
    )


def window_samples(signals: StartSignals) -> int:
    """Return the length of the image's window.

    The main lobe is ``2 NW / L`` wide and the line moves by ``2 f L / T`` while the window lasts:
    both are equal at ``L = sqrt(NW T / f)``.
    """
    f = signals.frequency_hz
    length_s = math.sqrt(TIME_HALF_BANDWIDTH * signals.settled_s / f)
    length_s = float(np.clip(length_s, SHORTEST_CYCLES / f, LONGEST_CYCLES / f))
    return min(round(length_s * signals.sampling_rate_hz), signals.current.size)


def track_picture(scene: StartScene) -> Drawn:
    """Return the line that was read against the slip, beside what open bars would give."""
    figure = scene.track.figure
    if figure is None:
        reason = scene.track.reading.reason
        return absent("start_track", TRACK_TITLE, reason, READINGS)
    order, gaps = _with_gaps(figure.window_slip)
    along = figure.window_slip[order]
    slip = np.insert(along, gaps, along[gaps])
    rows = (
        ("read along the track", Part.MEASURED, figure.ratio, None),
        ("floor", Part.FLOOR, figure.floor, None),
        (BARS[1], Part.EXPECTED, figure.expected_one, 1.0),
        (BARS[2], Part.EXPECTED, figure.expected_two, 2.0),
    )
    curves = tuple(
        Curve(
            label=label,
            part=part,
            x=slip,
            y=np.insert(_level(ratio[order]), gaps, np.nan),
            open_bars=bars,
        )
        for label, part, ratio, bars in rows
    )
    picture = Picture(
        name="start_track",
        title=TRACK_TITLE,
        x=Axis(quantity="slip", falling=True),
        y=Axis(quantity="line, relative to the starting current", unit="dB"),
        curves=curves,
        readings=READINGS,
        meaning="A sound cage stays at the floor; a damaged one runs along the course of its open "
        "bars over the whole start." + _bars(scene.track.reading.open_bar_equivalent),
    )
    return Drawn(picture=picture)


def _with_gaps(slip: RealArray) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return the order of rising slip, and before which places in it nothing could be read.

    Near half speed the line lies on the offset of the sensors, and no window stands clear there.
    """
    order = np.argsort(slip)
    steps = np.diff(slip[order])
    return order, np.flatnonzero(steps > GAP * np.median(steps)) + 1 if steps.size else order[:0]


def _bars(bars: Estimate | None) -> str:
    """Return the reading in words."""
    return "" if bars is None else f" It reads as {bars.value:.2g} open bars."


def _level(ratio: RealArray) -> RealArray:
    """Return amplitude ratios in dB."""
    return np.asarray(20.0 * np.log10(np.maximum(ratio, 10.0 ** (LOWEST_TRACK_DB / 20.0))))
