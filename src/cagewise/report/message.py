"""A finding as a message to other programs and people (docs/messages.md).

A message is read where nobody sees the page: on a telephone, in a list of work orders. So it says
what was found, how sure that is, what is missing and who should look, and it says that nothing was
decided. What it says is taken from the document of the examination, word by word.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from cagewise.decision.costs_policies import CostAction
from cagewise.decision.examination import Examination
from cagewise.decision.verdict import State
from cagewise.indicators.reading import Part

SCHEMA_VERSION = "1.0"
"""Changes in the first number break receivers; the second adds fields."""

NOTE = (
    "This is what was measured and what it points to. Nothing was decided or done: somebody who "
    "knows the motor has to read the examination first."
)
SUMMARY = (
    "{tag}, measured on {day}: {states}. In the words of the examination: {statement} For {who} "
    "to look at{due}."
)
QUESTION = "{tag}, measured on {day}: not examined, {reason}. {remedy} For {who} to answer."
STATES = {
    State.SOUND: "{part}: no damage found",
    State.SUSPECT: "{part}: suspect by its readings",
    State.DEFECTIVE: "{part}: the readings speak for a defect",
    State.NOT_DECIDABLE: "{part}: what was measured cannot tell",
}
DUE = {
    CostAction.STOP: "; a decision is due {by}",
    CostAction.PLAN_REPAIR: "; a decision is due {by}",
    CostAction.REPEAT: "; a further measurement is due {by}",
    CostAction.WATCH: "; the next record is due {by}",
    CostAction.KEEP: "; the next record is due {by}",
}

Plain = Mapping[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Subject:
    """What a message is about, beside the document."""

    key: str
    """The same whenever this message is sent again."""
    plant_id: str
    plant_name: str
    site: str
    tag: str
    description: str
    visit_day: date
    who: str
    """Who should look."""


@dataclass(frozen=True, slots=True, kw_only=True)
class About:
    """The examination that a finding is of, and what was there before."""

    number: int
    made_at: datetime
    program_version: str
    replaces: int | None
    """Examination of the same visit that was made with less; None for the first."""
    before: Mapping[str, str]
    """States by part, of the examination before; empty without one."""
    missing_data: Sequence[str]
    """What the motor file does not say, in words."""


def finding(subject: Subject, about: About, document: Plain) -> dict[str, Any]:
    """Return the message on an examination.

    Parameters
    ----------
    subject, about
        What it is about.
    document
        Of the examination, as docs/json.md describes it.
    """
    course, act_by = document["course"], document["act_by"]
    return {
        **_head("finding", subject),
        "summary": _summary(subject, document),
        "note": NOTE,
        "who_should_look": subject.who,
        "examination": {
            "number": about.number,
            "made_at": about.made_at.isoformat(timespec="seconds"),
            "program_version": about.program_version,
            "replaces": about.replaces,
        },
        "state": document["state"],
        "statement": document["statement"],
        "probability": document["probability"],
        "probability_reason": document["probability_reason"],
        "damage_open_bars": document["damage"],
        "other_parts": [
            {name: part[name] for name in ("part", "state", "statement")}
            for part in document["parts"]
        ],
        "states_before": dict(about.before),
        "suggested": {
            "action": course["action"],
            "text": course["text"],
            "earliest": act_by["earliest"],
            "latest": act_by["latest"],
        },
        "missing": {
            "measure_next": [each["text"] for each in document["recommendation"]["next_steps"]],
            "motor_data": list(about.missing_data),
            "not_measured": list(document["not_measured"]),
        },
    }


def question(subject: Subject, reason: str, remedy: str) -> dict[str, Any]:
    """Return the message on a visit that could not be examined."""
    said = QUESTION.format(
        tag=subject.tag, day=subject.visit_day, reason=reason, remedy=remedy, who=subject.who
    )
    return {
        **_head("question", subject),
        "summary": " ".join(said.split()),
        "note": NOTE,
        "who_should_look": subject.who,
        "reason": reason,
        "remedy": remedy,
    }


def states_of(document: Plain) -> dict[str, str]:
    """Return the state of every part that a document speaks of."""
    return {Part.CAGE.value: document["state"]} | {
        part["part"]: part["state"] for part in document["parts"]
    }


def states_of_examination(examination: Examination) -> dict[str, str]:
    """Return the same of an examination."""
    cage = {Part.CAGE.value: examination.verdict.state.value}
    return cage | {each.part.value: each.state.value for each in examination.parts}


def _head(kind: str, subject: Subject) -> dict[str, Any]:
    """Return what all messages begin with."""
    return {
        "schema_version": SCHEMA_VERSION,
        "kind": kind,
        "key": subject.key,
        "plant": {"id": subject.plant_id, "name": subject.plant_name},
        "motor": {
            "site": subject.site,
            "tag": subject.tag,
            "description": subject.description,
        },
        "visit_day": subject.visit_day.isoformat(),
    }


def _summary(subject: Subject, document: Plain) -> str:
    """Return the message in one paragraph, for whoever reads nothing else."""
    states = states_of(document)
    worded = [STATES[State(state)].format(part=part) for part, state in states.items()]
    due = DUE[CostAction(document["course"]["action"])]
    return SUMMARY.format(
        tag=subject.tag,
        day=subject.visit_day,
        states="; ".join(worded),
        statement=document["statement"],
        who=subject.who,
        due=due.format(by=document["act_by"]["words"]),
    )
