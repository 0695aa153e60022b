"""The command "report": the case report of a motor or of a case, for whoever decides."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Annotated

from cyclopts import App, Parameter

from cagewise.cli.options import PageOptions
from cagewise.cli.paper_options import PaperOptions, drawn
from cagewise.cli.plant_options import PlantOptions
from cagewise.cli.status import ExitStatus
from cagewise.cli.streams import Streams
from cagewise.errors import UsageError

Injected = Annotated[Streams, Parameter(parse=False)]

WRITTEN = "Written: {path}"


def add_report_command(app: App) -> None:
    """Give a command line the command."""
    app.command(report)


def report(
    name: str,
    /,
    *,
    wanted: PaperOptions | None = None,
    plant: PlantOptions | None = None,
    page: PageOptions | None = None,
    streams: Injected,
) -> ExitStatus:
    """Write the case report: one page for whoever decides, then everything it stands on.

    Parameters
    ----------
    name
        Tag of a motor: its last examination, told with its open case, else its last one. Or the
        number of a case.
    """
    from cagewise.cli.render import console_of
    from cagewise.report.page import page_on
    from cagewise.workflows.files import replacing, require_writable
    from cagewise.workflows.paper_case import case_paper, file_name, report_of
    from cagewise.workflows.plant_folder import look_into_plant

    wanted, options = wanted or PaperOptions(), plant or PlantOptions()
    _require_one_file(wanted)
    with look_into_plant(options.plant) as opened:
        material = report_of(opened, name, site=options.site)
        paper = case_paper(material, wanted.wishes())
    files = [
        (wanted.output or Path(file_name(material, "pdf" if pdf else "html")), pdf)
        for pdf in _forms(wanted)
    ]
    require_writable([path for path, _ in files], overwrite=wanted.force)
    screen = page_on(*console_of(page or PageOptions(), streams))
    for path, pdf in files:
        content = drawn(paper, pdf=pdf)
        with replacing(path, overwrite=wanted.force) as stream:
            stream.write(content)
        screen.paragraph(WRITTEN.format(path=path), indent=0)
    return ExitStatus.EXAMINED


def _forms(wanted: PaperOptions) -> Iterator[bool]:
    """Yield whether it is a PDF, for every file that is written."""
    if wanted.pdf or not wanted.html:
        yield True
    if wanted.html:
        yield False


def _require_one_file(wanted: PaperOptions) -> None:
    """Raise if two files would have one name, or one would exist before the work is done.

    Raises
    ------
    UsageError
        With what to do.
    OutputError
        If the file may not be written.
    """
    from cagewise.workflows.files import require_writable

    if wanted.output is None:
        return
    if wanted.pdf and wanted.html:
        raise UsageError(
            "names one file, and two are asked for", where="--output", remedy="Leave it out."
        )
    require_writable([wanted.output], overwrite=wanted.force)
