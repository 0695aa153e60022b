"""The file formats on the screen."""

from __future__ import annotations

from typing import TYPE_CHECKING

from cagewise.readers import formats
from cagewise.report import wording
from cagewise.report.page import STYLE_DIM, STYLE_HEADING, page_on

if TYPE_CHECKING:
    from rich.console import Console

    from cagewise.report.symbols import Symbols


def show_formats(console: Console, symbols: Symbols) -> None:
    """List the formats with their endings and what they hold."""
    page = page_on(console, symbols)
    for form in formats():
        endings = " ".join(form.suffixes)
        page.paragraph(f"{form.name}: {form.title} ({endings})", indent=0, style=STYLE_HEADING)
        page.paragraph(form.holds)
        if form.extra:
            page.paragraph(wording.FORMATS_EXTRA.format(extra=form.extra), style=STYLE_DIM)
