"""The pages of a plant's history: what must never be missing, width, plain characters, JSON."""

from __future__ import annotations

import io
import json
from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from rich.console import Console

from cagewise.history.missing import MissingItem, RepairKind
from cagewise.report import history_wording as words
from cagewise.report.case_text import write_case
from cagewise.report.history_json import View, to_json
from cagewise.report.history_text import percent, write_trend
from cagewise.report.history_views import RankingView
from cagewise.report.plant_text import write_calls, write_cases
from cagewise.report.ranking_text import write_ranking
from cagewise.report.symbols import ASCII, UNICODE, Symbols
from cagewise.store import BarPlace, Case, Decision, Found, FoundBar, Note, Outcome, Plant
from cagewise.workflows.plant_cases import Entry, add_event, cases_of, open_case, repair_of, story
from cagewise.workflows.plant_choice import ListOrder, Wanted, narrowed
from cagewise.workflows.plant_history import calls, rank, trend_of
from support.kept_histories import LAST, add_examination, add_growing, add_motor

GROWTH = (0.2, 0.28, 0.4, 0.56, 0.8, 1.1, 1.6)
Writer = Callable[[Console, Symbols], None]


@pytest.fixture(scope="module")
def plant(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Plant]:
    """One motor that grows, one that was repaired, one never examined."""
    folder = tmp_path_factory.mktemp("pages") / "plant"
    with Plant.create(folder, name="invented mill") as made:
        add_growing(made, add_motor(made, "P-1"), GROWTH)
        repaired = add_motor(made, "P-2")
        day = LAST - timedelta(days=20)
        add_examination(made, repaired, day - timedelta(days=40), 2.0, "defective")
        case = open_case(made, repaired, "open bars", on=day - timedelta(days=39))
        decision = Decision(action="take out", due_on=day)
        add_event(made, case, decision, Entry(author="reliability", on=day - timedelta(days=30)))
        bars = (FoundBar(bar=7, place=BarPlace.DRIVE_END), FoundBar(bar=8))
        found = Outcome(found=Found.DAMAGED, open_bars=2, bars=bars)
        add_event(made, case, found, Entry(text="parted at the ring", on=day))
        done = repair_of("bars brazed", RepairKind.CAGE, {"rotor_bars": "58"})
        add_event(made, case, done, Entry(on=day))
        add_examination(made, repaired, LAST, 0.1, "sound")
        add_motor(made, "P-3")
        yield made


def only_case(plant: Plant) -> Case:
    return plant.cases.all()[0]


@pytest.fixture(scope="module")
def pages(plant: Plant) -> dict[str, tuple[View, Writer]]:
    """Every page with what it is written from."""
    grown = trend_of(plant, plant.motors.find("P-1"), today=LAST)
    never = trend_of(plant, plant.motors.find("P-3"), today=LAST)
    ranking, told = rank(plant, today=LAST), story(plant, only_case(plant), today=LAST)
    listed, ours = cases_of(plant, only_open=False, today=LAST), calls(plant, today=LAST)
    return {
        "trend": (grown, lambda c, s: write_trend(grown, c, s)),
        "no trend": (never, lambda c, s: write_trend(never, c, s)),
        "ranking": (ranking, lambda c, s: write_ranking(ranking, c, s)),
        "case": (told, lambda c, s: write_case(told, c, s)),
        "cases": (listed, lambda c, s: write_cases(listed, c, s)),
        "calls": (ours, lambda c, s: write_calls(ours, c, s)),
    }


PAGES = ("trend", "no trend", "ranking", "case", "cases", "calls")


def render(write: Writer, width: int = 100, symbols: Symbols = UNICODE) -> str:
    stream = io.StringIO()
    write(Console(file=stream, width=width, highlight=False), symbols)
    return stream.getvalue()


def flowing(text: str) -> str:
    return " ".join(text.split())


@pytest.mark.parametrize("width", [40, 60, 80, 120, 200])
@pytest.mark.parametrize("page", PAGES)
def test_no_line_is_wider_than_the_terminal(
    page: str, width: int, pages: dict[str, tuple[View, Writer]]
) -> None:
    for line in render(pages[page][1], width).splitlines():
        assert len(line) <= min(width, 120)


@pytest.mark.parametrize("page", PAGES)
def test_plain_pages_are_ascii(page: str, pages: dict[str, tuple[View, Writer]]) -> None:
    text = render(pages[page][1], symbols=ASCII)

    assert text.isascii()
    assert "?" not in text


@pytest.mark.parametrize("page", PAGES)
def test_every_page_is_json_too(page: str, pages: dict[str, tuple[View, Writer]]) -> None:
    document = json.loads(to_json(pages[page][0]))

    assert document["schema_version"] == "1.0"
    assert document["today"] == LAST.isoformat()


def test_the_trend_says_level_growth_change_and_limit(
    pages: dict[str, tuple[View, Writer]],
) -> None:
    text = flowing(render(pages["trend"][1], 120))

    assert "TREND: growing" in text
    for label in words.TREND_FACTS.values():
        assert label in text or label in {"Since", "Set aside", "Versions"}
    assert "false alarm once in 206 to 370 visits" in text  # Montgomery and Hawkins, both designs
    assert "p10 20" in text
    assert "not measured; its spread is in the interval" in text
    document = json.loads(to_json(pages["trend"][0]))
    assert document["limit"]["limit_bars"] == 3.0
    assert document["trend"]["curve"][-1]["day"] == LAST.isoformat()
    assert document["trend"]["level_bars"]["interval"][0] > 1.0


def test_every_visit_stands_in_the_plot(pages: dict[str, tuple[View, Writer]]) -> None:
    text = render(pages["trend"][1], 120)

    rows = [line for line in text.splitlines() if "(" in line and line.startswith("  20")]
    assert len(rows) == len(GROWTH)
    columns = [line.index(UNICODE.speaks_for) for line in rows]
    assert columns == sorted(columns)


def test_long_histories_are_thinned_and_end_with_the_last_visit(tmp_path: Path) -> None:
    with Plant.create(tmp_path / "long") as long:
        motor = add_motor(long, "P-9")
        add_growing(long, motor, [0.2] * 60, step_days=12)
        view = trend_of(long, motor, today=LAST)

    text = render(lambda c, s: write_trend(view, c, s), 120)

    assert "one visit in 3 of 60" in text
    rows = [line for line in text.splitlines() if line.startswith("  20")]
    assert len(rows) == 20
    assert rows[-1].startswith(f"  {LAST}")


def test_too_few_points_say_what_is_missing(pages: dict[str, tuple[View, Writer]]) -> None:
    text = flowing(render(pages["no trend"][1]))

    assert "TREND: too few points" in text
    assert "Too few points: 0 comparable of at least 4." in text
    assert "This motor was never examined." in text


def test_the_ranking_names_every_motor_what_is_due_and_what_is_missing(
    pages: dict[str, tuple[View, Writer]],
) -> None:
    text = flowing(render(pages["ranking"][1], 120))

    assert "invented mill" in text
    assert text.index("P-1 defective") < text.index("P-2 sound")
    assert "P-3 not examined" in text
    assert "P-3 never record it running: it was never measured" in text
    assert "never examined 1: P-3" in text
    assert "number of rotor bars all 3" in text
    assert "in doubt" not in text.partition("Due")[0].partition("its risk")[2]
    assert "open cases: 1" in text


@pytest.fixture
def beside(tmp_path: Path) -> Iterator[RankingView]:
    """Motors whose cage is sound: one with all in order, others in doubt beside it."""
    with Plant.create(tmp_path / "beside") as made:
        said: dict[str, dict[str, str | None]] = {
            "P-1": {"winding": "sound", "insulation": ""},
            "P-2": {"winding": "sound", "insulation": "suspect", "next_step": "part_tests"},
            "P-3": {"winding": "defective", "insulation": "defective", "action": "plan_repair"},
            "P-4": {"winding": None, "insulation": None},
        }
        for tag, parts in said.items():
            keys: dict[str, Any] = {"action": "repeat", "act_by_latest": LAST}
            keys |= {"next_step": "start_up", **parts}
            add_examination(made, add_motor(made, tag), LAST, 0.1, "sound", **keys)
        repaired = add_motor(made, "P-5")
        add_examination(made, repaired, LAST - timedelta(days=9), 2.0, "defective")
        made.cases.add_event(repaired, repair_of("brazed", RepairKind.CAGE, {}), on=LAST)
        yield rank(made, today=LAST + timedelta(days=1))


@pytest.mark.parametrize("width", [60, 80, 100])
def test_a_sound_cage_does_not_hide_its_winding(beside: RankingView, width: int) -> None:
    text = render(lambda c, s: write_ranking(beside, c, s), width)

    assert max(map(len, text.splitlines())) <= width
    table = flowing(text).partition("Winding or insulation in doubt")
    assert "P-3 defective defective sound 2031-03-04" in table[2]
    assert table[2].index("P-3") < table[2].index("P-2")
    assert "P-2 sound suspect sound 2031-03-04" in table[2]
    assert "P-1" not in table[2].partition("Due")[0]
    assert "insulation suspect" in table[0]
    assert "both defective" in table[0]


def test_what_is_due_says_what_to_do(beside: RankingView) -> None:
    due = flowing(render(lambda c, s: write_ranking(beside, c, s))).partition("Due motor")[2]

    assert "P-1 2031-03-04 1 record a start" in due
    assert "P-2 2031-03-04 1 tests of winding and insulation, at rest" in due
    assert "P-3 2031-03-04 1 repair, as the last examination asks" in due
    assert "Next: P-5 on 2031-05-03 (measure it anew: the cage was repaired)" in due


def test_a_repaired_cage_is_not_ranked_by_what_was_measured_before(beside: RankingView) -> None:
    repaired = next(motor for motor in beside.ranking.motors if motor.tag == "P-5")

    assert repaired.assumed_probability
    assert repaired.probability < 0.05
    assert beside.cage_state(repaired) == "repaired"


@pytest.mark.parametrize(
    ("wanted", "tags"),
    [
        (Wanted(states=frozenset({"suspect"})), ["P-2"]),
        (Wanted(states=frozenset({"suspect", "defective"}), order=ListOrder.MOTOR), ["P-2", "P-3"]),
        (Wanted(states=frozenset({"repaired"})), ["P-5"]),
        (Wanted(due=True, order=ListOrder.MOTOR), ["P-1", "P-2", "P-3", "P-4"]),
        (Wanted(order=ListOrder.DUE), ["P-1", "P-2", "P-3", "P-4", "P-5"]),
        (Wanted(order=ListOrder.BARS), ["P-1", "P-2", "P-3", "P-4", "P-5"]),
        (Wanted(states=frozenset({"not examined"})), []),
    ],
)
def test_a_list_shows_what_is_wanted(beside: RankingView, wanted: Wanted, tags: list[str]) -> None:
    view = narrowed(beside, wanted)

    found = [motor.tag for motor in view.ranking.motors]
    assert (sorted(found) if wanted.order is None else found) == tags
    assert (view.in_all, set(view.latest)) == (5, set(tags))
    text = flowing(render(lambda c, s: write_ranking(view, c, s)))
    assert ("No motor is like that" in text) == (not tags)


def test_a_long_list_says_how_many_are_left_out(beside: RankingView) -> None:
    text = render(lambda c, s: write_ranking(beside, c, s, most=1))

    assert "4 more are not shown (--most)." in text


def test_a_case_tells_its_story_in_the_order_of_days(
    pages: dict[str, tuple[View, Writer]],
) -> None:
    text = flowing(render(pages["case"][1], 120))

    steps = [
        "examined cage defective",
        "opened open bars",
        "decided Take out",
        "found Cage damaged",
        "repaired Bars brazed",
        "examined cage sound",
    ]
    assert [text.index(step) for step in steps] == sorted(text.index(step) for step in steps)
    assert "bar 7 open at the drive end, bar 8 open" in text
    assert "for a defect speak 2 of 6 methods (independent classes: 1)" in text
    assert f"The call was right. On {LAST - timedelta(days=60)} we said" in text
    assert "Inside our interval." in text
    assert "cannot tell yet" in text
    assert words.MISSING[MissingItem.CAGE_CONSTRUCTION] in text
    assert "start; standstill, position pattern" in text


def test_calls_of_too_few_motors_say_so(pages: dict[str, tuple[View, Writer]]) -> None:
    text = flowing(render(pages["calls"][1], 120))

    assert "Motors opened after an examination: 1." in text
    assert "defective 1 1" in text
    assert "too few: 1 motors that we warned of, of at least 10" in text


def test_an_open_case_says_what_is_decided_and_late(tmp_path: Path) -> None:
    with Plant.create(tmp_path / "late") as late:
        case = open_case(late, add_motor(late, "P-4"), "a beat", on=LAST - timedelta(days=30))
        decision = Decision(action="measure again", due_on=LAST - timedelta(days=9))
        add_event(late, case, decision, Entry(on=LAST - timedelta(days=30)))
        add_event(late, case, Note(), Entry(text="rings hot", on=LAST))
        view = story(late, case, today=LAST)

    text = flowing(render(lambda c, s: write_case(view, c, s)))

    assert "Open since 2031-02-02 (30 days)" in text
    assert "measure again, by 2031-02-23: 9 days overdue" in text
    assert "noted Rings hot." in text


def test_no_probability_is_rounded_to_certainty() -> None:
    assert [percent(p) for p in (0.0, 0.004, 0.5, 0.996, 1.0)] == [
        "<1 %", "<1 %", "50 %", ">99 %", ">99 %",
    ]  # fmt: skip


def test_every_item_and_state_has_its_words() -> None:
    assert set(words.MISSING) == set(MissingItem)
    assert set(words.FOUND) == set(Found)
    assert set(words.REPAIR_KIND) == set(RepairKind)
