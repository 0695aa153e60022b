"""Pictures of examinations and motors: as numbers, as windows of long curves, as files."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterator
from enum import StrEnum
from itertools import islice
from threading import Lock
from typing import Annotated

from fastapi import APIRouter, Depends, Path, Query, Request
from fastapi.responses import Response, StreamingResponse
from pydantic import BaseModel

from cagewise import __version__
from cagewise.pictures.parts import Drawn
from cagewise.pictures.table import Cell, Row, table_of
from cagewise.store import KeptExamination, Plant
from cagewise.web.api.packed import PackedPicture, PackedWindow, packed, packed_window
from cagewise.web.desk import AtDesk, Desk
from cagewise.web.security.access import MayRead
from cagewise.workflows import pictures

router = APIRouter(prefix="/{subject}/{number}/pictures", tags=["pictures"])

A_WHILE = "private, max-age=600"
"""What was examined never changes; another version of the program may draw it otherwise."""
JSON = "application/json"
RESOLUTION = 150
"""Dots per inch of a picture in dots."""
BEGINS_FORMULA = ("=", "+", "-", "@", "\t", "\r")
"""Text that begins so is run by programs for tables; an apostrophe before it keeps it text."""
ROWS_AT_ONCE = 2000
FIRST_COLUMNS = 1200
"""Columns of a drawn window."""
LARGEST_NUMBER = 2**31 - 1

DRAWING = Lock()
"""Settings of the drawing library hold for all threads: one draws at a time."""


class Subject(StrEnum):
    """What has pictures."""

    EXAMINATIONS = "examinations"
    MOTORS = "motors"


class FileKind(StrEnum):
    """Kinds of files in which a picture is given."""

    SVG = "svg"
    PNG = "png"
    CSV = "csv"


MEDIA = {
    FileKind.SVG: "image/svg+xml",
    FileKind.PNG: "image/png",
    FileKind.CSV: "text/csv; charset=utf-8",
}

Number = Annotated[
    int, Path(ge=1, le=LARGEST_NUMBER, description="Number of the examination or of the motor.")
]
Name = Annotated[str, Path(pattern="^[a-z0-9_]{1,64}$", description="Name of the picture.")]
End = Annotated[
    float | None, Query(allow_inf_nan=False, description="End of the axis x; none if left out.")
]
Columns = Annotated[int, Query(ge=1, le=pictures.MOST_COLUMNS, description="Columns of pixels.")]


class OfferedPicture(BaseModel):
    """A picture that there is."""

    name: str
    title: str
    readings: list[str]
    """Names of the readings that it shows."""
    href: str
    """Where its numbers are."""


class Shown:
    """The subject of a request, and how its pictures are had."""

    def __init__(self, subject: Subject, number: Number, desk: AtDesk) -> None:
        self.desk, self.subject, self.number = desk, subject, number
        plant = desk.plant
        if subject is Subject.EXAMINATIONS:
            self.kept = plant.examinations.get(number)
            self.version = f"{number}"
        else:
            self.entry = plant.motors.get(number)
            self.version = f"{number}.{plant.motors.nameplate(self.entry).id}"

    @property
    def tag(self) -> str:
        """What the answers are of, completely."""
        return f"{self.desk.plant.about.plant_id}/{self.subject}/{self.version}/{__version__}"

    def offered(self) -> tuple[pictures.Offered, ...]:
        """Return which pictures there are."""
        if self.subject is Subject.MOTORS:
            return pictures.OF_MOTOR
        return pictures.picture_names(self.desk.plant, self.kept, self.prepared)

    def drawn(self, name: str) -> Drawn:
        """Return a picture."""
        if self.subject is Subject.MOTORS:
            made = self.desk.prepared.get(self.tag, self._of_motor, _size)
            return pictures.of_prepared(made, name)
        return pictures.drawn(self.desk.plant, self.kept, name, self.prepared)

    def _of_motor(self) -> pictures.Prepared:
        return pictures.prepare_motor(self.desk.plant, self.entry)

    def prepared(
        self, plant: Plant, kept: KeptExamination, material: pictures.Material
    ) -> pictures.Prepared:
        """Return a material from the desk's memory."""
        key = f"{self.tag}/{material}"
        return self.desk.prepared.get(key, lambda: pictures.prepare(plant, kept, material), _size)


Asked = Annotated[Shown, Depends(Shown)]


@router.get("")
def list_pictures(_: MayRead, asked: Asked) -> list[OfferedPicture]:
    """Return which pictures an examination or a motor has."""
    place = f"/api/v1/{asked.subject}/{asked.number}/pictures"
    return [
        OfferedPicture(
            name=each.name,
            title=each.title,
            readings=list(each.readings),
            href=f"{place}/{each.name}",
        )
        for each in asked.offered()
    ]


@router.get("/{name}", response_model=PackedPicture)
def show_picture(_: MayRead, asked: Asked, name: Name, request: Request) -> Response:
    """Return the numbers of a picture."""
    key = f"{asked.tag}/{name}"
    unchanged = _unchanged(request, key)
    if unchanged is not None:
        return unchanged
    desk: Desk = asked.desk
    text = desk.prepared.get(
        f"{key}.json", lambda: packed(asked.drawn(name)).model_dump_json().encode(), len
    )
    return Response(text, media_type=JSON, headers=_headers(key))


@router.get("/{name}/window", response_model=PackedWindow)
def show_window(
    _: MayRead, asked: Asked, name: Name, columns: Columns, low: End = None, high: End = None
) -> Response:
    """Return the long curves of a picture between two places, for so many columns of pixels."""
    view = _view(low, high, columns)
    window = packed_window(view.low, view.high, pictures.through(asked.drawn(name), view))
    headers = {"Cache-Control": A_WHILE}
    return Response(window.model_dump_json(), media_type=JSON, headers=headers)


@router.get(
    "/{name}/file.{kind}",
    response_class=Response,
    responses={200: {"content": {media: {} for media in MEDIA.values()}}},
)
def file_of(
    _: MayRead, asked: Asked, name: Name, kind: FileKind, low: End = None, high: End = None
) -> Response:
    """Return a picture as a file: drawn, or all its numbers as a table."""
    shown, view = asked.drawn(name), _view(low, high, FIRST_COLUMNS)
    called = f"{asked.subject.value.removesuffix('s')}-{asked.number}-{name}.{kind}"
    headers = {
        "Content-Disposition": f'attachment; filename="{called}"',
        "Cache-Control": A_WHILE,
    }
    if kind is FileKind.CSV:
        rows = table_of(shown, view.low, view.high)
        return StreamingResponse(_lines(rows), media_type=MEDIA[kind], headers=headers)
    return Response(_file(shown, view, kind), media_type=MEDIA[kind], headers=headers)


def _view(low: float | None, high: float | None, columns: int) -> pictures.View:
    """Return the part of a picture that is asked for; ends in any order."""
    ends = sorted((-math.inf if low is None else low, math.inf if high is None else high))
    return pictures.View(low=ends[0], high=ends[1], columns=columns)


def _size(made: pictures.Prepared) -> int:
    return made.nbytes


def _headers(key: str) -> dict[str, str]:
    return {"ETag": f'"{key}"', "Cache-Control": A_WHILE}


def _unchanged(request: Request, key: str) -> Response | None:
    """Return the short answer to who has it already."""
    known = request.headers.get("if-none-match", "")
    if f'"{key}"' not in known:
        return None
    return Response(status_code=304, headers=_headers(key))


def _file(shown: Drawn, view: pictures.View, kind: FileKind) -> bytes:
    """Return a drawn picture."""
    from cagewise.figures.picture import file_bytes

    with DRAWING:
        return file_bytes(pictures.seen_through(shown, view), kind.value, RESOLUTION)


def _lines(rows: Iterator[Row]) -> Iterator[str]:
    """Yield a table as text, many rows at a time."""
    while batch := list(islice(rows, ROWS_AT_ONCE)):
        sink = io.StringIO()
        csv.writer(sink, lineterminator="\r\n").writerows([map(_cell, row) for row in batch])
        yield sink.getvalue()


def _cell(value: Cell) -> str:
    """Return a cell; text is never run as a formula."""
    if value is None or (isinstance(value, float) and not math.isfinite(value)):
        return ""
    if isinstance(value, float):
        return f"{value:.9g}"
    return f"'{value}" if value.startswith(BEGINS_FORMULA) else value
