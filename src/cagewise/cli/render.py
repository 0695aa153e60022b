"""What the commands write: the page on the screen, JSON and HTML files."""

from __future__ import annotations

from typing import TYPE_CHECKING

from cagewise.cli.options import FileOptions, PageOptions
from cagewise.cli.streams import Streams
from cagewise.workflows.files import write_text_file

if TYPE_CHECKING:
    from rich.console import Console

    from cagewise.decision.examination import Examination
    from cagewise.report.symbols import Symbols


def console_of(page: PageOptions, streams: Streams) -> tuple[Console, Symbols]:
    """Return where and with which shapes a page is written."""
    return streams.console(page.width), streams.symbols(ascii_only=page.ascii_only)


def write_screen(
    examination: Examination, outputs: FileOptions, page: PageOptions, streams: Streams
) -> None:
    """Write the page on the screen, or the JSON document if that was asked for."""
    if outputs.json_on_screen:
        from cagewise.report.json_output import to_json

        streams.out.write(to_json(examination))
        return
    from cagewise.report.text import write_text

    write_text(examination, *console_of(page, streams))


def write_files(examination: Examination, outputs: FileOptions) -> None:
    """Write JSON, HTML and PDF where they were asked for."""
    if outputs.json is not None and not outputs.json_on_screen:
        from cagewise.report.json_output import to_json

        write_text_file(outputs.json, to_json(examination), overwrite=outputs.force)
    if outputs.html is not None:
        from cagewise.report.html import to_html

        write_text_file(outputs.html, to_html(examination), overwrite=outputs.force)
    if outputs.pdf is not None:
        from cagewise.cli.paper_options import drawn
        from cagewise.workflows.files import replacing
        from cagewise.workflows.paper_case import case_paper, report_of_result

        content = drawn(case_paper(report_of_result(examination)), pdf=True)
        with replacing(outputs.pdf, overwrite=outputs.force) as stream:
            stream.write(content)
