"""The command "reexamine": old visits by the present program; what changed, and why."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from cyclopts import Parameter

from cagewise.cli.checks import positive, prevalence_of, roles_of
from cagewise.cli.history_options import HistoryOptions
from cagewise.cli.options import STANDARD_OUTPUT, PageOptions
from cagewise.cli.plant_options import PlantOptions
from cagewise.cli.status import ExitStatus
from cagewise.cli.streams import Streams
from cagewise.errors import UsageError

if TYPE_CHECKING:
    from cagewise.report.reexamination_view import ReexaminationView
    from cagewise.store import MotorEntry, Plant
    from cagewise.workflows.plant_reexamine import ReexamineOptions

Injected = Annotated[Streams, Parameter(parse=False)]


@Parameter(name="*")
@dataclass(frozen=True, slots=True, kw_only=True)
class WhichVisits(PlantOptions):
    """Which visits are examined again."""

    all_motors: Annotated[bool, Parameter(name="--all")] = False
    """Every motor of the plant."""
    since: date | None = None
    """Only visits of this day and later: 2031-05-17."""
    again: bool = False
    """Also visits whose examination is up to date."""
    dry_run: bool = False
    """Say what would change, and keep nothing."""


@Parameter(name="*")
@dataclass(frozen=True, slots=True, kw_only=True)
class OtherSettings:
    """What is stated now; else the settings of the old examination hold."""

    role: list[str] = field(default_factory=list)
    """Say what a channel is: NAME=ROLE, as in IL1=i_a. Repeatable."""
    speed: float | None = None
    """Shaft speed in r/min, instead of the one stated then."""
    prevalence: float | None = None
    """Share of defective cages among such motors, instead of the one stated then."""
    accept_roles: bool = False
    """The roles are right although they are unlike the nameplate."""


@Parameter(name="*")
@dataclass(frozen=True, slots=True, kw_only=True)
class ShownChanges:
    """How much of the changes is shown."""

    details: bool = False
    """Show every change of every visit."""
    json: Annotated[Path | None, Parameter(allow_leading_hyphen=True)] = None
    """Write the changes as JSON too (docs/history.md); a single - writes them to the screen."""
    force: bool = False
    """Replace an existing file."""


def reexamine(
    tags: Annotated[list[str] | None, Parameter(consume_multiple=True)] = None,
    /,
    *,
    which: WhichVisits | None = None,
    settings: OtherSettings | None = None,
    shown: ShownChanges | None = None,
    page: PageOptions | None = None,
    streams: Injected,
) -> ExitStatus:
    """Examine old visits again with this version; say what changed and why.

    Every visit that was examined before is examined from what is kept, with the settings it was
    examined with and the limits of this version, and the new examination is kept beside the old
    one. What is up to date is passed over, so that a stopped run goes on where it was. A visit
    whose measurements are missing or damaged is named; the others go on, and the exit status is 9.

    Parameters
    ----------
    tags
        Of the motors; --all for every motor.
    """
    from cagewise.cli.history_output import write_json
    from cagewise.cli.render import console_of
    from cagewise.report.reexamination_text import write_reexamination
    from cagewise.report.reexamination_view import Fate
    from cagewise.workflows.files import require_writable
    from cagewise.workflows.plant_folder import look_into_plant, open_plant

    which, shown = which or WhichVisits(), shown or ShownChanges()
    _require_motors(tags or (), which)
    if shown.json is not None and shown.json != STANDARD_OUTPUT:
        require_writable([shown.json], overwrite=shown.force)
    options = _options(settings or OtherSettings(), which)
    opening = look_into_plant if which.dry_run else open_plant
    with opening(which.plant) as plant:
        view = _done(plant, tags or (), which, options, streams)
    outputs = HistoryOptions(json=shown.json, force=shown.force)
    if not write_json(view, outputs, streams):
        screen = console_of(page or PageOptions(), streams)
        write_reexamination(view, *screen, details=shown.details)
    return ExitStatus.PLANT if view.of(Fate.REFUSED) else ExitStatus.EXAMINED


def _require_motors(tags: Sequence[str], which: WhichVisits) -> None:
    """Raise unless it is said which motors."""
    if bool(tags) is which.all_motors:
        raise UsageError(
            "motors are named and --all is given" if tags else "it is not said which motors",
            remedy='As in "cagewise reexamine TAG", or "cagewise reexamine --all".',
        )


def _options(settings: OtherSettings, which: WhichVisits) -> ReexamineOptions:
    """Return what the user stated, checked."""
    from cagewise.workflows.plant_reexamine import ReexamineOptions

    return ReexamineOptions(
        roles=roles_of(settings.role),
        speed_rpm=positive(settings.speed, "--speed", "revolutions per minute"),
        prevalence=prevalence_of(settings.prevalence),
        roles_confirmed=settings.accept_roles,
        again=which.again,
        keep=not which.dry_run,
    )


def _done(
    plant: Plant,
    tags: Sequence[str],
    which: WhichVisits,
    options: ReexamineOptions,
    streams: Streams,
) -> ReexaminationView:
    """Examine visit by visit, and show how far it is on a terminal."""
    from cagewise import __version__
    from cagewise.cli.progress import bar_of_things
    from cagewise.report.reexamination_view import ReexaminationView
    from cagewise.workflows.plant_reexamine import examined_visits, reexamine_visit

    due, never = examined_visits(plant, _motors(plant, tags, which), since=which.since)
    visits = []
    with bar_of_things("examining", len(due), streams) as begin:
        for each in due:
            begin(f"{each.motor.tag} {each.last.day}")
            visits.append(reexamine_visit(plant, each, options))
    return ReexaminationView(
        plant=plant.about.name,
        program_version=__version__,
        kept=options.keep,
        visits=tuple(visits),
        never_examined=never,
    )


def _motors(plant: Plant, tags: Sequence[str], which: WhichVisits) -> Sequence[MotorEntry]:
    """Return the motors that are meant, each once."""
    if which.all_motors:
        return plant.motors.all(site=which.site)
    found = [plant.motors.find(tag, site=which.site) for tag in tags]
    return list({motor.id: motor for motor in found}.values())
