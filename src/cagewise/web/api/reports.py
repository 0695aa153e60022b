"""The case report of a case, an examination or a motor, as PDF or as a self-contained page."""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated

from fastapi import APIRouter, Depends, Query
from fastapi.responses import Response

from cagewise.report.language import ENGLISH
from cagewise.report.papers.case_material import CaseMaterial
from cagewise.report.papers.paper import Paper, PaperSize
from cagewise.store import KeptExamination, Plant
from cagewise.web.api.pictures import DRAWING, Shown
from cagewise.web.api.pictures import Subject as Pictured
from cagewise.web.desk import AtDesk, Desk
from cagewise.web.numbers import Number
from cagewise.web.security.access import MayRead
from cagewise.workflows import paper_case
from cagewise.workflows.pictures import Material, Prepared

router = APIRouter(tags=["reports"])


class Subject(StrEnum):
    """What has a case report."""

    CASES = "cases"
    EXAMINATIONS = "examinations"
    MOTORS = "motors"


class Form(StrEnum):
    """Forms in which a report is given."""

    PDF = "pdf"
    HTML = "html"


class Units(StrEnum):
    """Systems of units."""

    METRIC = "metric"
    US = "us"


MEDIA = {Form.PDF: "application/pdf", Form.HTML: "text/html; charset=utf-8"}

Sheets = Annotated[PaperSize, Query(alias="paper", description="Size of the sheets.")]
Language = Annotated[str, Query(pattern="^[a-z]{2}$", description="ISO 639-1.")]


def wishes(
    size: Sheets = PaperSize.A4, units: Units = Units.METRIC, language: Language = ENGLISH
) -> paper_case.PaperWishes:
    """Return how a paper is wanted."""
    return paper_case.PaperWishes(size=size, units=units.value, language=language)


Wished = Annotated[paper_case.PaperWishes, Depends(wishes)]


@router.get(
    "/{subject}/{number}/report.{form}",
    response_class=Response,
    responses={200: {"content": {media: {} for media in MEDIA.values()}}},
)
def report(
    subject: Subject,
    number: Number,
    form: Form,
    desk: AtDesk,
    _: MayRead,
    wished: Wished,
) -> Response:
    """Return a case report: one page for whoever decides, then everything it stands on."""
    material = _material(desk, subject, number)
    with DRAWING:
        content = _drawn(paper_case.case_paper(material, wished), form)
    name = paper_case.file_name(material, form.value)
    headers = {"Content-Disposition": f'attachment; filename="{name}"'}
    return Response(content, media_type=MEDIA[form], headers=headers)


def _material(desk: Desk, subject: Subject, number: int) -> CaseMaterial:
    """Gather a report; pictures come from the desk's memory."""
    plant = desk.plant

    def prepared(_: Plant, kept: KeptExamination, of: Material) -> Prepared:
        return Shown(Pictured.EXAMINATIONS, kept.id, desk).prepared(plant, kept, of)

    if subject is Subject.CASES:
        return paper_case.report_of_case(plant, plant.cases.get(number), prepared=prepared)
    if subject is Subject.MOTORS:
        return paper_case.report_of_motor(plant, plant.motors.get(number), prepared=prepared)
    return paper_case.report_of_examination(
        plant, plant.examinations.get(number), prepared=prepared
    )


def _drawn(paper: Paper, form: Form) -> bytes:
    """Return a paper as a file."""
    if form is Form.PDF:
        from cagewise.report.papers.pdf import to_pdf

        return to_pdf(paper)
    from cagewise.report.papers.page import to_page

    return to_page(paper).encode()
