"""A paper as a page in a real browser: light, dark, narrow, and printed on numbered sheets."""

from __future__ import annotations

from pathlib import Path
from typing import Literal

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

from cagewise.report.papers.page import to_page
from cagewise.report.papers.paper import PaperSize
from support.papers import whole_paper
from support.pdf_tools import facts_of, text_of

NARROW, WIDE = 400, 1200


@pytest.mark.parametrize(("width", "scheme"), [(WIDE, "light"), (NARROW, "dark")])
def test_it_is_readable_wide_and_narrow_light_and_dark(
    page: Page, tmp_path: Path, width: int, scheme: Literal["light", "dark"]
) -> None:
    file = tmp_path / "paper.html"
    file.write_text(to_page(whole_paper(PaperSize.LETTER)), encoding="utf-8")
    complaints: list[str] = []
    asked: list[str] = []
    page.on("console", lambda message: complaints.append(message.text))
    page.on("request", lambda request: asked.append(request.url))
    page.set_viewport_size({"width": width, "height": 900})
    page.emulate_media(color_scheme=scheme)
    page.goto(file.as_uri())
    assert page.evaluate("document.documentElement.scrollWidth") == width
    assert page.evaluate("document.images[0].naturalWidth") > 0
    assert {address.partition(":")[0] for address in asked} <= {"file", "data"}
    assert not complaints
    results = Axe().run(page)
    assert results.violations_count == 0, results.generate_report()
    if width == WIDE:
        printed = page.pdf(prefer_css_page_size=True)
        assert facts_of(printed)["Page size"] == "612 x 792 pts (letter)"
        assert "Page 2 of " in " ".join(text_of(printed).split())
