"""The history of a motor as one strip: a mark per visit, on a small time axis."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from cagewise.decision.verdict import State
from cagewise.quantities import Estimate
from cagewise.report import history_wording as words
from cagewise.report import numbers, wording
from cagewise.report.bars_axis import BarsAxis
from cagewise.report.case_text import damage_of
from cagewise.report.history_text import percent
from cagewise.report.html import SHAPES
from cagewise.report.language import say
from cagewise.report.time_axis import Tick, TimeAxis
from cagewise.store import Event, ExaminationKeys, KeptExamination, Outcome, Repair


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """An interval as it is drawn, percent of the height from the top."""

    low: float
    high: float
    value: float
    beyond: bool
    """Whether it goes on above the axis."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """One visit."""

    x: float
    """Percent of the width."""
    shape: str
    day: date
    examination_id: int
    span: Span | None
    """None where no damage was stated."""
    text: str
    """What was said, in words."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Moment:
    """Something that happened between visits."""

    x: float
    day: date
    word: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Strip:
    """The history, ready to be drawn."""

    marks: tuple[Mark, ...]
    moments: tuple[Moment, ...]
    ticks: tuple[Tick, ...]
    bars: tuple[tuple[float, str], ...]
    """Places and labels of the axis of open bars."""

    @property
    def without_bars(self) -> tuple[Mark, ...]:
        """Marks of visits that stated no damage."""
        return tuple(mark for mark in self.marks if mark.span is None)


def strip_of(examined: Sequence[KeptExamination], events: Sequence[Event]) -> Strip | None:
    """Return the strip of a motor; None where nothing was examined.

    Parameters
    ----------
    examined
        The last examination of every visit, by day.
    events
        What happened to the motor; repairs and outcomes are drawn.
    """
    told = [each for each in events if isinstance(each.what, Repair | Outcome)]
    if not examined:
        return None
    axis = TimeAxis.over([*(each.day for each in examined), *(each.day for each in told)])
    shown = [_shown(each.keys) for each in examined]
    bars = BarsAxis.over([each for each in shown if each is not None])
    return Strip(
        marks=tuple(
            Mark(
                x=axis.x(each.day),
                shape=SHAPES[State(each.keys.state)],
                day=each.day,
                examination_id=each.id,
                span=None if damage is None else span_of(damage, bars),
                text=said_of(each.keys),
            )
            for each, damage in zip(examined, shown, strict=True)
        ),
        moments=tuple(moment_of(each, axis) for each in told),
        ticks=axis.ticks(),
        bars=bars.ticks(),
    )


def span_of(damage: Estimate, bars: BarsAxis) -> Span:
    """Return an interval as it is drawn."""
    return Span(
        low=bars.y(damage.low),
        high=bars.y(damage.high),
        value=bars.y(damage.value),
        beyond=damage.high > bars.top,
    )


def said_of(keys: ExaminationKeys) -> str:
    """Return what an examination said, in a few words."""
    damage, said = _shown(keys), say(wording.STATE[State(keys.state)])
    if damage is not None and keys.state == State.SOUND.value:
        said += say(words.EXAMINED_BOUND, bars=numbers.bars_up(damage.high))
    elif damage is not None:
        said += say(words.EXAMINED_BARS, bars=numbers.bars_interval(damage))
    if keys.probability is not None:
        said += say(words.EXAMINED_PROBABILITY, probability=percent(keys.probability))
    return said


def _shown(keys: ExaminationKeys) -> Estimate | None:
    """Return what is drawn: the damage, of a sound cage from nothing to its bound."""
    if keys.state == State.SOUND.value and keys.upper_limit_bars is not None:
        return Estimate(0.0, 0.0, keys.upper_limit_bars)
    return damage_of(keys)


def moment_of(event: Event, axis: TimeAxis) -> Moment:
    """Return a repair or an outcome as it is drawn."""
    word = say(words.WORD_REPAIRED) if isinstance(event.what, Repair) else say(words.WORD_FOUND)
    return Moment(x=axis.x(event.day), day=event.day, word=word)
