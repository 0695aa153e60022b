"""Use case: what is advised becomes somebody's decision, in a case, with a day and a name."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from cagewise.decision.costs_policies import CostAction
from cagewise.errors import InputError, NotKeptError
from cagewise.report import history_wording as words
from cagewise.report.cost_wording import NAME as ACTIONS
from cagewise.report.history_text import percent
from cagewise.report.history_views import ExaminedView
from cagewise.store import Case, Decision, KeptExamination, MotorEntry, Plant
from cagewise.workflows.plant_cases import DOUBTED, Entry, add_event, examined_view
from cagewise.workflows.plant_points import last_of_visits

TITLE = "Cage {state}"
PART_TITLE = "{part} in doubt"


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposal:
    """What a decision begins with."""

    examined: ExaminedView | None
    """The examination that advises it; None where there is none."""
    newer: KeptExamination | None
    """Of a later visit, or of the same one examined again; None if this is the last."""
    case: Case | None
    """The open case that is continued; None where one would be opened."""
    title: str
    """Of the case that would be opened."""
    action: str
    """What is advised, in words; empty where nothing is."""
    due_on: date | None
    """Latest day that is advised."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Signed:
    """What somebody decided."""

    action: str
    due_on: date | None
    text: str
    """Why, in their words."""
    author: str
    title: str
    """Of the case, if one is opened."""


def propose(plant: Plant, motor: MotorEntry, examination_id: int | None = None) -> Proposal:
    """Return what an examination advises, the last one of the motor if none is named.

    Raises
    ------
    NotKeptError
        If the examination is of another motor, or there is none of that number.
    """
    made = plant.examinations.of_motor(motor)
    latest = last_of_visits(made)
    last = latest[-1] if latest else None
    chosen = last
    if examination_id is not None:
        chosen = next((each for each in made if each.id == examination_id), None)
        if chosen is None:
            raise NotKeptError(f"{motor.tag} has no examination number {examination_id}")
    case = next((each for each in plant.cases.all(motor) if each.is_open), None)
    view = None if chosen is None else examined_view(plant, chosen)
    return Proposal(
        examined=view,
        newer=last if chosen is not None and last is not None and last.id != chosen.id else None,
        case=case,
        title="" if view is None else _title(view),
        action="" if view is None else _advised(view),
        due_on=None if chosen is None else chosen.keys.act_by_latest,
    )


def sign(plant: Plant, motor: MotorEntry, proposal: Proposal, signed: Signed) -> Case:
    """Keep a decision in the open case, or in one that is opened for it: both, or nothing.

    Raises
    ------
    InputError
        If it does not say what is decided, or by whom.
    """
    if not signed.action.strip():
        raise InputError("nothing is decided", where="decision", remedy="Say what shall be done.")
    if not signed.author.strip():
        raise InputError("a decision has a name", where="name", remedy="Say who decides.")
    examined = proposal.examined
    with plant.writing():
        case = proposal.case or plant.cases.open(
            motor,
            signed.title.strip() or proposal.title or signed.action.strip(),
            examination=_raised(examined),
        )
        add_event(
            plant,
            case,
            Decision(action=signed.action.strip(), due_on=signed.due_on),
            Entry(text=_reasons(signed, examined), author=signed.author.strip()),
        )
    return case


def _raised(examined: ExaminedView | None) -> KeptExamination | None:
    """Return the examination that raises a case: one that warned."""
    if examined is None or examined.examination.keys.state not in DOUBTED:
        return None
    return examined.examination


def _reasons(signed: Signed, examined: ExaminedView | None) -> str:
    """Return why, and on which examination it was decided."""
    said = [signed.text.strip()]
    if examined is not None:
        kept = examined.examination
        statement = examined.statement or kept.keys.state
        said.append(words.SIGNED.format(number=kept.id, day=kept.day, said=statement))
    return "\n".join(filter(None, said))


def _title(view: ExaminedView) -> str:
    """Return the suspicion in a few words."""
    keys = view.examination.keys
    if keys.state not in DOUBTED and view.parts:
        return PART_TITLE.format(part=view.parts[0][0].capitalize())
    title = TITLE.format(state=keys.state)
    if keys.probability is None:
        return title
    return title + words.EXAMINED_PROBABILITY.format(probability=percent(keys.probability))


def _advised(view: ExaminedView) -> str:
    """Return what is advised; the name of the action where the document has no sentence."""
    if view.advice:
        return view.advice
    action = view.examination.keys.action
    return ACTIONS[CostAction(action)].capitalize() if action in set(CostAction) else action
