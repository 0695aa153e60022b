"""The demo on the screen."""

from __future__ import annotations

from cagewise.cli.options import FileOptions, PageOptions
from cagewise.cli.render import console_of, write_files, write_screen
from cagewise.cli.streams import Streams
from cagewise.report import demo_wording
from cagewise.report.demo_text import truth_sentence, write_case, write_summary
from cagewise.report.page import STYLE_HEADING, page_on
from cagewise.workflows.demo import cases, find_case, run


def show_list(page: PageOptions, streams: Streams) -> None:
    """List the recordings."""
    screen = page_on(*console_of(page, streams))
    screen.fact_table([(c.truth.name, f"{c.truth.where}. {c.truth.story}") for c in cases()])


def show_all(page: PageOptions, streams: Streams) -> None:
    """Examine all recordings and write each in short, the truth beside it."""
    console, symbols = console_of(page, streams)
    page_on(console, symbols).paragraph(demo_wording.DEMO_TITLE, indent=0)
    told = []
    for case, examination in run(cases()):
        write_case(case.truth, examination, console, symbols)
        told.append((case.truth, examination))
    write_summary(told, console, symbols)


def show_one(name: str, outputs: FileOptions, page: PageOptions, streams: Streams) -> None:
    """Examine one recording; write its page and then the truth, and the files asked for."""
    case = find_case(name)
    ((_, examination),) = run((case,))
    write_screen(examination, outputs, page, streams)
    if not outputs.json_on_screen:
        screen = page_on(*console_of(page, streams))
        screen.line()
        screen.paragraph(truth_sentence(case.truth), indent=0, style=STYLE_HEADING)
    write_files(examination, outputs)
