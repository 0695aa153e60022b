"""The axes of drawn histories: every day and every number in its place."""

from __future__ import annotations

from datetime import date

from hypothesis import given
from hypothesis import strategies as st

from cagewise.quantities import Estimate
from cagewise.report.bars_axis import BarsAxis
from cagewise.report.time_axis import MOST_TICKS, TimeAxis

DAYS = st.lists(st.dates(), min_size=1, max_size=6)
BARS = st.lists(st.floats(0.0, 20.0), min_size=1, max_size=6)


@given(DAYS)
def test_days_stand_in_their_order_and_labels_do_not_crowd(days: list[date]) -> None:
    axis = TimeAxis.over(days)
    places = [axis.x(day) for day in sorted(days)]
    assert places == sorted(places)
    assert all(0.0 <= place <= 100.0 for place in places)
    labels = axis.ticks()
    assert len(labels) <= MOST_TICKS + 1
    assert [each.x for each in labels] == sorted(each.x for each in labels)


def test_a_single_day_stands_in_the_middle() -> None:
    assert abs(TimeAxis.over([date(2031, 3, 4)]).x(date(2031, 3, 4)) - 50.0) < 2.0


@given(BARS)
def test_every_number_is_on_the_axis(values: list[float]) -> None:
    axis = BarsAxis.over([Estimate(value, 0.9 * value, 1.1 * value) for value in values])
    assert axis.top >= min(20.0, max(values))
    assert [axis.y(value) for value in sorted(values)] == sorted(map(axis.y, values), reverse=True)
    assert axis.ticks()[0] == (100.0, "0")
    assert axis.ticks()[-1][0] == 0.0


def test_a_wild_interval_runs_off_the_axis() -> None:
    axis = BarsAxis.over([Estimate(1.0, 0.5, 19.0), Estimate(0.9, 0.8, 1.0)])
    assert axis.top <= 4.0
