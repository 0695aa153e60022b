"""The trend of a motor: level, slope, change, time to a limit, and the conditions of each visit."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query, Request
from fastapi.responses import HTMLResponse

from cagewise.history.limits import trend_limits
from cagewise.history.trend import NoTrend, Trend
from cagewise.report import history_wording as words
from cagewise.report import numbers
from cagewise.report.history_text import (
    needed,
    reading_title,
    reason_in_words,
    since_facts,
    trend_facts,
    unknown_in_words,
)
from cagewise.report.history_views import TrendView
from cagewise.report.trend_picture import picture_of
from cagewise.web.desk import AtDesk
from cagewise.web.numbers import Number
from cagewise.web.security.access import MayRead
from cagewise.web.templating import page
from cagewise.workflows.plant_trend_page import told_trend

router = APIRouter(include_in_schema=False)

LARGEST_LIMIT_BARS = 20.0
LONGEST = 100


@router.get("/motors/{number}/trend", response_class=HTMLResponse)
def trend(
    request: Request,
    number: Number,
    desk: AtDesk,
    _: MayRead,
    reading: Annotated[str, Query(max_length=LONGEST)] = "",
    limit: Annotated[float | None, Query(gt=0.0, le=LARGEST_LIMIT_BARS)] = None,
) -> HTMLResponse:
    """Show the trend of a motor."""
    entry = desk.plant.motors.get(number)
    told = told_trend(desk.plant, entry, reading=reading, limit_bars=limit)
    view = told.view
    at = trend_limits().limit_bars if limit is None else limit
    return page(
        request,
        "trend.html",
        title=f"Trend: {entry.tag}",
        motor=entry,
        view=view,
        told=told,
        known=isinstance(view.trend, Trend),
        call=_call(view),
        lead=_lead(view),
        facts=trend_facts(view, view.trend) if isinstance(view.trend, Trend) else since_facts(view),
        needed=needed(view) if isinstance(view.trend, NoTrend) else (),
        picture=picture_of(view, told.events, limit_bars=at, reading=told.reading),
        reading_title=reading_title,
        unknown=unknown_in_words(view),
        limit=at,
        largest_limit=LARGEST_LIMIT_BARS,
    )


def _call(view: TrendView) -> str:
    """Return what the trend amounts to, in a word or two."""
    trend = view.trend
    return trend.ground.value if isinstance(trend, NoTrend) else words.CALL[trend.call]


def _lead(view: TrendView) -> str:
    """Return the same in a sentence."""
    trend = view.trend
    if isinstance(trend, NoTrend):
        return reason_in_words(trend)
    return words.CALL_SENTENCE[trend.call].format(level=numbers.bars_interval(trend.level_bars))
