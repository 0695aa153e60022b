"""Costs in words: complete, short, without invented money, and true to the decision."""

from __future__ import annotations

import re
import string
from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from enum import Enum

import pytest

from cagewise.decision.costs import decide_costs
from cagewise.decision.costs_limits import CostLimits
from cagewise.decision.costs_policies import CostAction
from cagewise.decision.costs_result import (
    CostDecision,
    CostQuestion,
    Guard,
    SensitivityKind,
    StakesGround,
)
from cagewise.decision.limits import load_limits
from cagewise.decision.verdict import State, StateGround, Verdict
from cagewise.machine.motor import Criticality
from cagewise.quantities import Estimate, NotKnown
from cagewise.report import cost_wording as words
from cagewise.report.cost_text import cost_headline, cost_notes, cost_rows, cost_table, percent
from cagewise.report.symbols import as_ascii

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
    return "\n".join([cost_headline(decision), *cost_notes(decision), *cells, *facts])


@pytest.mark.parametrize(
    ("catalogue", "kind"),
    [
        (words.NAME, CostAction),
        (words.ACTION, CostAction),
        (words.GUARD, Guard),
        (words.STAKES, StakesGround),
        (words.ROW_IF, SensitivityKind),
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


def test_the_chosen_action_leads_with_its_cost_and_the_next_best() -> None:
    decision = decide(ASKED)

    assert decision.action is CostAction.REPEAT
    assert cost_headline(decision) == (
        "Do not decide yet: measure once more, better, by 2026-12-18. If that shows the defect, "
        "plan the repair. Expected cost 0.42; next is \u201cwatch\u201d with 0.44."
    )


def test_the_rows_show_the_working() -> None:
    rows = dict(cost_rows(decide(ASKED)))

    assert rows["Chance of a defect"] == "30 % (10 % to 60 %)"
    assert rows["By the chance"] == (
        "keep below 3 %; watch from 3 %; measure better from 20 %; plan repair from 55 %"
    )
    assert rows["Simplest rule"].startswith("pull from 9.1 % on")
    assert rows["At the ends of the chance"] == "10 %: watch; 60 %: plan repair"


def test_money_appears_only_where_the_user_gave_it() -> None:
    """Ratios stay ratios; a given cost comes back as it was given."""
    given_rows, bare_rows = dict(cost_rows(decide(MONEY))), dict(cost_rows(decide(ASKED)))

    assert given_rows["Pulling a sound motor"] == "14500"
    assert given_rows["Failure in service"].startswith("178000,")
    assert bare_rows["Pulling a sound motor"] == words.ONE_PULL
    assert any("gives no costs" in note for note in cost_notes(decide(ASKED)))
    assert not re.search(r"[$\u20ac\u00a3]|\b(EUR|USD|dollars?|euros?)\b", spoken(decide(ASKED)))


def test_without_a_probability_the_reason_stands_and_the_break_even_still_helps() -> None:
    decision = decide(UNKNOWN)
    rows = dict(cost_rows(decision))

    assert "without a probability: not calibrated" in cost_headline(decision)
    assert rows["Chance of a defect"] == "not known: not calibrated"
    assert "plan repair from 55 %" in rows["By the chance"]
    assert "Worth of measuring better" not in rows
    assert {row[-1] for row in cost_table(decision)[1]} == {words.NOT_WORKED}


def test_costs_that_ask_for_more_than_the_methods_say_so_first() -> None:
    notes = cost_notes(decide(replace(ASKED, probability=0.9)))

    assert "although fewer methods and classes agree" in notes[0]


def test_stopping_at_once_defers_to_the_site() -> None:
    decision = decide(STOPPED)

    assert decision.action is CostAction.STOP
    assert "engineer responsible on site decides" in cost_headline(decision)


def test_a_spare_and_an_outage_that_is_not_used_are_mentioned() -> None:
    notes = "\n".join(cost_notes(decide(LATE)))

    assert "50 % of what a failure costs is left" in notes
    assert "2026-11-05 leaves less than the 7 days of notice" in notes
    used = replace(ASKED, criticality=Criticality(next_outage="2026-12-03"), probability=0.9)
    assert "in the planned outage on 2026-12-03" in cost_headline(decide(used))
    assert "In the planned outage" in dict(cost_rows(decide(used)))


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
