"""What is handed over: work orders, readings, the summary of a plant."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from tempfile import TemporaryFile
from typing import IO, Annotated, Any

from fastapi import APIRouter, Depends, Query
from fastapi.responses import Response, StreamingResponse
from pydantic import Field

from cagewise.report.language import ENGLISH, speaking
from cagewise.report.papers.page import to_page
from cagewise.report.papers.paper import PaperSize
from cagewise.report.papers.pdf import to_pdf
from cagewise.report.papers.plant_summary import plant_summary
from cagewise.report.work_order import WorkOrdersDocument
from cagewise.report.work_order_output import to_csv, to_json
from cagewise.store import MotorEntry
from cagewise.web.desk import AtDesk, Desk
from cagewise.web.form_values import PlantDay, Words
from cagewise.web.numbers import LARGEST
from cagewise.web.security.access import MayRead
from cagewise.workflows.paper_plant import month_of, plant_material
from cagewise.workflows.plant_readings import csv_lines, write_xlsx
from cagewise.workflows.plant_work_orders import OrdersWanted, work_orders

router = APIRouter(tags=["exports"])

CSV = "text/csv; charset=utf-8"
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
PDF, HTML = "application/pdf", "text/html; charset=utf-8"
CHUNK_BYTES = 1 << 16
MOST = 1000
"""Motors or cases that are named at once."""

Id = Annotated[int, Field(ge=1, le=LARGEST)]
Motors = Annotated[
    Sequence[Id],
    Query(alias="motor", max_length=MOST, description="Numbers; all motors if none is."),
]
Cases = Annotated[
    Sequence[Id], Query(alias="case", max_length=MOST, description="Numbers; all cases if none is.")
]
Since = Annotated[
    PlantDay | None, Query(description="Only what was decided, examined or noted from that day on.")
]
Routine = Annotated[bool, Query(description="Routine measurements too, and first ones.")]
Link = Annotated[
    Words, Query(max_length=200, description="Address of the workbench for the links.")
]
Month = Annotated[str, Query(max_length=7, description="As in 2031-02; the last one if empty.")]
Language = Annotated[str, Query(max_length=8, description="Of the text, ISO 639-1.")]
Size = Annotated[PaperSize, Query(description="Of the sheets.")]


NOTHING: tuple[int, ...] = ()


def _wanted(
    motor: Motors = NOTHING,
    case: Cases = NOTHING,
    since: Since = None,
    routine: Routine = False,  # noqa: FBT002 - a query
    link: Link = "",
) -> OrdersWanted:
    return OrdersWanted(
        motors=tuple(motor), cases=tuple(case), since=since, routine=routine, base=link
    )


def _content(media_type: str) -> dict[int | str, dict[str, Any]]:
    """Return what a route answers, for the description."""
    said = {"schema": {"type": "string", "format": "binary"}}
    return {200: {"description": "The file.", "content": {media_type.partition(";")[0]: said}}}


Asked = Annotated[OrdersWanted, Depends(_wanted)]


@router.get("/work-orders", response_model=WorkOrdersDocument)
def orders(desk: AtDesk, _: MayRead, wanted: Asked, language: Language = ENGLISH) -> Response:
    """Return what is to be done, decided or advised, as work orders with stable keys."""
    with speaking(language):
        text = to_json(work_orders(desk.plant, wanted))
    return Response(text, media_type="application/json")


@router.get("/work-orders.json", include_in_schema=False)
def orders_json(desk: AtDesk, _: MayRead, wanted: Asked, language: Language = ENGLISH) -> Response:
    """Return the same as a file."""
    with speaking(language):
        text = to_json(work_orders(desk.plant, wanted))
    return _file(text.encode("utf-8"), "application/json", "work-orders.json")


@router.get("/work-orders.csv", response_class=Response, responses=_content(CSV))
def orders_csv(desk: AtDesk, _: MayRead, wanted: Asked, language: Language = ENGLISH) -> Response:
    """Return work orders as comma-separated values."""
    with speaking(language):
        text = to_csv(work_orders(desk.plant, wanted))
    return _file(text.encode("utf-8"), CSV, "work-orders.csv")


@router.get("/readings.csv", response_class=StreamingResponse, responses=_content(CSV))
def readings_csv(desk: AtDesk, _: MayRead, motor: Motors = NOTHING) -> StreamingResponse:
    """Return the readings of all examinations as comma-separated values."""
    lines = csv_lines(desk.plant, _motors(desk, motor))
    content = (line.encode("utf-8") for line in lines)
    return StreamingResponse(content, media_type=CSV, headers=_saved("readings.csv"))


@router.get("/readings.xlsx", response_class=StreamingResponse, responses=_content(XLSX))
def readings_xlsx(desk: AtDesk, _: MayRead, motor: Motors = NOTHING) -> StreamingResponse:
    """Return the readings of all examinations as a workbook."""
    made = TemporaryFile()  # noqa: SIM115 - closed when it was sent
    try:
        write_xlsx(desk.plant, _motors(desk, motor), made)
        made.seek(0)
    except BaseException:
        made.close()
        raise
    return StreamingResponse(_sent(made), media_type=XLSX, headers=_saved("readings.xlsx"))


@router.get("/plant-summary.pdf", response_class=Response, responses=_content(PDF))
def summary_pdf(
    desk: AtDesk,
    _: MayRead,
    month: Month = "",
    language: Language = ENGLISH,
    size: Size = PaperSize.A4,
) -> Response:
    """Return the summary of a plant for the meeting of a month, as PDF."""
    with speaking(language):
        paper = plant_summary(plant_material(desk.plant, month_of(month)), size=size)
        content = to_pdf(paper)
    return _file(content, PDF, f"plant-summary-{paper.day:%Y-%m}.pdf")


@router.get("/plant-summary.html", response_class=Response, responses=_content(HTML))
def summary_html(
    desk: AtDesk, _: MayRead, month: Month = "", language: Language = ENGLISH
) -> Response:
    """Return the same as a self-contained page."""
    with speaking(language):
        paper = plant_summary(plant_material(desk.plant, month_of(month)))
        content = to_page(paper).encode("utf-8")
    return _file(content, HTML, f"plant-summary-{paper.day:%Y-%m}.html")


def _motors(desk: Desk, numbers: Sequence[int]) -> Sequence[MotorEntry]:
    """Return motors by their numbers, each once; all if none is named."""
    if not numbers:
        return desk.plant.motors.all()
    return [desk.plant.motors.get(number) for number in dict.fromkeys(numbers)]


def _sent(made: IO[bytes]) -> Iterator[bytes]:
    """Yield a file in pieces, and forget it."""
    with made:
        while piece := made.read(CHUNK_BYTES):
            yield piece


def _file(content: bytes, media_type: str, name: str) -> Response:
    """Return something that is saved, not shown."""
    return Response(content, media_type=media_type, headers=_saved(name))


def _saved(name: str) -> dict[str, str]:
    return {"content-disposition": f'attachment; filename="{name}"'}
