"""A paper as PDF: tagged, with bookmarks, the same bytes whenever and wherever it is made.

The template is a file of this package. What a paper says reaches it as JSON and its drawings as
files in memory, so that no text can become markup, and nothing is read from or written to a disk
but the template and the fonts.
"""

from __future__ import annotations

import json
from datetime import UTC, datetime, time
from functools import cache
from importlib import resources, util
from pathlib import Path
from typing import TYPE_CHECKING

from cagewise.errors import MissingExtraError
from cagewise.report.papers.drawing import for_print
from cagewise.report.papers.press_data import drawing_files, press_data, spoken

if TYPE_CHECKING:
    from typst import Fonts

    from cagewise.report.papers.paper import Paper

STANDARD = "ua-1"
"""ISO 14289-1: a document that can be read aloud. The press refuses to write one that breaks it."""


def to_pdf(paper: Paper) -> bytes:
    """Return a paper as PDF.

    Raises
    ------
    MissingExtraError
        If the package typst is not installed.
    """
    try:
        import typst
    except ImportError:
        raise MissingExtraError(
            "a PDF cannot be made without the package typst",
            remedy="Install it with: pip install 'cagewise[pdf]'. The same paper can be had as a "
            "page without it.",
        ) from None
    template = resources.files(__package__).joinpath("press.typ").read_bytes()
    with spoken(paper.language):
        data = press_data(paper)
    files = {name: for_print(drawing.svg) for name, drawing in drawing_files(paper)}
    files |= {"main.typ": template, "paper.json": json.dumps(data).encode("ascii")}
    return typst.compile(  # type: ignore[no-any-return, call-overload]  # files by name: not in its stubs
        files,
        format="pdf",
        font_paths=fonts(),
        ignore_system_fonts=True,
        pdf_standards=[STANDARD],
        timestamp=datetime.combine(paper.day, time(), UTC),
    )


@cache
def fonts() -> Fonts:
    """Return the fonts of the drawings' library, which are the same on every machine."""
    from typst import Fonts

    return Fonts(
        include_system_fonts=False, include_embedded_fonts=False, font_paths=[str(_font_folder())]
    )


def _font_folder() -> Path:
    """Return the folder of fonts, found without importing the library."""
    found = util.find_spec("matplotlib")
    if found is None or found.origin is None:  # pragma: no cover  # a package that is required
        message = "the drawing library is not installed"
        raise ImportError(message)
    return Path(found.origin).parent / "mpl-data" / "fonts" / "ttf"
