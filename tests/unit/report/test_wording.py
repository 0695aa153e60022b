"""The catalogue is complete, and it says nothing it must not say."""

from __future__ import annotations

import ast
import re
import string
from collections.abc import Iterator
from enum import Enum
from pathlib import Path

import pytest

from cagewise.conditioning.findings import Severity
from cagewise.decision.recommendation import NextMeasurement
from cagewise.decision.verdict import State, StateGround, Verdict
from cagewise.evidence.explanations import Cause, ExplanationGround, SeparatingTest
from cagewise.evidence.findings import BlindSpot, Ground, Hypothesis, PoolGround, Support
from cagewise.evidence.fusion.patterns import DamagePattern
from cagewise.report import likelihood_wording, sentences, wording


@pytest.mark.parametrize(
    ("catalogue", "kind"),
    [
        (wording.STATE, State),
        (wording.VERDICT, StateGround),
        (wording.SUPPORT, Support),
        (wording.HYPOTHESIS, Hypothesis),
        (wording.GROUND, Ground),
        (wording.POOLED, PoolGround),
        (wording.BLIND_SPOT, BlindSpot),
        (wording.NEXT, NextMeasurement),
        (wording.SEVERITY, Severity),
        (likelihood_wording.PATTERN, DamagePattern),
        (likelihood_wording.CAUSE, Cause),
        (likelihood_wording.WHY, ExplanationGround),
        (likelihood_wording.TEST, SeparatingTest),
    ],
)
def test_every_value_has_its_words(catalogue: dict[Enum, object], kind: type[Enum]) -> None:
    assert set(catalogue) == set(kind)


def test_templates_ask_only_for_numbers_that_findings_carry() -> None:
    known = {
        "note",
        "value_bars",
        "low_bars",
        "high_bars",
        "limit_bars",
        "bound_bars",
        "power_ratio",
        "supply_percent",
    }
    asked = {
        name
        for template in wording.GROUND.values()
        for _, name, _, _ in string.Formatter().parse(template)
        if name
    }

    assert asked <= known


def test_no_severity_scale_and_no_certainty() -> None:
    """No dB band is right for all motors, and no number here is a certainty."""
    forbidden = (
        r"\b(severe|severity|alarm level|critical fault|guarantee|certainly|dBc? (to|below))\b"
    )
    spoken = "\n".join(_texts())

    assert not re.search(forbidden, spoken, flags=re.IGNORECASE)


@pytest.mark.parametrize("ground", list(StateGround))
def test_every_verdict_can_be_said_and_a_bound_of_open_bars_alone_is_headed_so(
    ground: StateGround,
) -> None:
    judged = Verdict(
        state=State.SOUND,
        ground=ground,
        methods_agreeing=0,
        classes_agreeing=0,
        removal_supported=False,
        bound_bars=0.28,
    )
    alone = ground in (StateGround.BOUNDED_PARTED, StateGround.BOUNDED_LEAST)

    assert ("open bars only" in sentences.state(judged)) is alone
    assert "{" not in sentences.verdict_of(judged, "the load is too low")


def test_sentences_are_short() -> None:
    for text in _texts():
        for sentence in re.split(r"(?<=[.!?:;]) ", text):
            assert len(sentence.split()) <= 26, sentence


def _texts() -> Iterator[str]:
    for name, value in (*vars(wording).items(), *vars(likelihood_wording).items()):
        if name.isupper():
            yield from _texts_of(value)


def _texts_of(value: object) -> Iterator[str]:
    if isinstance(value, str) and " " in value:
        yield value
    elif isinstance(value, dict):
        for item in value.values():
            yield from _texts_of(item)
    elif isinstance(value, tuple):
        for item in value:
            yield from _texts_of(item)


def test_no_name_of_a_module_is_given_twice() -> None:
    for path in Path(wording.__file__).parent.glob("*.py"):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        names = [
            target.id
            for node in tree.body
            if isinstance(node, ast.Assign)
            for target in node.targets
            if isinstance(target, ast.Name)
        ]
        assert len(names) == len(set(names)), path.name
