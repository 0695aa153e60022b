"""From evidence to the state of the cage."""

from __future__ import annotations

from dataclasses import replace

import pytest

from cagewise.decision.verdict import State, StateGround, Verdict, judge
from cagewise.evidence.weigh import combine, weigh
from cagewise.indicators.reading import Reading
from cagewise.indicators.standstill.position_pattern import FROM_ORDER_4
from support.examinations import (
    LIMITS,
    damaged,
    oscillating,
    position,
    reading,
    sound,
    start_line,
    unreadable,
)


def judged(*records: tuple[Reading, ...]) -> Verdict:
    evidence = [weigh(r, LIMITS.evidence, voltages_measured=True) for r in records]
    return judge(combine(evidence), LIMITS.decision)


def test_three_methods_from_two_classes_support_removal() -> None:
    verdict = judged(damaged())

    assert verdict.state is State.DEFECTIVE
    assert verdict.removal_supported
    assert (verdict.methods_agreeing, verdict.classes_agreeing) == (3, 2)


@pytest.mark.parametrize("dropped", [2, 3])
def test_removal_needs_three_methods_and_two_classes(dropped: int) -> None:
    """Drop the demodulated current (two methods left), then the harmonics (one class left)."""
    readings = tuple(r for k, r in enumerate(damaged()) if k != dropped)

    assert not judged(readings).removal_supported


def test_one_class_alone_makes_a_suspect_however_many_methods_it_has() -> None:
    verdict = judged(damaged()[:3])

    assert verdict.state is State.SUSPECT
    assert verdict.ground is StateGround.TOO_FEW_AGREE
    assert verdict.methods_agreeing == 2


def test_sound_always_carries_its_bound() -> None:
    verdict = judged(sound())

    assert verdict.state is State.SOUND
    assert verdict.bound_bars == pytest.approx(0.11)  # detection limit of the direct component
    assert verdict.damage_bars is None


def test_harmonic_lines_alone_never_make_a_cage_sound() -> None:
    """Four adjacent bars at 90 electrical degrees per pair cancel in these lines."""
    verdict = judged(sound()[3:])

    assert verdict.state is State.NOT_DECIDABLE
    assert verdict.ground is StateGround.NOT_BOUNDED
    assert verdict.bound_bars is None


def test_a_swinging_load_leaves_the_cage_sound() -> None:
    verdict = judged(oscillating())

    assert verdict.state is State.SOUND
    assert verdict.bound_bars == pytest.approx(0.21)


def test_harmonic_lines_that_speak_where_side_lines_do_not_are_a_masked_pair() -> None:
    verdict = judged((*sound()[:3], damaged()[3]))

    assert verdict.state is State.SUSPECT
    assert verdict.ground is StateGround.MASKED_PAIR


@pytest.mark.parametrize(
    ("order_4_alone", "ground"),
    [(1.0, StateGround.MASKED_PAIR), (0.0, StateGround.CLASSES_DISAGREE)],
)
def test_a_pattern_whose_second_order_stands_is_no_masked_pair(
    order_4_alone: float, ground: StateGround
) -> None:
    """Bars 90 electrical degrees apart leave it empty; ducts do not, and the start bounds both."""
    pattern = replace(position((0.33, 0.48, 0.71)), details={FROM_ORDER_4: order_4_alone})
    verdict = judged((start_line((0.0, 0.02, 0.08), false_alarm=1.0),), (pattern,))

    assert verdict.state is State.SUSPECT
    assert verdict.ground is ground


DUCTS = (
    reading("direct_component", (1.8, 2.2, 2.8)),
    reading("harmonic_lines", (0.026, 0.039, 2.2)),
)
"""A simulated sound rotor with axial ducts, as many as poles."""


def test_the_picture_of_a_shaped_rotor_is_not_decidable_and_says_what_decides() -> None:
    verdict = judged(DUCTS)

    assert verdict.state is State.NOT_DECIDABLE
    assert verdict.ground is StateGround.SHAPE_EXPLAINS
    assert verdict.bound_bars == pytest.approx(2.8)


def test_tests_at_rest_do_not_part_the_shape_from_the_cage_but_a_start_does() -> None:
    pattern = position((0.33, 0.48, 0.71))
    assert judged(DUCTS, (pattern,)).ground is StateGround.SHAPE_EXPLAINS
    assert judged(DUCTS, (start_line((1.7, 2.1, 2.6)),)).state is State.DEFECTIVE
    cleared = judged(DUCTS, (start_line((0.0, 0.0, 0.1), false_alarm=1.0),))
    assert cleared.state is State.SOUND
    assert cleared.bound_bars == pytest.approx(0.1)


def test_one_class_without_voltages_is_not_decidable() -> None:
    evidence = combine([weigh(damaged()[:3], LIMITS.evidence, voltages_measured=False)])
    verdict = judge(evidence, LIMITS.decision)

    assert verdict.state is State.NOT_DECIDABLE
    assert verdict.ground is StateGround.SUPPLY_NOT_EXCLUDED


def test_harmonic_lines_beyond_the_bound_leave_nothing_sound() -> None:
    direct = reading("direct_component", (0.02, 0.05, 0.1))
    pair = reading("harmonic_lines", (0.22, 1.15, 8.0))
    verdict = judged((direct, pair))

    assert verdict.state is State.NOT_DECIDABLE
    assert verdict.ground is StateGround.PAIR_NOT_EXCLUDED


def test_sound_is_said_of_what_would_have_shown() -> None:
    start = (start_line((0.0, 0.02, 0.08), false_alarm=1.0),)
    pattern = (position((0.0, 0.1, 0.3), false_alarm=0.4),)

    assert judged(sound()).ground is StateGround.BOUNDED
    assert judged(sound()[:3]).ground is StateGround.BOUNDED_ADJACENT
    assert judged(start, pattern).ground is StateGround.BOUNDED_PARTED
    assert judged(start).ground is StateGround.BOUNDED_LEAST
    assert judged(start, sound()).ground is StateGround.BOUNDED


def test_classes_that_contradict_each_other_make_a_suspect() -> None:
    verdict = judged((*damaged()[:3], sound()[3]))

    assert verdict.state is State.SUSPECT
    assert verdict.ground is StateGround.CLASSES_DISAGREE


def test_recordings_that_contradict_each_other_make_a_suspect() -> None:
    assert judged(damaged(), sound()).ground is StateGround.RECORDS_CONFLICT


def test_nothing_read_is_not_decidable() -> None:
    verdict = judged(unreadable())

    assert verdict.state is State.NOT_DECIDABLE
    assert verdict.ground is StateGround.NOTHING_READ


def test_no_readings_at_all_are_not_decidable() -> None:
    assert judged(()).state is State.NOT_DECIDABLE


def test_a_blind_record_is_not_decidable_and_says_how_blind() -> None:
    blind = reading("direct_component", (0.0, 0.3, 0.9), limit=1.7, false_alarm=0.4)
    verdict = judged((blind,))

    assert verdict.state is State.NOT_DECIDABLE
    assert verdict.ground is StateGround.NOT_BOUNDED
    assert verdict.bound_bars == pytest.approx(1.7)
