"""Use cases: a case from the first doubt to what was found, and what is still owed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from types import MappingProxyType
from typing import Any

from cagewise.decision.verdict import State
from cagewise.errors import NotKeptError, UsageError
from cagewise.evidence.explanations import Cause, ExplanationGround
from cagewise.history.limits import repair_limits
from cagewise.history.missing import (
    ASKED_OF_SHOP,
    MEASURED_AFTER,
    MissingItem,
    RepairKind,
    owed_by_shop,
)
from cagewise.history.repair import Baseline, RepairComparison, compare_repair
from cagewise.quantities import NotKnown
from cagewise.report.history_views import CasesView, CaseView, ExaminedView, RepairView
from cagewise.store import (
    Case,
    Event,
    KeptExamination,
    MotorEntry,
    Outcome,
    Plant,
    Repair,
)
from cagewise.store.records import Happening
from cagewise.workflows.plant_history import call_before, today_of
from cagewise.workflows.plant_points import (
    KIND_OF_REPAIR,
    baseline_of,
    document_of,
    kind_of,
    last_of_visits,
    motor_of,
    standing,
)

DOUBTED = (State.SUSPECT.value, State.DEFECTIVE.value)
"""States of a cage that raise a case."""
DOUBT_DAYS = 90
"""Examinations so long before a case was opened belong to its story (days): our judgement."""

TOLD_FROM_WEIGHT = 2.0 / 3.0
"""Weight from which on a cause of the lines is told in a story: likelier than all others together,
two to one (our judgement)."""

NAMES_OF_FACT: Mapping[MissingItem, frozenset[str]] = MappingProxyType(
    {
        MissingItem.CAGE_CONSTRUCTION: frozenset({"cage", "cage_construction"}),
        MissingItem.WINDING_CONSTRUCTION: frozenset({"construction", "winding_construction"}),
        MissingItem.WINDING_YEAR: frozenset({"built_year", "winding_built_year"}),
        MissingItem.WINDING_INSULATION: frozenset({"insulation", "winding_insulation"}),
    }
)
"""Facts of a repair that say it, where the motor file calls it otherwise."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """What goes with every event."""

    text: str = ""
    author: str = ""
    on: date | None = None
    """Today if None."""
    files: Sequence[Path] = ()
    """Photographs and papers."""
    corrects: int | None = None
    """Number of an event of the case that this one puts right."""


def find_case(plant: Plant, name: str, *, site: str | None = None) -> Case:
    """Return a case by its number, or by the tag of its motor.

    Of a motor it is the one that is open, else the one opened last.

    Parameters
    ----------
    plant
        Open.
    name
        The number, or the tag.
    site
        Of the motor, where sites repeat tags.

    Raises
    ------
    NotKeptError
        If there is none.
    """
    if name.isdigit():
        return plant.cases.get(int(name))
    motor = plant.motors.find(name, site=site)
    cases = plant.cases.all(motor)
    if not cases:
        raise NotKeptError(f"{motor.tag} has no case", remedy='Open one: "cagewise case open".')
    still = [case for case in cases if case.is_open]
    return (still or list(cases))[-1]


def open_case(plant: Plant, motor: MotorEntry, title: str, *, on: date | None = None) -> Case:
    """Open a case; the last examination of that day or before is what raised it, if it warned."""
    day = on or today_of(plant)
    made = [e for e in last_of_visits(plant.examinations.of_motor(motor)) if e.day <= day]
    warned = made[-1] if made and made[-1].keys.state in DOUBTED else None
    return plant.cases.open(motor, title, examination=warned, on=day)


def add_event(plant: Plant, case: Case, what: Happening, entry: Entry | None = None) -> Event:
    """Note what happened in a case, with its files: together, or nothing of it.

    Raises
    ------
    NotKeptError
        If the event that is to be put right is not of this case.
    UsageError
        If a file is not there.
    """
    entry = entry or Entry()
    for path in entry.files:
        if not path.is_file():
            raise UsageError("there is no such file", where=str(path))
    corrects = None if entry.corrects is None else _event_of(plant, case, entry.corrects)
    with plant.writing():
        event = plant.cases.add_event(
            case, what, text=entry.text, author=entry.author, on=entry.on, corrects=corrects
        )
        for path in entry.files:
            plant.cases.attach(event, path, name=path.name)
    return event


def repair_of(action: str, kind: str, facts: Mapping[str, str]) -> Repair:
    """Return a repair with what the shop stated.

    Raises
    ------
    UsageError
        If there is no such kind, or the facts state one themselves.
    """
    kinds = ", ".join(RepairKind)
    if kind not in set(RepairKind):
        raise UsageError(
            f"there is no kind of repair {kind!r}", where="--kind", remedy=f"Choose from {kinds}."
        )
    if KIND_OF_REPAIR in facts:
        raise UsageError(
            "the kind of a repair is no fact of the shop",
            where=f"--fact {KIND_OF_REPAIR}",
            remedy=f"Give it as --kind: {kinds}.",
        )
    return Repair(action=action, facts={**facts, KIND_OF_REPAIR: RepairKind(kind).value})


def _event_of(plant: Plant, case: Case, number: int) -> Event:
    found = next((e for e in plant.cases.events(case) if e.id == number), None)
    if found is None:
        raise NotKeptError(f"case {case.id} has no event number {number}")
    return found


def cases_of(
    plant: Plant,
    motor: MotorEntry | None = None,
    *,
    only_open: bool,
    today: date | None = None,
) -> CasesView:
    """Return cases with their motors, the oldest first."""
    cases = plant.cases.all(motor, only_open=only_open)
    motors = {each.id: each for each in plant.motors.all()}
    return CasesView(
        today=today or today_of(plant),
        cases=tuple((motors[case.motor_id], case) for case in cases),
    )


def story(plant: Plant, case: Case, *, today: date | None = None) -> CaseView:
    """Return the story of a case: events, examinations, repairs and what is owed."""
    motor = plant.motors.get(case.motor_id)
    events = plant.cases.events(case)
    left = standing(events)
    examined = last_of_visits(plant.examinations.of_motor(motor))
    calls = {
        event.id: call
        for event in left
        if isinstance(event.what, Outcome) and (call := call_before(plant, event)) is not None
    }
    told = {call.id for call in calls.values()}
    return CaseView(
        motor=motor,
        case=case,
        today=today or today_of(plant),
        events=left,
        corrected=len(events) - len(left),
        examined=tuple(
            examined_view(plant, e) for e in examined if _belongs(e, case) or e.id in told
        ),
        repairs=tuple(_repair(plant, motor, e, examined) for e in left if _is_repair(e)),
        calls={number: examined_view(plant, call) for number, call in calls.items()},
    )


def _is_repair(event: Event) -> bool:
    return isinstance(event.what, Repair)


def _belongs(examination: KeptExamination, case: Case) -> bool:
    """Return whether an examination is part of the story of a case.

    What was measured shortly before it was opened raised the doubt or did not; the baseline after
    a repair may follow its closing.
    """
    begin = case.opened_on - timedelta(days=DOUBT_DAYS)
    age = timedelta(days=repair_limits().largest_age_days)
    end = date.max if case.closed_on is None else case.closed_on + age
    return begin <= examination.day <= end or examination.id == case.examination_id


def examined_view(plant: Plant, examination: KeptExamination) -> ExaminedView:
    """Return an examination with what its document counts."""
    document = document_of(plant, examination)
    unknown = NotKnown("not in the document")
    return ExaminedView(
        examination=examination,
        methods_agreeing=document.get("methods_agreeing", unknown),
        classes_agreeing=document.get("classes_agreeing", unknown),
        statement=document.get("statement", ""),
        cause=_other_cause(document),
        advice=(document.get("recommendation") or {}).get("text", ""),
        parts=tuple(
            (part["part"], part["statement"])
            for part in document.get("parts", ())
            if part["state"] not in (State.SOUND.value, State.NOT_DECIDABLE.value)
        ),
    )


def _other_cause(document: Mapping[str, Any]) -> tuple[Cause, float] | None:
    """Return what made the lines, if it is likely, another than the cage, and was measured."""
    known = [each for each in document.get("explanations", ()) if each["weight"] is not None]
    first = max(known, key=lambda each: float(each["weight"]), default=None)
    if first is None or first["ground"] != ExplanationGround.FINDINGS_FOR.value:
        return None
    if float(first["weight"]) < TOLD_FROM_WEIGHT:
        return None
    return Cause(first["cause"]), float(first["weight"])


def _repair(
    plant: Plant, motor: MotorEntry, event: Event, examined: Sequence[KeptExamination]
) -> RepairView:
    """Return a repair with what was measured before and after it."""
    repair = event.what
    assert isinstance(repair, Repair)  # noqa: S101 - chosen so by the caller
    kind = kind_of(repair)
    before = [e for e in examined if e.day < event.day]
    chosen = _chosen_baseline(plant, kind, event.day, examined)
    comparison: RepairComparison | None = None
    if chosen is not None:
        comparison = compare_repair(
            baseline_of(plant, before[-1]) if before else None,
            chosen[1],
            kind,
            repaired_on=float(event.day.toordinal()),
        )
    return RepairView(
        event=event,
        kind=kind,
        baseline=None if chosen is None else chosen[0],
        comparison=comparison,
        owed=_owed(plant, motor, event, kind),
    )


def _chosen_baseline(
    plant: Plant, kind: RepairKind, repaired_on: date, examined: Sequence[KeptExamination]
) -> tuple[KeptExamination, Baseline] | None:
    """Return the visit after a repair that measured most of what it asks for; the earliest such.

    Visits too late for a baseline count only where there is no other.
    """
    after = [e for e in examined if e.day >= repaired_on]
    latest = repaired_on + timedelta(days=repair_limits().largest_age_days)
    near = [e for e in after if e.day <= latest] or after[:1]
    pairs = [(each, baseline_of(plant, each)) for each in near]

    def measured(pair: tuple[KeptExamination, Baseline]) -> int:
        return sum(pair[1].lead_of(wanted) is not None for wanted in MEASURED_AFTER[kind])

    return max(pairs, key=measured, default=None)


def _owed(
    plant: Plant, motor: MotorEntry, event: Event, kind: RepairKind
) -> tuple[MissingItem, ...]:
    """Return what the shop was asked and did not state.

    A motor file that counts from the repair on says it too; an older one may be of another rotor.
    """
    repair = event.what
    facts = repair.facts if isinstance(repair, Repair) else {}
    newer = any(version.valid_from >= event.day for version in plant.motors.nameplates(motor))
    asked = (
        owed_by_shop(motor_of(plant, motor, on=date.max), kind) if newer else ASKED_OF_SHOP[kind]
    )
    return tuple(item for item in asked if not NAMES_OF_FACT.get(item, {item.value}) & set(facts))
