"""Use case: a visit with what is kept of it, and what of it no examination has looked at."""

from __future__ import annotations

from dataclasses import dataclass

from cagewise.store import KeptExamination, KeptRecording, KeptSheet, MotorEntry, Plant, Visit
from cagewise.workflows.plant_decode import newest_recordings, sheets_of


@dataclass(frozen=True, slots=True, kw_only=True)
class ShownVisit:
    """What the plant keeps of a visit."""

    visit: Visit
    entry: MotorEntry
    recordings: tuple[KeptRecording, ...]
    """Each original once, as it was last decoded."""
    sheets: tuple[KeptSheet, ...]
    """Of several of one name the one that counts."""
    replaced: tuple[KeptSheet, ...]
    """Sheets that others of the same name took the place of."""
    examinations: tuple[KeptExamination, ...]
    """The newest first."""
    unexamined: tuple[str, ...]
    """Names of recordings and sheets that the newest examination has not looked at."""
    days_around: tuple[Visit | None, Visit | None]
    """The visits to the motor before and after it."""

    @property
    def is_empty(self) -> bool:
        """Whether nothing was measured."""
        return not self.recordings and not self.sheets


def show_visit(plant: Plant, visit: Visit) -> ShownVisit:
    """Return a visit with what is kept of it."""
    recordings, sheets = newest_recordings(plant, visit), sheets_of(plant, visit)
    examinations = tuple(reversed(plant.examinations.of_visit(visit)))
    entry = plant.motors.get(visit.motor_id)
    counted = {sheet.id for sheet in sheets}
    return ShownVisit(
        visit=visit,
        entry=entry,
        recordings=recordings,
        sheets=sheets,
        replaced=tuple(s for s in plant.measurements.sheets(visit) if s.id not in counted),
        examinations=examinations,
        unexamined=_unexamined(plant, recordings, sheets, examinations),
        days_around=_around(plant, entry, visit),
    )


def _unexamined(
    plant: Plant,
    recordings: tuple[KeptRecording, ...],
    sheets: tuple[KeptSheet, ...],
    examinations: tuple[KeptExamination, ...],
) -> tuple[str, ...]:
    """Return what the newest examination has not looked at."""
    inputs = plant.examinations.document(examinations[0]).inputs if examinations else ()
    seen = {each.recording_id for each in inputs}
    seen_sheets = {each.test_sheet_id for each in inputs}
    return (
        *(each.source for each in recordings if each.id not in seen),
        *(each.source for each in sheets if each.id not in seen_sheets),
    )


def _around(plant: Plant, entry: MotorEntry, visit: Visit) -> tuple[Visit | None, Visit | None]:
    """Return the visits before and after a visit."""
    visits = plant.visits.of(entry)
    place = next(n for n, each in enumerate(visits) if each.id == visit.id)
    before = visits[place - 1] if place else None
    after = visits[place + 1] if place + 1 < len(visits) else None
    return before, after
