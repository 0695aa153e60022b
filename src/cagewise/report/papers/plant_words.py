"""Words that several parts of the summary of a plant share."""

from __future__ import annotations

from datetime import date

from cagewise.decision.verdict import State
from cagewise.history.plant_risk import RankedMotor
from cagewise.report import numbers, wording
from cagewise.report.case_text import damage_of
from cagewise.report.history_views import NOT_EXAMINED, REPAIRED
from cagewise.report.language import say
from cagewise.report.papers import plant_summary_wording as words
from cagewise.report.papers.plant_material import PlantMaterial
from cagewise.report.ranking_text import parts_doubted
from cagewise.store import ExaminationKeys


def month_name(day: date) -> str:
    """Return the name of a month."""
    return say(words.MONTHS[day.month - 1])


def state_in_words(state: str) -> str:
    """Return the state of a cage with its sign."""
    known = State(state)
    return say(words.STATE, sign=words.SIGN[known], state=say(wording.STATE[known]))


def state_of(material: PlantMaterial, motor: RankedMotor) -> str:
    """Return the state of a cage as the list has it."""
    state = material.ranking.cage_state(motor)
    if state == NOT_EXAMINED:
        return say(words.NOT_MEASURED)
    said = say(words.REPAIRED) if state == REPAIRED else state_in_words(state)
    parts = parts_doubted(material.ranking.latest[motor.tag].keys)
    return say(words.STATE_PARTS, state=said, parts=parts) if parts else said


def damage_in_words(keys: ExaminationKeys) -> str:
    """Return the damage with its interval; empty where there is none.

    Of a sound cage it is the bound: what is read of it is its own unevenness.
    """
    if State(keys.state) is State.SOUND and keys.upper_limit_bars is not None:
        return say(words.BOUND, bars=numbers.bars_up(keys.upper_limit_bars))
    damage = damage_of(keys)
    if damage is None:
        return ""
    return say(
        words.DAMAGE,
        bars=numbers.bars(damage.value),
        low=numbers.bars_down(damage.low),
        high=numbers.bars_up(damage.high),
    )


def due_in_words(day: date | None, today: date) -> str:
    """Return a day with the time that is left, or since it."""
    if day is None:
        return say(words.NO_DAY)
    days = (day - today).days
    if days == 0:
        return say(words.DUE_TODAY, day=day)
    return say(words.DUE_IN if days > 0 else words.DUE_PAST, day=day, days=abs(days))
