"""Files sent from a real browser: dropped, broken off, taken back, refused; without a script."""

from __future__ import annotations

import socket
from collections.abc import Iterator
from pathlib import Path
from threading import Thread
from time import monotonic, sleep

import pytest
import uvicorn
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, Route, expect

from cagewise.web.app import create_app
from cagewise.web.jobs import Jobs
from cagewise.web.settings import WebSettings
from support import job_kinds
from support.demo_plants import TAG, kiln_plant, whole_visit

START, SHEET = "whole-visit-start.parquet", "whole-visit.sheet.toml"
EVIL = "<img src=x onerror=alert(1)>.csv"
PATIENCE_S = 90.0
PLACE = "/motors/1/visits/new"
DROP = """([area, files]) => {
  const transfer = new DataTransfer();
  for (const [name, text] of files) transfer.items.add(new File([text], name));
  const said = {dataTransfer: transfer, bubbles: true, cancelable: true};
  for (const type of ["dragenter", "dragover", "drop"])
    area.dispatchEvent(new DragEvent(type, said));
}"""


@pytest.fixture
def plant(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    job_kinds.patch(monkeypatch)
    made, _ = kiln_plant(tmp_path)
    made.close()
    return made.folder


@pytest.fixture
def address(plant: Path) -> Iterator[str]:
    """Serve the plant."""
    app = create_app(WebSettings(plant=plant))
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


def demo(*names: str) -> list[Path]:
    return [whole_visit().motor.parent / name for name in names]


def send(page: Page, *names: str) -> None:
    page.locator("#files").set_input_files(demo(*names))


def test_files_are_sent_through_a_break_and_imported(page: Page, address: str) -> None:
    said: list[str] = []
    page.on("console", lambda message: said.append(message.text))
    breaks = 1

    def unreliable(route: Route) -> None:
        nonlocal breaks
        if route.request.method == "PATCH" and breaks:
            breaks -= 1
            route.abort("connectionreset")
        else:
            route.fallback()

    page.route("**/api/v1/uploads/*", unreliable)
    page.goto(f"{address}{PLACE}")
    assert Axe().run(page).violations_count == 0
    send(page, SHEET)
    page.wait_for_url(lambda url: "/examinations/" in url, timeout=PATIENCE_S * 1e3)
    assert breaks == 0
    assert not [text for text in said if "Content Security Policy" in text]


def test_dropped_files_that_are_refused_say_why(page: Page, address: str) -> None:
    page.goto(f"{address}{PLACE}")
    area = page.locator(".drop").element_handle()
    page.evaluate(DROP, [area, [["all.zip", "PK"], [EVIL, "a;b\n1;2\n"]]])
    expect(page.get_by_text("Archives are not unpacked here.").first).to_be_visible()
    page.get_by_role("status").get_by_text("see above for the rest").wait_for(
        timeout=PATIENCE_S * 1e3, state="attached"
    )
    assert page.locator("main img").count() == 0
    assert Axe().run(page).violations_count == 0
    page.goto(f"{address}/jobs")
    page.get_by_role("link", name="Import of").click()
    expect(page.get_by_role("row", name="refused")).to_be_visible()
    assert page.locator("main img").count() == 0
    assert Axe().run(page).violations_count == 0


def test_a_file_is_taken_back_by_the_keyboard(page: Page, address: str, plant: Path) -> None:
    page.route("**/api/v1/uploads/*", lambda route: route.abort("connectionreset"))
    page.goto(f"{address}{PLACE}")
    send(page, START)
    button = page.get_by_role("button", name=f"Take back {START}")
    expect(page.get_by_text("The connection broke").first).to_be_visible()
    page.unroute_all()
    button.focus()
    page.keyboard.press("Enter")
    expect(page.get_by_text("Taken back.", exact=True)).to_be_visible()
    expect(page.get_by_role("status")).to_have_text("Nothing was sent.")
    assert not list((plant / "uploads").rglob("*.*"))


def test_a_page_follows_work_and_cancels_it(page: Page, address: str, plant: Path) -> None:
    from cagewise.web.keeping import Workbench

    with Workbench.open(plant) as bench:
        job = Jobs(bench).submit("sleep", {"steps": 2000}, title="Long", by="")
    page.goto(f"{address}/jobs/{job.id}")
    expect(page.locator(".progress-words")).to_contain_text("step", timeout=PATIENCE_S * 1e3)
    assert Axe().run(page).violations_count == 0
    page.get_by_role("button", name="Cancel").click()
    expect(page.get_by_text("Cancelled.")).to_be_visible(timeout=5e3)
    page.goto(f"{address}/jobs")
    assert Axe().run(page).violations_count == 0
    expect(page.get_by_role("row", name="Long")).to_contain_text("cancelled")


def test_all_of_it_works_without_a_script(browser: Browser, address: str) -> None:
    with browser.new_context(java_script_enabled=False) as context:
        page = context.new_page()
        page.goto(f"{address}{PLACE}")
        send(page, SHEET)
        page.get_by_role("button", name="Bring them in").click()
        page.wait_for_url("**/jobs/*")
        deadline = monotonic() + PATIENCE_S
        while page.get_by_text("See what came of it").count() == 0:
            assert monotonic() < deadline
            page.get_by_role("link", name="Look again").click()
        expect(page.get_by_role("heading", level=1)).to_contain_text(f"{SHEET} for {TAG}")
