"""The page of the plan: golden pages at two widths, order, and what must never be missing."""

from __future__ import annotations

import io
import os
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from rich.console import Console

from cagewise.decision.plan import Plan
from cagewise.decision.start_plan import Readable, StartPlan
from cagewise.measurement.cautions import cautions_for
from cagewise.quantities import Estimate, NotKnown
from cagewise.report import plan_wording
from cagewise.report.plan_text import Occasion, planned_tests, write_plan
from cagewise.report.symbols import ASCII, UNICODE, Symbols
from support.plans import known, little_known, softly_started

GOLDEN = Path(__file__).resolve().parents[2] / "golden" / "terminal"

PAGES: dict[str, Callable[[], Plan]] = {
    "known": known,
    "little-known": little_known,
    "soft-starter": softly_started,
}


def render(
    shown: Plan, width: int, symbols: Symbols = UNICODE, only: Occasion | None = None
) -> str:
    stream = io.StringIO()
    write_plan(shown, Console(file=stream, width=width, highlight=False), symbols, only)
    return stream.getvalue()


def flowing(text: str) -> str:
    return " ".join(text.split())


@pytest.mark.parametrize("width", [80, 120])
@pytest.mark.parametrize("page", PAGES)
def test_pages_are_the_golden_ones(page: str, width: int) -> None:
    """After a wanted change: run with CAGEWISE_WRITE_GOLDEN=1 and read the difference."""
    path = GOLDEN / f"plan-{page}-{width}.txt"
    text = render(PAGES[page](), width)
    if os.environ.get("CAGEWISE_WRITE_GOLDEN"):
        path.write_text(text, encoding="utf-8")

    assert text == path.read_text(encoding="utf-8")


@pytest.mark.parametrize("width", [40, 60, 80, 120, 200])
@pytest.mark.parametrize("page", PAGES)
def test_no_line_is_wider_than_the_terminal(page: str, width: int) -> None:
    for line in render(PAGES[page](), width).splitlines():
        assert len(line) <= min(width, 120), line


@pytest.mark.parametrize("page", PAGES)
def test_ascii_pages_are_ascii_and_as_long(page: str) -> None:
    plain, fancy = render(PAGES[page](), 80, ASCII), render(PAGES[page](), 80)

    assert plain.isascii()
    assert plain.count("\n") == fancy.count("\n")


@pytest.mark.parametrize("page", PAGES)
def test_the_first_dozen_lines_hold_every_occasion(page: str) -> None:
    """A terminal of 24 lines and 80 columns shows the essentials without scrolling."""
    head = render(PAGES[page](), 80).splitlines()[:14]

    for label in plan_wording.IN_SHORT.values():
        assert any(line.startswith(f"  {label} ") for line in head), label


def test_occasions_come_in_the_order_of_their_summary_and_cautions_last() -> None:
    text = render(known(), 80)
    places = [
        text.index(title)
        for title in (
            plan_wording.RUNNING_TITLE,
            plan_wording.START_TITLE,
            plan_wording.STANDSTILL_TITLE,
            plan_wording.WINDING_TITLE,
            f"\n{plan_wording.CAUTIONS_TITLE}\n",
        )
    ]

    assert places == sorted(places)


@pytest.mark.parametrize("only", Occasion)
def test_one_occasion_stands_alone_with_its_own_cautions(only: Occasion) -> None:
    plan = known()
    text = flowing(render(plan, 80, only=only))
    titles = {
        Occasion.RUNNING: plan_wording.RUNNING_TITLE,
        Occasion.START: plan_wording.START_TITLE,
        Occasion.STANDSTILL: plan_wording.STANDSTILL_TITLE,
        Occasion.WINDING: plan_wording.WINDING_TITLE,
    }

    assert [at for at, title in titles.items() if title in text] == [only]
    assert (plan_wording.SHORT_NOTE in text) is ("open bars" in text)
    for test in planned_tests(plan)[only]:
        assert all(flowing(caution.text) in text for caution in cautions_for(test))


def test_occasions_and_their_labels_are_the_same() -> None:
    assert set(plan_wording.IN_SHORT) == {at.value for at in Occasion}


@pytest.mark.parametrize("page", ["known", "little-known"])
def test_a_start_is_refused_wherever_a_start_is_planned(page: str) -> None:
    """NEMA MG 1-12.54 (secondary): no start to get a record; record the next one."""
    text = flowing(render(PAGES[page](), 80))

    assert "Do not start the motor to get a record, however many starts are allowed" in text
    assert "If the cage is suspect or defective, every direct start loads it hardest" in text


def test_no_start_is_planned_where_none_is_direct() -> None:
    text = flowing(render(softly_started(), 80))

    assert "Next start not read: it is no direct start" in text
    assert "There is nothing to record: the motor is started by a soft starter" in text
    assert "Starts allowed" not in text


@pytest.mark.parametrize("page", PAGES)
def test_every_caution_of_every_planned_test_is_on_the_page_once(page: str) -> None:
    plan = PAGES[page]()
    text = flowing(render(plan, 80))

    for test in (t for tests in planned_tests(plan).values() for t in tests):
        for caution in cautions_for(test):
            assert text.count(flowing(caution.text)) == 1, caution.id


def test_all_shaft_angles_and_the_return_are_there() -> None:
    plan = known()
    text = render(plan, 80)
    rows = re.findall(r"^ {2}(?: {2,7}\d+\.\d)+$", text, flags=re.MULTILINE)
    angles = [float(word) for row in rows for word in row.split()]
    advice = plan.standstill.advice

    assert angles == pytest.approx([*advice.shaft_angles_deg, advice.return_angle_deg], abs=0.051)
    assert len(angles) == advice.positions_per_pole_pair * advice.pole_pairs + 1


def test_counts_that_invent_a_defect_are_named_and_good_ones_offered() -> None:
    """58 bars, 2 pole pairs: 12 positions read the slot ripple as order 2 (computed)."""
    text = flowing(render(known(), 80))

    assert re.search(r"Never use these.*Order 2: 12, 14.*Order 4: 16, 18", text)
    assert "As good, per pole pair: 13, 17, 21" in text


def test_the_stator_is_proved_before_the_rotor() -> None:
    """A repair standard's procedure: first insulation, surge and lead-to-lead resistance (read)."""
    text = flowing(render(known(), 80, only=Occasion.STANDSTILL))

    assert text.index("Prove the stator first") < text.index("Positions 23")
    assert "10 % and 25 % of rated voltage" in text


def test_without_the_number_of_bars_no_other_count_is_offered() -> None:
    text = flowing(render(little_known(), 80))

    assert "Use no other number" in text
    assert "As good, per pole pair" not in text


def test_one_reason_for_many_is_said_once_and_known_things_are_all_said() -> None:
    unknown, everything = flowing(render(little_known(), 80)), flowing(render(known(), 80))

    assert unknown.count("designed for its load") == 1
    for words in (
        "4.4 at most with this load",
        "110 s at least",
        "12 s from operating",
        "20 s from",
    ):
        assert words in everything
    assert "locked-rotor time is 2.9 to 13 times the time to speed" in everything


def test_a_margin_below_one_is_a_question_to_the_maker() -> None:
    plan = known()
    tight = replace(plan.start.duty, stall_margin=Estimate(1.2, 0.8, 1.9))
    text = flowing(render(replace(plan, start=replace(plan.start, duty=tight)), 80))

    assert "0.80 to 1.9 times the time to speed. Below 1 is a question to the maker" in text


def test_conditions_of_the_allowed_starts_are_said() -> None:
    text = flowing(render(known(), 80))

    assert "2 from ambient temperature or 1 from rated temperature" in text
    assert "provided that the load's torque rises with the square of the speed" in text


def test_levels_carry_their_form_and_new_windings_are_left_out() -> None:
    text = flowing(render(little_known(), 80))

    assert "125 to 150 % of E" in text
    assert "65 to 75 % of 2E + 1000" in text
    assert "acceptance" not in text.lower()


def test_a_shorter_start_is_said_to_be_too_short() -> None:
    plan = known()
    assert not isinstance(plan.start.record, NotKnown)
    short = replace(plan.start.record, readable=Readable.NO)
    text = flowing(render(replace(plan, start=StartPlan(record=short, duty=plan.start.duty)), 80))

    assert "no: shorter than the 0.4 s that a reading needs" in text


def test_sentences_are_short_and_name_no_scale() -> None:
    """The rules of the catalogue hold for this part of it too."""
    for name, value in vars(plan_wording).items():
        if not name.isupper():
            continue
        texts = [value] if isinstance(value, str) else list(value.values())
        for text in texts:
            assert not re.search(r"\b(severe|severity|alarm level|guarantee|certainly)\b", text)
            for sentence in re.split(r"(?<=[.!?:;]) ", text):
                assert len(sentence.split()) <= 26, sentence
