"""Pictures in a real browser, under the strictest policy: drawn, zoomed, read by keys."""

from __future__ import annotations

import socket
import threading
import time
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import pytest
from fastapi import FastAPI
from fastapi.responses import HTMLResponse

from cagewise.store import KeptExamination, Plant
from cagewise.web.app import create_app
from cagewise.web.settings import WebSettings
from support.pictured import CAGE

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Locator, Page

pytestmark = pytest.mark.slow
playwright = pytest.importorskip("playwright.sync_api", reason="no browser automation")
uvicorn = pytest.importorskip("uvicorn")

SHOWN = "figure.picture[data-state=shown]"
PAGE = """<!doctype html><html lang="en"><head><meta charset="utf-8"><title>Pictures</title>
<link rel="icon" href="/static/style.css">
<link rel="stylesheet" href="/static/style.css">
<link rel="stylesheet" href="/static/plot.css"></head>
<body><main><h1>Pictures</h1>{figures}</main>
<script type="module" src="/static/plot.js"></script></body></html>"""


def application(plant: Plant, port: int) -> FastAPI:
    """Return the workbench of a plant, and a page that shows some pictures."""
    app = create_app(WebSettings(plant=plant.folder, port=port))

    @app.get("/show/{number}/{names}")
    def show(number: int, names: str) -> HTMLResponse:
        figure = (
            '<figure class="picture" data-picture="/api/v1/examinations/{}/pictures/{}">'
            "<figcaption></figcaption></figure>"
        )
        figures = "".join(figure.format(number, name) for name in names.split(","))
        return HTMLResponse(PAGE.format(figures=figures))

    return app


@pytest.fixture(scope="module")
def server(pictured: tuple[Plant, dict[str, KeptExamination]]) -> Iterator[str]:
    """Address of a server of the pictures."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    serving = uvicorn.Server(
        uvicorn.Config(application(pictured[0], port), port=port, log_level="warning")
    )
    thread = threading.Thread(target=serving.run, daemon=True)
    thread.start()
    while not serving.started:
        time.sleep(0.02)
    yield f"http://127.0.0.1:{port}/show/{pictured[1][CAGE].id}"
    serving.should_exit = True
    thread.join(10)


@pytest.fixture
def page(browser: Browser) -> Iterator[tuple[Page, list[str], list[str]]]:
    """A page with what it complained of and what it asked for."""
    opened = browser.new_page(viewport={"width": 1100, "height": 900})
    complaints: list[str] = []
    asked: list[str] = []
    opened.on("console", lambda said: complaints.append(said.text))
    opened.on("pageerror", lambda error: complaints.append(str(error)))
    opened.on("request", lambda request: asked.append(request.url))
    yield opened, complaints, asked
    opened.close()


def wait_until_shown(figure: Locator) -> None:
    """Bring a figure into view and wait until it is drawn."""
    figure.scroll_into_view_if_needed()
    for _ in range(300):
        if figure.get_attribute("data-state") == "shown":
            return
        time.sleep(0.1)
    pytest.fail("the picture was not drawn within 30 s")


def range_of(page: Page) -> list[float]:
    found: Any = page.evaluate(
        "() => document.querySelector('.picture-plot')._fullLayout.xaxis.range.map(Number)"
    )
    return [float(end) for end in found]


def test_every_kind_of_picture_is_drawn_under_the_strictest_policy(
    server: str, page: tuple[Page, list[str], list[str]]
) -> None:
    shown, complaints, asked = page
    names = ["supply_frame", "direct", "start", "position", "insulation", "resistance", "expected"]

    shown.goto(f"{server}/{','.join(names)}")
    for number in range(len(names)):
        figure = shown.locator("figure.picture").nth(number)
        wait_until_shown(figure)
        assert figure.locator("svg.main-svg").count() >= 1
        assert figure.locator("figcaption strong").inner_text()
        assert len(figure.locator("[role=img]").get_attribute("aria-label") or "") > 40

    assert complaints == []
    assert all(url.startswith(server.split("/show", maxsplit=1)[0]) for url in asked)


def test_a_zoom_asks_once_for_what_is_seen_and_shows_every_bin(
    server: str, page: tuple[Page, list[str], list[str]]
) -> None:
    shown, complaints, asked = page
    shown.goto(f"{server}/spectrum")
    shown.wait_for_selector(SHOWN)
    cursor = shown.locator(".picture-cursor")
    cursor.focus()
    before = range_of(shown)

    for _ in range(6):
        shown.keyboard.press("+")
    with shown.expect_response(lambda answer: "/window?" in answer.url):
        shown.keyboard.press("+")
    shown.wait_for_timeout(300)

    low, high = range_of(shown)
    windows = [url for url in asked if "/window?" in url]
    assert (high - low) == pytest.approx((before[1] - before[0]) / 2**7, rel=1e-3)
    assert 1 <= len(windows) <= 3  # held back while keys follow each other, not one for each
    spacing = shown.evaluate(
        "() => { const x = document.querySelector('.picture-plot').data[0].x; return x[9] - x[8]; }"
    )
    assert spacing == pytest.approx(1.0 / 60.0, rel=0.1) or spacing < 1.0 / 60.0
    shown.keyboard.press("0")
    assert range_of(shown) == pytest.approx(before)
    assert complaints == []


def test_the_cursor_reads_by_keys_what_a_screen_reader_says(
    server: str, page: tuple[Page, list[str], list[str]]
) -> None:
    shown, complaints, _ = page
    shown.goto(f"{server}/supply_frame")
    shown.wait_for_selector(SHOWN)
    cursor = shown.locator(".picture-cursor")
    cursor.focus()

    shown.keyboard.press("n")

    words = cursor.get_attribute("aria-valuetext") or ""
    assert "Hz · order 0.98" in words
    assert "\N{MINUS SIGN}2" in words.split("·")[2]  # slip frequencies off: the lower side line
    assert words == shown.locator(".picture-readout").inner_text()
    shown.locator(".picture-tools select").select_option("supply")
    assert shown.locator(".picture-family-line").count() >= 3
    assert complaints == []


FINGERS = """([kind, id, x]) => {
  const frame = document.querySelector('.picture-frame');
  const box = frame.getBoundingClientRect();
  frame.dispatchEvent(new PointerEvent(kind, { pointerType: 'touch', pointerId: id, bubbles: true,
    clientX: box.left + x * box.width, clientY: box.top + 100 }));
}"""


def test_two_fingers_zoom_and_one_moves(
    server: str, page: tuple[Page, list[str], list[str]]
) -> None:
    shown, complaints, _ = page
    shown.goto(f"{server}/supply_frame")
    shown.wait_for_selector(SHOWN)
    before = range_of(shown)

    for kind, number, x in (
        ("pointerdown", 1, 0.4),
        ("pointerdown", 2, 0.6),
        ("pointermove", 2, 0.8),
        ("pointerup", 1, 0.4),
        ("pointerup", 2, 0.8),
    ):
        shown.evaluate(FINGERS, [kind, number, x])
    zoomed = range_of(shown)
    for kind, x in (("pointerdown", 0.5), ("pointermove", 0.6), ("pointerup", 0.6)):
        shown.evaluate(FINGERS, [kind, 1, x])
    moved = range_of(shown)

    width = zoomed[1] - zoomed[0]
    assert width == pytest.approx(0.5 * (before[1] - before[0]))
    assert moved[1] - moved[0] == pytest.approx(width)
    assert moved[0] < zoomed[0] - 0.05 * width
    assert complaints == []


def test_a_file_is_of_the_part_that_is_looked_at(
    server: str, page: tuple[Page, list[str], list[str]]
) -> None:
    shown, _, _ = page
    shown.goto(f"{server}/spectrum")
    shown.wait_for_selector(SHOWN)
    box = shown.locator(".picture-frame").bounding_box()
    assert box is not None
    link = shown.locator(".picture-files a").nth(2)
    assert "?" not in (link.get_attribute("href") or "?")

    shown.mouse.move(box["x"] + 0.5 * box["width"], box["y"] + 90)
    shown.mouse.down()
    shown.mouse.move(box["x"] + 0.6 * box["width"], box["y"] + 130, steps=4)
    with shown.expect_response(lambda answer: "/window?" in answer.url):
        shown.mouse.up()

    low, high = sorted(range_of(shown))
    assert link.get_attribute("href", timeout=1000) == (
        f"/api/v1/examinations/1/pictures/spectrum/file.csv?low={low}&high={high}"
    )
    with shown.expect_download() as started:
        link.click()
    assert started.value.suggested_filename == "examination-1-spectrum.csv"


def test_expected_bars_are_switched_and_numbers_stand_in_a_table(
    server: str, page: tuple[Page, list[str], list[str]]
) -> None:
    shown, complaints, _ = page
    shown.goto(f"{server}/supply_frame")
    shown.wait_for_selector(SHOWN)
    three = shown.get_by_role("button", name="3 open bars")

    three.click()

    assert three.get_attribute("aria-pressed") == "false"
    hidden = shown.evaluate(
        "() => document.querySelector('.picture-plot').data.filter(t => t.visible === false)"
        ".map(t => t.meta.bars)"
    )
    assert hidden == [3]
    rows = shown.locator(".picture-numbers tbody tr")
    assert rows.count() == 12  # four expected, one read, one limit, on both sides
    links = shown.locator(".picture-files a")
    assert [links.nth(k).inner_text() for k in range(3)] == ["SVG", "PNG", "CSV"]
    assert complaints == []


def test_nothing_is_wrong_for_those_who_do_not_see_or_do_not_point(
    server: str, page: tuple[Page, list[str], list[str]]
) -> None:
    axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="no axe")
    shown, _, _ = page
    shown.goto(f"{server}/supply_frame,direct,insulation")
    for number in range(3):
        wait_until_shown(shown.locator("figure.picture").nth(number))

    found = axe.Axe().run(shown)

    assert found.violations_count == 0, found.generate_report()


def test_the_colours_follow_the_system(
    server: str, page: tuple[Page, list[str], list[str]]
) -> None:
    shown, _, _ = page
    shown.goto(f"{server}/supply_frame")
    shown.wait_for_selector(SHOWN)
    colour = "() => document.querySelector('.picture-plot').data[0].line.color"
    light = shown.evaluate(colour)

    shown.emulate_media(color_scheme="dark")
    for _ in range(50):  # the policy forbids the browser automation to wait by a script
        if shown.evaluate(colour) != light:
            break
        shown.wait_for_timeout(50)

    assert shown.evaluate(colour) != light
