"""The one action in words: nothing on the page contradicts it."""

from __future__ import annotations

import re
import string
from collections.abc import Iterator
from dataclasses import replace
from enum import Enum

import pytest

from cagewise.decision.costs_policies import CostAction
from cagewise.decision.course import STEP_OF, Course, CourseGround
from cagewise.decision.course_dates import OutageFit
from cagewise.decision.examination import Examination
from cagewise.decision.next_measurement import Measurement
from cagewise.decision.recommendation import NextMeasurement
from cagewise.decision.verdict import State
from cagewise.indicators.reading import Reading
from cagewise.machine.motor import Criticality
from cagewise.quantities import Estimate, NotKnown
from cagewise.report import course_wording as words
from cagewise.report.course_text import action, action_notes
from cagewise.report.json_output import to_document
from cagewise.report.next_text import next_rows
from cagewise.report.symbols import as_ascii
from support.calibrated import given, with_chance
from support.courses import DAMP
from support.examinations import damaged, examination, motor, record, sound, unreadable

PLAIN = Criticality()
SUSPECT = damaged()[:3]


def told(
    readings: tuple[Reading, ...],
    probability: float | NotKnown,
    criticality: Criticality = PLAIN,
    *,
    interval: tuple[float, float] | None = None,
) -> Examination:
    """Return an examination of these readings with this chance of a defect."""
    made = examination(record(readings), of=motor(criticality=criticality))
    return with_chance(made, probability, interval=interval)


def said(examined: Examination) -> str:
    return " ".join([action(examined), *action_notes(examined)])


def damp(examined: Examination) -> Examination:
    """Return the examination with an insulation in doubt."""
    course = replace(examined.course, action=CostAction.REPEAT, ground=CourseGround.PARTS)
    return replace(examined, parts=(DAMP,), course=course)


CASES = {
    "agreed": told(damaged(), 0.97, given(2e4, 1e5)),
    "no probability": told(SUSPECT, NotKnown("not calibrated")),
    "judged, less": told(damaged(), 0.2),
    "judged, more": told(sound(), 0.1),
    "less": told(damaged(), 0.1, given(16e3, 6e4)),
    "more": told(sound(), 0.1, given(16e3, 16e4)),
    "floor": told(SUSPECT, 0.05, given(16e3, 9e3)),
    "floor of an undecided cage": told(unreadable(), 0.01, given(16e3, 9e3)),
    "interval": told(damaged(), 0.3, given(16e3, 16e4), interval=(0.1, 0.7)),
    "confirm first": told(SUSPECT, 0.9),
    "confirm first, sound": told(sound(), 0.9),
    "trend": told(sound(), 0.4),
    "parts": damp(told(sound(), 0.01)),
    "parts alone": damp(told(unreadable(), NotKnown("not calibrated"))),
    "outage kept": told(SUSPECT, 0.9, given(16e3, 15e4, outage="2026-12-03")),
    "outage in time": told(damaged(), 0.97, given(16e3, 15e4, outage="2026-12-03")),
    "outage awaited": told(damaged(), 0.97, given(16e3, 8e3, outage="2027-02-11")),
    "outage tempting": told(damaged(), 0.97, given(16e3, 16e4, outage="2027-02-03")),
    "outage too late": told(damaged(), 0.97, given(16e3, 9e6, outage="2027-09-03")),
    "outage without notice": told(damaged(), 0.97, given(16e3, 15e4, outage="2026-11-06")),
    "outage past": told(damaged(), 0.97, given(16e3, 15e4, outage="2026-10-06")),
}


@pytest.mark.parametrize(
    ("catalogue", "kind"),
    [
        (words.ACTION, words.Saying),
        (words.GROUND, CourseGround),
        (words.MEASUREMENT, Measurement),
        (words.OUTAGE_REPAIR, OutageFit),
        (words.OUTAGE_TEST, OutageFit),
    ],
)
def test_every_value_has_its_words(catalogue: dict[Enum, str], kind: type[Enum]) -> None:
    assert set(catalogue) == set(kind)


@pytest.mark.parametrize("name", CASES)
def test_nothing_is_left_unfilled_and_plain_terminals_can_show_it(name: str) -> None:
    text = said(CASES[name])

    assert not re.search(r"[{}]|None|  |\bnan\b|\binf\b", text)
    assert "?" not in as_ascii(text)


@pytest.mark.parametrize("name", CASES)
def test_the_page_names_no_other_action_and_no_other_day(name: str) -> None:
    """The sentence keeps, watches, measures or repairs as the course does, by its day."""
    examined = CASES[name]
    course, text = examined.course, action(examined)
    begins = {
        CostAction.KEEP: ("Keep", "As far as"),
        CostAction.WATCH: ("Keep the motor in service and watch", "As far as"),
        CostAction.REPEAT: ("Do not", "Keep the motor in service. Measure", "The cage"),
        CostAction.PLAN_REPAIR: ("Take the motor out",),
        CostAction.STOP: ("Weigh",),
    }[course.action]

    assert text.startswith(begins)
    assert course.act_by.latest is not None
    assert course.act_by.latest.isoformat() in text


@pytest.mark.parametrize("name", CASES)
def test_the_document_says_what_the_page_says(name: str) -> None:
    examined = CASES[name]
    document = to_document(examined)

    assert document.course.text == document.recommendation.text == action(examined)
    assert document.course.latest == document.act_by.latest
    assert document.course.latest_days == document.act_by.latest_days
    removes = document.course.action in ("plan_repair", "stop")
    assert removes is (document.recommendation.action == "plan_removal")
    assert removes <= document.removal_supported


def test_costs_that_differ_from_the_rule_are_explained() -> None:
    less, interval = said(CASES["less"]), said(CASES["interval"])

    assert "Enough methods and classes agree to take the motor out." in less
    assert "is expected to cost 1760" in less
    assert "from a chance of 72 % on, or if a failure costs 120 times a pull" in less
    assert "not at every plausible chance and rate of failures" in interval
    assert "A judged ratio does not overrule the rule" in said(CASES["judged, less"])
    assert "at least watched" in said(CASES["floor"])
    assert "would not show a defect either" in said(CASES["floor of an undecided cage"])
    assert "Your costs ask for the same." in said(CASES["agreed"])


def test_confirming_names_what_lacks_and_what_tells_most_and_lists_it() -> None:
    examined = CASES["confirm first"]
    listed = [kind for row in next_rows(examined) for kind in row.kinds]

    assert "fewer than 3 methods of 2 classes agree" in said(examined)
    assert "a record of the next start that happens anyway tells most per hour" in said(examined)
    assert NextMeasurement.START_UP in listed
    sound_one = CASES["confirm first, sound"]
    listed = [kind for row in next_rows(sound_one) for kind in row.kinds]
    assert sound_one.course.first is not None
    assert STEP_OF[sound_one.course.first] in listed
    assert NextMeasurement.ROUTINE not in listed


def test_enough_that_do_not_agree_are_not_called_too_few() -> None:
    enough = replace(CASES["confirm first"].verdict, methods_agreeing=4, classes_agreeing=3)
    text = said(replace(CASES["confirm first"], verdict=enough))

    assert "fewer than" not in text
    assert "do not agree as the rule for taking a motor out wants" in text


def test_the_outage_is_named_where_a_stop_is_asked() -> None:
    outage = {name.removeprefix("outage "): said(case) for name, case in CASES.items()}

    assert "in the planned outage on 2026-12-03 and have" in outage["in time"]
    assert "2027-01-02 is the latest day" in outage["in time"]
    assert "leaves time for a repair in the planned outage on 2026-12-03" in outage["kept"]
    assert "in the planned outage on 2027-02-11 and have" in outage["awaited"]
    assert "are expected to fail before it" in outage["awaited"]
    assert "not at every plausible one: weigh it" in outage["tempting"]
    assert "the planned outage on 2027-09-03 is too late" in outage["too late"]
    assert "leaves less than the 7 days of notice" in outage["without notice"]
    assert "2026-10-06, is past" in outage["past"]


def test_stopping_defers_to_the_site_and_has_no_window() -> None:
    course: Course = replace(
        CASES["agreed"].course, action=CostAction.STOP, ground=CourseGround.COSTS_MORE
    )
    text = said(replace(CASES["agreed"], course=course))

    assert "The engineer responsible on site decides." in text
    assert "our rule" not in text


def test_what_costs_would_stop_at_once_is_confirmed_at_once() -> None:
    level = given(1.0, 500.0, level="high")
    many = replace(CASES["confirm first"].verdict, damage_bars=Estimate(5.0, 4.5, 5.5))
    made = examination(record(SUSPECT), of=motor(criticality=level))
    text = said(with_chance(replace(made, verdict=many), 0.99))

    assert "Confirm it first, at once;" in text
    assert "The engineer responsible on site decides." in text


def test_a_doubted_part_leads_whatever_the_cage() -> None:
    assert "The cage is no reason to stop the motor; the stator insulation may be" in said(
        CASES["parts"]
    )
    assert said(CASES["parts alone"]).startswith("The cage could not be judged")
    assert CASES["parts alone"].verdict.state is State.NOT_DECIDABLE


def test_sentences_are_short_and_claim_no_certainty() -> None:
    forbidden = r"\b(severe|severity|guarantee\w*|certainly|critical fault|alarm)\b"
    for text in _texts():
        assert not re.search(forbidden, text, flags=re.IGNORECASE), text
        for sentence in re.split(r"(?<=[.!?:;]) ", text):
            assert len(sentence.split()) <= 26, sentence
        names = [name for _, name, _, _ in string.Formatter().parse(text) if name is not None]
        assert all(name.isidentifier() for name in names), text


def _texts() -> Iterator[str]:
    for name, value in vars(words).items():
        if name.isupper():
            yield from value.values() if isinstance(value, dict) else (value,)
