"""Cases: signed, followed, put right and closed in forms; attachments that no browser runs."""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator
from datetime import date
from html import escape
from pathlib import Path

import pytest
from httpx2 import Response

from cagewise.store import BarPlace, Decision, Found, FoundBar, Outcome, Repair
from cagewise.web.attachments import LONGEST_NAME_BYTES, image_type, safe_name
from cagewise.web.security.rights import Right
from support.told_plants import GROWING, NASTY, NEVER, told_plant
from support.workbench import HTML, Bench, served

PNG = b"\x89PNG\r\n\x1a\n" + b"\0" * 24
SVG = b'<svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script></svg>'


@pytest.fixture(scope="module")
def _told(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return told_plant(tmp_path_factory.mktemp("told") / "plant")


@pytest.fixture
def bench(_told: Path, tmp_path: Path) -> Iterator[Bench]:
    with served(shutil.copytree(_told, tmp_path / "plant")) as made:
        yield made


@pytest.fixture
def opened(bench: Bench) -> Bench:
    """The bench with case 1, of the growing cage."""
    assert bench.post(f"/motors/{GROWING}/cases", title="side lines grow").status_code == 303
    return bench


def send(bench: Bench, *files: tuple[str, bytes], **fields: str | list[str]) -> Response:
    """Fill in a form of case 1 and send it."""
    return bench.client.post(
        "/cases/1/events",
        data={"csrf": bench.mark(), **fields},
        files=[("files", each) for each in files],
        headers=HTML,
        follow_redirects=False,
    )


def shown(bench: Bench, path: str = "/cases/1") -> str:
    answer = bench.client.get(path, headers=HTML)
    assert answer.status_code == 200, answer.text
    return answer.text


def test_a_decision_is_signed_in_a_case_that_is_opened_for_it(bench: Bench) -> None:
    plant = bench.desk.plant
    last = plant.examinations.of_motor(plant.motors.get(GROWING))[-1]
    place = f"/motors/{GROWING}/decide"
    html = shown(bench, f"{place}?examination={last.id}")
    assert "The cage is defective." in html
    without = bench.post(place, examination=str(last.id), action="Take it out", title="Rotor")
    assert without.status_code == 422
    assert "Take it out" in without.text
    assert not plant.cases.all()
    signed = bench.post(
        place, examination=str(last.id), action="Take it out", due="2031-06-01", text="Spare is in",
        author="Ada", title="Rotor",
    )  # fmt: skip
    assert signed.status_code == 303
    (case,) = plant.cases.all()
    assert signed.headers["location"] == f"/cases/{case.id}?done=signed"
    assert (case.title, case.examination_id) == ("Rotor", last.id)
    (event,) = plant.cases.events(case)
    assert event.what == Decision(action="Take it out", due_on=date(2031, 6, 1))
    assert event.author == "Ada"
    assert event.text.startswith("Spare is in")
    assert f"examination {last.id}" in event.text
    page = shown(bench)
    assert "Take it out, by 2031-06-01" in page
    bench.post(place, action="Wait", author="Ben")
    assert len(plant.cases.all()) == 1
    assert len(plant.cases.events(case)) == 2
    assert "Wait" in shown(bench, "/due")
    assert "Wait" in shown(bench, "/cases")


def test_an_older_examination_says_that_there_is_a_newer_one(bench: Bench) -> None:
    plant = bench.desk.plant
    first, *_, last = plant.examinations.of_motor(plant.motors.get(GROWING))
    html = shown(bench, f"/motors/{GROWING}/decide?examination={first.id}")
    assert f"examination={last.id}" in html
    wrong = bench.client.get(f"/motors/{NEVER}/decide?examination={first.id}", headers=HTML)
    assert wrong.status_code == 404


def test_the_account_signs_whatever_was_typed(tmp_path: Path) -> None:
    with served(
        told_plant(tmp_path / "plant"), address="https://motors.plant.example", allow_remote=True,
        accounts=(("Ada", Right.ADMIN),), names=("motors.plant.example",),
    ) as made:  # fmt: skip
        made.log_in("Ada")
        made.post(f"/motors/{GROWING}/decide", action="Wait", author="Somebody else")
        (case,) = made.desk.plant.cases.all()
        assert made.desk.plant.cases.events(case)[0].author == "Ada"
        assert 'name="author"' not in shown(made)


def test_a_case_goes_from_doubt_to_what_was_found(opened: Bench) -> None:
    plant = opened.desk.plant
    done = send(
        opened, kind="repair", repair_kind="cage", action="two bars replaced", on="2031-04-02",
        fact_rotor_bars="58", others="braze=silver", author="shop",
    )  # fmt: skip
    assert done.status_code == 303
    found = send(
        opened, ("photo.png", PNG), kind="outcome", found="damaged", open_bars="2",
        bars=["4, 5", "12", ""], damage=["open", "cracked", "open"],
        place=["drive end", "", ""], on="2031-04-01",
    )  # fmt: skip
    assert found.status_code == 303
    case = plant.cases.get(1)
    outcome, repair = (event.what for event in plant.cases.events(case))
    assert isinstance(repair, Repair)
    assert repair.facts == {"rotor_bars": "58", "braze": "silver", "kind": "cage"}
    assert isinstance(outcome, Outcome)
    assert (outcome.found, outcome.open_bars) == (Found.DAMAGED, 2)
    at_end = BarPlace.DRIVE_END
    assert outcome.bars[:2] == (FoundBar(bar=4, place=at_end), FoundBar(bar=5, place=at_end))
    html = shown(opened)
    assert "bars 4 and 5 open at the drive end" in html
    assert "The call was right." in html
    assert "Nothing was measured after it" in html
    assert "rotor slots open or closed" in html
    assert "number of rotor bars" not in html[html.index("Still owed") : html.index("The story")]
    calls = shown(opened, "/calls")
    assert "Motors opened after an examination: 1" in calls
    assert "The call was right." in calls
    assert "2031-04-02" in shown(opened, f"/motors/{GROWING}")
    assert 'class="moment"' in shown(opened, f"/motors/{GROWING}/trend")
    closed = opened.post("/cases/1/close", why="back in service", on="2031-05-01")
    assert closed.status_code == 303
    assert "back in service" in shown(opened)
    assert "side lines grow" not in shown(opened, "/cases")
    assert "side lines grow" in shown(opened, "/cases?all=1")


@pytest.mark.parametrize(
    "fields",
    [
        {"kind": "note"},
        {"kind": "decision", "action": "stop"},
        {"kind": "decision", "author": "Ada"},
        {"kind": "repair", "action": "x", "repair_kind": "paint"},
        {"kind": "repair", "repair_kind": "cage"},
        {"kind": "repair", "action": "x", "repair_kind": "cage", "others": "bars"},
        {"kind": "outcome"},
        {"kind": "outcome", "found": "sound", "open_bars": "1"},
        {"kind": "outcome", "found": "damaged", "open_bars": "-1"},
        {"kind": "outcome", "found": "damaged", "bars": "x", "damage": "open", "place": ""},
        {"kind": "outcome", "found": "damaged", "bars": "4 4", "damage": "open", "place": ""},
        {"kind": "outcome", "found": "damaged", "bars": "4", "damage": "gone", "place": ""},
        {"kind": "note", "text": "x", "on": "yesterday"},
        {"kind": "note", "text": "x", "on": "0001-01-01"},
    ],
)
def test_what_makes_no_sense_is_said_and_not_kept(opened: Bench, fields: dict[str, str]) -> None:
    answer = send(opened, **fields)
    assert answer.status_code in (400, 422), answer.text
    assert 'role="alert"' in answer.text
    assert not opened.desk.plant.cases.events(opened.desk.plant.cases.get(1))


def test_an_entry_is_put_right_by_another(opened: Bench) -> None:
    send(opened, kind="outcome", found="damaged", open_bars="3", bars="7", damage="cracked",
         place="slot", author="Ben")  # fmt: skip
    plant = opened.desk.plant
    (wrong,) = plant.cases.events(plant.cases.get(1))
    html = shown(opened, f"/cases/1?correct={wrong.id}")
    assert f'name="corrects" value="{wrong.id}"' in html
    assert 'value="7"' in html
    assert "<option selected>cracked</option>" in html
    send(opened, kind="outcome", found="damaged", open_bars="2", corrects=str(wrong.id))
    after = shown(opened)
    assert "2 bars open" in after
    assert "3 bars open" not in after
    assert "1 entries were put right later" in after
    other = send(opened, kind="note", text="x", corrects="99")
    assert other.status_code == 404


def test_images_are_shown_and_everything_else_is_saved(opened: Bench) -> None:
    name = f"../../{NASTY}\r\nx.png"
    files = (("a.png", PNG), ("draw.svg", SVG), ("page.html", b"<html>"), (name, PNG + b"2"))
    assert send(opened, *files, kind="note", text=NASTY).status_code == 303
    html = shown(opened)
    assert NASTY not in html
    assert escape(NASTY) in html
    places = re.findall(r'href="(/cases/1/files/[^"]+)"', html)
    assert len(places) == 4
    assert html.count("<img ") == 2
    answers = [opened.client.get(place) for place in places]
    kinds = [each.headers["content-type"].split(";")[0] for each in answers]
    assert sorted(kinds) == ["application/octet-stream"] * 2 + ["image/png"] * 2
    for answer, kind in zip(answers, kinds, strict=True):
        way = answer.headers["content-disposition"].split(";")[0]
        assert way == ("inline" if kind == "image/png" else "attachment")
        assert answer.headers["x-content-type-options"] == "nosniff"
    assert sorted(each.content for each in answers) == sorted(content for _, content in files)
    first = places[0]
    assert opened.client.get(first[:-1] + "x").status_code == 404
    assert opened.client.get(first.replace("/cases/1/", "/cases/2/")).status_code == 404


def test_a_form_without_the_mark_of_a_page_changes_nothing(opened: Bench) -> None:
    answer = opened.client.post("/cases/1/events", data={"kind": "note", "text": "x"})
    assert answer.status_code == 403
    assert not opened.desk.plant.cases.events(opened.desk.plant.cases.get(1))


@pytest.mark.parametrize(
    ("sent", "kept"),
    [
        ("photo.jpg", "photo.jpg"),
        ("C:\\photos\\a b.jpg", "a b.jpg"),
        ("/etc/passwd", "passwd"),
        ("..", "file"),
        ("", "file"),
        ("a\r\nb\0\u202ec.png", "abc.png"),
        ("x/", "x"),
    ],
)
def test_names_of_files_lose_what_could_harm(sent: str, kept: str) -> None:
    assert safe_name(sent) == kept


def test_long_names_keep_their_ending() -> None:
    name = safe_name("\N{LATIN SMALL LETTER A WITH DIAERESIS}" * 500 + ".jpeg")
    assert name.endswith(".jpeg")
    assert len(name.encode()) <= LONGEST_NAME_BYTES
    assert len(safe_name("x" * 999).encode()) <= LONGEST_NAME_BYTES


@pytest.mark.parametrize(
    ("content", "kind"),
    [
        (PNG, "image/png"),
        (b"\xff\xd8\xff\xe0", "image/jpeg"),
        (b"GIF89a", "image/gif"),
        (b"RIFF\0\0\0\0WEBPVP8 ", "image/webp"),
        (b"RIFF\0\0\0\0WAVEfmt ", ""),
        (SVG, ""),
        (b"", ""),
    ],
)
def test_only_images_in_which_nothing_runs_are_images(
    tmp_path: Path, content: bytes, kind: str
) -> None:
    path = tmp_path / "x"
    path.write_bytes(content)
    assert image_type(path) == kind
