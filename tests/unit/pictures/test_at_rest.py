"""Pictures of tests at rest: every sheet has them or a reason; limits lie where published."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings

from cagewise.indicators.reading import Reading
from cagewise.indicators.winding.insulation import read_insulation
from cagewise.indicators.winding.limits import InsulationLimits, WindingLimits
from cagewise.indicators.winding.resistance import read_winding
from cagewise.measurement import TestSheet
from cagewise.measurement.test_sheet import StepVoltageTest
from cagewise.pictures.insulation import InsulationScene, insulation_pictures
from cagewise.pictures.parts import Drawn
from cagewise.pictures.picture import Part, Picture
from cagewise.pictures.standstill import position_pictures, resistance_picture
from cagewise.pictures.table import table_of
from cagewise.web.api.packed import packed
from support.sheets import sheets
from support.winding_scenes import (
    BEFORE,
    INVENTED,
    TODAY,
    absorbing,
    by_name,
    curve,
    motor,
    resistances,
)

LIMITS = InsulationLimits()
RISING = (900.0, 1300.0, 1900.0, 2600.0, 3900.0, 5100.0)


def sheet(**tests: object) -> TestSheet:
    """Return a sheet with tests on a warm, dry winding."""
    made = TestSheet(
        motor_tag="P-1", measured_on=TODAY, provenance=INVENTED, winding_temperature_degc=25.0
    )
    return replace(made, **tests)  # type: ignore[arg-type]  # fields by name


def readings_of(made: TestSheet) -> tuple[Reading, ...]:
    return read_insulation(made, (), motor(), LIMITS)


def pictures_of(made: TestSheet, earlier: tuple[TestSheet, ...] = ()) -> tuple[Drawn, ...]:
    scene = InsulationScene(sheet=made, earlier=earlier, readings=readings_of(made), limits=LIMITS)
    return insulation_pictures(scene)


def part(picture: Picture, wanted: Part) -> list[str]:
    return [each.label for each in picture.curves if each.part is wanted]


@given(made=sheets())
@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_any_sheet_that_can_be_written_has_pictures_that_can_be_sent(made: TestSheet) -> None:
    drawn = pictures_of(made)

    winding = by_name(read_winding(made, motor(), WindingLimits()))
    drawn += (resistance_picture(made, winding), *position_pictures(None))
    assert len({each.picture.name for each in drawn}) == len(drawn)
    for each in drawn:
        assert each.picture.curves or each.picture.reason
        assert "NaN" not in packed(each).model_dump_json()
        assert len(list(table_of(each, -np.inf, np.inf))) >= 1


def test_the_limits_of_the_insulation_are_those_of_its_readings() -> None:
    made = sheet(insulation=(curve(RISING),))
    readings = by_name(readings_of(made))
    minimum, index = (
        readings[name].limit for name in ("insulation_resistance", "polarization_index")
    )
    assert minimum is not None
    assert index is not None

    (drawn,) = pictures_of(made)
    least, rise = (c for c in drawn.picture.curves if c.part is Part.LIMIT)

    assert set(least.y) == {minimum.value}
    assert list(rise.x) == [60.0, 600.0]
    assert rise.y[1] / rise.y[0] == pytest.approx(index.value)
    assert rise.y[0] == pytest.approx(1900.0)  # as read after one minute


def test_the_reading_at_40_degrees_stands_at_one_minute() -> None:
    made = sheet(insulation=(curve(RISING),))
    reading = by_name(readings_of(made))["insulation_resistance"]
    assert reading.value is not None

    (drawn,) = pictures_of(made)
    mark = next(m for m in drawn.picture.markers if m.y is not None)

    assert (mark.x, mark.y) == (60.0, reading.value.value)
    assert (mark.low, mark.high) == (reading.value.low, reading.value.high)


def test_earlier_courses_of_the_same_part_lie_beside() -> None:
    before = replace(
        sheet(insulation=(curve(RISING), curve(RISING, tested="phase a"))), measured_on=BEFORE
    )

    (drawn,) = pictures_of(sheet(insulation=(curve(RISING),)), (before,))

    assert part(drawn.picture, Part.EARLIER) == ["2021-03-02, winding at 25 degC"]


def test_parts_tested_one_by_one_have_pictures_of_their_own_with_their_own_readings() -> None:
    made = sheet(insulation=(curve(RISING), curve([r / 2 for r in RISING], tested="phase a")))

    first, second = pictures_of(made)

    assert (first.picture.name, second.picture.name) == ("insulation", "insulation_2")
    assert "phase a" in second.picture.title
    marks = [next(m.y for m in d.picture.markers if m.y) for d in (first, second)]
    assert marks[1] == pytest.approx(0.5 * marks[0], rel=1e-9)


def test_a_sharp_rise_of_the_leakage_is_marked_where_it_begins() -> None:
    voltage = np.arange(1.0, 9.0) * 1e3
    current = absorbing(voltage, knee=(5e3, 2.0))
    made = sheet(steps=(StepVoltageTest(voltage_v=voltage, current_a=current, step_s=60.0),))

    (drawn,) = pictures_of(made)

    (mark,) = drawn.picture.markers
    assert mark.x == pytest.approx(5.0, abs=1.0)
    straight, measured = drawn.picture.curves
    assert measured.y[-1] > 1.5 * straight.y[-1]


def test_resistances_stand_about_their_mean_with_interval_and_limit() -> None:
    made = sheet(resistance=resistances((1.00, 1.01, 1.03), degc=25.0))
    readings = by_name(read_winding(made, motor(), WindingLimits()))
    unbalance = readings["resistance_unbalance"]
    assert unbalance.value is not None
    assert unbalance.limit is not None

    picture = resistance_picture(made, readings).picture

    measured = picture.curves[0]
    assert np.max(np.abs(measured.y)) == pytest.approx(unbalance.value.value)
    assert np.sum(measured.y) == pytest.approx(0.0, abs=1e-12)
    ends = sorted({float(c.y[0]) for c in picture.curves if c.part is Part.LIMIT})
    assert ends == [-unbalance.limit.value, unbalance.limit.value]
    assert [name.split(":")[0] for _, name in picture.x.ticks] == ["a-b", "b-c", "c-a"]


def test_a_pair_that_was_not_read_is_a_reason() -> None:
    picture = resistance_picture(sheet(), {}).picture

    assert "no resistance of pair" in picture.reason
