"""What is posted of a plant: findings and open questions, put into the outbox.

A message is put there in the transaction that keeps the examination: there is never one without
the other. Its key is made from what the examination was made from, so that it is the same whoever
makes it, and never that of another examination.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Any

from cagewise.decision.verdict import State
from cagewise.errors import CagewiseError, DamagedFileError
from cagewise.history.missing import unknown_of
from cagewise.indicators.reading import Part
from cagewise.report import message
from cagewise.report.missing_wording import MISSING
from cagewise.store import KeptExamination, MotorEntry, Plant, Visit
from cagewise.store.records import checksum_of
from cagewise.workflows.plant_assess import AssessedVisit
from cagewise.workflows.post_file import Channel

_KEY_DIGITS = 32
"""Of a checksum in a key: 128 bits, more than enough to tell all messages of the world apart."""

_MOST_BEFORE = 12
"""Earlier examinations in which the last state of each part is looked for: a year of months."""


def put_finding(
    plant: Plant, motor: MotorEntry, done: AssessedVisit, channels: Sequence[Channel]
) -> int:
    """Put the message on an examination into every channel that wants it; return into how many.

    Call it inside :meth:`Plant.writing`, after the examination was added.
    """
    if not channels:
        return 0
    document = json.loads(plant.examinations.document(done.kept).text)
    states = message.states_of(document)
    replaced, before = _before(plant, motor, done.kept)
    about = message.About(
        number=done.kept.id,
        made_at=done.kept.made_at,
        program_version=done.kept.program_version,
        replaces=None if replaced is None else replaced.id,
        before=before,
        missing_data=[MISSING[item] for item in unknown_of(done.examination.motor)],
    )
    key = _key(plant, plant.examinations.fingerprint(done.kept)[:_KEY_DIGITS])
    is_latest = plant.visits.of(motor)[-1].id == done.visit.id
    put = 0
    for channel in channels:
        if (is_latest or not channel.latest_only) and _wants(channel, states, before):
            subject = _subject(plant, motor, done.visit, key, channel)
            put += plant.outbox.put(channel.name, key, message.finding(subject, about, document))
    return put


def put_question(
    plant: Plant,
    motor: MotorEntry,
    visit: Visit,
    error: CagewiseError,
    channels: Sequence[Channel],
) -> int:
    """Put the message that a visit could not be examined into every channel that wants it.

    It enters once for each reason and each state of what was measured.
    """
    kept = (plant.measurements.recordings(visit), plant.measurements.sheets(visit))
    said = [visit.id, *(sorted(each.id for each in group) for group in kept), error.what]
    key = _key(plant, "q" + checksum_of(json.dumps(said).encode())[: _KEY_DIGITS - 1])
    put = 0
    with plant.writing():
        for channel in (each for each in channels if each.questions):
            subject = _subject(plant, motor, visit, key, channel)
            content = message.question(subject, error.what, error.remedy)
            put += plant.outbox.put(channel.name, key, content)
    return put


def _wants(channel: Channel, now: Mapping[str, str], before: Mapping[str, str]) -> bool:
    """Return whether a channel wants a finding: by the states, and by what changed.

    Whoever follows changes is told, too, when a part leaves the states that are told. A part that
    was tested for the first time and is sound is no change.
    """
    told = {state.value for state in channel.states}
    if not channel.only_changes:
        return bool(told & set(now.values()))
    known = dict.fromkeys(now, State.SOUND.value if before else "") | dict(before)
    return any(state != known[part] and told & {state, known[part]} for part, state in now.items())


def _before(
    plant: Plant, motor: MotorEntry, kept: KeptExamination
) -> tuple[KeptExamination | None, Mapping[str, str]]:
    """Return the examination of the same visit that this one replaces, and the states before.

    Before is the last known state of each part: not every visit tests every part.
    """
    earlier = [
        each
        for each in plant.examinations.of_motor(motor)
        if each.day <= kept.day and each.id != kept.id
    ]
    last = earlier[-1] if earlier else None
    replaced = last if last is not None and last.visit_id == kept.visit_id else None
    before: dict[str, str] = {}
    for each in reversed(earlier[-_MOST_BEFORE:]):
        before = {**_states(plant, each), **before}
        if len(before) == len(Part):
            break
    return replaced, before


def _states(plant: Plant, kept: KeptExamination) -> Mapping[str, str]:
    """Return the states of an earlier examination; of a damaged document that of the cage."""
    try:
        document: Mapping[str, Any] = json.loads(plant.examinations.document(kept).text)
    except DamagedFileError:
        document = {"state": kept.keys.state, "parts": ()}
    return message.states_of(document)


def _subject(
    plant: Plant, motor: MotorEntry, visit: Visit, key: str, channel: Channel
) -> message.Subject:
    """Return what a message is about."""
    return message.Subject(
        key=key,
        plant_id=plant.about.plant_id,
        plant_name=plant.about.name,
        site=motor.site,
        tag=motor.tag,
        description=motor.description,
        visit_day=visit.day,
        who=channel.who,
    )


def _key(plant: Plant, digits: str) -> str:
    """Return the key of a message of this plant."""
    return f"{plant.about.plant_id}.{digits}"
