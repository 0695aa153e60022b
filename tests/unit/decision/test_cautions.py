"""Every measurement brings its cautions, and none is lost or said twice."""

from __future__ import annotations

import re
from dataclasses import fields

import pytest

from cagewise.decision.cautions import Caution, TestKind, cautions_for, grouped_cautions

AT_REST = [t for t in TestKind if t not in {TestKind.RUNNING_RECORD, TestKind.START_RECORD}]


def said(test: TestKind) -> str:
    return " ".join(caution.text for caution in cautions_for(test))


@pytest.mark.parametrize("test", TestKind)
def test_local_rules_have_the_last_word(test: TestKind) -> None:
    """OSHA, NFPA 70E, EN 50110-1 leave it to the site and to licensed persons (from memory)."""
    last = cautions_for(test)[-1]

    assert last.id == "local_rules"
    assert "Local codes" in last.text
    assert "licensed" in last.text


@pytest.mark.parametrize("test", AT_REST)
def test_every_test_at_rest_begins_with_lock_out_and_absence_of_voltage(test: TestKind) -> None:
    """OSHA 29 CFR 1910.147, 1910.333(b)(2); NFPA 70E-2021 Art. 120.5; EN 50110-1 (from memory)."""
    assert cautions_for(test)[0].id == "lock_out"
    assert "absence of voltage" in " ".join(said(test).split())


@pytest.mark.parametrize(
    ("test", "words"),
    [
        (TestKind.INSULATION, ["converter", "surge capacitors", "arresters", "40 minutes"]),
        (TestKind.STEP_VOLTAGE, ["4 times as long", "repair plan", "stop at the first step"]),
        (TestKind.TURN, ["break down", "repair plan", "both attended"]),
        (TestKind.DISSIPATION, ["Disconnect converter", "Earth the winding"]),
        (TestKind.RESISTANCE, ["never open the leads while current flows"]),
        (TestKind.POSITION, ["Uncouple", "no loose clothing", "Nothing cools a rotor at rest"]),
        (TestKind.RUNNING_RECORD, ["Never open the secondary", "category III or IV", "arc-flash"]),
        (TestKind.RUNNING_RECORD, ["1.0 m", "0.3 m", "1.5 m", "0.7 m"]),
        (TestKind.START_RECORD, ["Do not start the motor to get a record", "Never open"]),
    ],
)
def test_each_says_what_it_must(test: TestKind, words: list[str]) -> None:
    """IEEE 43-2013 cl. 4, IEEE 95, IEEE 522, IEEE C57.13.3, IEC 61010, NFPA 70E (from memory)."""
    for word in words:
        assert word in said(test)


def test_alternating_voltage_asks_for_no_direct_voltage_discharge() -> None:
    assert "40 minutes" not in said(TestKind.DISSIPATION)
    assert "40 minutes" not in said(TestKind.RESISTANCE)


@pytest.mark.parametrize("test", TestKind)
def test_every_caution_is_complete_short_and_plain(test: TestKind) -> None:
    for caution in cautions_for(test):
        assert all(getattr(caution, f.name) for f in fields(Caution))
        assert re.fullmatch(r"[a-z_]+", caution.id)
        for sentence in re.split(r"(?<=[.:;]) ", caution.text):
            assert len(sentence.split()) <= 26, sentence


def test_groups_say_every_caution_once_and_lose_none() -> None:
    groups = grouped_cautions(TestKind)
    spoken = [caution.id for group in groups for caution in group.cautions]

    assert len(spoken) == len(set(spoken))
    for test in TestKind:
        heard = {c.id for group in groups if test in group.tests for c in group.cautions}
        assert {c.id for c in cautions_for(test)} <= heard
    assert groups[-1].cautions[-1].id == "local_rules"


def test_a_caution_stands_with_exactly_the_tests_it_belongs_to() -> None:
    for group in grouped_cautions(TestKind):
        for test in group.tests:
            assert {c.id for c in group.cautions} <= {c.id for c in cautions_for(test)}


def test_nothing_asked_nothing_said() -> None:
    assert grouped_cautions(()) == ()
