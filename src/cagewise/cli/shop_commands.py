"""The commands for a repair shop: what it receives with a motor, and what it sends back."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

from cyclopts import App, Parameter

from cagewise.cli.options import PageOptions
from cagewise.cli.paper_options import PaperOptions, drawn
from cagewise.cli.plant_options import PlantOptions
from cagewise.cli.status import ExitStatus
from cagewise.cli.streams import Streams
from cagewise.errors import UsageError

if TYPE_CHECKING:
    from cagewise.report.page import Page
    from cagewise.workflows.repair_return import KeptReturn, ReturnReading

Injected = Annotated[Streams, Parameter(parse=False)]

WRITTEN = "Written: {path}"
SHEET = "Return sheet for the shop: {path}"


def add_shop_commands(app: App) -> None:
    """Give a command line the commands."""
    app.command(repair_specification)
    app.command(repair_return)


def repair_specification(  # noqa: PLR0913 - groups of options
    name: str,
    /,
    *,
    sent_for: Annotated[
        list[Literal["cage", "winding", "insulation", "bearings"]] | None, Parameter(name="--for")
    ] = None,
    sheet: Path | None = None,
    on: date | None = None,
    wanted: PaperOptions | None = None,
    plant: PlantOptions | None = None,
    page: PageOptions | None = None,
    streams: Injected,
) -> ExitStatus:
    """Write what a repair shop receives with a motor: checks, limits, hold points, return sheet.

    Parameters
    ----------
    name
        Tag of a motor, or the number of a case.
    sent_for
        What the motor is sent for; what its last examination doubts if left out, else what its
        case is about. Repeatable.
    sheet
        Write the return sheet as a file too, for the shop to fill in: .xlsx, .csv or .toml.
    on
        Day it speaks of, as in 2031-05-17; today if left out.
    """
    from cagewise.cli.render import console_of
    from cagewise.report.page import page_on
    from cagewise.workflows.files import replacing, require_writable
    from cagewise.workflows.paper_repair import (
        file_name,
        repair_paper,
        return_file,
        sending_named,
        subjects_named,
    )
    from cagewise.workflows.plant_folder import look_into_plant

    wanted, options = wanted or PaperOptions(), plant or PlantOptions()
    if wanted.pdf and wanted.html:
        raise UsageError("one form at a time", where="--pdf, --html", remedy="Leave one out.")
    with look_into_plant(options.plant) as opened:
        sent = sending_named(
            opened, name, site=options.site, subjects=subjects_named(sent_for or ()), today=on
        )
    wishes, pdf = wanted.wishes(), not wanted.html
    path = wanted.output or Path(file_name(sent, "pdf" if pdf else "html"))
    require_writable([path, *([sheet] if sheet else [])], overwrite=wanted.force)
    screen = page_on(*console_of(page or PageOptions(), streams))
    files = [(path, WRITTEN, drawn(repair_paper(sent, wishes), pdf=pdf))]
    if sheet is not None:
        files.append((sheet, SHEET, return_file(sent, sheet.suffix, wishes)))
    for target, words, content in files:
        with replacing(target, overwrite=wanted.force) as stream:
            stream.write(content)
        screen.paragraph(words.format(path=target), indent=0)
    return ExitStatus.EXAMINED


def repair_return(  # noqa: PLR0913 - groups of options
    file: Path,
    /,
    *,
    case: str | None = None,
    check: bool = False,
    motor_file: bool = False,
    author: str = "",
    plant: PlantOptions | None = None,
    page: PageOptions | None = None,
    streams: Injected,
) -> ExitStatus:
    """Take in the sheet that a repair shop filled in: into its case, and into the motor file.

    What cannot be right is refused with words, and nothing of the sheet is kept. A later sheet of
    the same case puts the entries of the earlier one right; what only the earlier one says stays.

    Parameters
    ----------
    file
        The return sheet: .xlsx, .csv or .toml; photographs that it names stand beside it.
    case
        Number of the case, where the sheet does not say it.
    check
        Say what was understood, and keep nothing.
    motor_file
        Take the proposed motor file over as a new version.
    author
        Who brings it in; who filled it in if left out.
    """
    from cagewise.cli.render import console_of
    from cagewise.report.page import page_on
    from cagewise.workflows.plant_folder import look_into_plant, open_plant
    from cagewise.workflows.repair_return import keep_return, read_return

    options = plant or PlantOptions()
    opening = look_into_plant if check else open_plant
    kept: KeptReturn | None = None
    with opening(options.plant) as opened:
        reading = read_return(opened, file, case=case, site=options.site)
        if not check:
            kept = keep_return(opened, file, reading, author=author, motor_file=motor_file)
    _show(page_on(*console_of(page or PageOptions(), streams)), reading, kept)
    return ExitStatus.EXAMINED


def _show(page: Page, reading: ReturnReading, kept: KeptReturn | None) -> None:
    """Write what was understood, and what was kept of it."""
    from cagewise.report.page import STYLE_HEADING
    from cagewise.report.papers import repair_return_wording as words
    from cagewise.report.repair_return_text import return_sections, return_title
    from cagewise.workflows.repair_return import view_of

    view = view_of(reading)
    page.paragraph(return_title(view), indent=0, style=STYLE_HEADING)
    for title, lines in return_sections(view):
        page.heading(title)
        for line in lines:
            page.paragraph(line, first=f"{page.symbols.bullet} ")
    page.line()
    if kept is None:
        page.paragraph(words.CHECKED_ONLY, indent=0)
        return
    told = words.KEPT if kept.events else words.KEPT_BEFORE
    page.paragraph(told.format(case=reading.case.id), indent=0)
    if kept.motor_file_from is not None:
        page.paragraph(words.MOTOR_FILE_KEPT.format(day=kept.motor_file_from), indent=0)
    elif reading.proposal is not None:
        page.paragraph(words.MOTOR_FILE_NOT_KEPT, indent=0)
