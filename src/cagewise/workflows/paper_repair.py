"""Use cases: the specification that a repair shop receives with a motor."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from cagewise import __version__
from cagewise.decision.repair_specification import RepairSpecification, accept, specify
from cagewise.decision.shop_checks import Subject
from cagewise.decision.verdict import State
from cagewise.errors import InputError
from cagewise.indicators.reading import Part
from cagewise.quantities import Estimate
from cagewise.report.language import speaking
from cagewise.report.measures import measuring
from cagewise.report.papers.paper import Paper
from cagewise.report.papers.repair_facts import RepairFacts, RepairFinding
from cagewise.report.papers.repair_specification import repair_specification
from cagewise.store import Case, KeptExamination, MotorEntry, Plant
from cagewise.workflows.paper_case import LONGEST_TAG, PaperWishes
from cagewise.workflows.plant_history import today_of
from cagewise.workflows.plant_points import document_of, last_cage_repair, last_of_visits, motor_of
from cagewise.workflows.repair_return_form import empty_return_file

DOUBTED = frozenset({State.SUSPECT, State.DEFECTIVE})
SUBJECT_OF_PART: Mapping[str, Subject] = {
    Part.CAGE.value: Subject.CAGE,
    Part.WINDING.value: Subject.WINDING,
    Part.INSULATION.value: Subject.INSULATION,
}
NAMES = ", ".join(Subject)


def subjects_named(names: Iterable[str]) -> tuple[Subject, ...]:
    """Return what a motor is sent for, as somebody said it.

    Raises
    ------
    InputError
        If there is no such subject.
    """
    said = tuple(names)
    for name in said:
        if name not in set(Subject):
            raise InputError(
                f"a motor is not sent for {name[:60]!r}",
                where="what for",
                remedy=f"Choose from {NAMES}.",
            )
    return tuple(Subject(name) for name in said)


@dataclass(frozen=True, slots=True, kw_only=True)
class Sending:
    """A motor that goes to a shop."""

    motor: MotorEntry
    case: Case | None
    specification: RepairSpecification
    finding: RepairFinding | None
    day: date
    """Day of the papers that go with it."""


def sending(
    plant: Plant,
    motor: MotorEntry,
    *,
    case: Case | None = None,
    subjects: Sequence[Subject] = (),
    today: date | None = None,
) -> Sending:
    """Return what a motor of the plant is sent for, and what the shop is asked.

    Parameters
    ----------
    plant
        Open.
    motor
        Of the plant.
    case
        For which it is sent; the one that is open if left out.
    subjects
        What it is sent for; what the last examination doubts if empty, else the part of the case.
    today
        Day it speaks of; if left out today in the calendar of the plant, and no day before what
        was measured last.

    Raises
    ------
    InputError
        If nothing says what the motor would be sent for.
    """
    day = today or max((today_of(plant), *_days(plant, motor)))
    case = case or next(iter(reversed(plant.cases.all(motor, only_open=True))), None)
    examined = _examined(plant, motor, day)
    finding = None if examined is None else finding_of(document_of(plant, examined), examined.day)
    sent_for = tuple(subjects) or _doubted(finding) or _of_case(case)
    if not sent_for:
        raise InputError(
            f"nothing that was measured or opened as a case says what {motor.tag} is sent for",
            where="repair specification",
            remedy=f'Say it: "--for cage". Choose from {NAMES}.',
        )
    specification = specify(motor_of(plant, motor), sent_for)
    return Sending(motor=motor, case=case, specification=specification, finding=finding, day=day)


def sending_named(
    plant: Plant,
    name: str,
    *,
    site: str | None = None,
    subjects: Sequence[Subject] = (),
    today: date | None = None,
) -> Sending:
    """Return what a motor by its tag, or that of a case by its number, is sent for.

    Raises
    ------
    NotKeptError
        If there is no such motor or case.
    InputError
        If nothing says what the motor would be sent for.
    """
    if not name.isdigit():
        motor = plant.motors.find(name, site=site)
        return sending(plant, motor, subjects=subjects, today=today)
    case = plant.cases.get(int(name))
    motor = plant.motors.get(case.motor_id)
    return sending(plant, motor, case=case, subjects=subjects, today=today)


def facts_of(sent: Sending) -> RepairFacts:
    """Return all that a repair specification says."""
    motor = sent.specification.motor
    return RepairFacts(
        day=sent.day,
        specification=sent.specification,
        acceptance=accept(motor),
        case=None if sent.case is None else sent.case.id,
        title="" if sent.case is None else sent.case.title,
        finding=sent.finding,
        program_version=__version__,
    )


def repair_paper(sent: Sending, wishes: PaperWishes | None = None) -> Paper:
    """Return the repair specification as it is wanted."""
    wishes = wishes or PaperWishes()
    with speaking(wishes.language), measuring(wishes.units):
        return repair_specification(facts_of(sent), wishes.size)


def return_file(sent: Sending, ending: str, wishes: PaperWishes | None = None) -> bytes:
    """Return the empty return sheet as a file for the shop.

    Raises
    ------
    OutputError, MissingExtraError
        If there is no such form, or its library is not installed.
    """
    case = None if sent.case is None else sent.case.id
    with speaking((wishes or PaperWishes()).language):
        return empty_return_file(sent.specification, case, ending)


def file_name(sent: Sending, ending: str, what: str = "repair-specification") -> str:
    """Return a name without harm for a file that goes to the shop."""
    plain = unicodedata.normalize("NFKD", sent.motor.tag)
    tag = re.sub(r"[^A-Za-z0-9]+", "-", plain)[:LONGEST_TAG].strip("-")
    parts = [what, tag, *([] if sent.case is None else [f"case-{sent.case.id}"])]
    return "-".join(filter(None, [*parts, sent.day.isoformat()])) + f".{ending}"


def _days(plant: Plant, motor: MotorEntry) -> list[date]:
    """Return the days on which a motor was measured: an invented plant may be ahead of today."""
    return [each.day for each in plant.examinations.of_motor(motor)]


def _examined(plant: Plant, motor: MotorEntry, day: date) -> KeptExamination | None:
    """Return the last examination of the cage that the motor has now."""
    repaired = last_cage_repair(plant.cases.events(motor))
    every = last_of_visits(plant.examinations.of_motor(motor))
    made = [e for e in every if e.day <= day and (repaired is None or e.day >= repaired)]
    return made[-1] if made else None


def finding_of(document: Mapping[str, Any], day: date) -> RepairFinding:
    """Return what an examination found, as its document says it."""
    damage, pooled = document.get("damage"), document.get("pooled") or {}
    return RepairFinding(
        day=day,
        state=State(document["state"]),
        statement=str(document.get("statement", "")),
        probability=document.get("probability"),
        damage_bars=_estimate(damage or pooled.get("open_bar_equivalent")),
        bound_bars=document.get("upper_limit"),
        parts=tuple(
            (str(part["part"]), State(part["state"]), str(part["statement"]))
            for part in document.get("parts", ())
        ),
        not_excluded=tuple(
            (str(each["text"]), str(each["would_tell"]))
            for each in document.get("not_excluded", ())
        ),
    )


def _estimate(said: Mapping[str, Any] | None) -> Estimate | None:
    if said is None or said.get("value") is None or not said.get("interval"):
        return None
    low, high = said["interval"]
    if low is None or high is None:
        return None
    return Estimate(float(said["value"]), float(low), float(high))


def _doubted(finding: RepairFinding | None) -> tuple[Subject, ...]:
    """Return what the examination doubts."""
    if finding is None:
        return ()
    doubted = [Subject.CAGE] if finding.state in DOUBTED else []
    doubted += [
        SUBJECT_OF_PART[part]
        for part, state, _ in finding.parts
        if state in DOUBTED and part in SUBJECT_OF_PART
    ]
    return tuple(doubted)


def _of_case(case: Case | None) -> tuple[Subject, ...]:
    """Return what a case is about."""
    return () if case is None or case.part not in set(Subject) else (Subject(case.part),)


def photographs_beside(folder: Path, names: Sequence[str]) -> tuple[list[Path], list[str]]:
    """Return the files of these names in a folder, and the names of those that are not there."""
    there = [folder / name for name in names if (folder / name).is_file()]
    found = {path.name for path in there}
    return there, [name for name in names if name not in found]
