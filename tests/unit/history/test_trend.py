"""Which points make a trend, and what it says of motors whose truth is known."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cagewise.history.change import Change, find_change
from cagewise.history.limits import TrendLimits
from cagewise.history.points import NoTrendGround, TrendPoint, comparable
from cagewise.history.scale import FloorScale
from cagewise.history.trend import NoTrend, Trend, TrendCall, fit_trend
from cagewise.quantities import Estimate, NotKnown
from support.histories import exact, growing_bars, measured, point

LIMITS = TrendLimits()
MONTHS = [30.0 * i for i in range(24)]
HALF_BAR = Estimate(0.5, 0.4, 0.6)


def trend_of(points: list[TrendPoint], **more: float) -> Trend:
    trend = fit_trend(points, LIMITS, **more)  # type: ignore[arg-type]  # days are all that is given
    assert isinstance(trend, Trend), trend
    return trend


def refusal_of(points: list[TrendPoint], **more: float) -> str:
    trend = fit_trend(points, LIMITS, **more)  # type: ignore[arg-type]  # days are all that is given
    assert isinstance(trend, NoTrend)
    return trend.reason


@given(st.floats(0.0, 50.0))
def test_the_scale_goes_both_ways(bars: float) -> None:
    scale = FloorScale(0.1)

    assert float(scale.bars(scale.level_db(bars))) == pytest.approx(bars, rel=1e-9, abs=1e-12)
    assert float(scale.level_db(bars)) >= scale.zero_db == pytest.approx(-20.0)


def test_far_above_the_floor_a_factor_of_two_is_six_decibels() -> None:
    scale = FloorScale(0.1)

    assert float(scale.level_db(80.0) - scale.level_db(40.0)) == pytest.approx(6.02, abs=0.02)


def test_too_few_points_is_a_result() -> None:
    assert refusal_of(exact(MONTHS[:3], [0.5] * 3)).startswith("too few points: 3 comparable of")
    assert refusal_of([]).startswith("too few points: 0")


@pytest.mark.parametrize(
    ("points", "ground"),
    [
        (exact(MONTHS[:3], [0.5] * 3), NoTrendGround.TOO_FEW_POINTS),
        (exact([0.0, 1.0, 2.0, 3.0], [0.5] * 4), NoTrendGround.TOO_SHORT),
        ([point(d, HALF_BAR, sensors=str(d)) for d in MONTHS[:5]], NoTrendGround.NOT_COMPARABLE),
    ],
)
def test_a_result_without_a_trend_has_its_ground(
    points: list[TrendPoint], ground: NoTrendGround
) -> None:
    trend = fit_trend(points, LIMITS)

    assert isinstance(trend, NoTrend)
    assert trend.ground is ground


def test_a_load_known_only_roughly_widens_the_trend() -> None:
    """A load within 0.3 to 1.1 may have moved a reading by 3 dB per unit of load times 0.2."""
    points = exact(MONTHS[:8], [0.5] * 8)
    sharp, rough = (
        trend_of([replace(each, load_fraction=load) for each in points])
        for load in (Estimate(0.7, 0.7, 0.7), Estimate(0.7, 0.3, 1.1))
    )
    width = [t.slope_db_per_year.high - t.slope_db_per_year.low for t in (sharp, rough)]

    assert width[0] < width[1] < 1.2 * width[0]  # the visits themselves scatter by 1.5 dB
    assert sharp.level_bars.value == pytest.approx(rough.level_bars.value, rel=0.02)


def test_a_short_span_is_a_result() -> None:
    days = [0.0, 1.0, 2.0, 3.0, 4.0]

    assert refusal_of(exact(days, [0.5] * 5)) == "too short: the points span 4 of at least 60 days"


def test_points_before_a_repair_are_another_cage() -> None:
    points = exact(MONTHS[:6], [2.0] * 6)

    assert "3 from before the repair" in refusal_of(points, since_day=80.0)


def test_points_of_another_reading_are_named() -> None:
    points = exact(MONTHS[:3], [0.5] * 3)
    other = [replace(p, reading="side_lines", day=p.day + 1.0) for p in points[:2]]

    assert "2 of another reading, which sees other damage (side_lines)" in refusal_of(
        points + other
    )


def test_the_reading_with_the_most_points_is_followed() -> None:
    points = exact(MONTHS[:5], [0.5] * 5)
    other = [replace(p, reading="side_lines") for p in points[:4]]

    assert comparable(points + other).points[0].reading == "direct_component"
    assert len(comparable(points + other, reading="side_lines").points) == 4
    tighter = [replace(p, reading="tight", bars=Estimate(0.5, 0.49, 0.51)) for p in points]
    assert comparable(points + tighter).points[0].reading == "tight"


def test_a_version_for_each_point_cannot_be_compared() -> None:
    points = [replace(p, sensors=f"clamp {p.day:g}") for p in exact(MONTHS[:5], [0.5] * 5)]

    assert refusal_of(points).startswith("points not comparable: nameplate or sensors differ")


@pytest.mark.parametrize(
    "bars", [Estimate(-0.5, -1.0, 0.0), Estimate(1.0, 0.5, math.inf), Estimate(0.0, 0.0, 0.0)]
)
def test_intervals_that_say_nothing_are_set_aside(bars: Estimate) -> None:
    chosen = comparable([*exact(MONTHS[:4], [0.5] * 4), point(10.0, bars)])

    assert len(chosen.points) == 4
    assert len(chosen.set_aside) == 1


def test_a_steady_cage_is_steady() -> None:
    trend = trend_of(exact(MONTHS, [0.5] * 24))

    assert trend.call is TrendCall.STEADY
    assert trend.slope_db_per_year.value == pytest.approx(0.0, abs=0.1)
    assert trend.level_bars.low < 0.5 < trend.level_bars.high
    assert trend.probability_growing < 0.05


def test_a_growing_cage_grows_at_its_pace() -> None:
    trend = trend_of(exact(MONTHS, growing_bars(MONTHS, 0.3, 6.0)))

    assert trend.call is TrendCall.GROWING
    assert trend.slope_db_per_year.value == pytest.approx(6.0, abs=0.3)
    assert trend.growth_factor_per_year.value == pytest.approx(2.0, abs=0.08)
    assert trend.check.outside == 0


def test_a_motor_without_a_finding_has_nothing_to_follow() -> None:
    points = [point(d, Estimate(0.04, 0.0, 0.12)) for d in MONTHS]
    trend = trend_of(points)

    assert trend.call is TrendCall.NOTHING_SEEN
    assert trend.limits_only
    assert trend.level_bars.low == 0.0
    assert trend.level_bars.high < 0.12
    assert all(score < 0.0 for score in trend.check.scores)


def test_many_limits_bound_tighter_than_few_but_never_to_zero() -> None:
    few, many = (
        trend_of([point(d, Estimate(0.04, 0.0, 0.12)) for d in MONTHS[:n]]) for n in (4, 24)
    )

    assert 0.01 < many.level_bars.high < few.level_bars.high


def test_limits_before_a_rise_belong_to_the_trend() -> None:
    bars = growing_bars(MONTHS, 0.02, 8.0)
    points = exact(MONTHS, bars, spread=0.3)
    with_limits = [
        replace(p, bars=Estimate(min(p.bars.value, 0.1), 0.0, 0.25)) if p.bars.value < 0.15 else p
        for p in points
    ]
    without = [p for p in with_limits if not p.is_limit]
    whole, part = trend_of(with_limits), trend_of(without)

    def width(trend: Trend) -> float:
        return trend.slope_db_per_year.high - trend.slope_db_per_year.low

    assert sum(p.is_limit for p in with_limits) >= 8
    assert whole.slope_db_per_year.low < 8.0 < whole.slope_db_per_year.high
    assert width(whole) < width(part)


def test_a_changed_sensor_is_no_growth() -> None:
    """A step of 6 dB: with one set of sensors it is a change, between two it may be the error of
    both. Intervals of a factor of two, as a nameplate alone leaves them."""
    bars = [0.5] * 12 + [1.0] * 12
    points = [point(d, Estimate(n, n / 2.0, n * 2.0)) for d, n in zip(MONTHS, bars, strict=True)]
    swapped = [replace(p, sensors="new" if i >= 12 else "old") for i, p in enumerate(points)]
    one, two = trend_of(points), trend_of(swapped)

    assert find_change(one, LIMITS).changed
    assert not find_change(two, LIMITS).changed
    assert two.probability_growing < one.probability_growing
    assert two.slope_db_per_year.value < 1.5


def test_load_explains_what_goes_with_it() -> None:
    """Readings that follow the load by 4 dB per unit: with the loads the cage is steady."""
    random = np.random.default_rng(4)
    loads = np.linspace(0.3, 1.0, 24) + random.normal(0.0, 0.05, 24)
    bars = [0.5 * 10.0 ** (4.0 * (x - 0.6) / 20.0) for x in loads]
    plain = exact(MONTHS, bars)
    loaded = [
        replace(p, load_fraction=Estimate(x, x - 0.01, x + 0.01))
        for p, x in zip(plain, loads.tolist(), strict=True)
    ]
    without, with_loads = trend_of(plain), trend_of(loaded)

    assert without.reference_load is None
    assert with_loads.reference_load == pytest.approx(float(np.median(loads)))
    assert with_loads.slope_db_per_year.value < 0.75 * without.slope_db_per_year.value


def test_unknown_loads_and_temperatures_widen() -> None:
    points = exact(MONTHS[:8], growing_bars(MONTHS[:8], 0.5, 3.0), spread=0.02)
    known = [
        replace(
            p,
            load_fraction=Estimate(0.7, 0.69, 0.71),
            winding_temperature_degc=Estimate(80.0, 79.0, 81.0),
        )
        for p in points
    ]
    partly = [replace(p, load_fraction=NotKnown("no voltage")) for p in known[:4]] + known[4:]

    def width(trend: Trend) -> float:
        return trend.slope_db_per_year.high - trend.slope_db_per_year.low

    assert width(trend_of(known)) < width(trend_of(partly)) < width(trend_of(points))


def test_time_passes_after_the_last_point() -> None:
    points = exact(MONTHS, growing_bars(MONTHS, 0.3, 6.0))
    now, later = trend_of(points), trend_of(points, day=MONTHS[-1] + 365.25)

    assert later.level_bars.value == pytest.approx(2.0 * now.level_bars.value, rel=0.12)
    assert later.level_bars.high / later.level_bars.low > now.level_bars.high / now.level_bars.low
    assert later.day == MONTHS[-1] + 365.25


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 1000), st.floats(-1e5, 1e6), st.permutations(range(10)))
def test_neither_calendar_nor_order_matters(seed: int, offset: float, order: list[int]) -> None:
    random = np.random.default_rng(seed)
    days = np.sort(random.integers(0, 900, 10)).astype(float)
    days[-1] += 100.0
    points = measured(days, np.full(10, 0.4), random)
    moved = [replace(points[i], day=points[i].day + round(offset)) for i in order]
    if len(set(days.tolist())) < len(days):
        moved.sort(key=lambda p: p.day)
    here, there = trend_of(points), trend_of(moved)

    assert there.day == here.day + round(offset)
    if len(set(days.tolist())) == len(days):
        assert there.slope_db_per_year.value == pytest.approx(
            here.slope_db_per_year.value, abs=1e-6
        )
        assert there.probability_growing == pytest.approx(here.probability_growing, abs=1e-6)


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 1000), st.floats(0.05, 4.0), st.integers(4, 20))
def test_results_are_numbers_in_order(seed: int, bars: float, count: int) -> None:
    random = np.random.default_rng(seed)
    days = np.cumsum(random.uniform(20.0, 120.0, count))
    trend = trend_of(measured(days, np.full(count, bars), random))
    change = find_change(trend, LIMITS)

    assert 0.0 <= trend.probability_fast <= trend.probability_growing <= 1.0
    assert 0.0 <= trend.level_bars.low <= trend.level_bars.value <= trend.level_bars.high < 1e3
    assert len(trend.curve) == count
    assert np.all(np.isfinite(trend.check.scores))
    assert np.all(np.isfinite(change.errors))
    assert 0.0 < trend.check.probability <= 1.0


def changes(seeds: range, db_per_year: float, visits: int, interval_days: float) -> list[Change]:
    found = []
    for seed in seeds:
        random = np.random.default_rng(seed)
        days = np.linspace(0.0, (visits - 1) * interval_days, visits)
        bars = np.array(growing_bars(days.tolist(), 0.4, db_per_year))
        found.append(find_change(trend_of(measured(days, bars, random)), LIMITS))
    return found


def test_a_motor_that_stays_gives_no_alarm_and_one_that_grows_does() -> None:
    """24 monthly visits: two-sided false alarms once in 206 to 370 visits, upwards half of that, so
    at most 24/412 = 6 % of motors; growth of 8 dB/year is found by then (delay of 7 visits)."""
    steady = changes(range(40), 0.0, 24, 30.0)
    growing = changes(range(12), 8.0, 24, 30.0)

    assert sum(change.changed for change in steady) <= 6  # 1 % to exceed at 6 % of 40
    assert all(change.changed for change in growing)
    errors = np.concatenate([change.errors for change in steady])
    assert abs(errors.mean()) < 0.15
    assert 0.7 < errors.std() < 1.15


def test_what_the_sums_are_worth_is_stated() -> None:
    change = find_change(trend_of(exact(MONTHS, [0.5] * 24)), LIMITS)
    quick, slow = change.sums

    assert quick.false_alarm_visits == pytest.approx(465.44, abs=0.01)
    assert quick.false_alarm_years == pytest.approx(465.44 * 30.0 / 365.25, abs=0.01)
    assert slow.false_alarm_visits == pytest.approx(370.33, abs=0.01)
    assert change.false_alarm_visits[0] == pytest.approx(206.2, abs=0.1)
    assert change.false_alarm_visits[1] == slow.false_alarm_visits
    assert change.interval_days == 30.0
    fast, slow_growth = (one.delay for one in quick.delays)
    assert fast is not None
    assert slow_growth is not None
    assert fast.years < slow_growth.years


def test_where_a_step_is_put() -> None:
    bars = [0.4] * 16 + [0.9] * 8
    change = find_change(trend_of(exact(MONTHS, bars)), LIMITS)

    assert change.changed
    assert change.onset_day == pytest.approx(MONTHS[16], abs=61.0)


def test_a_fall_is_told_apart() -> None:
    change = find_change(trend_of(exact(MONTHS, [0.9] * 12 + [0.3] * 12)), LIMITS)

    assert not change.changed
    assert change.sums[0].fall_day is not None


@pytest.mark.slow
def test_intervals_hold_in_their_own_model() -> None:
    """120 histories drawn from the prior of the model: level and slope held in 95 %; Wilson's
    interval of 120 at 95 % begins at 90 %."""
    held_level = held_slope = above = 0
    outside = forecasts = 0
    for seed in range(120):
        random = np.random.default_rng(1000 + seed)
        days, level, slope = drawn_history(random, 16, 45.0)
        bars = FloorScale(LIMITS.floor_bars).bars(level)
        trend = trend_of(measured(days, bars, random))
        held_level += trend.level_bars.low <= bars[-1] <= trend.level_bars.high
        outside += trend.check.outside
        forecasts += len(trend.check.scores)
        if level[-1] > -14.0:
            above += 1
            held_slope += trend.slope_db_per_year.low <= slope <= trend.slope_db_per_year.high

    assert held_level >= 0.90 * 120
    assert above > 50
    assert held_slope >= 0.89 * above
    assert outside <= 0.065 * forecasts


def drawn_history(
    random: np.random.Generator, visits: int, interval_days: float
) -> tuple[np.ndarray, np.ndarray, float]:
    """Return days, levels and the last slope of a cage drawn from the prior, never below zero."""
    parts, step = 10, interval_days / 365.25 / 10
    level_noise = random.choice([0.0, 1.5, 5.0], p=[0.5, 0.3, 0.2])
    slope_noise = random.choice([0.0, 2.0, 6.0], p=[0.5, 0.3, 0.2])
    level, slope = max(-10.0 + 8.0 * random.normal(), -20.0), 6.0 * random.normal()
    levels = [level]
    for _ in range((visits - 1) * parts):
        level += slope * step + level_noise * math.sqrt(step) * random.normal()
        level = max(level, -20.0)
        slope += slope_noise * math.sqrt(step) * random.normal()
        levels.append(level)
    return np.arange(visits) * interval_days, np.array(levels[::parts]), slope
