"""The command "sheet": an empty test sheet on disk, or what was understood of a filled-in one."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from cagewise.cli.options import PageOptions
from cagewise.cli.render import console_of
from cagewise.cli.sheet_options import SheetOptions
from cagewise.cli.streams import Streams
from cagewise.errors import UsageError
from cagewise.report.page import STYLE_DIM, STYLE_HEADING, Page, page_on
from cagewise.workflows import sheet as workflow

if TYPE_CHECKING:
    from cagewise.measurement.test_sheet import TestSheet
    from cagewise.readers.test_sheet import SheetReading, TableRead

WRITTEN = "{path}: empty test sheet for {motor}"
POSITIONS = (
    "Position table: {count} angles, {step} mechanical degrees apart, {per_pair} per pole pair, "
    "and the first position again at the end; at {frequencies} Hz."
)
NEXT = 'When it is filled in: "cagewise sheet --check {path}" says what was understood.'
CHECKED = "{motor}, measured on {day} at the {place}"
HEADS = ("heading", "readings", "first one", "understood as")
RATIO = "Impedance: voltage over current."
BLANK = "Not filled in: {tables}."
NOTHING = "There are no readings in it yet."
ALL_USABLE = "All of it can be used. Whether it makes sense is judged by the examination."


def write_sheet(
    motor_path: Path,
    out: Path,
    options: SheetOptions,
    page_options: PageOptions,
    streams: Streams,
    *,
    force: bool,
) -> None:
    """Write an empty sheet and say what is in it."""
    if options.decimal_comma and out.suffix.casefold() != ".csv":
        raise UsageError(
            "concerns .csv only",
            where="--decimal-comma",
            remedy="A workbook shows numbers as your spreadsheet is set; TOML has decimal points.",
        )
    written = workflow.write_template(
        motor_path,
        out,
        frequencies_hz=options.frequency,
        decimal_comma=options.decimal_comma,
        overwrite=force,
    )
    page = page_on(*console_of(page_options, streams))
    advice = written.advice
    page.paragraph(WRITTEN.format(path=out, motor=written.motor.tag), indent=0, style=STYLE_HEADING)
    page.paragraph(
        POSITIONS.format(
            count=len(advice.shaft_angles_deg),
            step=f"{advice.step_deg:.4g}",
            per_pair=advice.positions_per_pole_pair,
            frequencies=" and ".join(f"{f:g}" for f in written.frequencies_hz),
        )
    )
    for note in advice.notes:
        page.paragraph(f"{note[0].upper()}{note[1:]}.", style=STYLE_DIM)
    page.paragraph(NEXT.format(path=out))


def check_sheet(
    path: Path, options: SheetOptions, page_options: PageOptions, streams: Streams
) -> None:
    """Read a sheet and say what was understood."""
    reading = workflow.check_sheet(path, waveforms_anywhere=options.waveforms_anywhere)
    page = page_on(*console_of(page_options, streams))
    page.paragraph(_title(reading.sheet), indent=0, style=STYLE_HEADING)
    blank = [table.name for table in reading.tables if not table.headings or not table.measured]
    for table in reading.tables:
        if table.headings and table.measured:
            _write_table(page, table)
    page.line()
    page.paragraph(_outcome(reading), indent=0)
    if blank:
        names = ", ".join(f"[{name}]" for name in dict.fromkeys(blank))
        page.paragraph(BLANK.format(tables=names), indent=0, style=STYLE_DIM)


def _title(sheet: TestSheet) -> str:
    """Return which motor was measured when and where."""
    day = sheet.measured_on.isoformat()
    return CHECKED.format(motor=sheet.motor_tag, day=day, place=sheet.place.value)


def _write_table(page: Page, table: TableRead) -> None:
    """Write what was understood of one table."""
    page.heading(table.place)
    rows = [
        (read.heading, str(read.count), read.written, read.understood)
        for read in table.headings
        if read.dimension
    ]
    words = [(read.heading, read.understood) for read in table.headings if not read.dimension]
    page.fact_table(words)
    if rows:
        page.table(HEADS, rows)
    names = {read.quantity for read in table.headings}
    if table.name == "position" and {"voltage", "current"} <= names:
        page.paragraph(RATIO)


def _outcome(reading: SheetReading) -> str:
    """Return whether there is anything to examine."""
    tests = {"sheet", "conditions"}
    measured = any(table.measured and table.name not in tests for table in reading.tables)
    return ALL_USABLE if measured else NOTHING
