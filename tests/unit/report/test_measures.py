"""Metric and US customary units against NIST Special Publication 811 (2008), Appendix B.8.

Factors are quoted as printed there, seven digits (from memory): a relative error of 5e-7 is that of
their last digit.
"""

from __future__ import annotations

import pytest

from cagewise.errors import UsageError
from cagewise.quantities import Estimate
from cagewise.report import numbers
from cagewise.report.language import speaking
from cagewise.report.measures import (
    UNITS,
    Quantity,
    System,
    amount,
    current_system,
    measure,
    measured,
    measuring,
    shaft_power,
    temperature,
    unit_of,
)
from cagewise.report.sentences import motor_title
from support.examinations import motor

PRINTED_DIGITS = 5e-7
PRINTED = {
    Quantity.SHAFT_POWER: ("hp", 7.456999e2),  # horsepower (550 ft lbf/s)
    Quantity.TORQUE: ("lbf ft", 1.355818),
    Quantity.INERTIA: ("lb ft²", 4.214011e-2),
    Quantity.MASS: ("lb", 4.535924e-1),
    Quantity.LENGTH: ("in", 2.54e-2),
    Quantity.SMALL_LENGTH: ("mil", 2.54e-5),
    Quantity.FORCE: ("lbf", 4.448222),
    Quantity.ACCELERATION: ("g", 9.80665),
    Quantity.VIBRATION_VELOCITY: ("in/s", 2.54e-2),
    Quantity.TEMPERATURE_DIFFERENCE: ("°F", 5.555556e-1),
}


@pytest.mark.parametrize("quantity", PRINTED)
def test_factors_are_those_of_nist(quantity: Quantity) -> None:
    symbol, size = PRINTED[quantity]
    unit = UNITS[System.US][quantity]

    assert unit.symbol == symbol
    assert unit.size == pytest.approx(size, rel=PRINTED_DIGITS)
    assert unit.of(size) == pytest.approx(1.0, rel=PRINTED_DIGITS)


@pytest.mark.parametrize(
    ("degc", "degf"), [(0.0, 32.0), (100.0, 212.0), (40.0, 104.0), (-40.0, -40.0)]
)
def test_temperatures_follow_the_definition(degc: float, degf: float) -> None:
    assert UNITS[System.US][Quantity.TEMPERATURE].of(degc) == pytest.approx(degf, abs=1e-9)
    assert UNITS[System.METRIC][Quantity.TEMPERATURE].of(degc) == degc


def test_every_quantity_has_both_units() -> None:
    for units in UNITS.values():
        assert set(units) == set(Quantity)


def test_metric_is_what_is_written_without_asking() -> None:
    assert current_system() is System.METRIC
    assert shaft_power(250e3) == numbers.power(250e3) == "250 kW"
    assert shaft_power(5500.0) == "5.5 kW"
    assert temperature(40.0) == "40 °C"
    assert measure(0.0352, Quantity.INERTIA) == "0.0352 kg m²"
    assert measure(0.0431, Quantity.LENGTH) == "43.1 mm"


def test_us_units_hold_inside_of_their_block_only() -> None:
    with measuring("us"):
        assert shaft_power(100.0 * 745.6998715822702) == "100 hp"
        assert temperature(40.0) == "104 °F"
        assert measure(1.355818, Quantity.TORQUE) == "1 lbf ft"
        assert amount(0.0000508, Quantity.SMALL_LENGTH) == "2"
        assert unit_of(Quantity.MASS).symbol == "lb"
        assert "335 hp" in motor_title(motor())
    assert "250 kW" in motor_title(motor())


def test_an_interval_is_converted_end_by_end() -> None:
    warm = Estimate(40.0, 35.0, 45.0)
    with measuring("us"):
        assert measured(warm, Quantity.TEMPERATURE) == "104 (95 to 113) °F"
        with speaking("de"):
            assert (
                measured(Estimate(1.0, 0.9, 1.1), Quantity.TORQUE) == "0,74 (0,66 bis 0,81) lbf ft"
            )
    assert measured(warm, Quantity.TEMPERATURE) == "40 (35 to 45) °C"


def test_an_unknown_system_is_refused_with_those_there_are() -> None:
    with (
        pytest.raises(UsageError, match="no system of units 'imperial'") as refused,
        measuring("imperial"),
    ):
        pass  # pragma: no cover - refused before
    assert refused.value.remedy == "Use one of: metric, us."
