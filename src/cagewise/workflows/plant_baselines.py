"""What of earlier visits a visit is compared with: starts and test sheets of the same cage."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from weakref import WeakKeyDictionary

from cagewise.decision.examination import Settings
from cagewise.errors import ChannelRoleError, DamagedFileError
from cagewise.history.missing import RepairKind
from cagewise.machine.motor import Motor
from cagewise.pipeline.looking import look_at
from cagewise.store import KeptRecording, KeptSheet, MotorEntry, Plant, Repair, Visit
from cagewise.store.examinations import Examinations
from cagewise.workflows.plant_decode import recordings_of, sheets_of
from cagewise.workflows.plant_motors import motor_of

SAME_CAGE = frozenset({RepairKind.BEARINGS.value, RepairKind.OTHER.value})
"""Repairs after which starts and tests at rest may still be compared with those before."""

KIND = "kind"
"""Fact of a repair that says of which kind it was; without it, it may have been the cage."""


_STARTS_SAID: WeakKeyDictionary[Examinations, dict[int, dict[str, bool]]] = WeakKeyDictionary()
"""Which recordings held a start, by examination, of open plants: examinations never change."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Baselines:
    """What a visit is compared with."""

    recordings: tuple[KeptRecording, ...]
    """That hold a start, the oldest first."""
    sheets: tuple[KeptSheet, ...]
    """The oldest first."""
    since: date | None
    """Day of the repair before which nothing is compared with; None without one."""


def baselines_of(plant: Plant, entry: MotorEntry, visit: Visit, settings: Settings) -> Baselines:
    """Return the starts and sheets of earlier visits, back to the last repair of the cage.

    Parameters
    ----------
    plant, entry, visit
        The visit that is examined.
    settings
        With which recordings that were never examined are looked at for a start.
    """
    since = last_repair(plant, entry, visit.day)
    past = [
        each
        for each in plant.visits.of(entry)
        if each.day < visit.day and (since is None or each.day >= since)
    ]
    return Baselines(
        recordings=tuple(kept for each in past for kept in _starts(plant, entry, each, settings)),
        sheets=tuple(kept for each in past for kept in sheets_of(plant, each)),
        since=since,
    )


def could_be_baselines(plant: Plant, entry: MotorEntry, visit: Visit) -> tuple[set[int], set[int]]:
    """Return the numbers of recordings and sheets that could be compared with; none is read.

    Recordings of examined visits count where their examination found a start, all others count.
    """
    since = last_repair(plant, entry, visit.day)
    recordings: set[int] = set()
    sheets: set[int] = set()
    for past in plant.visits.of(entry):
        if past.day < visit.day and (since is None or past.day >= since):
            known = _known_starts(plant, past)
            recordings |= {
                kept.id
                for kept in plant.measurements.recordings(past)
                if known.get(kept.source, True)
            }
            sheets |= {kept.id for kept in sheets_of(plant, past)}
    return recordings, sheets


def last_repair(plant: Plant, entry: MotorEntry, day: date) -> date | None:
    """Return the day of the last repair until a day that may have changed cage or winding."""
    events = plant.cases.events(entry)
    corrected = {event.corrects_id for event in events}
    days = [
        event.day
        for event in events
        if isinstance(event.what, Repair)
        and event.what.facts.get(KIND) not in SAME_CAGE
        and event.id not in corrected
        and event.day <= day
    ]
    return max(days, default=None)


def _starts(
    plant: Plant, entry: MotorEntry, visit: Visit, settings: Settings
) -> Iterator[KeptRecording]:
    """Yield the recordings of a visit that hold a start that can be read."""
    motor = motor_of(plant.motors.nameplate(entry, on=visit.day), entry.tag)
    known = _known_starts(plant, visit)
    for kept in recordings_of(plant, visit, motor):
        if known.get(kept.source, True) and _holds_start(plant, motor, kept, settings):
            yield kept


def _holds_start(plant: Plant, motor: Motor, kept: KeptRecording, settings: Settings) -> bool:
    """Return whether a recording holds a start that can be read.

    One of which nobody has said which channel is which is no baseline, and hinders nothing.
    """
    try:
        looked = look_at(motor, plant.measurements.load(kept), settings)
    except ChannelRoleError:
        return False
    return any(not start.refused for start in looked.starts)


def _known_starts(plant: Plant, visit: Visit) -> dict[str, bool]:
    """Return which recordings of an examined visit held a start, by their file names."""
    examinations = plant.examinations.of_visit(visit)
    if not examinations:
        return {}
    said = _STARTS_SAID.setdefault(plant.examinations, {})
    last = examinations[-1]
    if last.id not in said:
        try:
            document = json.loads(plant.examinations.document(last).text)
        except DamagedFileError:
            return {}  # the measurements are kept: they are looked at again
        known = {record["provenance"]["source"]: False for record in document["recordings"]}
        said[last.id] = known | {start["recording"]: True for start in document["starts"]}
    return said[last.id]
