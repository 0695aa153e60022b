"""Use case: files into a plant, and then an examination of every visit that they belong to."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from cagewise.errors import InputError
from cagewise.store import KeptExamination, MotorEntry, Plant, Visit
from cagewise.workflows.plant_assess import PlantAssessOptions, assess_visit
from cagewise.workflows.plant_files import FoundFile, found_files
from cagewise.workflows.plant_import import Fate, FileReport, Importer, ImportOptions

Tell = Callable[[float | None, str], None]
"""Gets the share of the work that is done, 0 to 1 (None: nobody can say), and what is being done
now. It may raise to end the work: what was kept by then stays."""

_IMPORT_SHARE = 0.5
"""Share of the work that importing is, if an examination follows: about right for records of a
minute."""


def nobody(_share: float | None, _words: str) -> None:
    """Tell nobody."""


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitTaken:
    """A visit that files were imported into."""

    visit: Visit
    kept: KeptExamination | None
    """None if it was not examined."""
    fault: InputError | None = None
    """Why it could not be examined, where the user can mend that."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TakenIn:
    """What became of the files."""

    files: tuple[FileReport, ...]
    visits: tuple[VisitTaken, ...]
    """In the order of their days."""

    @property
    def is_clean(self) -> bool:
        """Whether nothing was refused and everything could be examined."""
        used = all(each.fate in {Fate.IMPORTED, Fate.KNOWN} for each in self.files)
        return used and all(each.fault is None for each in self.visits)


def take_in(
    plant: Plant,
    motor: MotorEntry,
    paths: Sequence[Path],
    *,
    day: date | None = None,
    examine: bool = True,
    tell: Tell = nobody,
) -> TakenIn:
    """Import files of a motor and examine the visits they belong to.

    Killed half-way, it is completed by calling it again: everything is kept once.

    Parameters
    ----------
    plant
        Open for writing.
    motor
        Of all the files.
    paths
        Files and folders.
    day
        When recordings that do not say it were made.
    examine
        Whether to examine the visits.
    tell
        Told how far it is.

    Raises
    ------
    StoreError
        If the plant cannot be written; what was kept before stays.
    """
    options = ImportOptions(tag=motor.tag, site=motor.site, day=day)
    importer = Importer(plant, options)
    found = list(found_files(paths))
    sizes = [_size_of(each) for each in found]
    share, whole, done = _IMPORT_SHARE if examine else 1.0, max(sum(sizes), 1), 0
    reports: list[FileReport] = []
    for each, size in zip(found, sizes, strict=True):
        tell(share * done / whole, f"Reading {each.path.name}")
        reports.append(importer.take(each))
        done += size
    visits = _visits(plant, motor, reports)
    taken = []
    for number, visit in enumerate(visits):
        if examine:
            tell(
                share + (1.0 - share) * number / len(visits), f"Examining the visit of {visit.day}"
            )
        taken.append(_examined(plant, motor, visit) if examine else _not_examined(visit))
    return TakenIn(files=tuple(reports), visits=tuple(taken))


def _visits(plant: Plant, motor: MotorEntry, reports: Sequence[FileReport]) -> list[Visit]:
    """Return the visits that files belong to; also of those that were there before."""
    numbers: dict[int, Visit] = {}
    for report in reports:
        if report.fate not in {Fate.IMPORTED, Fate.KNOWN}:
            continue
        if report.day is not None:
            visit = plant.visits.on(motor, report.day)
            numbers[visit.id] = visit
        else:
            numbers |= {visit.id: visit for visit in _visits_of_known(plant, motor, report.path)}
    return sorted(numbers.values(), key=lambda visit: visit.day)


def _visits_of_known(plant: Plant, motor: MotorEntry, path: Path) -> list[Visit]:
    """Return the visits to a motor that a file was imported into before."""
    from cagewise.store import SourceFile

    noted = plant.ledger.find(SourceFile.of(path))
    if noted is None:
        return []
    visits = map(plant.visits.get, plant.measurements.visits_of_file(noted.checksum))
    return [visit for visit in visits if visit.motor_id == motor.id]


def _examined(plant: Plant, motor: MotorEntry, visit: Visit) -> VisitTaken:
    """Examine a visit; what the user has to state first is no failure of the import."""
    try:
        done = assess_visit(plant, motor, PlantAssessOptions(visit=visit.day))
    except InputError as error:
        return VisitTaken(visit=visit, kept=None, fault=error)
    return VisitTaken(visit=visit, kept=done.kept)


def _not_examined(visit: Visit) -> VisitTaken:
    return VisitTaken(visit=visit, kept=None)


def _size_of(found: FoundFile) -> int:
    """Return the bytes of a recording or sheet; 0 if it is gone."""
    try:
        return sum(path.stat().st_size for path in found.files)
    except OSError:
        return 0
