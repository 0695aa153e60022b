"""Every reading has a range, and its ends are still inside."""

from __future__ import annotations

import math
from decimal import Decimal

import pytest

from cagewise.readers.test_sheet.ranges import RANGES
from cagewise.readers.test_sheet.sheet_schema import TABLES
from cagewise.readers.test_sheet.units import UNITS, base_unit, reads_back, unit_for


def test_every_quantity_with_a_unit_has_a_range() -> None:
    known = {
        (kind.name, quantity.name)
        for kind in TABLES.values()
        for quantity in kind.quantities
        if quantity.dimension
    }
    assert set(RANGES) == known


def test_ends_are_inside_and_nothing_else_is() -> None:
    for allowed in RANGES.values():
        assert allowed.holds(allowed.low)
        assert allowed.holds(allowed.high)
        assert not allowed.holds(math.nextafter(allowed.low, -math.inf))
        assert not allowed.holds(math.nextafter(allowed.high, math.inf))
        assert not allowed.holds(math.nan)
        assert allowed.slip.endswith((".", "?"))


@pytest.mark.parametrize(
    ("dimension", "suffix", "figure", "value"),
    [
        ("resistance", "milliohm", "12.3", 0.0123),
        ("resistance", "teraohm", "1.1", 1.1e12),
        ("temperature", "degf", "-40", -40.0),
        ("temperature", "degf", "212", 100.0),
        ("angle", "deg", "180", math.pi),
        ("time", "min", "10", 600.0),
        ("ratio", "percent", "45.3", 0.453),
        ("frequency", "khz", "0.05", 50.0),
    ],
)
def test_conversions(dimension: str, suffix: str, figure: str, value: float) -> None:
    unit = UNITS[dimension][suffix]
    assert unit.to_si(Decimal(figure)) == value
    assert unit.from_si(value) == float(figure)


def test_degrees_give_way_to_radians_where_they_would_lose_a_digit() -> None:
    angles = [math.nextafter(k / 7.0, 1.0) for k in range(1, 200)]
    chosen = [unit_for("angle", [angle], ("deg",)) for angle in angles]
    assert {unit.suffix for unit in chosen} == {"deg", "rad"}
    assert all(reads_back(unit, angle) for unit, angle in zip(chosen, angles, strict=True))
    assert base_unit("angle").suffix == "rad"
