"""Pictures of the insulation: resistance against time, current against stepped voltage."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from cagewise.indicators.reading import Reading, Sense
from cagewise.indicators.winding.head import subject
from cagewise.indicators.winding.insulation_context import (
    ONE_MINUTE_S,
    TEN_MINUTES_S,
    resistance_at,
    temperature_of,
)
from cagewise.indicators.winding.limits import InsulationLimits
from cagewise.machine.winding_limits import MEGOHM
from cagewise.measurement.test_sheet import InsulationResistanceTest, StepVoltageTest, TestSheet
from cagewise.pictures.parts import Drawn, read_marker
from cagewise.pictures.picture import Axis, Curve, Marker, Part, Picture
from cagewise.quantities import NotKnown, RealArray

RESISTANCE_READINGS = (
    "insulation_resistance",
    "polarization_index",
    "absorption_ratio",
    "insulation_resistance_fall",
)
STEP_READINGS = ("step_voltage_knee",)
TIMES = (
    (15.0, "15 s"),
    (30.0, "30 s"),
    (60.0, "1 min"),
    (120.0, "2 min"),
    (300.0, "5 min"),
    (600.0, "10 min"),
)
"""Times at which resistances are read."""
KILO = 1e3
MICRO = 1e6


@dataclass(frozen=True, slots=True, kw_only=True)
class InsulationScene:
    """The tests of a sheet and what they read as."""

    sheet: TestSheet
    earlier: Sequence[TestSheet]
    """That were compared with, oldest first."""
    readings: Sequence[Reading]
    """Of the sheet, in their order; several of one name where several parts were tested."""
    limits: InsulationLimits


def insulation_pictures(scene: InsulationScene) -> tuple[Drawn, ...]:
    """Return the pictures of every insulation test of a sheet."""
    found = [
        _resistance(scene, test, _name("insulation", n), _of(scene, n, RESISTANCE_READINGS))
        for n, test in enumerate(scene.sheet.insulation)
    ]
    found += [
        _steps(scene, test, _name("leakage", n), _of(scene, n, STEP_READINGS))
        for n, test in enumerate(scene.sheet.steps)
    ]
    return tuple(found)


def _name(stem: str, number: int) -> str:
    """Return the name of a picture; the second and later ones are numbered."""
    return stem if number == 0 else f"{stem}_{number + 1}"


def _of(scene: InsulationScene, number: int, names: Sequence[str]) -> Mapping[str, Reading]:
    """Return the readings of the test of this number: they stand in the order of the tests."""
    found = {}
    for name in names:
        same = [reading for reading in scene.readings if reading.name == name]
        if number < len(same):
            found[name] = same[number]
    return found


def _titled(title: str, tested: str) -> str:
    """Return a title that says what was tested, where it was not the whole winding."""
    return f"{title}, {tested}" if subject(tested) else title


def _resistance(
    scene: InsulationScene,
    test: InsulationResistanceTest,
    name: str,
    readings: Mapping[str, Reading],
) -> Drawn:
    """Return resistance against time."""
    error = scene.limits.resistance_error
    megohm = test.resistance_ohm / MEGOHM
    measured = Curve(
        label=f"measured, {test.test_voltage_v:g} V{_at(temperature_of(test, scene.sheet))}",
        part=Part.MEASURED,
        x=test.time_s,
        y=megohm,
        low=megohm * (1.0 - error),
        high=megohm * (1.0 + error),
    )
    picture = Picture(
        name=name,
        title=_titled("Insulation resistance against time", test.tested),
        x=Axis(
            quantity="time after the voltage was applied",
            unit="s",
            logarithmic=True,
            ticks=TIMES,
        ),
        y=Axis(quantity="insulation resistance", unit="megohm", logarithmic=True),
        curves=(
            *_past(scene, test.tested),
            measured,
            *_minimum(test, readings),
            *_least_index(scene, test, readings),
        ),
        markers=tuple(_marks(readings)),
        readings=RESISTANCE_READINGS,
        meaning="On a sound, dry insulation the resistance rises all the time, steeply at first. "
        "A flat course is moisture or dirt; a fall is a weak place.",
    )
    return Drawn(picture=picture)


def _at(temperature_degc: float | None) -> str:
    return "" if temperature_degc is None else f", winding at {temperature_degc:g} degC"


def _past(scene: InsulationScene, tested: str) -> Iterator[Curve]:
    """Yield the courses of earlier tests of the same part."""
    for sheet in scene.earlier:
        for test in sheet.insulation:
            if test.tested == tested and test.time_s.size:
                label = f"{sheet.measured_on.isoformat()}{_at(temperature_of(test, sheet))}"
                y = test.resistance_ohm / MEGOHM
                yield Curve(label=label, part=Part.EARLIER, x=test.time_s, y=y)


def _minimum(test: InsulationResistanceTest, readings: Mapping[str, Reading]) -> Iterator[Curve]:
    """Yield the published minimum after one minute at 40 degC."""
    reading = readings.get("insulation_resistance")
    if reading is None or reading.limit is None or not test.time_s.size:
        return
    ends = _span(test.time_s)
    yield Curve(
        label=f"least after 1 min at 40 degC: {reading.limit.value:g}",
        part=Part.LIMIT,
        x=ends,
        y=np.full(2, reading.limit.value),
    )


def _span(time_s: RealArray) -> RealArray:
    return np.array([min(float(time_s[0]), ONE_MINUTE_S), max(float(time_s[-1]), ONE_MINUTE_S)])


def _least_index(
    scene: InsulationScene, test: InsulationResistanceTest, readings: Mapping[str, Reading]
) -> Iterator[Curve]:
    """Yield from one to ten minutes the least rise that the published index asks for."""
    reading = readings.get("polarization_index")
    if reading is None or reading.limit is None or reading.limit.sense is not Sense.AT_LEAST:
        return
    after = resistance_at(test, ONE_MINUTE_S, scene.limits.time_tolerance)
    if isinstance(after, NotKnown):
        return
    start = after / MEGOHM
    yield Curve(
        label=f"least polarization index: {reading.limit.value:g}",
        part=Part.LIMIT,
        x=np.array([ONE_MINUTE_S, TEN_MINUTES_S]),
        y=np.array([start, start * reading.limit.value]),
    )


def _marks(readings: Mapping[str, Reading]) -> Iterator[Marker]:
    """Yield what was read, at its place on the course."""
    reading = readings.get("insulation_resistance")
    if reading is not None and reading.valid and reading.value is not None:
        yield read_marker("after 1 min, at 40 degC", ONE_MINUTE_S, reading.value)
    for name, label, at in (
        ("polarization_index", "10 min over 1 min", TEN_MINUTES_S),
        ("absorption_ratio", "absorption ratio", ONE_MINUTE_S),
    ):
        reading = readings.get(name)
        if reading is not None and reading.valid and reading.value is not None:
            text = f"{label}: {reading.value.value:.3g}"
            yield Marker(label=text, part=Part.MEASURED, x=at)


def _steps(
    scene: InsulationScene, test: StepVoltageTest, name: str, readings: Mapping[str, Reading]
) -> Drawn:
    """Return current against voltage."""
    limits = scene.limits
    error = np.hypot(limits.step_current_error * test.current_a, limits.step_current_floor_a)
    kilovolt, microamp = test.voltage_v / KILO, test.current_a * MICRO
    measured = Curve(
        label="at the end of each step",
        part=Part.MEASURED,
        x=kilovolt,
        y=microamp,
        low=microamp - error * MICRO,
        high=microamp + error * MICRO,
    )
    reading = readings.get("step_voltage_knee")
    details = {} if reading is None else reading.details
    knee = details.get("knee_voltage_v")
    at = Marker(label="sharp rise begins", part=Part.MEASURED, x=(knee or 0.0) / KILO)
    picture = Picture(
        name=name,
        title=_titled("Leakage current against stepped voltage", test.tested),
        x=Axis(quantity="direct voltage", unit="kV"),
        y=Axis(quantity="current at the end of the step", unit="uA"),
        curves=(*_proportional(kilovolt, microamp), measured),
        markers=() if knee is None else (at,),
        readings=STEP_READINGS,
        meaning="A current in proportion to the voltage is sound; where it bends upwards sharply, "
        "the voltage must not be raised further.",
    )
    return Drawn(picture=picture)


def _proportional(kilovolt: RealArray, microamp: RealArray) -> Iterator[Curve]:
    """Yield the straight line through the first step: what the eye compares with."""
    if kilovolt.size and kilovolt[0] > 0.0:
        ends = np.array([0.0, float(kilovolt[-1])])
        slope = float(microamp[0] / kilovolt[0])
        yield Curve(
            label="in proportion to the first step", part=Part.FITTED, x=ends, y=ends * slope
        )
