"""Costs in words: complete, short, without invented money, and true to the decision."""

from __future__ import annotations

import io
import re
import string
from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from enum import Enum

import pytest
from rich.console import Console

from cagewise.decision.costs import decide_costs
from cagewise.decision.costs_limits import CostLimits
from cagewise.decision.costs_policies import CostAction
from cagewise.decision.costs_result import (
    CostDecision,
    CostQuestion,
    SensitivityKind,
    StakesGround,
)
from cagewise.decision.limits import load_limits
from cagewise.decision.verdict import State, StateGround, Verdict
from cagewise.indicators.reading import Reading
from cagewise.machine.motor import Criticality
from cagewise.quantities import Estimate, NotKnown
from cagewise.report import cost_wording as words
from cagewise.report.cost_text import (
    cost_lead,
    cost_note,
    cost_rows,
    cost_table,
    costs_shown,
    percent,
    whose,
)
from cagewise.report.page import page_on
from cagewise.report.symbols import UNICODE, as_ascii
from support.calibrated import given, with_chance
from support.examinations import damaged, examination, motor, record, sound, unreadable

VERDICT = Verdict(
    state=State.SUSPECT,
    ground=StateGround.TOO_FEW_AGREE,
    methods_agreeing=1,
    classes_agreeing=1,
    removal_supported=False,
)
ASKED = CostQuestion(
    probability=0.3,
    probability_interval=(0.1, 0.6),
    verdict=VERDICT,
    criticality=Criticality(),
    measured_on=date(2026, 11, 3),
)
MONEY = replace(ASKED, criticality=Criticality(false_pull_cost=14500.0, miss_cost=178000.0))
UNKNOWN = replace(ASKED, probability=NotKnown("not calibrated"), probability_interval=None)
STOPPED = replace(
    ASKED,
    probability=0.99,
    criticality=Criticality(level="high", false_pull_cost=1.0, miss_cost=500.0),
    damage_bars=Estimate(4.5, 4.0, 5.0),
)
LATE = replace(ASKED, criticality=Criticality(spare=True, next_outage="2026-11-05"))
QUESTIONS = (ASKED, MONEY, UNKNOWN, STOPPED, LATE)


def decide(asked: CostQuestion) -> CostDecision:
    return decide_costs(asked, CostLimits(), load_limits().decision)


def spoken(decision: CostDecision) -> str:
    heads, rows = cost_table(decision)
    cells = [cell for row in (heads, *rows) for cell in row]
    facts = [text for fact in cost_rows(decision) for text in fact]
    return "\n".join([whose(decision.stakes), cost_note(decision), *cells, *facts])


@pytest.mark.parametrize(
    ("catalogue", "kind"),
    [
        (words.NAME, CostAction),
        (words.STAKES, StakesGround),
        (words.CASE, SensitivityKind),
    ],
)
def test_every_value_has_its_words(catalogue: dict[Enum, str], kind: type[Enum]) -> None:
    assert set(catalogue) == set(kind)


@pytest.mark.parametrize("asked", QUESTIONS)
def test_nothing_is_left_unfilled_and_plain_terminals_can_show_it(asked: CostQuestion) -> None:
    text = spoken(decide(asked))

    assert not re.search(r"[{}]|None|\bnan\b|\binf\b", text)
    assert "?" not in as_ascii(text)
    assert not re.search(r"\d{2}\.\d{4,}", text)  # no digits that stand for nothing


@pytest.mark.parametrize("asked", QUESTIONS)
def test_labels_are_unique_and_the_table_is_square(asked: CostQuestion) -> None:
    decision = decide(asked)
    labels = [label for label, _ in cost_rows(decision)]
    heads, rows = cost_table(decision)

    assert len(labels) == len(set(labels))
    assert len(rows) == len(decision.costs)
    assert {len(row) for row in rows} == {len(heads)}


@pytest.mark.parametrize("asked", QUESTIONS)
def test_the_section_stays_compact(asked: CostQuestion) -> None:
    """With its heading and the sentence that leads it: a glance, not a page."""
    stream, decision = io.StringIO(), decide(asked)
    page = page_on(Console(file=stream, width=100), UNICODE)
    page.table(*cost_table(decision))
    page.fact_table(cost_rows(decision))
    page.paragraph(cost_note(decision))

    assert stream.getvalue().count("\n") <= 16 - 2


def test_the_rows_show_the_working() -> None:
    rows = dict(cost_rows(decide(ASKED)))

    assert rows["Chance"] == "30 % (10 % to 60 %)"
    assert rows["Costs"] == "a failure counts as 10 false pulls: judged"
    assert rows["By chance"] == "keep < 3 % < watch < 20 % < measure better < 55 % < plan repair"
    assert rows["If wrong"] == (
        "watch at ratio \u00d7 0.2, ratio \u00d7 0.5, chance 10 %, failing 0.4 %; plan repair at "
        "ratio \u00d7 5, chance 60 %"
    )
    assert dict(cost_rows(decide(replace(ASKED, probability=0.0, probability_interval=None))))[
        "If wrong"
    ] == words.ROBUST.format(interval="")


def test_a_probability_where_the_study_ends_says_so() -> None:
    held = replace(ASKED, probability=0.97, probability_interval=None, probability_guarded=True)

    assert dict(cost_rows(decide(held)))["Chance"] == (
        "97 %, held where our study ends (97 % to 100 %)"
    )


def test_money_appears_only_where_the_user_gave_it() -> None:
    """Ratios stay ratios; a given cost comes back as it was given."""
    given_rows, bare = dict(cost_rows(decide(MONEY))), decide(ASKED)

    assert given_rows["Costs"] == "false pull 14500; failure 178000 beside the repair (12 times)"
    assert words.UNIT in cost_note(bare)
    assert words.UNIT not in cost_note(decide(MONEY))
    assert whose(bare.stakes) == "our ratio of costs for normal criticality"
    assert whose(decide(MONEY).stakes) == "your costs"
    assert not re.search(r"[$\u20ac\u00a3]|\b(EUR|USD|dollars?|euros?)\b", spoken(bare))


def test_a_pull_that_costs_nothing_is_said_to_decide_everything() -> None:
    free = replace(ASKED, criticality=Criticality(false_pull_cost=0.0, miss_cost=1e5))
    rows = dict(cost_rows(decide(free)))

    assert rows["Costs"].startswith("false pull 0, so that any doubt is worth one; failure 100000")
    assert rows["By chance"] == "plan repair throughout"


def test_what_rounding_leaves_of_nothing_is_nothing() -> None:
    rows = dict(cost_rows(decide(replace(MONEY, probability=0.999))))

    assert "0.000" not in rows["Measuring"]


def test_without_a_probability_the_break_even_still_helps() -> None:
    decision = decide(UNKNOWN)
    rows = dict(cost_rows(decision))
    heads, cells = cost_table(decision)

    assert rows["By chance"].endswith("55 % < plan repair")
    assert not {"Measuring", "Chance", "If wrong"} & set(rows)
    assert "expected" not in heads
    assert len(cells) == len(decision.costs)


def test_a_spare_and_an_outage_are_mentioned() -> None:
    rows = dict(cost_rows(decide(LATE)))

    assert rows["Costs"] == "a failure counts as 5 false pulls (50 %, for the spare): judged"
    assert "2026-11-05 leaves less than the 7 days of notice" in rows["Outage"]
    used = replace(ASKED, criticality=Criticality(next_outage="2026-12-03"), probability=0.9)
    assert dict(cost_rows(decide(used)))["Outage"].startswith("a pull on 2026-12-03 costs 50 %")
    assert "Outage" not in dict(cost_rows(decide(ASKED)))


@pytest.mark.parametrize(
    ("readings", "probability", "criticality", "shown"),
    [
        (sound(), 0.001, Criticality(), False),
        (sound(), 0.001, given(2e4, 1e5), True),
        (sound(), 0.9, Criticality(), True),
        (damaged()[:3], 0.3, Criticality(), True),
        (damaged()[:3], NotKnown("not calibrated"), Criticality(), True),
        (unreadable(), NotKnown("not calibrated"), Criticality(), False),
        (unreadable(), NotKnown("not calibrated"), given(2e4, 1e5), True),
    ],
)
def test_the_working_is_shown_where_it_matters(
    readings: tuple[Reading, ...],
    probability: float | NotKnown,
    criticality: Criticality,
    *,
    shown: bool,
) -> None:
    subject = motor(criticality=criticality)
    examined = with_chance(examination(record(readings), of=subject), probability)

    assert costs_shown(examined) is shown
    assert not re.search(r"[{}]|None", cost_lead(examined))
    assert len(cost_lead(examined)) < 160


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (0.0, "0 %"),
        (0.0004, "under 0.1 %"),
        (0.0042, "0.4 %"),
        (1.0 / 11.0, "9.1 %"),
        (0.3, "30 %"),
        (0.995, "99.5 %"),
        (0.99996, "over 99.9 %"),
        (1.0, "100 %"),
    ],
)
def test_percent(value: float, text: str) -> None:
    assert percent(value) == text


def test_sentences_are_short_and_claim_no_certainty() -> None:
    forbidden = r"\b(severe|severity|guarantee\w*|certainly|critical fault|alarm)\b"
    for text in _texts():
        assert not re.search(forbidden, text, flags=re.IGNORECASE), text
        for sentence in re.split(r"(?<=[.!?:;]) ", text):
            assert len(sentence.split()) <= 26, sentence


def test_templates_name_their_numbers() -> None:
    for text in _texts():
        names = [name for _, name, _, _ in string.Formatter().parse(text) if name is not None]
        assert all(name.isidentifier() for name in names), text


def _texts() -> Iterator[str]:
    for name, value in vars(words).items():
        if name.isupper():
            yield from _texts_of(value)


def _texts_of(value: object) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for item in value.values():
            yield from _texts_of(item)
    elif isinstance(value, tuple):
        for item in value:
            yield from _texts_of(item)
