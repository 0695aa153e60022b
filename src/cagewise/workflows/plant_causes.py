"""Why an examination that was made again says something else, as far as that is written down."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Callable, Iterator, Mapping
from typing import Any

from cagewise.history.differences import Absent, ExaminationDifference, Kind, Value, same
from cagewise.report.reexamination_view import Cause, CauseKind
from cagewise.store import (
    ExaminationDocument,
    KeptExamination,
    KeptRecording,
    KeptSheet,
    NameplateVersion,
    Plant,
)
from cagewise.workflows.plant_assess import MadeExamination

LIMITS = "limits"
"""Settings that are looked at one by one."""

_OF_DOCUMENT = {Kind.VERSION: CauseKind.PROGRAM, Kind.LIMIT: CauseKind.LIMITS}


def causes_of(
    plant: Plant,
    old: KeptExamination,
    before: ExaminationDocument,
    made: MadeExamination,
    found: ExaminationDifference,
) -> tuple[Cause, ...]:
    """Return what was different from the start between two examinations of a visit.

    Parameters
    ----------
    plant
        That keeps what they looked at.
    old, before
        The old one, with its document.
    made
        The new one.
    found
        What differs between the documents.
    """
    of_documents = [
        Cause(kind=_OF_DOCUMENT[each.kind], name=each.name, old=each.old, new=each.new)
        for each in found.causes
        if each.kind in _OF_DOCUMENT
    ]
    return (
        *of_documents,
        *_motor_file(plant, old, made),
        *_settings(before.settings, made.new.settings),
        *_looked_at(plant, before, made, earlier=False),
        *_looked_at(plant, before, made, earlier=True),
    )


def _motor_file(plant: Plant, old: KeptExamination, made: MadeExamination) -> Iterator[Cause]:
    """Yield the versions of the motor file, and the entries that differ."""
    if old.nameplate_id == made.new.nameplate_id:
        return
    versions = {each.id: each for each in plant.motors.nameplates(plant.motors.get(old.motor_id))}
    then, now = versions[old.nameplate_id], versions[made.new.nameplate_id]
    yield Cause(kind=CauseKind.MOTOR_FILE, name="version", old=_named(then), new=_named(now))
    before, after = (_entries(tomllib.loads(each.toml)) for each in (then, now))
    for name in dict.fromkeys((*before, *after)):
        was, is_now = before.get(name, Absent.ABSENT), after.get(name, Absent.ABSENT)
        if not same(was, is_now):
            yield Cause(kind=CauseKind.MOTOR_FILE, name=name, old=was, new=is_now)


def _entries(table: Mapping[str, Any], above: str = "") -> dict[str, Value]:
    """Return the entries of a motor file by their full names, as JSON has them."""
    found: dict[str, Value] = {}
    for name, value in table.items():
        if isinstance(value, Mapping):
            found |= _entries(value, f"{above}{name}.")
        else:
            found[f"{above}{name}"] = json.loads(json.dumps(value, default=str))
    return found


def _named(version: NameplateVersion) -> str:
    """Return how a version of a motor file is called."""
    note = f" ({version.note})" if version.note else ""
    return f"from {version.valid_from}{note}"


def _settings(old: Mapping[str, Any], new: Mapping[str, Any]) -> Iterator[Cause]:
    """Yield the settings that differ, but for limits; both as JSON has them.

    Nothing stated is no setting, whichever way it was written down.
    """
    now: dict[str, Value] = json.loads(json.dumps(dict(new)))
    for name in dict.fromkeys((*old, *now)):
        before, after = old.get(name) or None, now.get(name) or None
        if name != LIMITS and not same(before, after):
            yield Cause(kind=CauseKind.SETTINGS, name=name, old=before, new=after)


def _looked_at(
    plant: Plant, before: ExaminationDocument, made: MadeExamination, *, earlier: bool
) -> Iterator[Cause]:
    """Yield what only one of the two looked at, or both in another way of decoding."""
    then = [each for each in before.inputs if each.earlier is earlier]
    now = made.new.earlier if earlier else made.new.inputs
    kind = CauseKind.BASELINES if earlier else CauseKind.MEASUREMENTS
    recordings = {each.id: each for each in now if isinstance(each, KeptRecording)}
    sheets = {each.id: each for each in now if isinstance(each, KeptSheet)}
    yield from _by_number(
        kind,
        {each.recording_id for each in then if each.recording_id is not None},
        recordings,
        plant.measurements.recording,
    )
    yield from _by_number(
        kind,
        {each.test_sheet_id for each in then if each.test_sheet_id is not None},
        sheets,
        plant.measurements.sheet,
    )


def _by_number(
    kind: CauseKind,
    then: set[int],
    now: Mapping[int, KeptRecording] | Mapping[int, KeptSheet],
    find: Callable[[int], KeptRecording | KeptSheet],
) -> Iterator[Cause]:
    """Yield what has a number on one side only; the same file on both sides is named once."""
    gone = {each.source: each for each in map(find, sorted(then - now.keys()))}
    come = {now[number].source: now[number] for number in sorted(now.keys() - then)}
    for source in dict.fromkeys((*gone, *come)):
        yield Cause(
            kind=kind, name=source, old=_state(gone.get(source)), new=_state(come.get(source))
        )


def _state(kept: KeptRecording | KeptSheet | None) -> Value:
    """Return how something was looked at: "recording 7", or not at all."""
    if kept is None:
        return Absent.ABSENT
    return f"{'recording' if isinstance(kept, KeptRecording) else 'test sheet'} {kept.id}"
