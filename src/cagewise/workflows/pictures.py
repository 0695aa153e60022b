"""Use case: the pictures of an examination that is kept, made from what it was made from.

The numbers of a picture that were read come from the document; curves are computed again from the
recording that the examination used, on the stretch that the document states. So examinations of
earlier versions of the program have their pictures too, and say what cannot be made again.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum

from cagewise.errors import CagewiseError, NotKeptError
from cagewise.pictures import beat, expected, running, start, whole_spectrum
from cagewise.pictures.parts import Drawn, absent
from cagewise.pictures.picture import Picture
from cagewise.quantities import RealArray
from cagewise.store import KeptExamination, MotorEntry, Plant
from cagewise.workflows.kept_document import KeptDocument
from cagewise.workflows.picture_sources import (
    Source,
    motor_pictures,
    running_pictures,
    sheet_pictures,
    start_pictures,
)
from cagewise.workflows.plant_motors import motor_of

MOST_COLUMNS = 4000
"""Columns of a window: those of the widest screens."""


class Material(StrEnum):
    """What pictures are made from; all of one are made together."""

    RUNNING = "running"
    START = "start"
    SHEET = "sheet"
    MOTOR = "motor"


@dataclass(frozen=True, slots=True, kw_only=True)
class Offered:
    """A picture that an examination may have."""

    name: str
    title: str
    readings: tuple[str, ...]
    """Names of the readings that it shows."""
    material: Material


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """The part of a picture that is looked at."""

    low: float
    high: float
    columns: int
    """Columns of pixels."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WindowCurve:
    """A curve of a picture, seen through a window."""

    label: str
    x: RealArray
    y: RealArray
    exact: bool
    """Whether every value of the window is there, not only the extremes of columns."""


@dataclass(frozen=True, slots=True)
class Prepared:
    """The pictures of one material."""

    drawn: Mapping[str, Drawn] = field(default_factory=dict)
    reason: str = ""
    """Why there are none, as a clause."""

    @property
    def offered(self) -> tuple[Offered, ...]:
        """What there is of a test sheet."""
        return tuple(
            Offered(
                name=each.picture.name,
                title=each.picture.title,
                readings=each.picture.readings,
                material=Material.SHEET,
            )
            for each in self.drawn.values()
        )

    @property
    def nbytes(self) -> int:
        """Memory that they take, nearly."""
        return sum(drawn.nbytes for drawn in self.drawn.values())


Preparer = Callable[[Plant, KeptExamination, Material], Prepared]
"""How material is had: :func:`prepare`, or a cache in front of it."""


_FIXED: tuple[Offered, ...] = tuple(
    Offered(name=name, title=title, readings=readings, material=material)
    for material, name, title, readings in (
        (Material.RUNNING, "supply_frame", running.TITLES["supply_frame"], running.SUPPLY_READINGS),
        (Material.RUNNING, "direct", beat.DIRECT_TITLE, ("direct_component",)),
        (Material.RUNNING, "envelope", beat.ENVELOPE_TITLE, beat.ENVELOPE_READINGS),
        (Material.RUNNING, "envelope_spectrum", beat.SPECTRUM_TITLE, beat.ENVELOPE_READINGS),
        (Material.RUNNING, "harmonics", running.TITLES["harmonics"], ("harmonic_lines",)),
        (Material.RUNNING, "harmonics_7", running.TITLES["harmonics_7"], ("harmonic_lines",)),
        (Material.RUNNING, "spectrum", whole_spectrum.TITLE, ()),
        (Material.START, "start", start.TITLE, start.READINGS),
        (Material.START, "start_track", start.TRACK_TITLE, start.READINGS),
    )
)
"""Pictures that have the same names in every examination."""


OF_MOTOR = tuple(
    Offered(name=name, title=title, readings=(), material=Material.MOTOR)
    for name, title in expected.TITLES.items()
)
"""Pictures of a motor before anything is measured."""


def prepare(plant: Plant, kept: KeptExamination, material: Material) -> Prepared:
    """Make all pictures of a material.

    Returns
    -------
    Prepared
        With a reason instead of pictures where something they are made from is not there.
    """
    make = {
        Material.RUNNING: running_pictures,
        Material.START: start_pictures,
        Material.SHEET: sheet_pictures,
        Material.MOTOR: _of_source,
    }[material]
    try:
        drawn = tuple(make(_source(plant, kept)))
    except CagewiseError as error:
        return Prepared(reason=error.what)
    return Prepared(drawn={each.picture.name: each for each in drawn})


def prepare_motor(plant: Plant, entry: MotorEntry) -> Prepared:
    """Make the pictures of what open bars would show on a motor, as its file is today."""
    drawn = motor_pictures(motor_of(plant.motors.nameplate(entry), entry.tag))
    return Prepared(drawn={each.picture.name: each for each in drawn})


def of_prepared(had: Prepared, name: str) -> Drawn:
    """Return a picture of a material.

    Raises
    ------
    NotKeptError
        If there is none of this name.
    """
    if name not in had.drawn:
        raise NotKeptError(f"there is no picture {name!r}")
    return had.drawn[name]


def picture_names(
    plant: Plant, kept: KeptExamination, prepared: Preparer = prepare
) -> tuple[Offered, ...]:
    """Return which pictures an examination has; those of nothing measured are left out."""
    document = _source(plant, kept).document
    there = {Material.RUNNING: document.running, Material.START: document.start}
    fixed = tuple(each for each in _FIXED if there[each.material] is not None)
    sheet = () if document.sheet is None else prepared(plant, kept, Material.SHEET).offered
    return (*fixed, *sheet, *OF_MOTOR)


def picture(
    plant: Plant, kept: KeptExamination, name: str, prepared: Preparer = prepare
) -> Picture:
    """Return a picture of an examination; one that cannot be made says why.

    Parameters
    ----------
    plant, kept
        Where the examination is kept.
    name
        As :func:`picture_names` gives it.
    prepared
        How the material is had; by default it is made.

    Raises
    ------
    NotKeptError
        If an examination has no picture of this name.
    """
    return drawn(plant, kept, name, prepared).picture


def drawn(plant: Plant, kept: KeptExamination, name: str, prepared: Preparer = prepare) -> Drawn:
    """Return a picture with the long rows behind its curves, as :func:`picture`."""
    offered = next((each for each in (*_FIXED, *OF_MOTOR) if each.name == name), None)
    had = prepared(plant, kept, Material.SHEET if offered is None else offered.material)
    found = had.drawn.get(name)
    if found is not None:
        return found
    if offered is None:
        raise NotKeptError(f"examination {kept.id} has no picture {name!r}")
    return absent(name, offered.title, had.reason or "there is nothing of it", offered.readings)


def window(
    plant: Plant,
    kept: KeptExamination,
    name: str,
    view: View,
    prepared: Preparer = prepare,
) -> tuple[WindowCurve, ...]:
    """Return the first curves of a picture, seen through a window.

    Raises
    ------
    NotKeptError
        If an examination has no picture of this name.
    """
    return through(drawn(plant, kept, name, prepared), view)


def through(shown: Drawn, view: View) -> tuple[WindowCurve, ...]:
    """Return the long curves of a picture, seen through a window; nothing of one without."""
    columns = min(max(view.columns, 1), MOST_COLUMNS)
    rows = []
    for curve, series in zip(shown.picture.curves, shown.series, strict=False):
        seen = series.window(view.low, view.high, columns)
        rows.append(WindowCurve(label=curve.label, x=seen.x, y=seen.y, exact=seen.exact))
    return tuple(rows)


def seen_through(shown: Drawn, view: View) -> Picture:
    """Return a picture of a part of the axis x, its long curves as they are seen there."""
    if not (math.isfinite(view.low) or math.isfinite(view.high)):
        return shown.picture
    seen = through(shown, view)
    curves = list(shown.picture.curves)
    for number, row in enumerate(seen):
        curves[number] = replace(curves[number], x=row.x, y=row.y)
    span = (view.low, view.high)
    return replace(shown.picture, x=replace(shown.picture.x, span=span), curves=tuple(curves))


def _source(plant: Plant, kept: KeptExamination) -> Source:
    """Return an examination with what it was made from."""
    entry = plant.motors.get(kept.motor_id)
    version = next(v for v in plant.motors.nameplates(entry) if v.id == kept.nameplate_id)
    document = plant.examinations.document(kept)
    return Source(
        plant=plant,
        motor=motor_of(version, entry.tag),
        kept=document,
        document=KeptDocument.of(document.text),
    )


def _of_source(source: Source) -> tuple[Drawn, ...]:
    return motor_pictures(source.motor)
