"""How numbers are written."""

from __future__ import annotations

import pytest

from cagewise.quantities import Estimate
from cagewise.report import numbers


@pytest.mark.parametrize(
    ("value", "text"),
    [(0.0, "0.00"), (0.07, "0.07"), (0.304, "0.30"), (0.999, "1.0"), (1.08, "1.1"), (12.3, "12")],
)
def test_bars_show_two_digits(value: float, text: str) -> None:
    assert numbers.bars(value) == text


@pytest.mark.parametrize(
    ("value", "down", "up"),
    [
        (0.304, "0.30", "0.31"),
        (0.3, "0.30", "0.30"),
        (1.01, "1.0", "1.1"),
        (0.1 + 0.2, "0.30", "0.30"),
    ],
)
def test_limits_round_outwards(value: float, down: str, up: str) -> None:
    assert numbers.bars_down(value) == down
    assert numbers.bars_up(value) == up


def test_an_upper_limit_below_one_bar_never_reads_as_less_than_it_is() -> None:
    for hundredth in range(1, 1200):
        value = hundredth / 100.0 + 0.003
        assert float(numbers.bars_up(value)) >= value


@pytest.mark.parametrize(
    ("estimate", "text"),
    [
        (Estimate(0.71, 0.67, 0.75), "71 (67 to 75) %"),
        (Estimate(0.00712, 0.00709, 0.00715), "0.712 (0.709 to 0.715) %"),
        (Estimate(0.5, 0.5, 0.5), "50.000 %"),
    ],
)
def test_intervals_set_the_digits(estimate: Estimate, text: str) -> None:
    assert numbers.with_interval(estimate, "%", 100.0) == text


@pytest.mark.parametrize(
    ("value", "text"), [(877.0, "880"), (11031.0, "11000"), (8.49, "8.5"), (0.123, "0.12")]
)
def test_round_figures(value: float, text: str) -> None:
    assert numbers.round_figure(value) == text


@pytest.mark.parametrize(
    ("watt", "text"),
    [(250e3, "250 kW"), (5.5e3, "5.5 kW"), (370.0, "0.37 kW"), (1.25e6, "1250 kW")],
)
def test_power(watt: float, text: str) -> None:
    assert numbers.power(watt) == text


def test_a_count_beyond_any_cage_is_no_number() -> None:
    assert numbers.bars(428.0) == numbers.bars_up(428.0) == "20+"
    assert numbers.bars_up(20.0) == "20"
    assert numbers.bars_interval(Estimate(0.0, 0.0, 53.0)) == "0.00 (0.00 to 20+)"
