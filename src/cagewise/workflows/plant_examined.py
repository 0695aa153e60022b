"""Use case: a kept examination with everything that its page is made of."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from cagewise import __version__
from cagewise.decision.examination import Examination, Settings
from cagewise.errors import CagewiseError
from cagewise.measurement import Recording, TestSheet
from cagewise.pipeline import Earlier, examine_visit
from cagewise.report.json_output import to_json
from cagewise.store import ExaminationInput, KeptExamination, Plant
from cagewise.workflows.assess import AssessOptions, motor_file_doubted, settings_of
from cagewise.workflows.plant_decode import load_sheet
from cagewise.workflows.plant_motors import motor_of


@dataclass(frozen=True, slots=True, kw_only=True)
class ShownExamination:
    """A kept examination with all that its pictures and sentences are made of."""

    kept: KeptExamination
    examination: Examination | None
    """None where it cannot be had."""
    as_kept: bool
    """Whether it says exactly what was kept; else this program would say something else today."""
    reason: str = ""
    """Why there is none, or why it is not as kept, as a clause."""


def examination_of(plant: Plant, kept: KeptExamination) -> ShownExamination:
    """Return a kept examination, from the result kept beside it or by examining again."""
    text = plant.examinations.document(kept).text
    found = plant.results.find(text, Examination)
    if found is not None and to_json(found) == text:
        return ShownExamination(kept=kept, examination=found, as_kept=True)
    try:
        made = run_again(plant, kept)
    except CagewiseError as error:
        return ShownExamination(kept=kept, examination=None, as_kept=False, reason=error.what)
    if to_json(made) == text:
        _keep(plant, text, made)
        return ShownExamination(kept=kept, examination=made, as_kept=True)
    return ShownExamination(kept=kept, examination=made, as_kept=False, reason=_why_other(kept))


def run_again(plant: Plant, kept: KeptExamination) -> Examination:
    """Run the chain of today over everything that a kept examination looked at.

    Raises
    ------
    CagewiseError
        If something that was kept is not there, damaged, or cannot be read any more.
    """
    document = plant.examinations.document(kept)
    entry = plant.motors.get(kept.motor_id)
    version = next(v for v in plant.motors.nameplates(entry) if v.id == kept.nameplate_id)
    motor = motor_of(version, entry.tag)
    now = [each for each in document.inputs if not each.earlier]
    before = [each for each in document.inputs if each.earlier]
    with motor_file_doubted(motor):
        return examine_visit(
            motor,
            _recordings(plant, now),
            _settings(document.settings),
            sheets=_sheets(plant, now),
            earlier=Earlier(recordings=_recordings(plant, before), sheets=_sheets(plant, before)),
        )


def _settings(kept: Mapping[str, Any]) -> Settings:
    """Return the settings that are kept, with the limits of today."""
    return settings_of(
        AssessOptions(
            speed_rpm=kept.get("speed_rpm"),
            prevalence=kept.get("prevalence"),
            roles_confirmed=bool(kept.get("roles_confirmed", False)),
        )
    )


def _recordings(plant: Plant, inputs: Sequence[ExaminationInput]) -> Iterator[Recording]:
    """Yield the recordings among inputs, one in memory at a time."""
    for each in inputs:
        if each.recording_id is not None:
            yield plant.measurements.load(plant.measurements.recording(each.recording_id))


def _sheets(plant: Plant, inputs: Sequence[ExaminationInput]) -> list[TestSheet]:
    """Return the test sheets among inputs."""
    return [
        load_sheet(plant, plant.measurements.sheet(each.test_sheet_id))
        for each in inputs
        if each.test_sheet_id is not None
    ]


def _keep(plant: Plant, text: str, examination: Examination) -> None:
    """Keep a result for the next time, where the plant can be written."""
    try:
        plant.results.keep(text, examination)
    except CagewiseError:
        return  # it is computed again the next time


def _why_other(kept: KeptExamination) -> str:
    """Return why the chain says something else today."""
    if kept.program_version == __version__:
        return "the program was changed since"
    return f"it was made by version {kept.program_version}, this is version {__version__}"
