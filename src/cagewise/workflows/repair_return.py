"""Use cases: the sheet that a repair shop filled in, read, checked and kept in its case.

Nothing that is kept is changed: a later sheet puts the entries of an earlier one right, with all
that the earlier one said and the later one leaves open.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from cagewise.decision.repair_acceptance import Beyond, beyond_limits
from cagewise.errors import InputError, UsageError
from cagewise.history.missing import ASKED_OF_SHOP, MissingItem, RepairKind
from cagewise.measurement.repair_return import Answer, RepairReturn
from cagewise.readers.repair_return import read_repair_return
from cagewise.report.repair_return_text import ReturnView
from cagewise.store import (
    BarDamage,
    BarPlace,
    Case,
    Event,
    Found,
    FoundBar,
    MotorEntry,
    Note,
    Outcome,
    Plant,
    Repair,
)
from cagewise.store.records import checksum_of
from cagewise.workflows.case_entries import names_of
from cagewise.workflows.motor_form import change_motor
from cagewise.workflows.motor_proposal import MotorProposal, plain_answer, propose
from cagewise.workflows.paper_repair import photographs_beside
from cagewise.workflows.plant_cases import repair_of
from cagewise.workflows.plant_history import today_of
from cagewise.workflows.plant_points import KIND_OF_REPAIR, motor_of, standing

SHEET_NAME = "repair-return"
"""Stem under which a sheet is kept with its entries: by it they are found again."""
_NO_FACTS = frozenset({"repair_kind", "action", "repaired_on", "cage_found", "open_bars"})
"""Answers that are the entry itself, and no facts of it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReturnReading:
    """What a sheet says, before anything of it is kept."""

    returned: RepairReturn
    motor: MotorEntry
    case: Case
    repair: Repair | None
    """None where the sheet does not say yet what was done."""
    outcome: Outcome | None
    """The cage as found; None where it does not say."""
    found_on: date
    """Day of the outcome."""
    repaired_on: date
    proposal: MotorProposal | None
    beyond: tuple[Beyond, ...]
    owed: tuple[MissingItem, ...]
    """What the shop was asked and did not state."""
    photographs: tuple[Path, ...]
    missing_photographs: tuple[str, ...]
    corrected: tuple[Event, ...]
    """Entries of an earlier sheet of this case that this one puts right."""
    carried: tuple[str, ...]
    """Facts that only the earlier sheet states."""
    kept_before: bool
    """Whether the very same file is in the case."""


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptReturn:
    """What was kept of a sheet."""

    events: tuple[Event, ...]
    """Empty where the same file was kept before."""
    motor_file_from: date | None
    """First day of the new motor file; None where none was added."""


def read_return(
    plant: Plant,
    path: Path,
    *,
    case: str | None = None,
    site: str | None = None,
    photographs: Sequence[Path] | None = None,
) -> ReturnReading:
    """Read a sheet and check it against its motor and case.

    Parameters
    ----------
    plant
        Open.
    path
        The file.
    case
        Number of the case, where the sheet does not say it.
    site
        Of the motor, where sites repeat tags.
    photographs
        That were sent with it; those beside the file if None.

    Raises
    ------
    SheetError, MissingExtraError
        If the sheet cannot be used.
    UsageError
        If it is of another motor than the case.
    NotKeptError
        If there is no such motor or case.
    """
    returned = read_repair_return(path)
    motor = plant.motors.find(returned.motor_tag, site=site)
    found = _case(plant, motor, returned, case)
    answers = dict(returned.answers)
    earlier = _of_earlier_sheets(plant, found)
    before = next((e.what for e in earlier if isinstance(e.what, Repair)), None)
    repair, carried = _repair(answers, before)
    there, absent = _photographs(path, returned, photographs)
    today = today_of(plant)
    repaired_on = _day(answers, "repaired_on") or today
    version = plant.motors.nameplate(motor, on=repaired_on)
    facts = {} if repair is None else repair.facts
    return ReturnReading(
        returned=returned,
        motor=motor,
        case=found,
        repair=repair,
        outcome=_outcome(returned),
        found_on=_day(answers, "received_on") or repaired_on,
        repaired_on=repaired_on,
        proposal=propose(version.toml, motor.tag, answers, repaired_on),
        beyond=beyond_limits(answers, motor_of(plant, motor)),
        owed=_owed(answers, facts),
        photographs=tuple(there),
        missing_photographs=tuple(absent),
        corrected=tuple(earlier),
        carried=carried,
        kept_before=_has(plant, found, path),
    )


def view_of(reading: ReturnReading) -> ReturnView:
    """Return what a page of a sheet shows."""
    proposal, repair = reading.proposal, reading.repair
    changes = () if proposal is None else proposal.changes
    return ReturnView(
        motor=reading.motor.tag,
        case=reading.case.id,
        answers=len(reading.returned.answers),
        bars=len(reading.returned.bars),
        photographs=len(reading.photographs),
        repair=repair,
        kind="" if repair is None else str(repair.facts[KIND_OF_REPAIR]),
        repaired_on=reading.repaired_on,
        outcome=reading.outcome,
        beyond=reading.beyond,
        changes=tuple((each.field, each.before, each.after) for each in changes),
        changed_from=reading.repaired_on,
        warnings=() if proposal is None else proposal.warnings,
        owed=reading.owed,
        missing_photographs=reading.missing_photographs,
        carried=reading.carried,
    )


def keep_return(
    plant: Plant, path: Path, reading: ReturnReading, *, author: str = "", motor_file: bool = False
) -> KeptReturn:
    """Keep a sheet with its photographs in its case: all of it, or nothing.

    Parameters
    ----------
    plant
        Open for writing.
    path
        The file that was read.
    reading
        What it says.
    author
        Who brings it in.
    motor_file
        Whether the proposed motor file is taken over.
    """
    version = None
    events: list[Event] = []
    with plant.writing():
        if not reading.kept_before:
            events = [_keep(plant, path, reading, what, author) for what in _happenings(reading)]
            for photograph in reading.photographs:
                plant.cases.attach(events[0], photograph, name=photograph.name)
        if motor_file and reading.proposal is not None:
            proposal = reading.proposal
            note = f"return sheet of case {reading.case.id}"
            version = change_motor(
                plant, reading.motor, proposal.toml, valid_from=proposal.valid_from, note=note
            )
    return KeptReturn(
        events=tuple(events), motor_file_from=None if version is None else version.valid_from
    )


def _happenings(reading: ReturnReading) -> list[Repair | Outcome | Note]:
    """Return the entries that a sheet makes; a remark where it says neither."""
    made: list[Repair | Outcome | Note] = []
    if reading.outcome is not None:
        made.append(reading.outcome)
    if reading.repair is not None:
        made.append(reading.repair)
    return made or [Note()]


def _keep(
    plant: Plant, path: Path, reading: ReturnReading, what: Repair | Outcome | Note, author: str
) -> Event:
    """Keep one entry with the sheet; it puts right the one of its kind of an earlier sheet."""
    corrects = next((e for e in reading.corrected if isinstance(e.what, type(what))), None)
    event = plant.cases.add_event(
        reading.case,
        what,
        text=_remarks(reading.returned),
        author=author or str(reading.returned.answers.get("filled_in_by", "")),
        on=reading.found_on if isinstance(what, Outcome) else reading.repaired_on,
        corrects=corrects,
    )
    plant.cases.attach(event, path, name=f"{SHEET_NAME}{path.suffix.casefold()}")
    return event


def _remarks(returned: RepairReturn) -> str:
    """Return what the shop wrote in words."""
    keys = ("arrival_remark", "joints_found", "core_found", "winding_found", "bearings_found",
            "repaired_remark")  # fmt: skip
    return "\n".join(str(returned.answers[key]) for key in keys if key in returned.answers)


def _case(plant: Plant, motor: MotorEntry, returned: RepairReturn, named: str | None) -> Case:
    """Return the case that a sheet belongs to."""
    number = named or (None if returned.case is None else str(returned.case))
    if number is None:
        still = list(plant.cases.all(motor, only_open=True))
        if len(still) != 1:
            raise UsageError(
                f"the sheet names no case, and {motor.tag} has {len(still)} that are open",
                where="case",
                remedy='Say which one: "--case NUMBER".',
            )
        return still[0]
    if not number.isdecimal():
        raise InputError(f"{number[:60]!r} is no number of a case", where="case")
    case = plant.cases.get(int(number))
    if case.motor_id != motor.id:
        raise UsageError(
            f"the sheet is of {motor.tag}, and case {case.id} is of another motor",
            where="case",
            remedy="Which of the two is wrong?",
        )
    return case


def _of_earlier_sheets(plant: Plant, case: Case) -> Sequence[Event]:
    """Return the entries that earlier sheets of a case made and that still stand, latest first."""
    left = standing(plant.cases.events(case))
    return [event for event in reversed(left) if any(_is_sheet(a.name) for a in event.attachments)]


def _is_sheet(name: str) -> bool:
    return Path(name).stem == SHEET_NAME


def _has(plant: Plant, case: Case, path: Path) -> bool:
    """Return whether the very same file is kept with an entry of a case."""
    checksum = checksum_of(path.read_bytes())
    events = plant.cases.events(case)
    return any(a.checksum == checksum for event in events for a in event.attachments)


def _repair(
    answers: Mapping[str, Answer], before: Repair | None
) -> tuple[Repair | None, tuple[str, ...]]:
    """Return the repair with what the shop stated, and what only an earlier sheet says."""
    kind, action = answers.get("repair_kind"), answers.get("action")
    said = {key: plain_answer(value) for key, value in answers.items() if key not in _NO_FACTS}
    old = {} if before is None else {k: str(v) for k, v in before.facts.items()}
    kept_kind = old.pop(KIND_OF_REPAIR, None)
    kind = kind or kept_kind
    if kind is None:
        return None, ()
    carried = tuple(key for key in old if key not in said)
    done = str(action or (before.action if before is not None else kind))
    return repair_of(done, str(kind), {**old, **said}), carried


def _outcome(returned: RepairReturn) -> Outcome | None:
    """Return the cage as found."""
    found = returned.answers.get("cage_found")
    if found is None:
        return None
    opened = returned.answers.get("open_bars")
    return Outcome(
        found=Found(str(found)),
        open_bars=opened if isinstance(opened, int) else None,
        bars=tuple(
            FoundBar(bar=each.bar, damage=BarDamage(each.damage), place=BarPlace(each.place))
            for each in returned.bars
        ),
    )


def _owed(answers: Mapping[str, Answer], facts: Mapping[str, object]) -> tuple[MissingItem, ...]:
    """Return what shops are asked after such a repair and this one has not stated."""
    kind = answers.get("repair_kind")
    asked = ASKED_OF_SHOP[RepairKind.CAGE if kind is None else RepairKind(str(kind))]
    said = set(answers) | set(facts)
    return tuple(item for item in asked if not names_of(item) & said)


def _photographs(
    path: Path, returned: RepairReturn, sent: Sequence[Path] | None
) -> tuple[list[Path], list[str]]:
    """Return the photographs that are there, and the names of those that are not."""
    if sent is None:
        return photographs_beside(path.parent, returned.photographs)
    names = {each.name for each in sent}
    return list(sent), [name for name in returned.photographs if name not in names]


def _day(answers: Mapping[str, Answer], key: str) -> date | None:
    value = answers.get(key)
    return value if isinstance(value, date) else None
