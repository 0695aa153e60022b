"""Cases: their story, and what is added to it."""

from __future__ import annotations

from datetime import date, datetime
from http import HTTPStatus
from typing import Annotated, Any, Literal

from fastapi import APIRouter, File, Form, Query, UploadFile
from fastapi.responses import FileResponse
from pydantic import BaseModel, ConfigDict, Field

from cagewise.errors import InputError, UsageError
from cagewise.history.missing import RepairKind
from cagewise.report.case_page import pending, verdicts
from cagewise.report.case_text import owed
from cagewise.report.history_views import CaseView
from cagewise.store import (
    BarDamage,
    BarPlace,
    Case,
    Decision,
    Event,
    Found,
    FoundBar,
    Note,
    Outcome,
    Repair,
)
from cagewise.store.records import Happening
from cagewise.web.attachments import given_back, received
from cagewise.web.desk import AtDesk
from cagewise.web.form_values import LONG, SHORT, PlantDay, Words
from cagewise.web.numbers import LARGEST, Number
from cagewise.web.security.access import MayRead, MayWrite
from cagewise.workflows.case_entries import MOST_BARS, attachment_of, outcome_of
from cagewise.workflows.plant_cases import Entry, add_event, cases_of, open_case, repair_of, story

router = APIRouter(tags=["cases"])

MOST_FACTS = 100


class CaseHead(BaseModel):
    """A case without its story."""

    id: int
    motor_id: int
    part: str
    title: str
    examination_id: int | None = Field(description="That raised it.")
    opened_on: date
    closed_on: date | None
    closing: str = Field(description="Why it was closed.")

    @classmethod
    def of(cls, case: Case) -> CaseHead:
        """Return a case."""
        return cls(**{name: getattr(case, name) for name in cls.model_fields})


class FileAnswer(BaseModel):
    """A photograph or paper."""

    checksum: str
    name: str
    caption: str
    size_bytes: int


class BarBody(BaseModel):
    """A damaged bar."""

    model_config = ConfigDict(extra="forbid")

    bar: int = Field(ge=1, le=MOST_BARS, description="Counted from any bar, in one direction.")
    damage: BarDamage = BarDamage.OPEN
    place: BarPlace = BarPlace.NOT_STATED


class EventAnswer(BaseModel):
    """Something that happened."""

    id: int
    day: date
    recorded_at: datetime
    kind: Literal["note", "decision", "repair", "outcome"]
    author: str
    text: str
    corrects_id: int | None
    action: str = Field("", description="Of a decision or a repair.")
    due_on: date | None = Field(None, description="Of a decision.")
    facts: dict[str, Any] = Field({}, description="Of a repair: what the shop stated.")
    found: Found | None = Field(None, description="Of an outcome.")
    open_bars: int | None = Field(None, description="Of an outcome; null where nobody counted.")
    bars: list[BarBody] = Field([], description="Of an outcome.")
    files: list[FileAnswer]

    @classmethod
    def of(cls, event: Event) -> EventAnswer:
        """Return an event."""
        return cls(
            id=event.id,
            day=event.day,
            recorded_at=event.recorded_at,
            author=event.author,
            text=event.text,
            corrects_id=event.corrects_id,
            files=[
                FileAnswer(**{name: getattr(each, name) for name in FileAnswer.model_fields})
                for each in event.attachments
            ],
            **_said(event.what),
        )


class WholeCase(CaseHead):
    """A case with its story."""

    events: list[EventAnswer] = Field(description="By day, without those that were put right.")
    corrected: int = Field(description="Entries that were put right.")
    examinations: list[int] = Field(description="That belong to its story, by day.")
    decided: str = Field(description="What is decided and not done, in words.")
    repairs: dict[int, str] = Field(
        description="What every repair amounts to by what was measured after it, by its event."
    )
    verdicts: list[str] = Field(description="Our calls against what was found, in words.")
    owed: list[str] = Field(description="In words.")


class NewCase(BaseModel):
    """A case to be opened."""

    model_config = ConfigDict(extra="forbid")

    motor_id: int = Field(ge=1, le=LARGEST)
    title: Words = Field(min_length=1, max_length=SHORT, description="The suspicion.")
    on: PlantDay | None = Field(None, description="Today if null.")


class NewEvent(BaseModel):
    """What every entry has."""

    model_config = ConfigDict(extra="forbid")

    text: Words = Field("", max_length=LONG)
    author: Words = Field(
        "", max_length=SHORT, description="Of no meaning with an account: its name signs."
    )
    on: PlantDay | None = Field(None, description="When it happened; today if null.")
    corrects_id: int | None = Field(
        None, ge=1, le=LARGEST, description="The entry that this one puts right."
    )


class NewNote(NewEvent):
    """A remark."""

    kind: Literal["note"]

    def what(self) -> Happening:
        """Return what happened."""
        if not self.text.strip():
            raise UsageError("there is nothing to note", where="text")
        return Note()


class NewDecision(NewEvent):
    """A decision; it has a name."""

    kind: Literal["decision"]
    action: Words = Field(min_length=1, max_length=LONG)
    due_on: PlantDay | None = None

    def what(self) -> Happening:
        """Return what happened."""
        return Decision(action=self.action, due_on=self.due_on)


class NewRepair(NewEvent):
    """A repair."""

    kind: Literal["repair"]
    repair_kind: RepairKind
    action: Words = Field(min_length=1, max_length=LONG)
    facts: dict[Words, Words] = Field(
        {}, max_length=MOST_FACTS, description="What the shop stated, as rotor_bars: 58."
    )

    def what(self) -> Happening:
        """Return what happened."""
        return repair_of(self.action, self.repair_kind.value, self.facts)


class NewOutcome(NewEvent):
    """What was found."""

    kind: Literal["outcome"]
    found: Found
    open_bars: int | None = Field(None, ge=0, le=MOST_BARS, description="Null: nobody counted.")
    bars: list[BarBody] = Field([], max_length=MOST_BARS)

    def what(self) -> Happening:
        """Return what happened."""
        bars = [FoundBar(**bar.model_dump()) for bar in self.bars]
        return outcome_of(self.found.value, self.open_bars, bars)


AnyEvent = Annotated[NewNote | NewDecision | NewRepair | NewOutcome, Field(discriminator="kind")]


class Closing(BaseModel):
    """Why a case is closed."""

    model_config = ConfigDict(extra="forbid")

    why: Words = Field(min_length=1, max_length=LONG)
    on: PlantDay | None = Field(None, description="Today if null.")


@router.get("/cases")
def cases(
    desk: AtDesk,
    _: MayRead,
    motor_id: Annotated[int | None, Query(ge=1, le=LARGEST)] = None,
    closed: Annotated[bool, Query(description="Closed ones too.")] = False,  # noqa: FBT002 - a query
) -> list[CaseHead]:
    """Return cases, the oldest first."""
    motor = None if motor_id is None else desk.plant.motors.get(motor_id)
    view = cases_of(desk.plant, motor, only_open=not closed)
    return [CaseHead.of(case) for _, case in view.cases]


@router.post("/cases", status_code=HTTPStatus.CREATED)
def open_(new: NewCase, desk: AtDesk, _: MayWrite) -> CaseHead:
    """Open a case; the one of the motor that is open already is returned instead."""
    motor = desk.plant.motors.get(new.motor_id)
    return CaseHead.of(open_case(desk.plant, motor, new.title, on=new.on))


@router.get("/cases/{number}")
def case(number: Number, desk: AtDesk, _: MayRead) -> WholeCase:
    """Return a case with its story."""
    return _whole(story(desk.plant, desk.plant.cases.get(number)))


@router.post("/cases/{number}/events", status_code=HTTPStatus.CREATED)
def event(number: Number, new: AnyEvent, desk: AtDesk, by: MayWrite) -> EventAnswer:
    """Keep what happened; nothing that was kept before changes."""
    found, author = desk.plant.cases.get(number), by.name or new.author.strip()
    if new.kind == "decision" and not author:
        raise InputError("a decision has a name", where="author", remedy="Say who decides.")
    entry = Entry(text=new.text, author=author, on=new.on, corrects=new.corrects_id)
    return EventAnswer.of(add_event(desk.plant, found, new.what(), entry))


@router.post("/cases/{number}/files", status_code=HTTPStatus.CREATED)
def attach(
    number: Number,
    desk: AtDesk,
    by: MayWrite,
    files: Annotated[list[UploadFile], File(description="Photographs and papers.")],
    text: Annotated[Words, Form(max_length=LONG)] = "",
    author: Annotated[Words, Form(max_length=SHORT)] = "",
) -> EventAnswer:
    """Keep photographs and papers, with a remark."""
    found = desk.plant.cases.get(number)
    with received(files) as paths:
        if not paths:
            raise UsageError("there is no file", where="files")
        entry = Entry(text=text, author=by.name or author.strip(), files=paths)
        made = add_event(desk.plant, found, Note(), entry)
    kept = next(each for each in desk.plant.cases.events(found) if each.id == made.id)
    return EventAnswer.of(kept)


@router.get("/cases/{number}/files/{event_number}/{checksum}", response_class=FileResponse)
def file(
    number: Number, event_number: Number, checksum: str, desk: AtDesk, _: MayRead
) -> FileResponse:
    """Return a photograph or paper as it was kept."""
    found = attachment_of(desk.plant, desk.plant.cases.get(number), event_number, checksum)
    return given_back(found, desk.plant.cases.attachments.checked(found.checksum))


@router.post("/cases/{number}/close")
def close(number: Number, closing: Closing, desk: AtDesk, _: MayWrite) -> CaseHead:
    """Close a case, with the reason."""
    found = desk.plant.cases.get(number)
    return CaseHead.of(desk.plant.cases.close(found, closing.why, on=closing.on))


def _whole(view: CaseView) -> WholeCase:
    """Return a case with its story."""
    return WholeCase(
        **CaseHead.of(view.case).model_dump(),
        events=[EventAnswer.of(each) for each in view.events],
        corrected=view.corrected,
        examinations=[each.examination.id for each in view.examined],
        decided=pending(view),
        repairs={
            each.event.id: each.comparison.acceptance.value
            for each in view.repairs
            if each.comparison is not None
        },
        verdicts=verdicts(view),
        owed=list(owed(view)),
    )


def _said(what: Happening) -> dict[str, Any]:
    """Return the fields of what happened."""
    match what:
        case Decision(action=action, due_on=due):
            return {"kind": "decision", "action": action, "due_on": due}
        case Repair(action=action, facts=facts):
            return {"kind": "repair", "action": action, "facts": dict(facts)}
        case Outcome(found=found, open_bars=count, bars=bars):
            shown = [
                BarBody.model_construct(bar=b.bar, damage=b.damage, place=b.place) for b in bars
            ]
            return {"kind": "outcome", "found": found, "open_bars": count, "bars": shown}
        case _:
            return {"kind": "note"}
