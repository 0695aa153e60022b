"""An examination: what was found, why, what else it could be, what to do and what it costs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, Response

from cagewise.decision.examination import Examination
from cagewise.decision.parts import PartVerdict
from cagewise.report import (
    cost_text,
    cost_wording,
    course_text,
    facts,
    likelihood_text,
    likelihood_wording,
    next_text,
    sentences,
    visit_facts,
    visit_wording,
    wording,
)
from cagewise.report.explanation_text import explained, not_excluded
from cagewise.report.forest_page import together_note
from cagewise.report.forest_view import forest_view
from cagewise.report.html import SHAPES, heads_of, to_html
from cagewise.web.desk import AtDesk
from cagewise.web.numbers import Number
from cagewise.web.security.access import MayRead
from cagewise.web.templating import page
from cagewise.workflows.pictures import Offered, picture_names
from cagewise.workflows.plant_examined import examination_of

router = APIRouter(include_in_schema=False)


@router.get("/examinations/{number}", response_class=HTMLResponse)
def examination(request: Request, number: Number, desk: AtDesk, _: MayRead) -> HTMLResponse:
    """Show an examination, every reading of which can be opened."""
    kept = desk.plant.examinations.get(number)
    shown = examination_of(desk.plant, kept)
    visit = desk.plant.visits.get(kept.visit_id)
    around: dict[str, Any] = {
        "motor": desk.plant.motors.get(kept.motor_id),
        "kept": kept,
        "shown": shown,
        "kept_words": kept.keys.state,
        "others": [e for e in desk.plant.examinations.of_visit(visit) if e.id != number],
    }
    if shown.examination is None:
        return page(request, "examination_missing.html", title="Examination", **around)
    made = shown.examination
    title = f"{made.motor.tag}: {sentences.state(made.verdict)}"
    links = _Links(number, picture_names(desk.plant, kept))
    return page(
        request, "examination.html", title=title, **around, **_said(made), **_drawn(made, links)
    )


@router.get("/examinations/{number}/report")
def report(number: Number, desk: AtDesk, _: MayRead) -> Response:
    """Return the report as one self-contained HTML file."""
    kept = desk.plant.examinations.get(number)
    shown = examination_of(desk.plant, kept)
    if shown.examination is None:
        return Response(shown.reason, status_code=409, media_type="text/plain; charset=utf-8")
    name = f"examination-{number}.html"
    return Response(
        to_html(shown.examination),
        media_type="text/html; charset=utf-8",
        headers={"Content-Disposition": f'attachment; filename="{name}"'},
    )


def _said(made: Examination) -> dict[str, Any]:
    """Return the sentences of the page: those of the report, from the same place."""
    section = explained(made)
    return {
        "examination": made,
        "lead": made.leading,
        "criticality": made.motor.criticality,
        "visit": visit_facts,
        "visit_words": visit_wording,
        "sections": wording.SECTION,
        "wording": wording,
        "sentences": sentences,
        "course": course_text,
        "cost": cost_text,
        "cost_words": cost_wording,
        "weighed": cost_text.costs_shown(made),
        "facts": facts,
        "likelihood": likelihood_text,
        "likelihood_words": likelihood_wording,
        "explained": section,
        "heads": heads_of(section),
        "not_excluded": not_excluded(made),
        "next_rows": next_text.next_rows(made),
        "next_note": next_text.next_note(made),
        "together_note": together_note(made),
    }


def _drawn(made: Examination, links: _Links) -> dict[str, Any]:
    """Return what the page draws."""
    forest = forest_view(made)
    return {
        "shape": SHAPES[made.verdict.state],
        "forest": forest,
        "links": links,
    }


@dataclass(frozen=True, slots=True)
class _Links:
    """Where the pictures of an examination are."""

    number: int
    offered: tuple[Offered, ...]

    def of_reading(self, name: str) -> list[str]:
        """Return the addresses of the pictures of a reading."""
        return [self._place(each) for each in self.offered if name in each.readings]

    def of_part(self, part: PartVerdict) -> list[str]:
        """Return the addresses of the pictures of all readings of a part."""
        names = {finding.reading for finding in part.findings}
        return [self._place(each) for each in self.offered if names & set(each.readings)]

    def of_whole(self) -> list[str]:
        """Return the addresses of the pictures that show no reading alone."""
        return [self._place(each) for each in self.offered if not each.readings]

    def _place(self, offered: Offered) -> str:
        return f"/api/v1/examinations/{self.number}/pictures/{offered.name}"
