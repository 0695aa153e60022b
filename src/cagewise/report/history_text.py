"""The page of a motor's trend on the terminal."""

from __future__ import annotations

import math
from collections import Counter
from datetime import date, timedelta
from typing import TYPE_CHECKING

from cagewise.history.change import Change
from cagewise.history.growth_model import DAYS_PER_YEAR
from cagewise.history.limits import trend_limits
from cagewise.history.time_to_limit import TimeToLimit
from cagewise.history.trend import NoTrend, Trend
from cagewise.quantities import Estimate, NotKnown
from cagewise.report import history_wording as words
from cagewise.report import measures, numbers
from cagewise.report.facts import Fact
from cagewise.report.history_plot import write_plot
from cagewise.report.history_views import TrendView
from cagewise.report.language import retell, say
from cagewise.report.page import STYLE_DIM, STYLE_HEADING, Page, page_on
from cagewise.report.symbols import Symbols
from cagewise.store import MotorEntry

if TYPE_CHECKING:
    from rich.console import Console

SURPRISING = 0.01
"""Probability of so many points outside their forecasts below which the model is said to fit badly:
our judgement."""


def write_trend(view: TrendView, console: Console, symbols: Symbols) -> None:
    """Write the trend of a motor: what it amounts to, the plot, the numbers."""
    page = page_on(console, symbols)
    trend = view.trend
    title(page, view.motor)
    call = retell(trend.ground.value) if isinstance(trend, NoTrend) else say(words.CALL[trend.call])
    page.paragraph(say(words.TREND_TITLE, call=call), indent=0, style=STYLE_HEADING)
    if isinstance(trend, NoTrend):
        _without(page, view, trend)
        return
    level = numbers.bars_interval(trend.level_bars)
    page.paragraph(say(words.CALL_SENTENCE[trend.call], level=level))
    write_plot(page, trend.points, trend.curve)
    page.line()
    page.fact_table(trend_facts(view, trend))
    _unknown(page, view)


def title(page: Page, motor: MotorEntry) -> None:
    """Write which motor it is, and a rule."""
    facts = [motor.tag, motor.site, motor.description, measures.shaft_power(motor.rated_power_w)]
    page.paragraph(" · ".join(filter(None, facts)), indent=0)
    page.line(page.symbols.rule * page.width, STYLE_DIM)


def percent(share: float) -> str:
    """Return a probability that is never rounded to certainty: "<1 %", "63 %", ">99 %"."""
    whole = round(100.0 * share)
    if whole in (0, 100):
        return say(words.LEAST_SHARE) if whole == 0 else say(words.MOST_SHARE)
    return numbers.percent_of(str(whole))


def reading_title(name: str) -> str:
    """Return a reading in words."""
    from cagewise.indicators.cage.catalogue import HEADS

    return retell(next((head.title for head in HEADS if head.name == name), name.replace("_", " ")))


def day_of(number: float) -> date:
    """Return the day of a number of days."""
    return date.fromordinal(math.floor(number))


def _without(page: Page, view: TrendView, trend: NoTrend) -> None:
    """Write why there is no trend, what there is, and what is missing."""
    page.paragraph(reason_in_words(trend))
    if trend.points.points:
        write_plot(page, trend.points, ())
    page.heading(say(words.NEEDED))
    for line in needed(view):
        page.paragraph(line)
    _unknown(page, view)
    rows = since_facts(view)
    if rows:
        page.line()
        page.fact_table(rows)


def reason_in_words(trend: NoTrend) -> str:
    """Return why there is no trend; what was set aside is listed elsewhere."""
    reason = trend.reason.partition(": ")
    shown = ": ".join(filter(None, (reason[0], reason[2].split(":")[0])))
    return numbers.sentence(retell(shown))


def needed(view: TrendView) -> list[str]:
    """Return what a trend would need."""
    limits = trend_limits()
    said = [say(words.NEEDED_NONE)] if view.visits == 0 else []
    more = say(
        words.NEEDED_POINTS,
        least=limits.least_points,
        days=f"{limits.least_span_days:.0f}",
        count=len(view.points.points),
    )
    return [*said, more]


def _unknown(page: Page, view: TrendView) -> None:
    """Write what the motor file does not say."""
    if view.unknown:
        page.paragraph(unknown_in_words(view), style=STYLE_DIM)


def unknown_in_words(view: TrendView) -> str:
    """Return what the motor file does not say; empty where it says everything."""
    items = "; ".join(say(words.MISSING[item]) for item in view.unknown)
    return say(words.UNKNOWN, items=items) if items else ""


def trend_facts(view: TrendView, trend: Trend) -> list[Fact]:
    """Return the numbers of a trend, labelled."""
    label, points = words.TREND_FACTS, trend.points.points
    first, last = (day_of(point.day).isoformat() for point in (points[0], points[-1]))
    reading = say(
        words.READING, title=reading_title(trend.reading), count=len(points), first=first, last=last
    )
    level = say(
        words.LEVEL, bars=numbers.bars_interval(trend.level_bars), day=day_of(trend.day).isoformat()
    )
    rows = [
        (say(label["reading"]), reading),
        (say(label["level"]), level),
        (say(label["slope"]), _slope(trend)),
        (say(label["growing"]), _growing(trend)),
    ]
    if view.change is not None:
        rows += [
            (say(label["change"]), _change(view.change)),
            (say(label["detector"]), _detector(view.change)),
        ]
    if view.limit is not None:
        rows.append((say(label["limit"]), _limit(view.limit)))
    return [
        *rows,
        *_conditions(trend),
        (say(label["check"]), _check(trend)),
        *_programs(view),
        *since_facts(view),
    ]


def _slope(trend: Trend) -> str:
    """Return the slope and what it makes of the damage in a year."""
    slope, factor = trend.slope_db_per_year, trend.growth_factor_per_year
    return say(words.SLOPE, slope=_rounded(slope), factor=_rounded(factor))


def _rounded(value: Estimate) -> str:
    """Return an estimate with one decimal."""
    return say(
        words.SHARE, value=f"{value.value:.1f}", low=f"{value.low:.1f}", high=f"{value.high:.1f}"
    )


def _growing(trend: Trend) -> str:
    """Return the probabilities of growth."""
    limits = trend_limits()
    years = 20.0 * math.log10(2.0) / limits.growing_from_db_per_year
    return say(
        words.GROWING,
        growing=percent(trend.probability_growing),
        least=f"{limits.growing_from_db_per_year:g}",
        years=f"{years:.0f}",
        fast=percent(trend.probability_fast),
        fast_db=f"{limits.steady_below_db_per_year:g}",
    )


def _change(change: Change) -> str:
    """Return whether and when a motor changed."""
    signals = [s.signal_day for s in change.sums if s.signal_day is not None]
    falls = [s.fall_day for s in change.sums if s.fall_day is not None]
    said = []
    if signals and change.onset_day is not None:
        onset = day_of(change.onset_day).isoformat()
        said.append(say(words.CHANGED, signal=day_of(min(signals)).isoformat(), onset=onset))
    if falls:
        said.append(say(words.FELL, day=day_of(min(falls)).isoformat()))
    return "; ".join(said) or say(words.UNCHANGED)


def _detector(change: Change) -> str:
    """Return what the detector is worth: false alarms and delays."""
    low, high = change.false_alarm_visits
    years = change.interval_days / DAYS_PER_YEAR
    return say(
        words.DETECTOR,
        low=f"{low:.0f}",
        high=f"{high:.0f}",
        years_low=f"{low * years:.0f}",
        years_high=f"{high * years:.0f}",
        interval=f"{change.interval_days:.0f}",
        delays="; ".join(_delays(change)),
    )


def _delays(change: Change) -> list[str]:
    """Return how soon each stated growth would be noticed, by the quicker sum."""
    said = []
    for at, first in enumerate(change.sums[0].delays):
        growth = f"{first.growth_db_per_year:g}"
        known = [d for s in change.sums if (d := s.delays[at].delay) is not None]
        if not known:
            said.append(say(words.NO_DELAY, growth=growth))
            continue
        best = min(known, key=lambda delay: delay.median_visits)
        said.append(
            say(words.DELAY, growth=growth, visits=best.median_visits, years=f"{best.years:.1f}")
        )
    return said


def _limit(limit: TimeToLimit) -> str:
    """Return when the damage reaches its limit."""
    shares = ((10, limit.p10_years), (50, limit.p50_years), (90, limit.p90_years))
    if isinstance(limit.p10_years, NotKnown):
        return say(
            words.LIMIT_FAR,
            bars=f"{limit.limit_bars:g}",
            years=f"{limit.horizon_years:g}",
            share=percent(limit.probability_never),
        )
    quantiles = ", ".join(
        say(words.QUANTILE, share=share, day=_passage(limit, years)) for share, years in shares
    )
    never = ""
    if limit.probability_now >= 0.5 / 100.0:
        never += say(words.ALREADY, share=percent(limit.probability_now))
    never += say(
        words.NOT_WITHIN, share=percent(limit.probability_never), years=f"{limit.horizon_years:g}"
    )
    return say(words.LIMIT, bars=f"{limit.limit_bars:g}", quantiles=quantiles, never=never)


def _passage(limit: TimeToLimit, years: float | NotKnown) -> str:
    """Return the day of a quantile, or that it lies beyond the horizon."""
    if isinstance(years, NotKnown):
        return retell(years.reason)
    return (day_of(limit.from_day) + timedelta(days=years * DAYS_PER_YEAR)).isoformat()


def _conditions(trend: Trend) -> list[Fact]:
    """Return load and temperature of the visits and those that the level belongs to."""
    loads = [
        p.load_fraction.value for p in trend.points.points if isinstance(p.load_fraction, Estimate)
    ]
    warmths = [
        p.winding_temperature_degc.value
        for p in trend.points.points
        if isinstance(p.winding_temperature_degc, Estimate)
    ]
    load = temperature = say(words.NOT_MEASURED)
    if loads and trend.reference_load is not None:
        low, high, at = (
            f"{100.0 * x:.0f} %" for x in (min(loads), max(loads), trend.reference_load)
        )
        load = say(words.LOAD, low=low, high=high, reference=at)
    if warmths and trend.reference_temperature_degc is not None:
        unit = measures.unit_of(measures.Quantity.TEMPERATURE)
        low, high, at = (
            f"{unit.of(x):.0f}"
            for x in (min(warmths), max(warmths), trend.reference_temperature_degc)
        )
        temperature = say(words.TEMPERATURE, low=low, high=high, reference=at, unit=unit.symbol)
    return [
        (say(words.TREND_FACTS["load"]), load),
        (say(words.TREND_FACTS["temperature"]), temperature),
    ]


def _check(trend: Trend) -> str:
    """Return how the points fell in their forecasts."""
    check = trend.check
    said = say(words.CHECK, outside=check.outside, count=len(check.days))
    if check.probability < SURPRISING:
        said += say(words.SURPRISE, probability=percent(check.probability))
    return said


def _programs(view: TrendView) -> list[Fact]:
    """Return which versions of the program examined the points, where there are several."""
    if len(view.programs) < 2:
        return []
    each = ", ".join(
        say(words.FROM_VERSION, count=count, version=version)
        for version, count in view.programs.items()
    )
    said = say(words.PROGRAMS, count=len(view.programs), each=each, tag=view.motor.tag)
    return [(say(words.TREND_FACTS["programs"]), said)]


def since_facts(view: TrendView) -> list[Fact]:
    """Return from when on the trend counts, and what was set aside."""
    rows = []
    if view.repaired_on is not None:
        since = say(words.SINCE, day=view.repaired_on.isoformat())
        rows.append((say(words.TREND_FACTS["since"]), since))
    aside = view.points.set_aside
    others = dict.fromkeys(
        reading_title(each.point.reading) for each in aside if _is_other(each.reason)
    )
    counts = Counter(each.reason for each in aside if not _is_other(each.reason))
    said = [say(words.ASIDE, count=n, reason=retell(reason)) for reason, n in counts.most_common()]
    if others:
        count = sum(_is_other(each.reason) for each in aside)
        said.append(say(words.OTHERS, count=count, names=", ".join(others)))
    if said:
        rows.append((say(words.TREND_FACTS["aside"]), "; ".join(said)))
    return rows


def _is_other(reason: str) -> bool:
    """Return whether a point was set aside because it is of another reading."""
    return reason.startswith(say(words.OTHER_READING))
