"""The commands: parse, call a use case, render. Nothing heavy is imported until it is needed."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

from cyclopts import App, Parameter

from cagewise import __version__
from cagewise.cli.archive_commands import add_archive_commands
from cagewise.cli.checks import positive, prevalence_of, roles_of
from cagewise.cli.export_commands import add_export_commands
from cagewise.cli.history_commands import add_history_commands
from cagewise.cli.options import (
    FileOptions,
    PageOptions,
    RecordOptions,
    ResultOptions,
    SimulatedSheetOptions,
    SimulatedStartOptions,
    SimulationOptions,
    StatedOptions,
)
from cagewise.cli.paper_options import OrderOptions
from cagewise.cli.plant_assess import assess_kept, require_motor_file, require_tag
from cagewise.cli.plant_commands import add_plant_commands
from cagewise.cli.plant_options import KeptVisitOptions, PlantOptions
from cagewise.cli.reexamine_command import reexamine
from cagewise.cli.report_command import add_report_command
from cagewise.cli.serve_commands import add_serve_commands
from cagewise.cli.sheet_options import SheetOptions
from cagewise.cli.shop_commands import add_shop_commands
from cagewise.cli.status import MEANINGS, ExitStatus
from cagewise.cli.streams import Streams
from cagewise.cli.watch_commands import add_watch_commands
from cagewise.errors import UsageError

if TYPE_CHECKING:
    from cagewise.decision.examination import Examination

Injected = Annotated[Streams, Parameter(parse=False)]

EPILOGUE = (
    "Exit status: "
    + "; ".join(f"{status.value} {words}" for status, words in MEANINGS.items())
    + "."
)


def build_app() -> App:
    """Return the command line."""
    app = App(
        name="cagewise",
        help="Decide from measurements whether a squirrel-cage induction motor is defective, "
        "and what to do about it.",
        help_epilogue=EPILOGUE,
        version=__version__,
        default_parameter=Parameter(negative=(), show_default=False),
        result_action="return_value",
    )
    for command in (assess, plan, expect, simulate, sheet, demo, formats):
        app.command(command)
    add_plant_commands(app)
    app.command(reexamine)
    add_archive_commands(app)
    add_history_commands(app)
    add_export_commands(app)
    add_report_command(app)
    add_shop_commands(app)
    add_watch_commands(app)
    add_serve_commands(app)
    return app


def assess(  # noqa: PLR0913 - groups of options
    motor: str,
    files: Annotated[list[Path] | None, Parameter(consume_multiple=True)] = None,
    /,
    *,
    records: RecordOptions | None = None,
    kept: KeptVisitOptions | None = None,
    outputs: ResultOptions | None = None,
    page: PageOptions | None = None,
    streams: Injected,
) -> ExitStatus:
    """Examine a motor: from its motor file and what was measured to a statement.

    FILES are the recordings and test sheets of one visit, running, starting and at rest: each is
    examined, none is averaged. Without FILES, MOTOR is the tag of a motor of the plant: its latest
    visit is examined with earlier starts and sheets to compare with, and the examination is kept.

    Parameters
    ----------
    motor
        Motor file (docs/motor-file.md), or the tag of a motor of the plant.
    files
        Recordings, in any format that "cagewise formats" lists, and test sheets
        (docs/test-sheet.md).
    """
    records, outputs = records or RecordOptions(), outputs or ResultOptions()
    kept, page = kept or KeptVisitOptions(), page or PageOptions()
    if not files:
        require_tag(motor)
        examination = assess_kept(motor, records, kept, outputs, page, streams)
    else:
        require_motor_file(motor, kept)
        examination = _assess_files(Path(motor), files, records, outputs, page, streams)
    return _gated(examination) if outputs.gate else ExitStatus.EXAMINED


def _assess_files(
    motor: Path,
    files: list[Path],
    records: RecordOptions,
    outputs: ResultOptions,
    page: PageOptions,
    streams: Streams,
) -> Examination:
    """Examine files with a motor file; nothing is kept."""
    from cagewise.cli.render import write_files, write_screen
    from cagewise.workflows.assess import AssessOptions
    from cagewise.workflows.assess import assess as run
    from cagewise.workflows.files import require_writable

    require_writable(
        outputs.paths, overwrite=outputs.force, inputs=(motor, *files, *records.earlier)
    )
    options = AssessOptions(
        roles=roles_of(records.role),
        sampling_rate_hz=positive(records.rate, "--rate", "hertz"),
        speed_rpm=positive(records.speed, "--speed", "revolutions per minute"),
        prevalence=prevalence_of(records.prevalence),
        roles_confirmed=records.accept_roles,
        select=tuple(records.select),
        accept_length_mismatch=records.accept_short,
        earlier=tuple(records.earlier),
    )
    examination = run(motor, files, options)
    write_files(examination, outputs)
    write_screen(examination, outputs, page, streams)
    return examination


def demo(
    name: str | None = None,
    /,
    *,
    list_names: Annotated[bool, Parameter(name="--list")] = False,
    outputs: FileOptions | None = None,
    page: PageOptions | None = None,
    streams: Injected,
) -> ExitStatus:
    """Examine the built-in recordings of an invented plant, the truth beside each.

    Parameters
    ----------
    name
        One recording, as a full page; all of them in short if left out.
    list_names
        List the recordings and stop.
    """
    from cagewise.cli.show_demo import show_all, show_list, show_one
    from cagewise.workflows.files import require_writable

    outputs, page = outputs or FileOptions(), page or PageOptions()
    if name is None and outputs.asked:
        raise UsageError(
            "--json, --html and --pdf need one recording", remedy='Name it: "cagewise demo NAME".'
        )
    require_writable(outputs.paths, overwrite=outputs.force)
    if list_names:
        show_list(page, streams)
    elif name is None:
        show_all(page, streams)
    else:
        show_one(name, outputs, page, streams)
    return ExitStatus.EXAMINED


def plan(
    motor: str,
    /,
    *,
    only: Literal["running", "start", "standstill", "winding"] | None = None,
    order: OrderOptions | None = None,
    plant: PlantOptions | None = None,
    page: PageOptions | None = None,
    streams: Injected,
) -> ExitStatus:
    """Say what to record and to test for a motor, and the smallest damage that will then show.

    Parameters
    ----------
    motor
        Motor file (docs/motor-file.md), or the tag of a motor of the plant.
    only
        One occasion: the running record, the next start, the position test or the winding tests.
    """
    from cagewise.cli.show_plan import show_plan

    show_plan(
        motor,
        only,
        order or OrderOptions(),
        plant or PlantOptions(),
        page or PageOptions(),
        streams,
    )
    return ExitStatus.EXAMINED


def expect(
    motor: Path,
    /,
    *,
    record: StatedOptions | None = None,
    page: PageOptions | None = None,
    streams: Injected,
) -> ExitStatus:
    """Say what 0, 1, 2, 3 open bars would show on a motor, from light to full load.

    Parameters
    ----------
    motor
        Motor file (docs/motor-file.md).
    """
    from cagewise.cli.render import console_of
    from cagewise.decision.expect import StatedRecord
    from cagewise.report.expect_text import write_expectation
    from cagewise.workflows.expect import expect as run

    record = record or StatedOptions()
    stated = StatedRecord(
        duration_s=positive(record.seconds, "--seconds", "seconds"),
        noise_db=record.noise_db,
        bits=record.bits,
        sampling_rate_hz=positive(record.rate, "--rate", "hertz"),
    )
    write_expectation(run(motor, stated), *console_of(page or PageOptions(), streams))
    return ExitStatus.EXAMINED


def simulate(  # noqa: PLR0913 - groups of options
    motor: Path,
    /,
    *,
    out: Annotated[Path, Parameter(alias="-o")],
    options: SimulationOptions | None = None,
    starting: SimulatedStartOptions | None = None,
    sheet: SimulatedSheetOptions | None = None,
    force: bool = False,
    page: PageOptions | None = None,
    streams: Injected,
) -> ExitStatus:
    """Simulate a motor with known damage, bar by bar: running, starting, or at rest.

    Parameters
    ----------
    motor
        Motor file (docs/motor-file.md).
    out
        File to write; its ending says the format ("cagewise formats").
    force
        Replace an existing file.
    """
    from cagewise.cli.show_simulation import Wishes, show_simulation
    from cagewise.workflows.files import require_writable

    wishes = Wishes(
        options or SimulationOptions(),
        starting or SimulatedStartOptions(),
        sheet or SimulatedSheetOptions(),
    )
    require_writable([out], overwrite=force, inputs=(motor,))
    show_simulation(motor, out, wishes, page or PageOptions(), streams)
    return ExitStatus.EXAMINED


def sheet(
    motor: Path | None = None,
    /,
    *,
    options: SheetOptions | None = None,
    force: bool = False,
    page: PageOptions | None = None,
    streams: Injected,
) -> ExitStatus:
    """Write an empty test sheet for a motor at rest, or check one that was filled in.

    Parameters
    ----------
    motor
        Motor file (docs/motor-file.md); not needed with --check.
    force
        Replace an existing file.
    """
    from cagewise.cli.show_sheet import check_sheet, write_sheet

    options, page = options or SheetOptions(), page or PageOptions()
    if options.check is not None:
        if motor is not None or options.out is not None:
            raise UsageError("reads one sheet and writes none", where="--check")
        check_sheet(options.check, options, page, streams)
        return ExitStatus.EXAMINED
    if motor is None or options.out is None:
        raise UsageError(
            "a motor file and a sheet to write are needed",
            remedy='As in "cagewise sheet motor.toml -o sheet.xlsx"; or --check FILE to read one.',
        )
    write_sheet(motor, options.out, options, page, streams, force=force)
    return ExitStatus.EXAMINED


def formats(*, page: PageOptions | None = None, streams: Injected) -> ExitStatus:
    """List the file formats that can be read, and how each is recognised."""
    from cagewise.cli.render import console_of
    from cagewise.cli.show_formats import show_formats

    show_formats(*console_of(page or PageOptions(), streams))
    return ExitStatus.EXAMINED


def _gated(examination: Examination) -> ExitStatus:
    """Return the status of an examination behind a gate.

    What passes is sound without a reservation: not of open bars only, and not with a defect more
    probable than not.
    """
    from cagewise.decision.agreement import difference
    from cagewise.decision.verdict import State

    state = examination.verdict.state
    in_doubt = state in (State.SUSPECT, State.DEFECTIVE)
    if in_doubt or any(part.doubted for part in examination.parts):
        return ExitStatus.NOT_SOUND
    agrees = difference(examination.verdict, examination.evidence) is None
    answered = state is State.SOUND and agrees and not examination.verdict.open_bars_only
    if not answered or any(part.unanswered for part in examination.parts):
        return ExitStatus.NOT_DECIDABLE
    return ExitStatus.EXAMINED
