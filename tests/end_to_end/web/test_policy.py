"""What the browser itself says of our policy: the pages and the library of the plots work under it.

A real Chromium; no page asks anything of another machine.
"""

from __future__ import annotations

import socket
from collections.abc import Iterator
from pathlib import Path
from threading import Thread
from time import monotonic, sleep
from typing import Any

import plotly
import pytest
import uvicorn
from axe_playwright_python.sync_playwright import Axe
from fastapi.responses import FileResponse, HTMLResponse, PlainTextResponse
from playwright.sync_api import Page

from cagewise.store import Plant
from cagewise.web.app import create_app
from cagewise.web.settings import WebSettings
from support.plants import motor_file

PLOTS = Path(plotly.__file__).parent / "package_data" / "plotly.min.js"
PATIENCE_S = 30.0
PAGE = """<!doctype html><title>plot</title><div id="p"></div><script src="/listen.js"></script>
<style>body { display: none }</style><p id="attack" onclick="window.attacked = 1">x</p>
<script>window.attacked = 1</script>
<script src="/plots.js"></script><script type="module" src="/draw.js"></script>"""
LISTEN = """
window.refused = [];
document.addEventListener("securitypolicyviolation",
  (event) => window.refused.push(event.violatedDirective));
"""
DRAW = """
const place = document.getElementById("p");
await Plotly.newPlot(place, [{x: [1, 2, 3], y: [2, 1, 4]}, {z: [[1, 2], [3, 4]], type: "heatmap"}],
  {}, {displayModeBar: true, displaylogo: false});
const image = await Plotly.toImage(place, {format: "png", width: 200, height: 100});
window.drawn = {
  image: image.length,
  cursor: getComputedStyle(document.querySelector(".modebar-btn")).cursor,
  position: getComputedStyle(document.querySelector(".main-svg")).position,
};
"""


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    folder = tmp_path_factory.mktemp("made") / "plant"
    with Plant.create(folder, name="Works") as plant:
        plant.motors.add(motor_file("P-101"))
        plant.motors.add(motor_file("P-1010"))
    app = create_app(WebSettings(plant=folder, show_style=True))
    app.get("/plot")(lambda: HTMLResponse(PAGE))
    app.get("/plots.js")(lambda: FileResponse(PLOTS, media_type="text/javascript"))
    app.get("/listen.js")(lambda: PlainTextResponse(LISTEN, media_type="text/javascript"))
    app.get("/draw.js")(lambda: PlainTextResponse(DRAW, media_type="text/javascript"))
    with socket.create_server(("127.0.0.1", 0)) as listening:
        server = uvicorn.Server(uvicorn.Config(app, log_level="warning", ws="none"))
        thread = Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
        thread.start()
        deadline = monotonic() + PATIENCE_S
        while not server.started and monotonic() < deadline:
            sleep(0.02)
        yield f"http://127.0.0.1:{listening.getsockname()[1]}"
        server.should_exit = True
        thread.join(PATIENCE_S)


def test_the_library_of_the_plots_works_under_the_policy(page: Page, address: str) -> None:
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.goto(f"{address}/plot")
    wait_until_drawn(page)
    drawn = page.evaluate("window.drawn")
    assert drawn["image"] > 1000
    assert (drawn["cursor"], drawn["position"]) == ("pointer", "absolute")  # its own style is there
    assert all(url.startswith((address, "data:", "blob:")) for url in asked)


def wait_until_drawn(page: Page) -> None:
    """Wait; a condition that the browser watches would be a text that it runs, which is refused."""
    until = monotonic() + PATIENCE_S
    while not page.evaluate("window.drawn") and monotonic() < until:
        page.wait_for_timeout(50.0)


def test_nothing_that_stands_in_a_page_runs(page: Page, address: str) -> None:
    page.goto(f"{address}/plot")
    wait_until_drawn(page)
    page.click("#attack")
    assert page.evaluate("window.attacked") is None
    refused = page.evaluate("window.refused")
    assert {"script-src-elem", "script-src-attr", "style-src-elem"} <= set(refused)


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [1280, 800, 400])
def test_every_part_of_a_page_can_be_used_by_everybody(
    page: Page, address: str, scheme: Any, width: int
) -> None:
    said: list[str] = []
    page.on("console", lambda message: said.append(message.text))
    page.emulate_media(color_scheme=scheme)
    page.set_viewport_size({"width": width, "height": 900})
    for path in ("/style", "/accounts", "/account", "/find?tag=P"):
        page.goto(f"{address}{path}")
        found = Axe().run(page)
        assert found.violations_count == 0, found.generate_report()
        assert page.evaluate("document.documentElement.scrollWidth") <= width, path
    assert not [text for text in said if "Content Security Policy" in text]


def test_the_first_stop_of_the_keyboard_leads_to_the_content(page: Page, address: str) -> None:
    page.goto(f"{address}/find")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "main"
