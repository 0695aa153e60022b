"""The summary of a month: what it says, as it was known then, and as a paper."""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import date
from itertools import chain
from pathlib import Path
from types import ModuleType

import pytest

from cagewise.errors import UsageError
from cagewise.report import readings_wording, work_order_wording
from cagewise.report.language import catalogue, speaking
from cagewise.report.papers import plant_summary_wording
from cagewise.report.papers.page import to_page
from cagewise.report.papers.paper import (
    Block,
    Cards,
    Drawing,
    Heading,
    Items,
    Paper,
    PaperSize,
    Paragraph,
    Table,
)
from cagewise.report.papers.pdf import to_pdf
from cagewise.report.papers.plant_material import ChangeKind
from cagewise.report.papers.plant_summary import MOST, plant_summary
from cagewise.store import Plant
from cagewise.workflows.paper_plant import month_of, plant_material
from cagewise.workflows.plant_work_orders import OrdersWanted, work_orders
from support.handed_plants import CALC, FORMULA, GROWING, NEVER, REPAIRED, handed_plant
from support.kept_histories import add_examination, add_motor

FEBRUARY, TODAY = date(2031, 2, 1), date(2031, 3, 5)


@pytest.fixture(scope="module")
def _kept(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return handed_plant(tmp_path_factory.mktemp("handed") / "plant")


@pytest.fixture(scope="module")
def paper(_kept: Path) -> Paper:
    with Plant.open(_kept, read_only=True) as opened:
        return plant_summary(plant_material(opened, FEBRUARY, today=TODAY))


@pytest.fixture
def plant(_kept: Path, tmp_path: Path) -> Iterator[Plant]:
    with Plant.open(shutil.copytree(_kept, tmp_path / "plant")) as opened:
        yield opened


def section(paper: Paper, title: str) -> list[Block]:
    """Return the blocks below a heading."""
    begin = next(
        n for n, b in enumerate(paper.blocks) if isinstance(b, Heading) and b.text == title
    )
    found: list[Block] = []
    for block in paper.blocks[begin + 1 :]:
        if isinstance(block, Heading):
            break
        found.append(block)
    return found


def table(paper: Paper, title: str) -> list[tuple[str, ...]]:
    tables = [block for block in section(paper, title) if isinstance(block, Table)]
    return [tuple(map(str, row)) for each in tables for row in each.rows]


def items(paper: Paper, title: str) -> list[str]:
    lists = [block for block in section(paper, title) if isinstance(block, Items)]
    return [item for each in lists for item in each.items]


def texts(paper: Paper) -> str:
    return repr([b for b in paper.blocks if not isinstance(b, Drawing)]) + paper.title


def test_the_plant_in_a_sentence_and_four_answers(paper: Paper) -> None:
    assert paper.title == "Plant summary, February 2031"
    assert paper.day == date(2031, 2, 28)
    lead, cards = paper.blocks[:2]
    assert isinstance(lead, Paragraph)
    assert lead.text == (
        "Measured in February 2031: 1 of 4 motors. Cages: 1 defective, 0 suspect, 0 not "
        "decidable, 0 sound, 3 not known."
    )
    assert isinstance(cards, Cards)
    answers = dict(cards.cards)
    assert answers["What has to be decided?"] == "Decided for later than advised: case 1."
    assert "called right: 1; wrong: 0" in answers["Were we right?"].lower()


def test_what_changed_in_the_month(paper: Paper) -> None:
    changed = items(paper, "What changed")
    assert [line[:10] for line in changed] == sorted(line[:10] for line in changed)
    said = "\n".join(changed)
    assert (
        f"2031-02-15, {GROWING}: cage \u25cf\u00a0defective (before: \u25cb\u00a0sound); 1.4"
        in said
    )
    assert f"decided in case 1: {CALC} (@boss)." in said
    assert f"{REPAIRED}: found: cage damaged, 2 bars open." in said
    assert f"{REPAIRED}: repaired: new bars." in said
    assert "case 2 closed: repaired." in said
    assert "2031-03" not in said


def test_it_holds_for_the_end_of_the_month(plant: Plant) -> None:
    before = plant_summary(plant_material(plant, FEBRUARY, today=TODAY))
    case = plant.cases.all(plant.motors.find(GROWING))[0]
    plant.cases.close(case, "done", on=date(2031, 3, 3))
    motor = plant.motors.find(GROWING)
    add_examination(plant, motor, date(2031, 3, 2), 0.1, "sound", action="keep")
    after = plant_summary(plant_material(plant, FEBRUARY, today=TODAY))
    assert texts(after) == texts(before)


def test_a_month_that_is_not_over_ends_today(plant: Plant) -> None:
    material = plant_material(plant, TODAY, today=TODAY)
    assert (material.first, material.day) == (date(2031, 3, 1), TODAY)
    assert plant_material(plant, today=TODAY).first == FEBRUARY
    assert plant_material(plant, date(2031, 12, 9), today=TODAY).day == date(2031, 12, 31)


def test_motors_stand_by_risk_with_the_sign_of_their_state(paper: Paper) -> None:
    rows = table(paper, "Motors by risk")
    assert rows[0][:2] == (GROWING, "\u25cf\u00a0defective")
    assert {row[0] for row in rows} == {GROWING, FORMULA, NEVER, REPAIRED}
    state = {row[0]: row[1] for row in rows}
    assert state[NEVER] == "never measured"
    assert state[REPAIRED] == "repaired, not measured since"


def test_open_cases_say_who_decided_and_that_it_waits_too_long(paper: Paper) -> None:
    ((number, motor, title, since, action, author, due),) = table(paper, "Open cases")
    assert (number, motor, title, since) == ("1", GROWING, "bars;=1+1", "2031-02-16")
    assert (action, author, due) == (CALC, "@boss", "2031-04-18, in 49 d")
    (later,) = items(paper, "Open cases")
    assert later.startswith(f"Case 1, {GROWING}: decided for 2031-04-18;")
    assert later.endswith("advises no later than 2031-03-15.")


def test_what_to_measure_has_hours_that_add_up(plant: Plant) -> None:
    paper = plant_summary(plant_material(plant, date(2031, 3, 1), today=TODAY))
    rows = {row[0]: row for row in table(paper, "What to measure next")}
    assert set(rows) == {NEVER, REPAIRED}
    assert [row[-1] for row in rows.values()] == ["1", "1"]
    (found,) = [b for b in section(paper, "What to measure next") if isinstance(b, Table)]
    assert ": 2 hours of two people together" in found.caption


def test_what_is_overdue_is_counted_in_days(plant: Plant) -> None:
    material = plant_material(plant, date(2031, 5, 1), today=date(2031, 5, 31))
    rows = table(plant_summary(material), "Overdue")
    assert [(row[0], row[2], row[3]) for row in rows] == [
        (REPAIRED, "2031-04-04", "57"),
        (GROWING, "2031-04-18", "43"),
    ]


def test_our_calls_are_held_against_what_was_found(paper: Paper) -> None:
    (line,) = items(paper, "Our calls against what was found")
    assert line.startswith(f"2031-02-01, {REPAIRED}: The call was right.")
    assert table(paper, "Our calls against what was found") == [("defective", "1", "1")]


def test_long_lists_say_how_much_they_leave_out(plant: Plant) -> None:
    for n in range(MOST + 3):
        motor = add_motor(plant, f"M-{n}")
        plant.cases.open(motor, "doubt", on=FEBRUARY)
    paper = plant_summary(plant_material(plant, FEBRUARY, today=TODAY))
    assert len(table(paper, "Open cases")) == MOST
    assert f"Not shown here: {MOST + 3 + 1 - MOST} more." in texts(paper)
    assert "and 11 more: a repair or a stop is advised" in texts(paper)


def test_an_empty_plant_has_a_summary(tmp_path: Path) -> None:
    with Plant.create(tmp_path / "empty") as plant:
        paper = plant_summary(plant_material(plant, FEBRUARY, today=TODAY))
    assert [type(block) for block in paper.blocks] == [Paragraph]
    assert to_page(paper)


def test_no_place_of_a_template_is_left_open(paper: Paper) -> None:
    assert re.search(r"\{[a-z_]+\}", texts(paper)) is None


def test_a_change_of_winding_or_insulation_is_told(plant: Plant) -> None:
    motor = plant.motors.find(GROWING)
    add_examination(
        plant, motor, date(2031, 3, 2), 1.4, "defective", winding="sound", insulation="suspect"
    )
    material = plant_material(plant, date(2031, 3, 1), today=TODAY)
    kinds = {(c.motor.tag, c.kind) for c in material.changes}
    assert (GROWING, ChangeKind.PART) in kinds
    assert (GROWING, ChangeKind.STATE) not in kinds
    said = items(plant_summary(material), "What changed")
    assert f"2031-03-02, {GROWING}: insulation suspect." in said


def test_the_paper_is_drawn_alike_again_and_no_name_is_markup(paper: Paper) -> None:
    page = to_page(paper)
    assert "&lt;b&gt;=2&lt;/b&gt;" in page
    assert "<b>=2</b>" not in page
    first, second = to_pdf(paper), to_pdf(paper)
    assert first == second
    assert first.startswith(b"%PDF-")
    letter = to_pdf(replace(paper, size=PaperSize.LETTER))
    assert letter != first


@pytest.mark.parametrize("text", ["2031", "2031-13", "2031-2", "0001-01", "next", "2031-02-01"])
def test_what_is_no_month_is_refused(text: str) -> None:
    with pytest.raises(UsageError, match="must be a month"):
        month_of(text)


def test_a_month_is_read() -> None:
    assert month_of("2031-02") == FEBRUARY
    assert month_of("") is None


def test_every_sentence_is_said_in_german(plant: Plant) -> None:
    with speaking("de") as missing:
        paper = plant_summary(plant_material(plant, FEBRUARY, today=TODAY))
        work_orders(plant, OrdersWanted(on=TODAY, routine=True))
    assert missing == set()
    assert paper.language == "de"
    assert paper.title.startswith("Werks\u00fcbersicht, ")


@pytest.mark.parametrize(
    "module",
    [plant_summary_wording, readings_wording, work_order_wording],
    ids=lambda m: m.__name__,
)
def test_no_template_lacks_its_german(module: ModuleType) -> None:
    german = catalogue("de").templates
    said = {
        text for name, value in vars(module).items() if name[0].isupper() for text in each(value)
    }
    assert len(said) > 20
    assert {text for text in said if text not in german and re.search("[a-z]{2}", text)} == set()


def each(value: object) -> Iterator[str]:
    """Yield the texts of a constant."""
    if isinstance(value, str):
        yield str(value)
    elif isinstance(value, Mapping):
        yield from chain.from_iterable(each(one) for one in value.values())
    elif isinstance(value, tuple):
        yield from chain.from_iterable(each(one) for one in value)
