"""Test sheets: what may stand in one, those that are kept, and new ones."""

from __future__ import annotations

from collections.abc import Sequence
from http import HTTPStatus
from typing import Annotated

from fastapi import APIRouter
from pydantic import BaseModel, ConfigDict, Field, StrictBool, StrictFloat, StrictInt

from cagewise.errors import InputError
from cagewise.readers.test_sheet import Form
from cagewise.readers.test_sheet.form import Table
from cagewise.readers.test_sheet.sheet_schema import FORMAT, TABLES
from cagewise.store import KeptSheet
from cagewise.web.api.visits import SheetHead
from cagewise.web.desk import AtDesk
from cagewise.web.numbers import Number
from cagewise.web.security.access import MayRead, MayWrite
from cagewise.workflows.plant_decode import sheets_of
from cagewise.workflows.plant_sheets import (
    blank_form,
    form_of_kept,
    keep_form,
    keep_toml,
    sheet_to_correct,
)
from cagewise.workflows.sheet_form import (
    MOST_ROWS,
    MOST_TABLES,
    TableContent,
    form_from_tables,
)
from cagewise.workflows.sheet_tables import SheetTable, tables_of

router = APIRouter(tags=["test sheets"])

Heading = Annotated[str, Field(max_length=80)]
Content = (
    Annotated[str, Field(max_length=2000)]
    | StrictBool
    | StrictInt
    | Annotated[StrictFloat, Field(allow_inf_nan=False)]
    | None
)


class UnitAnswer(BaseModel):
    """A unit in which a quantity may be written."""

    suffix: str = Field(description="Ending of the heading.")
    scale: float = Field(description="SI value = figure * scale + offset.")
    offset: float


class HeadingAnswer(BaseModel):
    """One heading of a table."""

    heading: str = Field(description="In the unit that is written unless another is chosen.")
    meaning: str
    kind: str = Field(description="number, text, date, place, or yes or no.")
    column: bool = Field(description="Whether readings stand below it, or one beside it.")
    units: list[UnitAnswer]
    low: float | None = Field(description="Least value that is accepted, SI (degC).")
    high: float | None
    advice: str = Field(description="The likeliest slip, where a value lies outside.")


class TableAnswer(BaseModel):
    """One kind of table."""

    name: str
    title: str
    repeated: bool = Field(description="Whether a sheet may hold several.")
    headings: list[HeadingAnswer]


class SheetSchema(BaseModel):
    """What may stand in a test sheet."""

    format: int = Field(description="Version of the form.")
    tables: list[TableAnswer]


class TableSaid(BaseModel):
    """One table of a sheet; blank or absent is what was not measured."""

    model_config = ConfigDict(extra="forbid")

    name: str = Field(max_length=60, description="Kind of the table.")
    fields: dict[Heading, Content] = Field(default_factory=dict, max_length=60)
    columns: dict[Heading, Annotated[list[Content], Field(max_length=MOST_ROWS)]] = Field(
        default_factory=dict, max_length=60
    )


class SheetSaid(BaseModel):
    """A sheet: its tables, or the text of its file."""

    model_config = ConfigDict(extra="forbid")

    tables: list[TableSaid] = Field(default_factory=list, max_length=MOST_TABLES)
    toml: str = Field("", max_length=1_000_000, description="Instead of the tables.")
    corrects: int | None = Field(
        None, ge=1, le=(1 << 63) - 1, description="Sheet of this visit that it takes the place of."
    )


class SheetAnswer(SheetHead):
    """A sheet with what stands in it."""

    tables: list[TableSaid]


@router.get("/sheets/schema")
def schema(_: MayRead) -> SheetSchema:
    """Return what may stand in a test sheet: headings, units, ranges."""
    form = Form([Table(name, "") for name in TABLES if name != "truth"])
    every: dict[str, SheetTable] = {}
    for reads in ("lr", "z", "vi"):
        for table in tables_of(form, reads):
            known = every.get(table.name)
            if known is None:
                every[table.name] = table
            else:
                seen = {each.stem for each in known.entries}
                more = tuple(each for each in table.entries if each.stem not in seen)
                every[table.name] = SheetTable(
                    name=known.name,
                    title=known.title,
                    entries=(*known.entries, *more),
                    repeated=known.repeated,
                )
    return SheetSchema(format=FORMAT, tables=[_table_answer(each) for each in every.values()])


@router.get("/visits/{number}/sheets")
def sheets(desk: AtDesk, _: MayRead, number: Number) -> list[SheetHead]:
    """Return the test sheets of a visit; of several of one name the one that counts."""
    return [_head(each) for each in sheets_of(desk.plant, desk.plant.visits.get(number))]


@router.get("/visits/{number}/sheets/template")
def template(desk: AtDesk, _: MayRead, number: Number) -> list[TableSaid]:
    """Return the empty sheet of the motor of a visit, with the positions of its rotor."""
    return _said(blank_form(desk.plant, desk.plant.visits.get(number)))


@router.get("/sheets/{number}")
def sheet(desk: AtDesk, _: MayRead, number: Number) -> SheetAnswer:
    """Return a test sheet with what stands in it."""
    kept = desk.plant.measurements.sheet(number)
    return SheetAnswer(**_head(kept).model_dump(), tables=_said(form_of_kept(desk.plant, kept)))


@router.post("/visits/{number}/sheets", status_code=HTTPStatus.CREATED)
def keep(desk: AtDesk, _: MayWrite, number: Number, said: SheetSaid) -> SheetHead:
    """Keep a test sheet; all that is wrong with it is in one answer."""
    visit = desk.plant.visits.get(number)
    if said.toml:
        if said.tables or said.corrects:
            raise InputError("a text stands alone, without tables", where="toml")
        return _head(keep_toml(desk.plant, visit, said.toml))
    corrects = None if said.corrects is None else sheet_to_correct(desk.plant, visit, said.corrects)
    content = [
        TableContent(name=each.name, fields=each.fields, columns=each.columns)
        for each in said.tables
    ]
    return _head(keep_form(desk.plant, visit, form_from_tables(content), corrects=corrects))


def _head(kept: KeptSheet) -> SheetHead:
    return SheetHead(
        id=kept.id, visit_id=kept.visit_id, source=kept.source, measured_on=kept.measured_on
    )


def _said(form: Form) -> list[TableSaid]:
    """Return what stands in a form, as texts."""
    return [
        TableSaid(
            name=table.name,
            fields={each.heading: each.cells[0] for each in table.fields},
            columns={each.heading: _list(each.cells) for each in table.columns},
        )
        for table in tables_of(form)
    ]


def _list(cells: Sequence[str]) -> list[Content]:
    return list(cells)


def _table_answer(table: SheetTable) -> TableAnswer:
    """Return one kind of table."""
    return TableAnswer(
        name=table.name,
        title=table.title,
        repeated=table.repeated,
        headings=[
            HeadingAnswer(
                heading=each.heading,
                meaning=each.meaning,
                kind=each.kind.value,
                column=each.column,
                units=[
                    UnitAnswer(suffix=u.suffix, scale=u.scale, offset=u.offset) for u in each.units
                ],
                low=each.low,
                high=each.high,
                advice=each.advice,
            )
            for each in table.entries
        ],
    )
