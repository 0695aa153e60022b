"""Plant, what is due, motor and trend: what their pages say, and that they are safe."""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator
from html import escape
from pathlib import Path

import pytest

from cagewise.history.trend import Trend
from cagewise.report.history_text import trend_facts
from cagewise.web.security.rights import Right
from cagewise.workflows.plant_history import rank, trend_of
from support.told_plants import GROWING, NASTY, NEVER, SOUND, told_plant
from support.workbench import HTML, Bench, served

PAGES = ("/", "/due", "/motors/1", "/motors/2", "/motors/3", "/motors/1/trend", "/motors/2/trend",
         "/motors/3/trend", "/cases", "/calls", "/motors/1/decide", "/motors/3/decide")  # fmt: skip


@pytest.fixture(scope="module")
def _told(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return told_plant(tmp_path_factory.mktemp("told") / "plant")


@pytest.fixture
def bench(_told: Path, tmp_path: Path) -> Iterator[Bench]:
    with served(shutil.copytree(_told, tmp_path / "plant")) as made:
        yield made


def page_of(bench: Bench, path: str, status: int = 200) -> str:
    answer = bench.client.get(path, headers=HTML)
    assert answer.status_code == status, answer.text
    return answer.text


@pytest.mark.parametrize("path", PAGES)
def test_nothing_that_somebody_wrote_becomes_part_of_a_page(bench: Bench, path: str) -> None:
    html = page_of(bench, path)
    assert NASTY not in html
    assert escape(NASTY) in html
    assert not re.search(r"\sstyle=|<style|\son[a-z]+=", html)
    scripts = re.findall(r"<script[^>]*>", html)
    assert all(' src="/static/' in each for each in scripts)


def test_the_plant_shows_what_the_ranking_says(bench: Bench) -> None:
    html = page_of(bench, "/")
    tags = re.findall(r'<th scope="row"><a class="one-line" href="/motors/(\d+)">', html)
    view = rank(bench.desk.plant)
    numbers = {m.tag: str(m.id) for m in bench.desk.plant.motors.all()}
    assert tags == [numbers[motor.tag] for motor in view.ranking.motors]
    assert tags[0] == str(GROWING)
    assert "no examination yet" in html
    assert 'class="shape filled small"' in html
    assert "winding suspect" in html


def test_the_plant_is_searched_narrowed_and_sorted_without_a_script(bench: Bench) -> None:
    found = page_of(bench, "/?q=so-")
    assert "SO-2" in found
    assert "GR-1" not in found
    assert "SO-2" in page_of(bench, "/?state=suspect")
    assert "GR-1" not in page_of(bench, "/?state=suspect")
    never = page_of(bench, "/?state=not+examined")
    assert f'href="/motors/{NEVER}"' in never
    assert f'href="/motors/{SOUND}"' not in never
    nothing = page_of(bench, "/?q=nowhere")
    assert "No motor is like that." in nothing
    assert "GR-1" not in nothing
    by_tag = page_of(bench, "/?sort=motor")
    assert by_tag.index("GR-1") < by_tag.index("SO-2")
    assert 'aria-sort="ascending"' in by_tag
    assert bench.client.get("/?sort=colour", headers=HTML).status_code == 422


def test_a_long_list_is_cut_and_goes_on(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("cagewise.web.pages.plant.ROWS", 2)
    first = page_of(bench, "/?sort=motor")
    (on,) = re.findall(r'href="([^"]*)" rel="next"', first)
    second = page_of(bench, on.replace("&amp;", "&"))
    rows = re.compile(r'<th scope="row"><a class="one-line" href="/motors/(\d+)">')
    assert len(rows.findall(first)) == 2
    assert len(rows.findall(second)) == 1
    assert not set(rows.findall(first)) & set(rows.findall(second))
    assert 'rel="prev"' in second
    assert 'rel="next"' not in second


def test_what_is_due_is_grouped_and_leads_to_the_plan(bench: Bench) -> None:
    html = page_of(bench, "/due")
    never = html.index("Never measured")
    assert html.index(f'href="/motors/{NEVER}/plan"') > never


def test_a_motor_says_what_is_missing_and_why(bench: Bench) -> None:
    html = page_of(bench, f"/motors/{GROWING}")
    assert "Number of rotor bars" in html
    assert "wider interval" in html
    assert "315 kW" in html
    visits = re.findall(r'<a class="one-line" href="/visits/\d+">(\S+)</a>', html)
    assert len(visits) == 6
    assert visits == sorted(visits, reverse=True)
    assert html.count('<circle class="hit"') == 6
    assert f'href="/motors/{GROWING}/visits/new"' in html
    assert "No examination yet." in page_of(bench, f"/motors/{NEVER}")
    page_of(bench, "/motors/99", status=404)
    page_of(bench, "/motors/99999999999999999999", status=422)


def test_the_trend_says_what_the_terminal_says(bench: Bench) -> None:
    html = page_of(bench, f"/motors/{GROWING}/trend")
    plant = bench.desk.plant
    view = trend_of(plant, plant.motors.get(GROWING))
    assert isinstance(view.trend, Trend)
    for _, value in trend_facts(view, view.trend):
        assert escape(value[1:]) in html
    assert "Trend: growing" in html
    assert html.count('class="mark-read"') == 6
    assert html.count("<polyline") == 1
    assert 'class="limit"' not in html
    near = page_of(bench, f"/motors/{GROWING}/trend?limit=1")
    assert 'class="limit"' in near
    assert "1 open bars, if it goes on like this" in near


def test_without_enough_points_the_trend_says_what_it_needs(bench: Bench) -> None:
    html = page_of(bench, f"/motors/{SOUND}/trend")
    assert "too few points" in html
    assert "Measure again at a similar load" in html
    assert "This motor was never examined." in page_of(bench, f"/motors/{NEVER}/trend")


def test_an_empty_plant_says_how_to_begin(tmp_path: Path) -> None:
    from cagewise.store import Plant

    Plant.create(tmp_path / "plant").close()
    with served(tmp_path / "plant") as empty:
        html = page_of(empty, "/")
        assert 'href="/motors/new"' in html
        assert "There is no motor in this plant yet." in page_of(empty, "/due")
        assert "Nobody has noted yet" in page_of(empty, "/calls")


def test_notes_and_sensors_are_kept(bench: Bench) -> None:
    place = f"/motors/{GROWING}"
    assert bench.post(f"{place}/notes", text=NASTY, author="Ada").status_code == 303
    html = page_of(bench, f"{place}?done=note")
    assert escape(NASTY) in html
    assert "Ada" in html
    assert "The note is kept." in html
    made = bench.post(f"{place}/sensors", name="clamp A", role="i_a", ratio="1000",
                      mounted="2026-03-02")  # fmt: skip
    assert made.status_code == 303
    assert "ratio 1000" in page_of(bench, place)
    twice = bench.post(f"{place}/sensors", name="Clamp a")
    assert twice.status_code == 409
    assert "clamp" in twice.text.lower()
    assert bench.post(f"{place}/sensors", name="B", ratio="much").status_code == 422
    assert bench.post(f"{place}/sensors", name="B", mounted="20260230").status_code == 422
    removed = bench.post(f"{place}/sensors/removed", name="clamp A", on="2027-03-02")
    assert removed.status_code == 303
    assert "removed 2027-03-02" in page_of(bench, place)
    assert (
        bench.post(f"{place}/sensors/painted", name="clamp A", on="2027-03-02").status_code == 400
    )


def test_who_may_only_read_sees_no_form_and_changes_nothing(tmp_path: Path) -> None:
    folder = told_plant(tmp_path / "plant")
    accounts = (("Ada", Right.ADMIN), ("Cleo", Right.READ))
    address = "https://motors.plant.example"
    with served(
        folder, address=address, accounts=accounts, allow_remote=True,
        names=("motors.plant.example",),
    ) as made:  # fmt: skip
        assert made.log_in("Cleo").status_code == 303
        html = page_of(made, f"/motors/{GROWING}")
        forms = re.findall(r'<form method="post" action="([^"]+)"', html)
        assert forms == ["/logout"]
        assert made.post(f"/motors/{GROWING}/notes", text="x").status_code == 403
        assert made.post(f"/motors/{GROWING}/decide", action="x", author="y").status_code == 403
        page_of(made, f"/motors/{GROWING}/decide", status=403)
