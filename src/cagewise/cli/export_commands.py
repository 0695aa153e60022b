"""The commands that hand over: work orders, readings, the summary of a plant."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from cyclopts import App, Parameter

from cagewise.cli.options import STANDARD_OUTPUT
from cagewise.cli.plant_options import PlantOptions
from cagewise.cli.status import ExitStatus
from cagewise.cli.streams import Streams
from cagewise.errors import UsageError
from cagewise.report.language import ENGLISH

if TYPE_CHECKING:
    from cagewise.report.papers.paper import Paper

Injected = Annotated[Streams, Parameter(parse=False)]
Names = Annotated[list[str] | None, Parameter(consume_multiple=True)]
Output = Annotated[Path | None, Parameter(name=("--output", "-o"), allow_leading_hyphen=True)]


def add_export_commands(app: App) -> None:
    """Give a command line the commands."""
    app.command(work_orders)
    app.command(readings)
    app.command(plant_summary)


def work_orders(  # noqa: PLR0913 - options of their own
    names: Names = None,
    /,
    *,
    csv: bool = False,
    json: bool = False,
    output: Output = None,
    since: date | None = None,
    routine: bool = False,
    link: str = "",
    language: str = ENGLISH,
    on: date | None = None,
    force: bool = False,
    plant: PlantOptions | None = None,
    streams: Injected,
) -> ExitStatus:
    """Write what is decided and not done, and what is advised and not decided, as work orders.

    Every order has a key that stays the same in every export (docs/exports.md).

    Parameters
    ----------
    names
        Tags of motors and numbers of cases; all of the plant if left out.
    csv
        As rows of values separated by commas.
    json
        As JSON, with every text as it was written.
    output
        File to write; the screen if left out.
    since
        Only what was decided, examined or noted on that day or later, as in 2031-05-17.
    routine
        Routine measurements too, and the first one of motors that were never measured.
    link
        Address of the workbench for the links, as in https://plant.example:8730.
    language
        Of the texts, as in de.
    on
        Day for which it holds, as in 2031-05-17; today if left out.
    force
        Replace an existing file.
    """
    from cagewise.report.language import speaking
    from cagewise.report.work_order_output import to_csv, to_json
    from cagewise.workflows.plant_folder import look_into_plant
    from cagewise.workflows.plant_work_orders import OrdersWanted
    from cagewise.workflows.plant_work_orders import work_orders as run

    if csv == json:
        raise UsageError("say --csv or --json, one of them")
    options = plant or PlantOptions()
    wanted = OrdersWanted(
        names=tuple(names or ()), site=options.site, since=since, routine=routine, base=link, on=on
    )
    with look_into_plant(options.plant) as opened, speaking(language):
        document = run(opened, wanted)
    _write_text(to_csv(document) if csv else to_json(document), output, streams, force=force)
    return ExitStatus.EXAMINED


def readings(
    tags: Names = None,
    /,
    *,
    xlsx: Path | None = None,
    csv: Annotated[Path | None, Parameter(allow_leading_hyphen=True)] = None,
    force: bool = False,
    plant: PlantOptions | None = None,
    streams: Injected,
) -> ExitStatus:
    """Write the readings of all examinations, one in a row, as a workbook or as comma-separated.

    Parameters
    ----------
    tags
        Of the motors; all if left out.
    xlsx
        Workbook to write; it needs the extra "sheet".
    csv
        File to write; a single - writes to the screen.
    force
        Replace an existing file.
    """
    from cagewise.workflows.plant_folder import look_into_plant
    from cagewise.workflows.plant_readings import chosen_motors, write_csv, write_xlsx

    if (csv is None) == (xlsx is None):
        raise UsageError("say --xlsx FILE or --csv FILE, one of them")
    options = plant or PlantOptions()
    with look_into_plant(options.plant) as opened:
        motors = chosen_motors(opened, tags or (), site=options.site)
        if xlsx is not None:
            write_xlsx(opened, motors, xlsx, overwrite=force)
        elif csv == STANDARD_OUTPUT:
            write_csv(opened, motors, streams.out)
        elif csv is not None:
            write_csv(opened, motors, csv, overwrite=force)
    return ExitStatus.EXAMINED


def plant_summary(  # noqa: PLR0913 - options of their own
    *,
    output: Annotated[Path, Parameter(name=("--output", "-o"))],
    month: str = "",
    pdf: bool = False,
    html: bool = False,
    letter: bool = False,
    language: str = ENGLISH,
    force: bool = False,
    plant: PlantOptions | None = None,
    streams: Injected,
) -> ExitStatus:
    """Write the summary of the plant for the meeting of a month.

    What changed, the motors by risk, open cases and who decided, what is overdue, our calls against
    what was found, what to measure next: as it was known at the end of the month.

    Parameters
    ----------
    output
        File to write.
    month
        As in 2031-02; the last one that is over if left out.
    pdf
        As PDF; it needs the extra "pdf".
    html
        As a self-contained page.
    letter
        On Letter instead of A4.
    language
        Of the text, as in de.
    force
        Replace an existing file.
    """
    from cagewise.report.language import speaking
    from cagewise.report.papers.paper import PaperSize
    from cagewise.report.papers.plant_summary import plant_summary as written
    from cagewise.workflows.files import replacing, require_writable
    from cagewise.workflows.paper_plant import month_of, plant_material
    from cagewise.workflows.plant_folder import look_into_plant

    if pdf == html:
        raise UsageError("say --pdf or --html, one of them")
    del streams
    first, options = month_of(month), plant or PlantOptions()
    require_writable([output], overwrite=force)
    size = PaperSize.LETTER if letter else PaperSize.A4
    with look_into_plant(options.plant) as opened, speaking(language):
        paper = written(plant_material(opened, first), size=size)
        content = _drawn(paper, pdf=pdf)
    with replacing(output, overwrite=force) as stream:
        stream.write(content)
    return ExitStatus.EXAMINED


def _drawn(paper: Paper, *, pdf: bool) -> bytes:
    """Return a paper as it is handed over."""
    if pdf:
        from cagewise.report.papers.pdf import to_pdf

        return to_pdf(paper)
    from cagewise.report.papers.page import to_page

    return to_page(paper).encode("utf-8")


def _write_text(text: str, output: Path | None, streams: Streams, *, force: bool) -> None:
    """Write a text to a file, or to the screen."""
    from cagewise.workflows.files import write_text_file

    if output is None or output == STANDARD_OUTPUT:
        streams.out.write(text)
    else:
        write_text_file(output, text, overwrite=force)
