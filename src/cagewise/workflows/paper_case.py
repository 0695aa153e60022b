"""Use case: the case report of a motor or of a case, with everything it is made from."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from datetime import date

from cagewise.decision.examination import Examination
from cagewise.errors import NotKeptError
from cagewise.history.limits import trend_limits
from cagewise.pictures.picture import Picture
from cagewise.report.language import ENGLISH, speaking
from cagewise.report.measures import measuring
from cagewise.report.papers.case_evidence import pictures_of
from cagewise.report.papers.case_material import CaseLook, CaseMaterial, TrendMaterial
from cagewise.report.papers.case_report import case_report
from cagewise.report.papers.paper import Paper, PaperSize
from cagewise.store import Case, KeptExamination, MotorEntry, Plant
from cagewise.workflows.pictures import (
    Material,
    Prepared,
    Preparer,
    drawn,
    picture_names,
    prepare,
)
from cagewise.workflows.plant_cases import story
from cagewise.workflows.plant_examined import examination_of
from cagewise.workflows.plant_points import last_of_visits
from cagewise.workflows.plant_trend_page import told_trend

LONGEST_TAG = 60
"""Characters of a tag in the name of a file."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperWishes:
    """How a paper is wanted."""

    size: PaperSize = PaperSize.A4
    language: str = ENGLISH
    """ISO 639-1."""
    units: str = "metric"
    """``"metric"`` or ``"us"``."""


def report_of(plant: Plant, name: str, *, site: str | None = None) -> CaseMaterial:
    """Gather the report of a case by its number, or of a motor by its tag.

    Of a motor it is the last examination, told with its open case, else with its last one.

    Parameters
    ----------
    plant
        Open.
    name
        Number of a case, or tag of a motor.
    site
        Of the motor, where sites repeat tags.

    Raises
    ------
    NotKeptError
        If there is no such motor or case, or nothing was examined.
    """
    if name.isdigit():
        return report_of_case(plant, plant.cases.get(int(name)))
    return report_of_motor(plant, plant.motors.find(name, site=site))


def report_of_motor(
    plant: Plant, motor: MotorEntry, *, prepared: Preparer = prepare
) -> CaseMaterial:
    """Gather the report of the last examination of a motor.

    Raises
    ------
    NotKeptError
        If the motor was never examined, or its examination cannot be had again.
    """
    made = last_of_visits(plant.examinations.of_motor(motor))
    if not made:
        raise NotKeptError(
            f"{motor.tag} was never examined",
            remedy=f'Import what was measured and examine it: "cagewise assess {motor.tag}".',
        )
    cases = list(plant.cases.all(motor))
    still = [case for case in cases if case.is_open]
    case = next(iter(still[-1:] or cases[-1:]), None)
    return report_of_examination(plant, made[-1], case, prepared=prepared)


def report_of_case(plant: Plant, case: Case, *, prepared: Preparer = prepare) -> CaseMaterial:
    """Gather the report of a case: its last examination, told with its story.

    Raises
    ------
    NotKeptError
        If nothing was examined in its time, or the examination cannot be had again.
    """
    view = story(plant, case, today=case.closed_on or case.opened_on)
    if not view.examined:
        raise NotKeptError(
            f"nothing was examined in the time of case {case.id}",
            remedy=f'Examine the motor: "cagewise assess {view.motor.tag}".',
        )
    last = view.examined[-1].examination
    return report_of_examination(plant, last, case, prepared=prepared)


def report_of_examination(
    plant: Plant,
    kept: KeptExamination,
    case: Case | None = None,
    *,
    prepared: Preparer = prepare,
) -> CaseMaterial:
    """Gather the report of an examination that is kept, with the story of a case if one is given.

    Parameters
    ----------
    plant, kept
        Where it is kept.
    case
        Whose story is told.
    prepared
        How pictures are had; by default they are made.

    Raises
    ------
    NotKeptError
        If the examination cannot be had again.
    """
    shown = examination_of(plant, kept)
    if shown.examination is None:
        raise NotKeptError(f"examination {kept.id} cannot be had again: {shown.reason}")
    motor = plant.motors.get(kept.motor_id)
    day = _last_day(plant, kept, case)
    told = told_trend(plant, motor, today=day)
    return CaseMaterial(
        examination=shown.examination,
        day=day,
        measured_on=kept.day,
        number=kept.id,
        not_as_kept="" if shown.as_kept else shown.reason,
        site=motor.site,
        pictures=_pictures(plant, kept, prepared),
        case=None if case is None else story(plant, case, today=day),
        trend=TrendMaterial(
            view=told.view, events=told.events, limit_bars=trend_limits().limit_bars
        ),
    )


def report_of_result(examination: Examination) -> CaseMaterial:
    """Gather the report of an examination that nothing is kept of."""
    day = _measured_on(examination)
    return CaseMaterial(examination=examination, day=day, measured_on=day)


def case_paper(material: CaseMaterial, wishes: PaperWishes | None = None) -> Paper:
    """Return the case report as it is wanted."""
    wishes = wishes or PaperWishes()
    with speaking(wishes.language), measuring(wishes.units):
        return case_report(material, CaseLook(size=wishes.size))


def file_name(material: CaseMaterial, ending: str) -> str:
    """Return a name without harm for the file of a report."""
    plain = unicodedata.normalize("NFKD", material.examination.motor.tag)
    tag = re.sub(r"[^A-Za-z0-9]+", "-", plain)[:LONGEST_TAG].strip("-")
    kept = material.case
    parts = ["case-report", tag, *([] if kept is None else [f"case-{kept.case.id}"])]
    return "-".join(filter(None, [*parts, material.measured_on.isoformat()])) + f".{ending}"


def _last_day(plant: Plant, kept: KeptExamination, case: Case | None) -> date:
    """Return the last day that a report knows of: the same report is made tomorrow."""
    if case is None:
        return kept.day
    days = [event.day for event in plant.cases.events(case)]
    return max([kept.day, case.opened_on, *days, *([case.closed_on] if case.closed_on else [])])


def _pictures(plant: Plant, kept: KeptExamination, prepared: Preparer) -> tuple[Picture, ...]:
    """Return what the readings look like; every material is made once."""
    had: dict[Material, Prepared] = {}

    def once(plant: Plant, kept: KeptExamination, material: Material) -> Prepared:
        if material not in had:
            had[material] = prepared(plant, kept, material)
        return had[material]

    offered = [each for each in picture_names(plant, kept, once) if each.readings]
    every = (drawn(plant, kept, each.name, once).picture for each in offered)
    return tuple(pictures_of(every))


def _measured_on(examination: Examination) -> date:
    """Return the last day on which something was measured, the epoch where nothing says it."""
    days = [r.start_time.date() for r in examination.records if r.start_time is not None]
    days += [s.start_time.date() for s in examination.starts if s.start_time is not None]
    days += [s.sheet.measured_on for s in examination.sheets]
    return max(days, default=date.min)
