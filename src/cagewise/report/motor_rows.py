"""Motors in lists of a page: what a row says, and what is due in which group."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from cagewise.decision.verdict import State
from cagewise.history.plant_risk import RankedMotor
from cagewise.report import history_wording as words
from cagewise.report import numbers
from cagewise.report.history_text import day_of, percent
from cagewise.report.history_views import NOT_EXAMINED, REPAIRED, RankingView
from cagewise.report.html import SHAPES
from cagewise.report.language import say
from cagewise.report.ranking_text import cost_in_words, next_of, parts_doubted
from cagewise.store import Case, MotorEntry

SOON_DAYS = 60
"""What is due within them is planned now: our judgement."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MotorRow:
    """One motor of a list, in words."""

    number: int
    tag: str
    site: str
    description: str
    shape: str
    """Of the state of the cage; empty where there is none."""
    state: str
    parts: str
    """Winding or insulation in doubt; empty if neither is."""
    probability: str
    bars: str
    risk: str
    due: str
    """Day; "now" where nothing was measured."""
    when: str
    """Days from today on, in words."""
    overdue: bool
    next: str
    """What is to be done, in a sentence."""
    cases: tuple[Case, ...]
    examination_id: int | None


def row_of(view: RankingView, motor: RankedMotor, entry: MotorEntry) -> MotorRow:
    """Return a motor of a ranking as a row."""
    last, state = view.latest.get(motor.tag), view.cage_state(motor)
    probability = percent(motor.probability)
    bars = None if last is None or state == REPAIRED else last.keys.open_bars
    never = state == NOT_EXAMINED
    return MotorRow(
        number=entry.id,
        tag=entry.tag,
        site=entry.site,
        description=entry.description,
        shape="" if state in (NOT_EXAMINED, REPAIRED) else SHAPES[State(state)],
        state=state,
        parts="" if last is None else parts_doubted(last.keys),
        probability=say(words.ASSUMED, probability=probability)
        if motor.assumed_probability
        else probability,
        bars="" if bars is None else numbers.bars(bars),
        risk=cost_in_words(motor.expected_cost_per_month),
        due=say(words.NOW) if never else day_of(motor.due_on).isoformat(),
        when="" if never else _when(motor.overdue_days),
        overdue=motor.overdue_days >= 0.0,
        next=next_of(view, motor)[1],
        cases=tuple(view.open_cases.get(motor.tag, ())),
        examination_id=None if last is None else last.id,
    )


def _when(overdue_days: float) -> str:
    """Return how long something is due, or how much time is left."""
    if overdue_days < 0.0:
        return say(words.IN_DAYS, days=f"{-overdue_days:.0f}")
    return (
        say(words.DUE_TODAY)
        if overdue_days < 1.0
        else say(words.OVERDUE, days=f"{overdue_days:.0f}")
    )


class Urgency(StrEnum):
    """Why something is due, the most urgent first."""

    ASKED = "asked"
    """The last examination asks for a repair or a stop."""
    REPAIRED = "repaired"
    """The cage was repaired and nothing was measured since."""
    OVERDUE = "overdue"
    NEVER = "never"
    SOON = "soon"
    LATER = "later"


def due_groups(
    view: RankingView, entries: Mapping[str, MotorEntry]
) -> Mapping[Urgency, Sequence[MotorRow]]:
    """Return what is due by how urgent it is; in each group the longest overdue first."""
    ordered = sorted(view.ranking.motors, key=lambda motor: (motor.due_on, motor.rank))
    groups: dict[Urgency, list[MotorRow]] = {urgency: [] for urgency in Urgency}
    for motor in ordered:
        groups[_urgency(view, motor)].append(row_of(view, motor, entries[motor.tag]))
    return groups


def _urgency(view: RankingView, motor: RankedMotor) -> Urgency:
    """Return into which group a motor belongs."""
    state, last = view.cage_state(motor), view.latest.get(motor.tag)
    if state == NOT_EXAMINED:
        return Urgency.NEVER
    if state == REPAIRED:
        return Urgency.REPAIRED
    if last is not None and last.keys.action in words.NEXT_REMOVAL:
        return Urgency.ASKED
    if motor.overdue_days >= 0.0:
        return Urgency.OVERDUE
    return Urgency.SOON if motor.overdue_days >= -SOON_DAYS else Urgency.LATER
