"""What is measured, brought in with a real browser: typed, dropped, put right, examined."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from cagewise.store import Plant
from cagewise.workflows import demo
from cagewise.workflows.plant_decode import load_sheet, newest_recordings, sheets_of, state_roles
from cagewise.workflows.plant_import import ImportOptions, import_files
from cagewise.workflows.plant_roles import look_at_roles

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

pytestmark = pytest.mark.slow
pytest.importorskip("playwright.sync_api", reason="no browser automation")
axe = pytest.importorskip("axe_playwright_python.sync_playwright")

A_WHILE_MS = 90_000
CASE = demo.find_case("whole-visit")
PASTE = """(cell, text) => {
  const data = new DataTransfer();
  data.setData("text/plain", text);
  const about = { clipboardData: data, bubbles: true, cancelable: true };
  cell.focus();
  cell.dispatchEvent(new ClipboardEvent("paste", about));
}"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Folder of a plant with a motor, and a record of it whose currents b and c are swapped."""
    folder = tmp_path_factory.mktemp("brought") / "plant"
    with Plant.create(folder, name="Works") as plant:
        motor = plant.motors.add(CASE.motor.read_text("utf-8"), valid_from=date(2020, 1, 1))
        list(import_files(plant, CASE.files[:1], ImportOptions(tag=motor.tag)))
        [visit] = plant.visits.of(motor)
        [kept] = newest_recordings(plant, visit)
        names = [each.name for each in look_at_roles(plant, kept).channels]
        state_roles(plant, kept, {names[1]: "i_c", names[2]: "i_b"})
    return folder


@pytest.fixture(scope="module")
def address(folder: Path) -> Iterator[str]:
    """Address of the served plant."""
    command = [sys.executable, "-m", "cagewise", "serve", "--plant", str(folder), "--port", "0"]
    process = subprocess.Popen(  # noqa: S603 - our own program
        command,
        stdout=subprocess.PIPE,
        text=True,
        env=os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)},
    )
    assert process.stdout is not None
    try:
        yield process.stdout.readline().strip().removeprefix(f"{folder}: ").rstrip("/")
    finally:
        process.terminate()
        process.communicate()


@pytest.fixture
def tab(browser: Browser, address: str) -> Iterator[Page]:
    """A tab in which nothing goes wrong, and from which nothing leaves the machine."""
    context = browser.new_context(viewport={"width": 1000, "height": 900})
    page = context.new_page()
    wrong: list[str] = []
    page.on("pageerror", lambda error: wrong.append(str(error)))
    page.on("console", lambda said: wrong.append(said.text) if _is_fault(said) else None)
    page.on(
        "request", lambda asked: wrong.append(asked.url) if _leaves(asked.url, address) else None
    )
    yield page
    context.close()
    assert not wrong


def _is_fault(said: Any) -> bool:
    """Return whether a line of the console is a fault, and not the status of a refused form."""
    return said.type == "error" and not said.text.startswith("Failed to load resource")


def _leaves(url: str, address: str) -> bool:
    return not url.startswith((address, "data:", "blob:"))


def faults_of(page: Page) -> list[tuple[str, Any]]:
    """Return what hinders people who cannot see or point."""
    found = axe.Axe().run(page).response["violations"]
    return [(each["id"], [node["html"] for node in each["nodes"]]) for each in found]


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [1280, 400])
def test_pages_can_be_used_by_all(browser: Browser, address: str, width: int, scheme: Any) -> None:
    context = browser.new_context(viewport={"width": width, "height": 900}, color_scheme=scheme)
    page = context.new_page()
    for place in (
        "/motors/new",
        "/motors/1/file",
        "/motors/1/file?view=text",
        "/motors/1/plan",
        "/motors/1/expect",
        "/motors/1/visits/new",
        "/visits/1",
        "/visits/1/sheet",
    ):
        page.goto(address + place)
        assert not faults_of(page), place
        wide = page.evaluate("document.documentElement.scrollWidth")
        assert wide <= width, f"{place} is {wide} pixels wide"
    context.close()


def test_a_new_motor_is_typed_in(tab: Page, address: str) -> None:
    tab.goto(f"{address}/motors/new")
    for label, value in (
        ("Tag", "K-9"),
        ("Rated power, kW", "75"),
        ("Rated voltage, line to line, V", "400"),
        ("Rated frequency, Hz", "50"),
        ("Full-load speed, r/min", "1480"),
    ):
        tab.get_by_label(label, exact=True).fill(value)
    tab.get_by_role("button", name="Add the motor").click()
    assert "rated_current_a: is missing" in tab.get_by_role("alert").inner_text()
    tab.get_by_label("Rated current, A").fill("134")
    tab.get_by_label("Number of poles").fill("4")
    tab.get_by_role("button", name="Show it as the text of a file").click()
    assert 'tag = "K-9"' in tab.get_by_label("Motor file (TOML)").input_value()
    tab.get_by_role("button", name="Show it as a form").click()
    tab.get_by_role("button", name="Add the motor").click()
    tab.wait_for_url(re.compile(r"/motors/\d+$"))


def test_a_sheet_is_typed_pasted_and_survives_a_lost_tab(
    tab: Page, address: str, folder: Path
) -> None:
    tab.goto(f"{address}/visits/1/sheet")
    tab.get_by_label("Where the leads were").select_option("motor terminals")
    for pair, value in (("a-b", "12.31"), ("b-c", "12.33"), ("c-a", "99")):
        tab.get_by_label(f"Resistance {pair}", exact=True).first.fill(value)
    assert tab.get_by_text("The three resistances differ by").is_visible()
    tab.get_by_label("Resistance c-a", exact=True).first.fill("12.30")
    assert not tab.get_by_text("The three resistances differ by").is_visible()
    first = tab.get_by_label("Inductance a-b, row 1", exact=True).first
    first.evaluate(PASTE, "5.1\t5.2\t5.3\n5.2\t5.1\t52\n5.0\t5.3\t5.1\n5.1\t5.2\t5.2\n")
    wrong = tab.get_by_label("Inductance c-a, row 2", exact=True).first
    assert wrong.input_value() == "52"
    assert tab.get_by_text("Inductance c-a, row 2: 52 is far from the others").is_visible()
    wrong.fill("5.2")
    wrong.press("Enter")
    focused = tab.evaluate("document.activeElement.getAttribute('aria-label')")
    assert focused == "Resistance a-b, row 2"
    tab.get_by_text("Draft kept in this browser").wait_for()
    tab.goto(f"{address}/visits/1")
    tab.goto(f"{address}/visits/1/sheet")
    tab.get_by_role("button", name="Take it up").click()
    assert tab.get_by_label("Inductance c-a, row 2", exact=True).first.input_value() == "5.2"
    tab.get_by_role("button", name="Keep the sheet").click()
    tab.wait_for_url(re.compile(r"/visits/1\?kept="))
    assert tab.evaluate("Object.keys(localStorage).length") == 0
    with Plant.open(folder, read_only=True) as plant:
        [kept] = sheets_of(plant, plant.visits.get(1))
        sheet = load_sheet(plant, kept)
    assert [len(each.shaft_angle_rad) for each in sheet.positions] == [4, 4, 4]
    assert sheet.resistance is not None


def test_roles_are_asked_put_right_and_examined(tab: Page, address: str) -> None:
    tab.goto(f"{address}/visits/1")
    assert tab.get_by_role("heading", name="Which channel is which?").is_visible()
    tab.get_by_role("button", name="Take the proposal into the table").click()
    tab.get_by_role("button", name="Save these and examine").click()
    tab.wait_for_url(re.compile(r"/examinations/\d+$"), timeout=A_WHILE_MS)
    tab.goto(f"{address}/visits/1")
    assert tab.get_by_text("Proven: no other naming").is_visible()
    assert tab.get_by_role("link", name="The examination: cage").is_visible()


def test_files_are_dropped_and_examined(tab: Page, address: str) -> None:
    tab.goto(f"{address}/motors/1/visits/new")
    tab.locator("input[type=file]").set_input_files([str(path) for path in CASE.files[1:]])
    tab.wait_for_url(re.compile(r"/(examinations|visits|jobs)/\d+$"), timeout=A_WHILE_MS)
    tab.goto(f"{address}/visits/1")
    assert tab.locator(".recording").count() == 2


def test_what_if_answers_without_asking_again(tab: Page, address: str) -> None:
    tab.goto(f"{address}/motors/1/expect")
    bars = tab.get_by_label("Open bars, side by side")
    bars.press("End")
    assert tab.locator("tr.asked th").inner_text() == "3"
    tab.get_by_label("Load", exact=True).press("Home")
    assert tab.get_by_role("heading", name="At 10 % load").is_visible()
    assert tab.locator("tr.asked td").first.inner_text() == "10 %"
    assert tab.url.endswith("bars=3&load=0")


def test_the_plan_is_printed_with_the_cautions_first(tab: Page, address: str) -> None:
    tab.goto(f"{address}/motors/1/plan")
    tab.emulate_media(media="print")
    assert not tab.get_by_role("button", name="Print this").is_visible()
    top = tab.get_by_role("heading", name="Before anything else").bounding_box()
    short = tab.get_by_role("heading", name="In short").bounding_box()
    assert top is not None
    assert short is not None
    assert top["y"] < short["y"]
    assert tab.get_by_text("Test voltage: ________").is_visible()
