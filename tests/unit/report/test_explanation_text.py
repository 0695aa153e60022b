"""Causes in words: ranked, with reasons and hours, and no percentage where none may be stated."""

from __future__ import annotations

from dataclasses import replace

import pytest

from cagewise.decision.examination import Examination, Settings
from cagewise.decision.verdict import State
from cagewise.evidence.explanations import Cause
from cagewise.evidence.findings import BlindSpot
from cagewise.evidence.fusion.posterior import Rate
from cagewise.indicators.reading import Reading
from cagewise.quantities import NotKnown
from cagewise.report import likelihood_wording as words
from cagewise.report import sentences
from cagewise.report.explanation_text import explained, not_excluded
from support.examinations import (
    INVENTED,
    INVENTED_RATES,
    LIMITS,
    damaged,
    examination,
    oscillating,
    reading,
    record,
    sound,
    study_with,
    suspicious,
    unreadable,
)


def shown(readings: tuple[Reading, ...], voltages: int = 3) -> Examination:
    return examination(record(readings, voltages=voltages))


def not_covered(readings: tuple[Reading, ...]) -> Examination:
    few = replace(INVENTED_RATES, missed=Rate(events=0, cases=3))
    study = study_with(few)
    return examination(record(readings, study=study), study=study)


@pytest.mark.parametrize("readings", [damaged(), oscillating(), suspicious()])
def test_every_cause_is_named_once(readings: tuple[Reading, ...]) -> None:
    section = explained(shown(readings))
    said = " ".join([*(row.cause for row in section.rows), *section.together])

    for cause in Cause:
        assert said.count(words.CAUSE[cause]) == 1, cause


def test_the_cage_leads_where_it_is_damaged_and_the_load_where_it_swings() -> None:
    assert explained(shown(damaged())).rows[0].cause == words.CAUSE[Cause.CAGE]
    lead = explained(shown(oscillating())).rows[0]
    assert lead.cause == words.CAUSE[Cause.LOAD_OSCILLATION]
    assert "the direct component says the cage does not make them" in lead.why


def test_weights_are_words_where_the_study_covers_nothing() -> None:
    section = explained(not_covered(suspicious()))

    assert not any("%" in row.weight for row in section.rows)
    assert {row.weight for row in section.rows} <= {word for _, word in words.IN_WORDS}
    assert not any("%" in text for text in section.together)
    assert section.note == words.WEIGHTS_NOTE_WORDS


def test_weights_never_read_as_counted() -> None:
    assert "judgement" in explained(shown(suspicious())).note


def test_without_voltages_the_supply_is_not_weighed_and_its_test_is_named_with_hours() -> None:
    section = explained(shown(oscillating(), voltages=0))
    unknown = next(text for text in section.together if text.startswith("Cannot be weighed"))

    assert f"{words.CAUSE[Cause.SUPPLY_MODULATION]} (no voltages were recorded" in unknown
    hours = f"{LIMITS.effort.voltages_hours:g} h"
    assert f"two line voltages recorded with the currents ({hours})" in unknown


def test_hours_are_those_of_the_limits() -> None:
    visit = shown(suspicious())
    effort = replace(LIMITS.effort, second_load_hours=7.5, start_record_hours=7.5)
    changed = Settings(limits=replace(LIMITS, effort=effort), study=INVENTED)
    rows = explained(replace(visit, settings=changed)).rows
    shape = next(row for row in rows if row.cause == words.CAUSE[Cause.ROTOR_SHAPE])

    assert shape.test.endswith("(7.5 h)")


def test_a_sound_cage_needs_no_test_and_voltages_are_not_asked_for_twice() -> None:
    of_sound = shown(oscillating())
    assert of_sound.verdict.state is State.SOUND
    assert not any(row.test for row in explained(of_sound).rows)

    rows = {row.cause: row for row in explained(shown(suspicious())).rows}
    assert rows[words.CAUSE[Cause.LOAD_OSCILLATION]].test
    assert not rows[words.CAUSE[Cause.SUPPLY_MODULATION]].test


def test_where_no_line_stands_one_sentence_says_so() -> None:
    section = explained(shown(sound()))

    assert section.note == words.NOTHING_TO_EXPLAIN
    assert not section.rows
    assert not section.together


def test_a_line_as_weak_as_a_sound_cage_makes_needs_no_cause() -> None:
    """It stands out of the noise, but it bounds the damage by itself."""
    visit = shown((reading("direct_component", (0.02, 0.05, 0.08), limit=0.04),))

    assert visit.evidence.findings[0].detected
    assert explained(visit).note == words.NOTHING_TO_EXPLAIN


def test_where_another_class_alone_speaks_for_damage_nothing_is_said_of_these_lines() -> None:
    """Bars 90 electrical degrees apart: the pole-pass lines are weak, and the cage is suspect."""
    visit = shown(
        (
            reading("direct_component", (0.02, 0.05, 0.1)),
            reading("harmonic_lines", (0.3, 0.5, 0.7)),
        )
    )
    assert visit.verdict.state is State.SUSPECT
    assert not explained(visit).note


def test_nothing_read_has_no_section() -> None:
    assert not explained(shown(unreadable())).note


def test_what_is_ranked_is_not_said_again_as_not_excluded() -> None:
    visit = shown(suspicious(), voltages=0)
    said = [text for text, _ in not_excluded(visit)]
    all_said = [text for text, _ in sentences.not_excluded(visit.evidence)]

    assert BlindSpot.SUPPLY_MODULATION in visit.evidence.blind_spots
    assert len(said) < len(all_said)
    assert not any("modulated" in text or "swings" in text for text in said)


def test_what_is_not_ranked_stays_not_excluded() -> None:
    visit = shown(unreadable(), voltages=0)

    assert not_excluded(visit) == sentences.not_excluded(visit.evidence)


def test_a_cause_with_its_line_in_the_motor_file_is_named() -> None:
    visit = shown(suspicious())
    near = tuple(
        replace(one, line="belt_upper", numbers={"distance_hz": 0.012})
        if one.cause is Cause.COUPLED_LINE
        else one
        for one in visit.outlook.explanations
    )
    assert any(isinstance(one.weight, NotKnown) for one in near)
    section = explained(replace(visit, outlook=replace(visit.outlook, explanations=near)))

    assert any(words.CAUSE[Cause.COUPLED_LINE] in text for text in section.together)
