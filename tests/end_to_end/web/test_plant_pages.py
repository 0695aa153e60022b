"""The pages of a plant in a real browser: decisions are signed, photographs kept, lists narrow.

Nothing is asked of another machine, nothing is refused by the policy, and axe finds nothing.
"""

from __future__ import annotations

import socket
from collections.abc import Iterator
from pathlib import Path
from threading import Thread
from time import monotonic, sleep
from typing import Any

import pytest
import uvicorn
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect

from cagewise.store import Plant
from cagewise.web.app import create_app
from cagewise.web.settings import WebSettings
from support.told_plants import GROWING, NEVER, SOUND, told_plant

pytestmark = pytest.mark.slow

PATIENCE_S = 30.0
PAGES = ("/", "/due", "/motors/1", "/motors/2", "/motors/3", "/motors/1/trend", "/motors/2/trend",
         "/motors/1/decide", "/cases", "/cases?all=1", "/cases/1", "/calls")  # fmt: skip
PHOTO = b"\x89PNG\r\n\x1a\n" + b"\0" * 32


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return told_plant(tmp_path_factory.mktemp("told") / "plant")


@pytest.fixture(scope="module")
def address(folder: Path) -> Iterator[str]:
    app = create_app(WebSettings(plant=folder))
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


def test_a_decision_is_signed_and_followed_to_what_was_found(
    page: Page, address: str, folder: Path, tmp_path: Path
) -> None:
    page.goto(f"{address}/motors/{GROWING}")
    page.get_by_role("link", name="Decide", exact=True).first.click()
    page.get_by_label("What shall be done").fill("Take it out at the shutdown")
    page.get_by_label("By", exact=True).fill("2031-06-01")
    page.get_by_label("Your name").fill("Ada")
    page.get_by_role("button", name="Sign the decision").click()
    expect(page.get_by_role("status")).to_contain_text("signed")
    expect(page.get_by_text("Take it out at the shutdown, by 2031-06-01")).to_be_visible()
    page.get_by_text("What was found in the open motor").click()
    page.get_by_label("Cage damaged").check()
    page.get_by_label("Bars found fully open").fill("2")
    form = page.locator("#outcome")
    form.get_by_label("Bars", exact=True).first.fill("4, 5")
    form.get_by_label("On", exact=True).fill("2031-04-01")
    photo = tmp_path / "rotor.png"
    photo.write_bytes(PHOTO)
    form.get_by_label("Photographs and papers").set_input_files(photo)
    form.get_by_role("button", name="Keep what was found").click()
    expect(page.get_by_text("The call was right.").first).to_be_visible()
    expect(page.get_by_role("img", name="rotor.png")).to_have_count(1)
    page.get_by_text("A remark, a photograph, a paper").click()
    page.get_by_label("What is to be known").fill("ring cracked too")
    page.get_by_role("button", name="Keep the note").click()  # with an empty field of files
    expect(page.get_by_text("ring cracked too")).to_be_visible()
    with Plant.open(folder, read_only=True) as plant:
        (case,) = plant.cases.all()
        authors = [event.author for event in plant.cases.events(case)]
    assert authors.count("Ada") == 1


def test_the_list_narrows_while_somebody_types(page: Page, address: str) -> None:
    page.goto(address)
    rows = page.locator("#list tbody tr")
    expect(rows).to_have_count(3)
    page.get_by_label("Tag or words", exact=True).press_sequentially("so-")
    expect(rows).to_have_count(1)
    expect(rows.first).to_contain_text("SO-2")
    assert page.url.endswith("?q=so-&sort=risk")
    page.get_by_label("Tag or words", exact=True).fill("")
    page.get_by_label("Cage, winding or insulation").select_option("not examined")
    expect(rows.first.locator("a").first).to_have_attribute("href", f"/motors/{NEVER}")
    expect(rows).to_have_count(1)


def test_the_list_and_the_trend_work_without_a_script(browser: Browser, address: str) -> None:
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(address)
    page.get_by_label("Tag or words", exact=True).fill("so")
    page.get_by_role("button", name="Show").click()
    expect(page.locator("#list tbody tr")).to_have_count(1)
    page.get_by_role("link", name="SO-2").click()
    assert page.url == f"{address}/motors/{SOUND}"
    page.goto(f"{address}/motors/{GROWING}/trend")
    assert page.locator("figure.trend .mark-read").count() == 6
    page.get_by_text("All points in a table").click()
    expect(page.get_by_role("table")).to_be_visible()
    context.close()


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [1280, 820, 400])
def test_everybody_can_use_every_page(page: Page, address: str, scheme: Any, width: int) -> None:
    said: list[str] = []
    asked: list[str] = []
    page.on("console", lambda message: said.append(message.text))
    page.on("request", lambda request: asked.append(request.url))
    page.emulate_media(color_scheme=scheme)
    page.set_viewport_size({"width": width, "height": 900})
    for path in PAGES:
        page.goto(f"{address}{path}")
        page.evaluate("document.querySelectorAll('details').forEach((each) => each.open = true)")
        found = Axe().run(page)
        assert found.violations_count == 0, f"{path}: {found.generate_report()}"
        assert page.evaluate("document.documentElement.scrollWidth") <= width, path
    assert not [text for text in said if "Content Security Policy" in text]
    assert all(url.startswith(address) for url in asked)
