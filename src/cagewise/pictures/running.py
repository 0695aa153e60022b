"""Pictures of the running motor: spectra in the frame of the supply, the beat, load against cage.

Spectra, lines and the direct component are those of the indicators; what open bars would show
comes from the motor's own cage solution at the slip that was found, as the readings take it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property

from cagewise.conditioning.frame import SupplyFrame
from cagewise.decision.expect import COUNTS, level_estimate, sound_scatter, uneven_response
from cagewise.decision.limits import Limits
from cagewise.indicators.cage.context import CageContext, cage_context
from cagewise.indicators.cage.harmonic_lines import LABELS, PLACES
from cagewise.indicators.cage.spectra import cage_spectra
from cagewise.indicators.lines.spectrum import Spectrum
from cagewise.indicators.reading import Reading
from cagewise.indicators.running.operating_point import OperatingPoint
from cagewise.machine.cage.ensemble import Response
from cagewise.machine.cage.patterns import EVEN_CRACK
from cagewise.machine.cage.solution import LOWER, UPPER, Line
from cagewise.machine.circuit import EquivalentCircuit
from cagewise.machine.motor import Motor
from cagewise.pictures.parts import (
    Drawn,
    absent,
    expected_marker,
    first_view,
    floor_curve,
    limit_markers,
    read_marker,
    series_of,
)
from cagewise.pictures.picture import Axis, FrequencyScale, Marker, Picture
from cagewise.quantities import Estimate, NotKnown

LEVEL = Axis(quantity="level over the fundamental", unit="dB")
SIDE_PLACES: Mapping[Line, tuple[int, str, str]] = {
    LOWER: (-1, "(1-2s)f", "lower_side_line"),
    UPPER: (1, "(1+2s)f", "upper_side_line"),
}
"""Side, name and reading of a side line."""
SUPPLY_READINGS = ("direct_component", "side_line_sum", "lower_side_line", "upper_side_line")
TITLES = {
    "supply_frame": "Current in the frame of the supply",
    "harmonics": "Current about the 5th harmonic",
    "harmonics_7": "Current about the 7th harmonic",
}
HARMONICS = {"harmonics": ("fifth_harmonic", -5), "harmonics_7": ("seventh_harmonic", 7)}
"""Spectrum and signed order of the picture of a harmonic."""


@dataclass(frozen=True, kw_only=True)
class RunningScene:
    """One steady stretch with what the examination found on it."""

    frame: SupplyFrame
    point: OperatingPoint | NotKnown
    """As the examination has it."""
    motor: Motor
    circuit: EquivalentCircuit
    limits: Limits
    readings: Mapping[str, Reading]
    """As the examination has them, by name."""
    begins_s: float = 0.0
    """Begin of the stretch in its recording."""

    @cached_property
    def context(self) -> CageContext | NotKnown:
        """What the cage indicators share."""
        if isinstance(self.point, NotKnown):
            return self.point
        return cage_context(self.frame, self.point, self.motor, self.circuit, self.limits.cage)

    @cached_property
    def spectra(self) -> Mapping[str, Spectrum]:
        """Every bin of the spectra of the readings, by name."""
        context = None if isinstance(self.context, NotKnown) else self.context
        return {s.name: s for s in cage_spectra(self.frame, context, most_points=None)}

    @cached_property
    def sound(self) -> Response | NotKnown:
        """What sound cages of natural unevenness show, per draw."""
        if isinstance(self.context, NotKnown):
            return self.context
        ensemble = self.context.scale.ensemble
        scatter = sound_scatter(ensemble.n_draws)
        spread = self.limits.plan.natural_bar_spread
        crack = ensemble.at_slip(EVEN_CRACK)
        return uneven_response(crack, ensemble.rotor_bars, spread, scatter)

    @property
    def supply_hz(self) -> float:
        """Supply frequency that was found."""
        if isinstance(self.point, NotKnown):
            return self.frame.supply_frequency_hz
        return self.point.supply_frequency_hz.value

    @property
    def slip(self) -> float | None:
        """Slip that was found, None where it was not."""
        if isinstance(self.point, NotKnown) or isinstance(self.point.slip, NotKnown):
            return None
        return self.point.slip.value

    def scale(self, centre_hz: float) -> FrequencyScale:
        """Return what offsets from a frequency mean."""
        return FrequencyScale(centre_hz=centre_hz, supply_hz=self.supply_hz, slip=self.slip)

    def levels(self, line: Line) -> Iterator[tuple[int, Estimate]]:
        """Yield the level of a line for 0 to 3 adjacent open bars; nothing without the slip."""
        if isinstance(self.context, NotKnown) or isinstance(self.sound, NotKnown):
            return
        expectation = self.context.scale.expectation
        of = expectation.side_lines if line in SIDE_PLACES else expectation.harmonic_lines
        yield 0, level_estimate(self.sound.lines[line])
        for count in COUNTS[1:]:
            yield count, level_estimate(of[line][count - 1])

    def order(self, centre: int, pole_passes: int) -> float | None:
        """Return the order of a place, None where the slip is not known."""
        return None if self.slip is None else abs(centre + 2.0 * self.slip * pole_passes)


def supply_frame_picture(scene: RunningScene) -> Drawn:
    """Return the two-sided spectrum about the supply frequency."""
    spectrum = scene.spectra["supply_frame"]
    picture = Picture(
        name="supply_frame",
        title=TITLES["supply_frame"],
        x=Axis(quantity="offset from the supply frequency", unit="Hz"),
        y=LEVEL,
        markers=tuple(_side_markers(scene)),
        frequency=scene.scale(scene.supply_hz),
        readings=SUPPLY_READINGS,
        meaning="Broken bars make a line to the left, two slip frequencies below the supply; the "
        "speed ripple it causes makes its mirror to the right. A swinging load makes both, too."
        + _without_markers(scene),
    )
    return _with_spectrum(picture, spectrum)


def harmonic_picture(scene: RunningScene, name: str) -> Drawn:
    """Return the spectrum about the 5th or the 7th harmonic."""
    kind, order = HARMONICS[name]
    spectrum = scene.spectra.get(kind)
    if spectrum is None:
        reason = "the slip is not known, or the sampling rate is too low for this harmonic"
        return absent(name, TITLES[name], reason, ("harmonic_lines",))
    three = scene.frame.signals.three_phase
    turned = order if three else abs(order)
    picture = Picture(
        name=name,
        title=TITLES[name],
        x=Axis(quantity=f"offset from {turned:+d} times the supply frequency", unit="Hz"),
        y=LEVEL,
        markers=tuple(_harmonic_markers(scene, order, 1 if turned == order else -1)),
        frequency=scene.scale(turned * scene.supply_hz),
        readings=("harmonic_lines",),
        meaning="A damaged cage makes lines at two places here, whatever the load does. A line "
        "one pole-pass frequency from the middle is the supply's or the load's.",
    )
    return _with_spectrum(picture, spectrum)


def _with_spectrum(picture: Picture, spectrum: Spectrum) -> Drawn:
    """Return a picture with spectrum and floor."""
    series = series_of(spectrum.frequency_hz, spectrum.level_dbc)
    curves = (
        first_view(series, "current"),
        floor_curve(spectrum.frequency_hz, spectrum.floor_dbc),
    )
    return Drawn(picture=replace(picture, curves=curves), series=(series,))


def _without_markers(scene: RunningScene) -> str:
    """Return why nothing expected is marked; empty where it is."""
    if isinstance(scene.context, NotKnown):
        return f" Nothing expected is marked: {scene.context.reason}."
    return ""


def _side_markers(scene: RunningScene) -> Iterator[Marker]:
    """Yield what is expected and what was read at the places of the side lines."""
    if isinstance(scene.context, NotKnown):
        return
    f_pp = scene.context.pair.frequency_hz
    for line, (side, label, name) in SIDE_PLACES.items():
        order = scene.order(1, side)
        for count, level in scene.levels(line):
            yield expected_marker(label, count, side * f_pp, level, order)
        reading = scene.readings.get(name)
        if reading is None or not reading.valid or reading.value is None:
            continue
        at_hz = reading.details.get("frequency_hz", scene.supply_hz + side * f_pp)
        offset = at_hz - scene.supply_hz
        yield read_marker(f"{label} as read", offset, reading.value, order)
        limit = f"detection limit of {label}"
        yield from limit_markers(reading.details, "detection_limit_dbc", offset, limit, order)


def _harmonic_markers(scene: RunningScene, centre: int, sense: int) -> Iterator[Marker]:
    """Yield what is expected and what was read beside a harmonic."""
    if isinstance(scene.context, NotKnown):
        return
    f_pp = scene.context.pair.frequency_hz
    reading = scene.readings.get("harmonic_lines")
    for line, (of, passes) in PLACES.items():
        if of != centre:
            continue
        sign = "-" if passes * centre < 0 else "+"
        label = f"({abs(centre)}{sign}{2 * abs(passes)}s)f"
        place, order = sense * passes * f_pp, scene.order(centre, passes)
        for count, level in scene.levels(line):
            yield expected_marker(label, count, place, level, order)
        if reading is not None and reading.valid:
            level_dbc = reading.details.get(f"line_{LABELS[line]}_dbc")
            if level_dbc is not None:
                alone = Estimate(level_dbc, level_dbc, level_dbc)
                yield read_marker(f"{label} as read", place, alone, order)
