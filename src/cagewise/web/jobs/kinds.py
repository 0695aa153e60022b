"""The kinds of work: each calls one use case. They run in a process of their own.

Every kind may be killed at any moment and begun again: the use cases keep everything once.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date
from importlib import import_module
from pathlib import Path
from typing import Any, Protocol

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from cagewise.errors import InputError, UsageError
from cagewise.store import Plant
from cagewise.store.plant import CACHE, UPLOADS
from cagewise.web.numbers import LARGEST

Tell = Callable[[float | None, str], None]


class Run(Protocol):
    """What a kind does."""

    def __call__(self, plant: Plant, arguments: Mapping[str, Any], tell: Tell) -> Any:  # noqa: ANN401 - any JSON
        """Do the work and return what came of it, as JSON values."""


class Arguments(BaseModel):
    """What a kind is asked with."""

    model_config = ConfigDict(extra="forbid")


class ImportArguments(Arguments):
    """Files of a motor, to be imported."""

    motor_id: int = Field(ge=1, le=LARGEST, description="Number of the motor.")
    batch: str = Field("", pattern="^[0-9a-f]*$", description="Files that were sent together.")
    folder: str = Field(
        "", max_length=4096, description="Or a folder or file on the machine of the server."
    )
    day: date | None = Field(
        None, description="When recordings that do not say it themselves were made."
    )
    examine: bool = Field(True, description="Examine the visits they belong to afterwards.")


class ExamineArguments(Arguments):
    """A visit, to be examined."""

    motor_id: int = Field(ge=1, le=LARGEST, description="Number of the motor.")
    day: date | None = Field(None, description="Of the visit; the latest if not given.")
    roles: dict[str, str] = Field(
        default_factory=dict, description="Name of a channel to its role, as IL1 or -UL12*100."
    )
    speed_rpm: float | None = Field(None, gt=0.0, description="Measured speed, r/min.")
    prevalence: float | None = Field(
        None, gt=0.0, lt=1.0, description="Probability of a defect before anything was measured."
    )
    roles_confirmed: bool = Field(False, description="The roles are right as they are stated.")


class ReexamineArguments(Arguments):
    """Visits that an earlier version of the program examined, to be examined again."""

    motor_id: int | None = Field(
        None, ge=1, le=LARGEST, description="Only of this motor; of all if not given."
    )


class ExportArguments(Arguments):
    """The whole plant, to be written into one file."""


KINDS: dict[str, tuple[type[Arguments], str]] = {
    "import": (ImportArguments, "cagewise.web.jobs.kinds:import_files"),
    "examine": (ExamineArguments, "cagewise.web.jobs.kinds:examine"),
    "reexamine": (ReexamineArguments, "cagewise.web.jobs.kinds:reexamine"),
    "export": (ExportArguments, "cagewise.web.jobs.kinds:export"),
}
"""What a kind takes, and the function that does it."""


def check(kind: str, arguments: Mapping[str, Any]) -> dict[str, Any]:
    """Return the arguments of a kind with all that was left out, as JSON values.

    Raises
    ------
    UsageError
        If there is no such kind, or it takes other arguments.
    """
    model, _ = _kind(kind)
    try:
        return model.model_validate(dict(arguments)).model_dump(mode="json")
    except ValidationError as error:
        faults = "; ".join(
            f"{'.'.join(map(str, each['loc']))}: {each['msg']}" for each in error.errors()[:3]
        )
        raise UsageError(f"this cannot be asked for ({faults})", where=kind) from error


def target_of(kind: str) -> str:
    """Return the function of a kind, as ``module:name``.

    Raises
    ------
    UsageError
        If there is no such kind.
    """
    return _kind(kind)[1]


def load(target: str) -> Run:
    """Return the function ``module:name``."""
    module, _, name = target.partition(":")
    run: Run = getattr(import_module(module), name)
    return run


def _kind(kind: str) -> tuple[type[Arguments], str]:
    try:
        return KINDS[kind]
    except KeyError:
        raise UsageError(
            f"there is no work of the kind {kind!r}",
            remedy=f"There are: {', '.join(KINDS)}.",
        ) from None


def import_files(plant: Plant, arguments: Mapping[str, Any], tell: Tell) -> dict[str, Any]:
    """Import files of a motor; then examine the visits they belong to, if that is asked for."""
    from cagewise.workflows.plant_take_in import TakenIn, take_in

    said = ImportArguments.model_validate(dict(arguments))
    motor = plant.motors.get(said.motor_id)
    taken: TakenIn = take_in(
        plant,
        motor,
        _paths(plant, said),
        day=said.day,
        examine=said.examine,
        tell=tell,
    )
    files = [
        {
            "name": each.path.name,
            "fate": each.fate.value,
            "day": None if each.day is None else each.day.isoformat(),
            "reason": each.reason,
            "remedy": each.remedy,
        }
        for each in taken.files
    ]
    visits = [
        {
            "visit_id": each.visit.id,
            "day": each.visit.day.isoformat(),
            "examination_id": None if each.kept is None else each.kept.id,
            "fault": None if each.fault is None else _said(each.fault),
        }
        for each in taken.visits
    ]
    see = _see(motor.id, visits) if taken.is_clean else ""
    return {"files": files, "visits": visits, "see": see}


def examine(plant: Plant, arguments: Mapping[str, Any], tell: Tell) -> dict[str, Any]:
    """Examine a visit and keep the examination."""
    from cagewise.workflows.plant_assess import PlantAssessOptions, assess_visit

    said = ExamineArguments.model_validate(dict(arguments))
    motor = plant.motors.get(said.motor_id)
    tell(None, f"Examining {motor.tag}")
    options = PlantAssessOptions(
        visit=said.day,
        roles=said.roles,
        speed_rpm=said.speed_rpm,
        prevalence=said.prevalence,
        roles_confirmed=said.roles_confirmed,
    )
    done = assess_visit(plant, motor, options)
    return {
        "examination_id": done.kept.id,
        "visit_id": done.visit.id,
        "is_new": done.is_new,
        "see": f"/examinations/{done.kept.id}",
    }


def reexamine(plant: Plant, arguments: Mapping[str, Any], tell: Tell) -> dict[str, Any]:
    """Examine again what an earlier version of the program examined."""
    from cagewise.workflows.plant_reexamine import (
        ReexamineOptions,
        examined_visits,
        reexamine_visit,
    )

    said = ReexamineArguments.model_validate(dict(arguments))
    motors = plant.motors.all() if said.motor_id is None else (plant.motors.get(said.motor_id),)
    due, _ = examined_visits(plant, motors)
    visits = []
    for number, each in enumerate(due):
        tell(number / len(due), f"Examining {each.motor.tag}, the visit of {each.last.day}")
        done = reexamine_visit(plant, each, ReexamineOptions())
        visits.append(
            {
                "tag": each.motor.tag,
                "visit_id": each.last.visit_id,
                "day": each.last.day.isoformat(),
                "before_id": each.last.id,
                "examination_id": done.counts if done.new_keys is not None else None,
                "before": each.last.keys.state,
                "now": "" if done.new_keys is None else done.new_keys.state,
                "fault": {"what": done.refusal, "where": "", "remedy": ""}
                if done.refusal
                else None,
            }
        )
    return {"visits": visits}


EXPORT = "plant.zip"
"""Name of the archive of an export; a new one takes the place of the one before."""


def export(plant: Plant, arguments: Mapping[str, Any], tell: Tell) -> dict[str, Any]:
    """Write the whole plant into one file, to be fetched from the page of the job."""
    from cagewise import store

    ExportArguments.model_validate(dict(arguments))
    written = 0

    def count(name: str) -> None:
        nonlocal written
        written += name == "file exported"
        tell(None, f"Writing ({written} files)")

    archive = export_file(plant.folder)
    done = store.export(plant, archive, overwrite=True, step=count)
    return {"files": done.files, "size_bytes": archive.stat().st_size}


def export_file(plant: Path) -> Path:
    """Return where the archive of a plant is written."""
    return plant / CACHE / "exports" / EXPORT


def _paths(plant: Plant, said: ImportArguments) -> list[Path]:
    """Return the files to import."""
    if said.folder:
        return [Path(said.folder)]
    if not said.batch:
        raise UsageError("neither files nor a folder were named", where="batch")
    folder = plant.folder / UPLOADS / said.batch
    entries = folder.iterdir() if folder.is_dir() else ()
    return sorted(path for path in entries if not path.name.startswith("."))


def _see(motor_id: int, visits: list[dict[str, Any]]) -> str:
    """Return the page that shows what came of an import."""
    if len(visits) != 1:
        return f"/motors/{motor_id}"
    [visit] = visits
    examined = visit["examination_id"]
    return f"/visits/{visit['visit_id']}" if examined is None else f"/examinations/{examined}"


def _said(error: InputError) -> dict[str, str]:
    """Return an error as JSON."""
    return {"what": error.what, "where": error.where, "remedy": error.remedy}
