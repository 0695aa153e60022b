"""The state of a cage from a running record, a start and tests at rest together."""

from __future__ import annotations

from cagewise.decision.verdict import State, StateGround, Verdict, judge
from cagewise.evidence.findings import BlindSpot, Evidence
from cagewise.evidence.weigh import combine, weigh
from cagewise.indicators.reading import Reading
from support.examinations import (
    LIMITS,
    damaged,
    mean_inductance,
    position,
    sound,
    start_line,
    start_time,
)

ONE = (0.8, 1.0, 1.3)
NONE = (0.0, 0.05, 0.3)
CLEAR = {"false_alarm": 0.4}


def together(*sources: tuple[Reading, ...]) -> Evidence:
    return combine([weigh(s, LIMITS.evidence, voltages_measured=True) for s in sources])


def judged(*sources: tuple[Reading, ...]) -> Verdict:
    return judge(together(*sources), LIMITS.decision)


def test_six_methods_of_five_classes_are_counted() -> None:
    verdict = judged(damaged(), (start_line(ONE),), (position(ONE), mean_inductance(ONE)))

    assert (verdict.methods_agreeing, verdict.classes_agreeing) == (6, 5)
    assert verdict.state is State.DEFECTIVE
    assert verdict.removal_supported


def test_the_mean_inductance_completes_no_quorum() -> None:
    """One class and the weak one: suspect, however many methods."""
    verdict = judged(damaged()[:3], (mean_inductance(ONE),))

    assert verdict.state is State.SUSPECT
    assert verdict.ground is StateGround.TOO_WEAK
    assert (verdict.methods_agreeing, verdict.classes_agreeing) == (3, 2)
    assert not verdict.removal_supported


def test_a_mean_inductance_that_did_not_rise_contradicts_nobody() -> None:
    assert judged(damaged(), (mean_inductance(NONE),)).state is State.DEFECTIVE


def test_a_mean_inductance_that_rose_is_not_outvoted_by_silence() -> None:
    """Damage alike in all bars shows nowhere else."""
    verdict = judged(sound(), (mean_inductance(ONE),))

    assert verdict.state is State.SUSPECT
    assert verdict.ground is StateGround.CLASSES_DISAGREE


def test_side_lines_and_position_pattern_alone_may_be_the_shape_of_the_rotor() -> None:
    evidence = together(damaged()[:3], (position(ONE),))
    verdict = judge(evidence, LIMITS.decision)

    assert verdict.state is State.SUSPECT
    assert verdict.ground is StateGround.SHAPE_NOT_EXCLUDED
    assert BlindSpot.ANISOTROPIC_ROTOR in evidence.blind_spots


def test_a_start_excludes_the_shape_of_the_rotor() -> None:
    evidence = together(damaged()[:3], (position(ONE),), (start_line(ONE),))

    assert judge(evidence, LIMITS.decision).state is State.DEFECTIVE
    assert BlindSpot.ANISOTROPIC_ROTOR not in evidence.blind_spots


def test_a_slow_start_without_its_side_line_is_not_the_cage() -> None:
    verdict = judged((start_line(NONE, **CLEAR), start_time(ONE)))

    assert verdict.state is State.SOUND
    assert verdict.methods_agreeing == 0


def test_a_slow_start_alone_is_a_sign() -> None:
    assert judged((start_time(ONE),)).state is State.SUSPECT


def test_the_pattern_against_the_side_lines_is_a_masked_pair() -> None:
    verdict = judged(sound()[:3], (start_line(NONE, **CLEAR),), (position(ONE),))

    assert verdict.ground is StateGround.MASKED_PAIR


def test_a_start_alone_can_clear_a_cage() -> None:
    verdict = judged((start_line(NONE, **CLEAR),))

    assert verdict.state is State.SOUND
    assert verdict.bound_bars is not None
