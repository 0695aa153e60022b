"""The command "assess" for a motor of the plant: its visit on the screen, its examination kept."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from cagewise.cli.checks import positive, prevalence_of, roles_of
from cagewise.cli.options import PageOptions, RecordOptions, ResultOptions
from cagewise.cli.plant_options import KeptVisitOptions
from cagewise.cli.streams import Streams
from cagewise.errors import UsageError

if TYPE_CHECKING:
    from cagewise.decision.examination import Examination
    from cagewise.workflows.plant_assess import AssessedVisit

MOTOR_FILE_ENDING = ".toml"

KEPT = "Kept as examination {number} of {tag}, visit of {day}: {now}."
KEPT_BEFORE = "The same as examination {number} of {tag}, visit of {day}: {now}."
COMPARED = "Compared with {earlier} of earlier visits{since}."
COMPARED_NOT = "There was nothing of earlier visits to compare with{since}."
SINCE = ", back to the repair of {day}"
AT_IMPORT = "The files are in the plant: state it when they are imported, with --again."


def require_tag(motor: str) -> None:
    """Raise if what stands alone is a motor file: then what was measured is missing.

    Raises
    ------
    UsageError
        With what to add.
    """
    if Path(motor).suffix.casefold() == MOTOR_FILE_ENDING or Path(motor).is_file():
        raise UsageError(
            "a motor file needs the recordings and sheets that were measured",
            where=motor,
            remedy='As in "cagewise assess motor.toml running.cfg"; or give the tag of a motor of '
            "the plant alone.",
        )


def require_motor_file(motor: str, kept: KeptVisitOptions) -> None:
    """Raise if files are given with a tag, or options of a plant with files.

    Raises
    ------
    UsageError
        With what to do instead.
    """
    for value, option in ((kept.plant, "--plant"), (kept.visit, "--visit"), (kept.site, "--site")):
        if value is not None:
            raise UsageError(
                "belongs to a motor of the plant, which is given by its tag and without files",
                where=option,
                remedy='Import the files first: "cagewise import FILES --motor TAG".',
            )
    path = Path(motor)
    if path.suffix.casefold() != MOTOR_FILE_ENDING and not path.exists():
        raise UsageError(
            "there is no such motor file; a tag of the plant takes no files",
            where=motor,
            remedy=f'Import them first: "cagewise import FILES --motor {motor}", then '
            f'"cagewise assess {motor}".',
        )


def assess_kept(
    tag: str,
    records: RecordOptions,
    kept: KeptVisitOptions,
    outputs: ResultOptions,
    page: PageOptions,
    streams: Streams,
) -> Examination:
    """Examine a visit of the plant, keep the examination, and write what was asked for."""
    from cagewise.cli.render import write_files, write_screen
    from cagewise.workflows.files import require_writable
    from cagewise.workflows.plant_assess import PlantAssessOptions, assess_visit
    from cagewise.workflows.plant_folder import open_plant

    _require_plain(records)
    require_writable(outputs.paths, overwrite=outputs.force)
    options = PlantAssessOptions(
        visit=kept.visit,
        roles=roles_of(records.role),
        speed_rpm=positive(records.speed, "--speed", "revolutions per minute"),
        prevalence=prevalence_of(records.prevalence),
        roles_confirmed=records.accept_roles,
    )
    with open_plant(kept.plant) as plant:
        entry = plant.motors.find(tag, site=kept.site)
        done = assess_visit(plant, entry, options)
    write_files(done.examination, outputs)
    write_screen(done.examination, outputs, page, streams)
    if not outputs.json_on_screen:
        _say_kept(entry.tag, done, page, streams)
    return done.examination


def _require_plain(records: RecordOptions) -> None:
    """Raise if something is stated that is settled when files are imported."""
    stated = (
        (bool(records.earlier), "--earlier", "Earlier visits of the plant are compared with."),
        (records.rate is not None, "--rate", AT_IMPORT),
        (bool(records.select), "--select", AT_IMPORT),
        (records.accept_short, "--accept-short", AT_IMPORT),
    )
    for said, option, remedy in stated:
        if said:
            raise UsageError("does not go with a tag of the plant", where=option, remedy=remedy)


def _say_kept(tag: str, done: AssessedVisit, page: PageOptions, streams: Streams) -> None:
    """Say as what the examination is kept, and what it was made from."""
    from cagewise.cli.counting import counted
    from cagewise.cli.render import console_of
    from cagewise.report.page import STYLE_DIM, page_on

    earlier = done.earlier
    since = "" if earlier.since is None else SINCE.format(day=earlier.since)
    past = counted((len(earlier.recordings), "start record"), (len(earlier.sheets), "test sheet"))
    screen = page_on(*console_of(page, streams))
    screen.line()
    screen.paragraph(
        (KEPT if done.is_new else KEPT_BEFORE).format(
            number=done.kept.id,
            tag=tag,
            day=done.visit.day,
            now=counted((len(done.recordings), "recording"), (len(done.sheets), "test sheet")),
        )
        + " "
        + (COMPARED if past else COMPARED_NOT).format(earlier=past, since=since),
        indent=0,
        style=STYLE_DIM,
    )
