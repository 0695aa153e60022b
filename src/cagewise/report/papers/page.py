"""A paper as one self-contained HTML page: no scripts, no requests, the same bytes each time."""

from __future__ import annotations

import base64
import re
from importlib import resources
from typing import TYPE_CHECKING

from cagewise.report.language import say
from cagewise.report.papers import press_wording
from cagewise.report.papers.drawing import for_page
from cagewise.report.papers.paper import Blank, Heading, Paper, PaperSize
from cagewise.report.papers.plain import plain, plain_line, tied
from cagewise.report.papers.press_data import named, page_of, spoken, title_of, told, with_contents

if TYPE_CHECKING:
    from markupsafe import Markup

_WHOLE = re.compile(r"((?<![\w-])(?=[\w-]{0,20}\d)\w+(?:-\w+)+(?![\w-]))")
"""Days and tags: words with a hyphen and a digit; a browser would part them at the hyphen."""

SHEETS = {PaperSize.A4: "A4", PaperSize.LETTER: "letter"}


def to_page(paper: Paper) -> str:
    """Return a paper as one HTML document."""
    from jinja2 import Environment, StrictUndefined
    from markupsafe import Markup

    folder = resources.files(__package__)
    environment = Environment(
        autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    environment.filters["plain"] = running
    environment.filters["line"] = plain_line
    environment.filters["named"] = named
    environment.filters["title_of"] = title_of
    environment.filters["told"] = told
    environment.filters["image"] = image
    environment.tests["blank"] = lambda cell: isinstance(cell, Blank)
    template = environment.from_string(folder.joinpath("paper.html").read_text(encoding="utf-8"))
    style = folder.joinpath("paper.css").read_text(encoding="utf-8")
    with spoken(paper.language):
        return template.render(
            paper=paper,
            style=Markup(style),  # noqa: S704  # our own file
            sheet=Markup(_sheet(paper)),  # noqa: S704  # built of our own words, escaped
            blocks=[(type(each).__name__.lower(), each) for each in with_contents(paper)],
            sections=_sections(paper),
            wording=press_wording,
            say=say,
        )


def running(text: str) -> Markup:
    """Return text whose days, tags and numbers a line does not part."""
    from markupsafe import Markup, escape

    parts = _WHOLE.split(tied(plain(text)))
    span = Markup('<span class="whole">{}</span>')
    return Markup("").join(
        span.format(part) if place % 2 else escape(part) for place, part in enumerate(parts)
    )


def _sheet(paper: Paper) -> str:
    """Return the rule for printed pages: size, margins, number at the foot."""
    before, between, after = map(_css_string, page_of())
    number = f"{before} counter(page) {between} counter(pages) {after}"
    face = "font: 7.4pt system-ui, sans-serif; color: #444"
    foot = f"@bottom-right {{ content: {number}; {face}; }}"
    margin = "11mm 15mm 15mm" if paper.compact else "20mm 21mm 22mm 23mm"
    return f"@page {{ size: {SHEETS[paper.size]}; margin: {margin}; {foot} }}"


def _css_string(text: str) -> str:
    """Return text as a string of a style sheet, in which nothing but letters and digits is bare."""
    escaped = (each if each.isascii() and each.isalnum() else f"\\{ord(each):06x}" for each in text)
    return '"' + "".join(escaped) + '"'


def image(svg: bytes) -> Markup:
    """Return a drawing as the address of an image: in an image nothing runs and nothing loads."""
    from markupsafe import Markup

    encoded = base64.b64encode(for_page(svg)).decode("ascii")
    return Markup(f"data:image/svg+xml;base64,{encoded}")  # noqa: S704  # letters and digits only


def _sections(paper: Paper) -> list[Heading]:
    """Return the headings of the table of contents."""
    return [each for each in with_contents(paper) if isinstance(each, Heading) and each.level == 1]
