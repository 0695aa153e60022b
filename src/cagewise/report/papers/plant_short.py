"""The summary of a plant in short: one sentence, and four questions with their answers."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from cagewise.decision.verdict import State
from cagewise.report.asked import REMOVALS
from cagewise.report.language import say
from cagewise.report.papers import plant_summary_wording as words
from cagewise.report.papers.paper import Cards
from cagewise.report.papers.plant_due import decided_later, due_things, overdue
from cagewise.report.papers.plant_material import OpenedCall, PlantMaterial
from cagewise.report.papers.plant_words import month_name
from cagewise.report.ranking_text import cost_in_words
from cagewise.store import Found

NAMED = 4
"""Motors that an answer names; the others are counted."""


def lead(material: PlantMaterial) -> str:
    """Return the plant in a sentence or two."""
    view = material.ranking
    states = Counter(view.cage_state(motor) for motor in view.ranking.motors)
    if not view.in_all:
        return say(words.LEAD_EMPTY)
    known = {state: states[state.value] for state in State}
    return say(
        words.LEAD,
        measured=material.measured,
        count=view.in_all,
        month=month_name(material.first),
        year=material.first.year,
        defective=known[State.DEFECTIVE],
        suspect=known[State.SUSPECT],
        undecided=known[State.NOT_DECIDABLE],
        sound=known[State.SOUND],
        unknown=view.in_all - sum(known.values()),
    )


def cards(material: PlantMaterial) -> Cards:
    """Return the questions of whoever has to decide."""
    return Cards(
        cards=(
            (say(words.ASK_DECIDE), _to_decide(material)),
            (say(words.ASK_OVERDUE), _overdue(material)),
            (say(words.ASK_RIGHT), _right(material)),
            (say(words.ASK_COST), _cost(material)),
        )
    )


def _to_decide(material: PlantMaterial) -> str:
    """Return which motors wait for a decision."""
    view = material.ranking
    advised = {due.name for due in due_things(material) if due.asked in REMOVALS}
    undecided = {each.name for each in material.cases if each.decided is None}
    ranked = [motor.tag for motor in view.ranking.motors]
    names = [name for name in ranked if name in advised | undecided]
    said = [say(words.DECIDE, names=shortened(names))] if names else []
    later = [str(each.case.id) for each, _, _ in decided_later(material)]
    if later:
        said.append(say(words.DECIDED_LATER, cases=shortened(later)))
    return " ".join(said) or say(words.NOTHING)


def shortened(names: Sequence[str]) -> str:
    """Return names as a list; of many the first, and how many more."""
    named = ", ".join(names[:NAMED])
    if len(names) <= NAMED:
        return named
    return say(words.AND_MORE, names=named, count=len(names) - NAMED)


def _overdue(material: PlantMaterial) -> str:
    """Return how much is overdue."""
    late = overdue(material)
    if not late:
        return say(words.NOTHING)
    decisions = sum(due.decided for due in late)
    return say(words.OVERDUE_COUNT, decisions=decisions, advised=len(late) - decisions)


def _right(material: PlantMaterial) -> str:
    """Return how many of our calls were right."""
    verdicts = Counter(_verdict(each) for each in material.opened if each.call is not None)
    if not verdicts:
        return say(words.RIGHT_NONE)
    return say(
        words.RIGHT_COUNT,
        count=sum(verdicts.values()),
        right=verdicts[True],
        wrong=verdicts[False],
        undecided=verdicts[None],
    )


def _verdict(opened: OpenedCall) -> bool | None:
    """Return whether a call was right; None where it decided nothing."""
    state = None if opened.call is None else State(opened.call.keys.state)
    if state in (None, State.NOT_DECIDABLE):
        return None
    return (state is not State.SOUND) == (opened.outcome.found is Found.DAMAGED)


def _cost(material: PlantMaterial) -> str:
    """Return what failures are expected to cost."""
    ranking = material.ranking.ranking
    template = words.COST_CURRENCY if ranking.in_currency else words.COST_PULLS
    return say(template, cost=cost_in_words(ranking.expected_cost_per_month))
