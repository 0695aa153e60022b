"""The demodulated current, and load against cage: how far a swinging load explains the pair."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from cagewise.indicators.cage.context import CageContext, frame_baseband
from cagewise.indicators.cage.direct_component import DirectComponent
from cagewise.pictures.parts import (
    BARS,
    Drawn,
    absent,
    first_view,
    floor_curve,
    series_of,
    why_not,
)
from cagewise.pictures.picture import Axis, Curve, FrequencyScale, Marker, Part, Picture
from cagewise.pictures.running import RunningScene
from cagewise.quantities import Estimate, NotKnown, RealArray

ENVELOPE_READINGS = ("envelope_amplitude", "envelope_phase")
ENVELOPE_TITLE = "The beat of the current"
SPECTRUM_TITLE = "Frequencies of the beat"
DIRECT_TITLE = "Load or cage: what swinging explains of the lower side line"
CIRCLE = np.linspace(0.0, 2.0 * np.pi, 121)
"""Angles of a drawn circle."""
PERCENT = 100.0
BEYOND = 1.2
"""The first circle so much larger than the direct component is the last that is drawn."""


def envelope_picture(scene: RunningScene) -> Drawn:
    """Return the amplitude of the current against time."""
    base = frame_baseband(scene.frame)
    modulus = np.abs(base.samples)
    beat = series_of(
        scene.frame.time_s + scene.begins_s, PERCENT * np.asarray(modulus / modulus.mean() - 1.0)
    )
    reading = scene.readings.get("envelope_amplitude")
    ripple = None if reading is None else reading.details.get("amplitude_ripple_peak_percent")
    picture = Picture(
        name="envelope",
        title=ENVELOPE_TITLE,
        x=Axis(quantity="time in the recording", unit="s"),
        y=Axis(quantity="amplitude of the current about its mean", unit="%"),
        curves=(first_view(beat, "current"), *_ripple(beat.first, beat.last, ripple)),
        readings=ENVELOPE_READINGS,
        meaning="A damaged cage makes the current swing twice in every slip period, and so does a "
        "swinging load: the beat shows that something is there, not what.",
    )
    return Drawn(picture=picture, series=(beat,))


def _ripple(first: float, last: float, percent: float | None) -> Iterator[Curve]:
    """Yield lines at the ripple that was read."""
    if percent is None:
        return
    ends = np.array([first, last])
    for sign, label in ((1.0, "ripple at the pole-pass frequency"), (-1.0, "")):
        yield Curve(label=label, part=Part.FITTED, x=ends, y=np.full(2, sign * percent))


def envelope_spectrum_picture(scene: RunningScene) -> Drawn:
    """Return the spectra of amplitude and phase of the current."""
    amplitude, phase = scene.spectra["envelope_amplitude"], scene.spectra["envelope_phase"]
    x = amplitude.frequency_hz
    series = tuple(series_of(x, spectrum.level_dbc) for spectrum in (amplitude, phase))
    curves = [
        first_view(row, label)
        for row, label in zip(series, ("amplitude, of its mean", "phase, of a radian"), strict=True)
    ]
    f_pp = amplitude.markers_hz.get("pole pass")
    marker = Marker(label="pole-pass frequency 2sf", part=Part.EXPECTED, x=f_pp or 0.0)
    picture = Picture(
        name="envelope_spectrum",
        title=SPECTRUM_TITLE,
        x=Axis(quantity="frequency of the beat", unit="Hz"),
        y=Axis(quantity="ripple, peak", unit="dB"),
        curves=(*curves, floor_curve(x, amplitude.floor_dbc)),
        markers=() if f_pp is None else (marker,),
        frequency=FrequencyScale(centre_hz=0.0, supply_hz=scene.supply_hz, slip=scene.slip),
        readings=ENVELOPE_READINGS,
        meaning="Both side lines fold onto the pole-pass frequency here; amplitude or phase can be "
        "empty while both lines stand, never both.",
    )
    return Drawn(picture=picture, series=series)


def direct_picture(scene: RunningScene) -> Drawn:
    """Return the lower side line beside what a swinging load would make of it, as phasors.

    Lengths are those of the reading: sums over tapers and bins in which all three turn together.
    What a swinging load would make lies on the horizontal axis.
    """
    reason = why_not(scene.readings, "direct_component")
    context = scene.context
    if isinstance(context, NotKnown):
        reason = reason or context.reason
    if reason or isinstance(context, NotKnown):
        return absent("direct", DIRECT_TITLE, reason, ("direct_component",))
    swing, line = _phasors(context.direct, context.pair.fundamental_a)
    reading = scene.readings["direct_component"]
    arrows = (
        _arrow("what a swinging load would make", Part.FITTED, 0.0, swing),
        _arrow("lower side line, less the supply's part", Part.MEASURED, 0.0, line),
        _arrow("difference: the direct component", Part.RESIDUAL, swing, line),
    )
    bars = reading.open_bar_equivalent
    words = "" if bars is None else f" It reads as {bars.value:.2g} open bars."
    picture = Picture(
        name="direct",
        title=DIRECT_TITLE,
        x=Axis(quantity="part in phase with what a swinging load makes", unit="% of the current"),
        y=Axis(quantity="part a quarter turn ahead", unit="% of the current"),
        curves=(*arrows, *_circles(scene, context, swing)),
        markers=(
            Marker(label="swinging load", part=Part.FITTED, x=swing.real, y=swing.imag),
            Marker(label="lower side line", part=Part.MEASURED, x=line.real, y=line.imag),
        ),
        plane=True,
        readings=("direct_component",),
        meaning="The upper side line tells what any swinging of the speed puts into the lower one. "
        "What is left over is the cage's: the circles about it are what open bars would leave."
        + words,
    )
    return Drawn(picture=picture)


def _phasors(direct: DirectComponent, fundamental_a: float) -> tuple[complex, complex]:
    """Return what speed ripple makes and the lower line, per cent of the fundamental.

    Rows of values have lengths and one angle between them, whose cosine is the real part of their
    product: a triangle with the same three sides lies in a plane.
    """
    swing = (direct.ratio * direct.upper.conj()).ravel()
    line = direct.lower.ravel()
    scale = PERCENT * math.sqrt(direct.bins.energy_scale) / fundamental_a
    lengths = float(np.linalg.norm(swing)), float(np.linalg.norm(line))
    product = complex(np.vdot(swing, line))
    if not min(lengths) > 0.0:
        return complex(lengths[0] * scale), complex(lengths[1] * scale)
    cosine = product.real / (lengths[0] * lengths[1])
    sine = math.copysign(math.sqrt(max(1.0 - cosine**2, 0.0)), product.imag)
    return complex(lengths[0] * scale), lengths[1] * scale * complex(cosine, sine)


def _arrow(label: str, part: Part, tail: complex, head: complex) -> Curve:
    """Return a straight line from one point to another."""
    ends = np.array([tail, head], dtype=np.complex128)
    return Curve(label=label, part=part, x=ends.real.copy(), y=ends.imag.copy())


def _circles(scene: RunningScene, context: CageContext, centre: complex) -> Iterator[Curve]:
    """Yield what damage and the detection limit would leave about the head of the swinging load."""
    percent = PERCENT / context.pair.fundamental_a
    yield _circle("detection limit", Part.LIMIT, centre, percent * context.direct.detection_limit_a)
    if isinstance(scene.sound, NotKnown):
        return
    scale = context.scale
    rotor_a = scale.rotor_current_a[: scale.ensemble.n_draws]
    for count in range(len(BARS)):
        ratio = scale.expectation.direct_component[count - 1] if count else scene.sound.direct_ratio
        radius = Estimate.from_draws(percent * ratio * rotor_a)
        # of sound cages 95 in 100 stay within; of damaged ones the middle is drawn
        length = radius.value if count else radius.high
        yield _circle(BARS[count], Part.EXPECTED, centre, length, count)
        if count and length > BEYOND * percent * context.direct.amplitude_a:
            return  # more bars would only make the rest of the picture small


def _circle(
    label: str, part: Part, centre: complex, radius: float, open_bars: int | None = None
) -> Curve:
    """Return a circle."""
    x: RealArray = centre.real + radius * np.cos(CIRCLE)
    return Curve(
        label=label,
        part=part,
        x=x,
        y=centre.imag + radius * np.sin(CIRCLE),
        open_bars=None if open_bars is None else float(open_bars),
    )
