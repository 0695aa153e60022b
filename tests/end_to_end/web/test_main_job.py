"""The main job in a real browser: from a new motor to a closed case, on a plant that was empty.

Nothing but the browser is used, as a person would: forms, links, files chosen from a folder. Every
request is recorded; axe looks at each page.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass, field
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

import pytest

from cagewise.store import Plant
from support.serving import serving

if TYPE_CHECKING:
    from playwright.sync_api import Page

pytest.importorskip("uvicorn", reason="the workbench is not installed")
axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="no axe")
playwright = pytest.importorskip("playwright.sync_api", reason="no browser automation")

pytestmark = pytest.mark.slow

DEMO = Path(str(files("cagewise.workflows") / "demo_data"))
VISIT = ("whole-visit.parquet", "whole-visit-start.parquet", "whole-visit.sheet.toml")
PATIENCE_MS = 180_000
"""For what takes a job: a machine may be busy with other tests."""
REFUSED = (
    "error: Failed to load resource: "
    "the server responded with a status of 422 (Unprocessable Entity)"
)
"""What the browser notes about the form that was sent with nothing but a tag, and nothing else."""
ADVICE = re.compile(r"/examinations/\d+/advice$")


@dataclass
class Walk:
    """A person at the browser, and what the browser did behind their back."""

    page: Page
    address: str
    asked: list[str] = field(default_factory=list)
    complaints: list[str] = field(default_factory=list)
    looked_at: list[str] = field(default_factory=list)

    def listen(self) -> None:
        """Record requests and complaints from now on."""
        context = self.page.context
        context.on("request", lambda request: self.asked.append(request.url))
        context.on("weberror", lambda error: self.complaints.append(str(error.error)))
        context.on("console", lambda said: self.complaints.append(f"{said.type}: {said.text}"))

    def look(self) -> None:
        """Hold the page that is open against the rules for those who do not see or point."""
        found = axe.Axe().run(self.page)
        assert found.violations_count == 0, f"{self.page.url}\n{found.generate_report()}"
        self.looked_at.append(self.page.get_by_role("heading", level=1).inner_text())

    def press(self, name: str) -> None:
        """Press a button."""
        self.page.get_by_role("button", name=name, exact=True).click()

    def follow(self, name: str) -> None:
        """Follow a link of the content."""
        self.page.locator("main").get_by_role("link", name=name, exact=True).first.click()


@pytest.fixture
def walk(page: Page, tmp_path: Path) -> Iterator[Walk]:
    folder = tmp_path / "plant"
    Plant.create(folder, name="Brannoch").close()
    with serving(folder) as (_, address):
        walk = Walk(page, address)
        walk.listen()
        yield walk


def test_from_a_new_motor_to_a_closed_case(walk: Walk) -> None:
    walk.page.goto(walk.address)
    walk.look()
    add_the_motor(walk)
    look_at_the_plan(walk)
    bring_the_files_in(walk)
    look_at_the_evidence(walk)
    change_the_costs(walk)
    decide_and_sign(walk)
    note_the_repair(walk)
    note_what_was_found(walk)
    close_the_case(walk)

    assert len(walk.looked_at) >= 11
    assert walk.complaints == [REFUSED]
    elsewhere = [url for url in walk.asked if urlsplit(url).hostname != "127.0.0.1"]
    assert [url for url in elsewhere if not url.startswith(("blob:", "data:"))] == []
    assert len(walk.asked) > 50


def add_the_motor(walk: Walk) -> None:
    """Type the nameplate; say what is missing, then put it right."""
    walk.follow("Add the first motor")
    walk.look()
    said = tomllib.loads((DEMO / "kiln-fan.toml").read_text())
    walk.page.locator('[name="motor.tag"]').fill("LK-120-M")
    walk.press("Add the motor")
    walk.page.get_by_role("alert").wait_for()
    assert walk.page.locator('[name="motor.tag"]').input_value() == "LK-120-M"
    walk.look()
    for section, values in said.items():
        walk.page.locator("details.section").evaluate_all(
            "all => { for (const d of all) d.open = true; }"
        )
        for key, value in values.items():
            fill(walk, f"{section}.{key}", value)
    walk.press("Add the motor")
    walk.page.wait_for_url(re.compile(r"/motors/\d+"))
    assert walk.page.get_by_role("heading", level=1).inner_text() == "LK-120-M"
    walk.look()


def fill(walk: Walk, name: str, value: object) -> None:
    """Fill a field of the motor file as it stands in a file."""
    control = walk.page.locator(f'[name="{name}"]')
    if isinstance(value, bool):
        value = "yes" if value else "no"
    if isinstance(value, dict):
        value = "\n".join(f"{key} = {number}" for key, number in value.items())
    if control.evaluate("it => it.tagName") == "SELECT":
        control.select_option(str(value))
    else:
        control.fill(str(value))


def look_at_the_plan(walk: Walk) -> None:
    """Read what to measure, and go on to what was measured."""
    walk.follow("Plan a measurement")
    assert walk.page.get_by_role("heading", name="In short").is_visible()
    walk.look()
    walk.follow("Bring in what was measured")


def bring_the_files_in(walk: Walk) -> None:
    """Choose the files of a visit; follow the job to what came of it."""
    walk.look()
    walk.page.locator("#files").set_input_files([DEMO / name for name in VISIT])
    walk.page.wait_for_url(re.compile(r"/(examinations|visits|jobs)/\d+"), timeout=PATIENCE_MS)
    if "/jobs/" in walk.page.url:
        pytest.fail(walk.page.locator("main").inner_text())
    if "/visits/" not in walk.page.url:
        walk.page.get_by_role("link", name=re.compile("^visit of")).click()
    for name in VISIT:
        assert walk.page.locator("main").get_by_text(name).count() >= 1
    walk.look()
    walk.page.get_by_role("link", name=re.compile("^The examination: cage")).click()


def look_at_the_evidence(walk: Walk) -> None:
    """Read the statement; open a reading of the forest plot and wait for its picture."""
    page = walk.page
    assert "/examinations/" in page.url
    assert page.get_by_role("heading", level=1).inner_text().lower().find("defective") >= 0
    reading = page.locator("details.reading").filter(has=page.locator("figure.picture")).first
    reading.locator("summary").focus()
    page.keyboard.press("Enter")
    figure = reading.locator("figure.picture").first
    figure.scroll_into_view_if_needed()
    playwright.expect(figure).to_have_attribute("data-state", "shown", timeout=PATIENCE_MS)
    assert figure.locator("svg.main-svg").count() >= 1
    walk.look()


def change_the_costs(walk: Walk) -> None:
    """Say that a miss costs next to nothing: the advice follows without the page being left."""
    page = walk.page
    advised = page.locator('[data-advice="action"]')
    before = advised.inner_text()
    stated = {"false_pull_cost": "45000", "miss_cost": "600000"}
    changed = {"false_pull_cost": "5000000", "miss_cost": "100"}
    for name, value in changed.items():
        assert page.locator(f'[name="{name}"]').input_value().removesuffix(".0") == stated[name]
        with page.expect_response(ADVICE):
            page.locator(f'[name="{name}"]').fill(value)
    playwright.expect(advised).not_to_have_text(before)
    for name, value in stated.items():
        with page.expect_response(ADVICE):
            page.locator(f'[name="{name}"]').fill(value)
    playwright.expect(advised).to_have_text(before)


def decide_and_sign(walk: Walk) -> None:
    walk.press("Decide and sign")
    walk.look()
    assert walk.page.locator("#action").input_value()
    walk.page.locator("#text").fill("The start and the motor at rest say the same.")
    walk.page.locator("#author").fill("I. Varga")
    walk.press("Sign the decision")
    walk.page.wait_for_url(re.compile(r"/cases/\d+"))
    assert walk.page.get_by_text("I. Varga").first.is_visible()
    walk.look()


def note_the_repair(walk: Walk) -> None:
    page = walk.page
    page.locator("#repair summary").click()
    page.locator("#repair-kind").select_option("cage")
    page.locator("#repair-action").fill("Two bars brazed anew, joints looked at by ultrasound.")
    page.locator("#repair-on").fill("2031-05-14")
    walk.look()
    walk.press("Keep the repair")
    playwright.expect(page.locator(".story")).to_contain_text("Two bars brazed anew")


def note_what_was_found(walk: Walk) -> None:
    page = walk.page
    page.locator("#outcome summary").click()
    page.locator('[name="found"][value="damaged"]').check()
    page.locator("#open-bars").fill("1")
    page.locator("#bars-1").fill("17")
    page.locator("#damage-1").select_option("open")
    page.locator("#outcome-on").fill("2031-05-13")
    walk.press("Keep what was found")
    playwright.expect(page.locator(".story")).to_contain_text("17")
    walk.look()


def close_the_case(walk: Walk) -> None:
    page = walk.page
    page.locator("#close summary").click()
    page.locator("#why").fill("Repaired; to be measured again when it runs.")
    page.locator("#closed-on").fill("2031-05-20")
    walk.press("Close the case")
    playwright.expect(page.get_by_text("Repaired; to be measured again").first).to_be_visible()
    assert page.get_by_role("button", name="Close the case").count() == 0
    walk.look()
    page.goto(f"{walk.address}cases")
    walk.look()
