"""Motors: lists, nameplates and their versions, notes, sensors, trends, decisions."""

from __future__ import annotations

from datetime import date
from http import HTTPStatus
from typing import Annotated

from fastapi import APIRouter, Query
from fastapi.responses import Response
from pydantic import BaseModel, ConfigDict, Field

from cagewise.history.plant_risk import RankedMotor
from cagewise.report.history_text import day_of
from cagewise.report.ranking_text import next_of
from cagewise.store import MotorEntry, NameplateVersion, Sensor
from cagewise.web.api.trend_models import TrendAnswer
from cagewise.web.desk import AtDesk
from cagewise.web.form_values import LONG, SHORT, PlantDay, Words
from cagewise.web.numbers import LARGEST, Number
from cagewise.web.pages.plant import LONGEST, StateWord
from cagewise.web.pages.trend import LARGEST_LIMIT_BARS
from cagewise.web.security.access import MayRead, MayWrite
from cagewise.workflows.motor_story import story_of
from cagewise.workflows.plant_choice import ListedMotors, ListOrder, Wanted
from cagewise.workflows.plant_search import search_motors
from cagewise.workflows.plant_sensors import add_sensor, note_motor
from cagewise.workflows.plant_signing import Signed, propose, sign
from cagewise.workflows.plant_trend_page import told_trend

router = APIRouter(tags=["motors"])

TOML = "application/toml"

MOST = 1000
LONGEST_FILE = 200_000
"""Characters of a motor file."""
VISITS = 1000


class ListedMotor(BaseModel):
    """A motor of a list."""

    id: int
    tag: str
    site: str
    description: str
    criticality: str
    rated_power_w: float
    rank: int = Field(description="1 for the greatest risk.")
    cage_state: str = Field(
        description='"not examined" without an examination, "repaired" where nothing was measured '
        "since."
    )
    winding: str | None = Field(description="State; empty: not tested; null: not known.")
    insulation: str | None = Field(description="Alike.")
    probability: float = Field(description="Of a cage defect today.")
    probability_assumed: bool = Field(
        description="Whether the usual share of defective cages stands for it."
    )
    open_bars: float | None
    risk_per_month: float
    due_on: date
    overdue_days: float = Field(description="Negative while there is time.")
    next: str = Field(description="What is to be done, in words.")
    examination_id: int | None = Field(description="The last one.")
    open_cases: list[int]

    @classmethod
    def of(cls, listed: ListedMotors, motor: RankedMotor) -> ListedMotor:
        """Return a motor of a ranking."""
        view, entry = listed.view, listed.entries[motor.tag]
        last = view.latest.get(motor.tag)
        return cls(
            id=entry.id,
            tag=entry.tag,
            site=entry.site,
            description=entry.description,
            criticality=entry.criticality,
            rated_power_w=entry.rated_power_w,
            rank=motor.rank,
            cage_state=view.cage_state(motor),
            winding=None if last is None else last.keys.winding,
            insulation=None if last is None else last.keys.insulation,
            probability=motor.probability,
            probability_assumed=motor.assumed_probability,
            open_bars=None if last is None else last.keys.open_bars,
            risk_per_month=motor.expected_cost_per_month,
            due_on=day_of(motor.due_on),
            overdue_days=motor.overdue_days,
            next=next_of(view, motor)[1],
            examination_id=None if last is None else last.id,
            open_cases=[case.id for case in view.open_cases.get(motor.tag, ())],
        )


class MotorAnswer(BaseModel):
    """One motor."""

    id: int
    tag: str
    site: str
    description: str
    criticality: str
    rated_power_w: float
    next_outage: date | None
    nameplate_id: int = Field(description="Version of the motor file that counts today.")
    valid_from: date = Field(description="Of that version.")

    @classmethod
    def of(cls, entry: MotorEntry) -> MotorAnswer:
        """Return a motor."""
        return cls(**{name: getattr(entry, name) for name in cls.model_fields})


class VisitAnswer(BaseModel):
    """A visit of a motor."""

    id: int
    day: date
    recordings: int
    sheets: int
    examination_id: int | None
    state: str | None


class SensorBody(BaseModel):
    """A sensor that stays on a motor."""

    model_config = ConfigDict(extra="forbid", allow_inf_nan=False)

    name: Words = Field(min_length=1, max_length=SHORT)
    role: Words = Field("", max_length=SHORT, description="What it measures, as channel roles.")
    serial: Words = Field("", max_length=SHORT)
    ratio: float | None = Field(None, gt=0.0, le=1e9, description="Primary per secondary.")
    mounted_on: PlantDay | None = None
    calibrated_on: PlantDay | None = None
    removed_on: PlantDay | None = None
    note: Words = Field("", max_length=LONG)


class WholeMotor(MotorAnswer):
    """One motor with its history."""

    due_on: date
    next: str = Field(description="What is to be done, in words.")
    missing: list[str] = Field(description="What nobody has said, stable identifiers.")
    warnings: list[str] = Field(description="What is odd in the nameplate.")
    visits: list[VisitAnswer] = Field(description="The latest first.")
    sensors: list[SensorBody]
    cases: list[int] = Field(description="The oldest first.")


class NewMotor(BaseModel):
    """A motor to be added."""

    model_config = ConfigDict(extra="forbid")

    toml: Words = Field(max_length=LONGEST_FILE, description="Its motor file; it states the tag.")
    site: Words = Field("", max_length=SHORT, description="Where sites repeat tags.")
    valid_from: PlantDay | None = Field(None, description="Today if null.")


class NewVersion(BaseModel):
    """Another version of a motor file."""

    model_config = ConfigDict(extra="forbid")

    toml: Words = Field(max_length=LONGEST_FILE)
    valid_from: PlantDay | None = Field(
        None, description="First day on which the motor was like this; today if null."
    )
    note: Words = Field("", max_length=LONG, description="Why.")


class VersionAnswer(BaseModel):
    """A version of a motor file."""

    id: int
    motor_id: int
    valid_from: date
    checksum: str
    note: str

    @classmethod
    def of(cls, version: NameplateVersion) -> VersionAnswer:
        """Return a version."""
        return cls(**{name: getattr(version, name) for name in cls.model_fields})


class NoteBody(BaseModel):
    """A remark on a motor."""

    model_config = ConfigDict(extra="forbid")

    text: Words = Field(min_length=1, max_length=LONG)
    author: Words = Field(
        "", max_length=SHORT, description="Of no meaning with an account: its name signs."
    )


class DecisionBody(BaseModel):
    """What somebody decides on an examination."""

    model_config = ConfigDict(extra="forbid")

    examination_id: int | None = Field(
        None, ge=1, le=LARGEST, description="That advises it; the last one if null."
    )
    action: Words = Field(min_length=1, max_length=LONG)
    due_on: PlantDay | None = None
    text: Words = Field("", max_length=LONG, description="Why.")
    author: Words = Field(
        "", max_length=SHORT, description="Of no meaning with an account: its name signs."
    )
    title: Words = Field("", max_length=SHORT, description="Of the case, if one is opened.")


class Made(BaseModel):
    """What was kept."""

    id: int


@router.get("/motors")
def motors(  # noqa: PLR0913, PLR0917 - what can be asked
    desk: AtDesk,
    _: MayRead,
    q: Annotated[
        str, Query(max_length=LONGEST, description="Words of tag, description, site.")
    ] = "",
    state: Annotated[StateWord, Query(description="Of cage, winding or insulation.")] = "",
    due: Annotated[bool, Query(description="Only what is due.")] = False,  # noqa: FBT002 - a query
    sort: ListOrder = ListOrder.MOTOR,
    offset: Annotated[int, Query(ge=0, le=LARGEST)] = 0,
    limit: Annotated[int, Query(ge=1, le=MOST)] = 100,
) -> list[ListedMotor]:
    """Return motors, as many as asked for."""
    wanted = Wanted(states=frozenset({state} - {""}), due=due, order=sort)
    listed = search_motors(desk.plant, wanted, q)
    chosen = listed.view.ranking.motors[offset : offset + limit]
    return [ListedMotor.of(listed, motor) for motor in chosen]


@router.post("/motors", status_code=HTTPStatus.CREATED)
def add(new: NewMotor, desk: AtDesk, _: MayWrite) -> MotorAnswer:
    """Add a motor by its motor file."""
    entry = desk.plant.motors.add(new.toml, site=new.site, valid_from=new.valid_from)
    return MotorAnswer.of(entry)


@router.get("/motors/{number}")
def motor(number: Number, desk: AtDesk, _: MayRead) -> WholeMotor:
    """Return a motor with its history."""
    entry = desk.plant.motors.get(number)
    story = story_of(desk.plant, entry, most_visits=VISITS)
    shown = story.shown
    return WholeMotor(
        **MotorAnswer.of(entry).model_dump(),
        due_on=day_of(story.ranked.due_on),
        next=next_of(story.view, story.ranked)[1],
        missing=[item.value for item in shown.missing],
        warnings=list(shown.motor.warnings),
        visits=[
            VisitAnswer(
                id=each.visit.id,
                day=each.visit.day,
                recordings=each.recordings,
                sheets=each.sheets,
                examination_id=None if each.examination is None else each.examination.id,
                state=None if each.examination is None else each.examination.keys.state,
            )
            for each in shown.visits
        ],
        sensors=[_sensor(each) for each in shown.sensors],
        cases=[case.id for case in story.cases],
    )


@router.get(
    "/motors/{number}/file",
    response_class=Response,
    responses={200: {"content": {TOML: {"schema": {"type": "string"}}}}},
)
def motor_file(number: Number, desk: AtDesk, _: MayRead, on: PlantDay | None = None) -> Response:
    """Return the motor file that counts on a day, today if none is given, as TOML."""
    entry = desk.plant.motors.get(number)
    text = desk.plant.motors.nameplate(entry, on=on).toml
    name = f"motor-{number}.toml"
    return Response(
        text,
        media_type=TOML,
        headers={"content-disposition": f'attachment; filename="{name}"'},
    )


@router.put("/motors/{number}/file")
def edit(number: Number, new: NewVersion, desk: AtDesk, _: MayWrite) -> VersionAnswer:
    """Add a version of the motor file; the earlier ones stay."""
    entry = desk.plant.motors.get(number)
    version = desk.plant.motors.edit(entry, new.toml, valid_from=new.valid_from, note=new.note)
    return VersionAnswer.of(version)


@router.get("/motors/{number}/files")
def versions(number: Number, desk: AtDesk, _: MayRead) -> list[VersionAnswer]:
    """Return the versions of the motor file, by the day from which they count."""
    entry = desk.plant.motors.get(number)
    return [VersionAnswer.of(each) for each in desk.plant.motors.nameplates(entry)]


@router.post("/motors/{number}/notes", status_code=HTTPStatus.CREATED)
def note(number: Number, new: NoteBody, desk: AtDesk, by: MayWrite) -> Made:
    """Note something on the motor itself."""
    entry = desk.plant.motors.get(number)
    made = note_motor(desk.plant, entry, new.text, author=by.name or new.author)
    return Made(id=made.id)


@router.post("/motors/{number}/sensors", status_code=HTTPStatus.CREATED)
def sensor(number: Number, new: SensorBody, desk: AtDesk, _: MayWrite) -> SensorBody:
    """Note a sensor that stays on the motor."""
    entry = desk.plant.motors.get(number)
    return _sensor(add_sensor(desk.plant, entry, Sensor(**new.model_dump())))


@router.post("/motors/{number}/decisions", status_code=HTTPStatus.CREATED)
def decide(number: Number, new: DecisionBody, desk: AtDesk, by: MayWrite) -> Made:
    """Sign a decision; returns the case, the open one or one that is opened for it."""
    entry = desk.plant.motors.get(number)
    proposal = propose(desk.plant, entry, new.examination_id)
    signed = Signed(
        action=new.action,
        due_on=new.due_on,
        text=new.text,
        author=by.name or new.author,
        title=new.title,
    )
    return Made(id=sign(desk.plant, entry, proposal, signed).id)


@router.get("/motors/{number}/trend")
def trend(
    number: Number,
    desk: AtDesk,
    _: MayRead,
    reading: Annotated[str, Query(max_length=LONGEST)] = "",
    limit: Annotated[float | None, Query(gt=0.0, le=LARGEST_LIMIT_BARS)] = None,
) -> TrendAnswer:
    """Return the trend since the last repair of the cage, or why there is none."""
    entry = desk.plant.motors.get(number)
    return TrendAnswer.of(told_trend(desk.plant, entry, reading=reading, limit_bars=limit))


def _sensor(kept: Sensor) -> SensorBody:
    """Return a kept sensor, whatever was once written down of it."""
    return SensorBody.model_construct(
        **{name: getattr(kept, name) for name in SensorBody.model_fields}
    )
