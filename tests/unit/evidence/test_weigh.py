"""Votes, counts, the pooled line, blind spots, competing causes, several recordings."""

from __future__ import annotations

from dataclasses import replace

import pytest

from cagewise.evidence.findings import (
    BlindSpot,
    Evidence,
    Ground,
    Hypothesis,
    PoolGround,
    Support,
)
from cagewise.evidence.fusion.posterior import Posterior
from cagewise.evidence.probability import NotCalibrated
from cagewise.evidence.weigh import combine, weigh
from cagewise.indicators.reading import IndependenceClass, Method, Reading
from cagewise.indicators.standstill.position_pattern import PAIR_OVER_LIMIT
from cagewise.quantities import Estimate, NotKnown
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

FUNDAMENTAL = IndependenceClass.RUNNING_FUNDAMENTAL
HARMONIC = IndependenceClass.RUNNING_HARMONIC


def evidence_of(readings: tuple[Reading, ...], *, voltages: bool = True) -> Evidence:
    return weigh(readings, LIMITS.evidence, voltages_measured=voltages)


def support_of(evidence: Evidence, hypothesis: Hypothesis) -> list[Support]:
    return [finding.support for finding in evidence.about(hypothesis)]


def test_three_methods_from_two_classes_speak_for_an_open_bar() -> None:
    evidence = evidence_of(damaged())

    assert set(evidence.classes_for) == {FUNDAMENTAL, HARMONIC}
    assert evidence.methods_for == (
        Method.SUPPLY_SIDE_LINES,
        Method.FIFTH_SIDE_LINES,
        Method.DEMODULATED_CURRENT,
    )


def test_two_readings_of_one_method_count_once() -> None:
    direct, lower, *_ = damaged()

    assert evidence_of((direct, lower)).methods_for == (Method.SUPPLY_SIDE_LINES,)


def test_methods_of_a_class_in_which_the_cage_is_cleared_do_not_count() -> None:
    assert evidence_of(oscillating()).methods_for == ()


def test_the_direct_component_speaks_for_its_class_even_if_another_is_sharper() -> None:
    direct, lower, *_ = damaged()
    sharp = replace(lower, open_bar_equivalent=Estimate(0.94, 0.93, 0.95))
    (verdict,) = evidence_of((sharp, direct)).classes

    assert verdict.lead == "direct_component"


def test_without_direct_component_a_warning_leads_its_class() -> None:
    """Speed ripple takes from a line more easily than it adds to it."""
    quiet = reading("lower_side_line", (0.0, 0.02, 0.1), false_alarm=0.4)
    loud = reading("envelope_amplitude", (0.5, 1.0, 1.9))
    (verdict,) = evidence_of((quiet, loud)).classes

    assert verdict.support is Support.FOR
    assert verdict.lead == "envelope_amplitude"


def test_pooled_interval_is_never_sharper_than_the_sharpest_class() -> None:
    evidence = evidence_of(damaged())

    assert evidence.pooled.ground is PoolGround.CLASSES_AGREE
    assert evidence.pooled.bars == damaged()[0].open_bar_equivalent


def test_classes_that_agree_on_damage_but_not_on_its_size_are_pooled_by_their_hull() -> None:
    """More than the side lines show: not all of these bars are adjacent."""
    direct = reading("direct_component", (0.8, 1.0, 1.3))
    harmonic = reading("harmonic_lines", (2.2, 2.4, 2.6))
    pooled = evidence_of((direct, harmonic)).pooled

    assert pooled.ground is PoolGround.COUNT_DIFFERS
    assert pooled.bars == Estimate(1.0, 0.8, 2.6)


def test_harmonic_lines_do_not_count_adjacent_bars_where_side_lines_do() -> None:
    """Three adjacent bars, their number on the rotor unknown; K4 shows hardly more than of one."""
    direct = reading("direct_component", (1.56, 3.92, 10.4))
    for harmonic in ((0.63, 1.07, 8.0), (0.6, 0.8, 1.2)):
        pooled = evidence_of((direct, reading("harmonic_lines", harmonic))).pooled
        assert pooled.ground is PoolGround.CLASSES_AGREE
        assert pooled.bars == direct.open_bar_equivalent


def test_of_classes_that_count_adjacent_bars_the_relatively_sharpest_is_pooled() -> None:
    running = reading("direct_component", (0.5, 0.9, 1.9))
    start = start_line((1.3, 1.9, 2.8))
    pooled = combine([evidence_of((running,)), evidence_of((start,))]).pooled

    assert pooled.ground is PoolGround.CLASSES_AGREE
    assert pooled.bars == start.open_bar_equivalent


def test_of_classes_that_count_but_do_not_meet_the_hull_is_pooled() -> None:
    running = reading("direct_component", (0.5, 0.9, 1.2))
    start = start_line((1.3, 1.9, 2.8))
    pooled = combine([evidence_of((running,)), evidence_of((start,))]).pooled

    assert pooled.ground is PoolGround.COUNT_DIFFERS
    assert pooled.bars == Estimate(1.9, 0.5, 2.8)


def test_harmonic_lines_alone_are_pooled_as_they_are() -> None:
    harmonic = reading("harmonic_lines", (0.7, 1.0, 1.3))

    assert evidence_of((harmonic,)).pooled.bars == harmonic.open_bar_equivalent


def test_classes_that_contradict_each_other_are_not_pooled() -> None:
    pooled = evidence_of((damaged()[0], sound()[3])).pooled

    assert pooled.ground is PoolGround.CLASSES_DISAGREE
    assert pooled.bars is None


def test_one_class_alone_is_pooled_with_nothing() -> None:
    assert evidence_of(damaged()[:1]).pooled.ground is PoolGround.ONE_CLASS


def test_a_harmonic_line_without_bars_agrees_without_an_interval() -> None:
    pooled = evidence_of((damaged()[0], reading("harmonic_lines", None))).pooled

    assert pooled.ground is PoolGround.CLASSES_AGREE
    assert pooled.bars == damaged()[0].open_bar_equivalent


def test_without_calibration_there_is_no_probability_and_the_reason_says_so() -> None:
    for readings in (damaged(), sound(), unreadable()):
        evidence = weigh(
            readings, LIMITS.evidence, voltages_measured=True, calibration=NotCalibrated()
        )
        assert isinstance(evidence.probability, NotKnown)
        assert evidence.probability.reason.startswith("the study has ")


def test_a_record_of_no_stated_kind_has_a_posterior_but_no_probability() -> None:
    evidence = evidence_of(damaged())

    assert isinstance(evidence.posterior, Posterior)
    assert not evidence.posterior.calibrated
    assert isinstance(evidence.probability, NotKnown)
    assert evidence.probability.reason.startswith("the study has ")


def test_what_was_not_read_gives_no_posterior() -> None:
    assert isinstance(evidence_of(unreadable()).posterior, NotKnown)


def test_masked_pair_is_excluded_only_by_harmonic_lines_that_can_tell() -> None:
    assert BlindSpot.MASKED_PAIR not in evidence_of(sound()).blind_spots
    assert BlindSpot.MASKED_PAIR in evidence_of(sound()[:3]).blind_spots
    deaf = replace(sound()[3], valid=False, reason="sampled too slowly")
    assert BlindSpot.MASKED_PAIR in evidence_of((*sound()[:3], deaf)).blind_spots


@pytest.mark.parametrize(("bars", "hidden"), [((0.02, 0.02, 0.3), False), ((0.02, 0.1, 8.0), True)])
def test_harmonic_lines_that_stand_weakly_bound_a_masked_pair(
    bars: tuple[float, float, float], *, hidden: bool
) -> None:
    """Such a pair adds up in K4 and K8, unlike some adjacent bars."""
    evidence = evidence_of((*sound()[:3], reading("harmonic_lines", bars)))

    assert (BlindSpot.MASKED_PAIR in evidence.blind_spots) is hidden


def test_a_crack_is_excluded_only_by_the_running_motor() -> None:
    """A bar of doubled resistance read less than 0.35 bars on 20 simulated starts and tests."""
    silent = position((0.0, 0.1, 0.3))

    assert BlindSpot.CRACKED_BAR in evidence_of((silent,)).blind_spots
    assert BlindSpot.CRACKED_BAR not in evidence_of((*sound(), silent)).blind_spots


@pytest.mark.parametrize(("over_limit", "hidden"), [(0.4, True), (1.6, False)])
def test_a_position_pattern_excludes_a_masked_pair_only_where_it_would_show(
    over_limit: float, *, hidden: bool
) -> None:
    silent = replace(position((0.0, 0.1, 0.3)), details={PAIR_OVER_LIMIT: over_limit})

    assert (BlindSpot.MASKED_PAIR in evidence_of((silent,)).blind_spots) is hidden
    assert BlindSpot.MASKED_PAIR not in evidence_of((*sound(), silent)).blind_spots


def test_a_running_record_never_excludes_symmetric_damage_and_the_outer_cage() -> None:
    for readings in (damaged(), sound(), unreadable()):
        spots = evidence_of(readings).blind_spots
        assert {BlindSpot.SYMMETRIC_DAMAGE, BlindSpot.OUTER_CAGE} <= set(spots)


def test_an_anisotropic_rotor_is_named_when_only_the_side_lines_speak() -> None:
    assert BlindSpot.ANISOTROPIC_ROTOR in evidence_of(damaged()[:3]).blind_spots
    assert BlindSpot.ANISOTROPIC_ROTOR not in evidence_of(damaged()).blind_spots
    assert BlindSpot.ANISOTROPIC_ROTOR not in evidence_of(sound()).blind_spots


def test_without_voltages_a_modulated_supply_stays_possible() -> None:
    evidence = evidence_of(damaged()[:3], voltages=False)

    assert support_of(evidence, Hypothesis.SUPPLY_MODULATION) == [Support.CANNOT_TELL]
    assert BlindSpot.SUPPLY_MODULATION in evidence.blind_spots


def test_damage_that_remains_speaks_against_load_and_supply() -> None:
    evidence = evidence_of(damaged())

    assert support_of(evidence, Hypothesis.LOAD_OSCILLATION) == [Support.AGAINST]
    assert support_of(evidence, Hypothesis.SUPPLY_MODULATION) == [Support.AGAINST]


def test_lines_that_the_cage_does_not_make_speak_for_the_load() -> None:
    evidence = evidence_of(oscillating())
    (finding,) = evidence.about(Hypothesis.LOAD_OSCILLATION)

    assert finding.support is Support.FOR
    assert finding.ground is Ground.LINES_WITHOUT_CAGE


@pytest.mark.parametrize(
    ("share", "supply", "load"),
    [
        (0.9, Support.FOR, Support.CANNOT_TELL),
        (0.35, Support.CANNOT_TELL, Support.FOR),
        (0.05, Support.AGAINST, Support.FOR),
    ],
)
def test_lines_that_came_with_the_voltage_speak_for_the_supply(
    share: float, supply: Support, load: Support
) -> None:
    direct, *others = oscillating()
    evidence = evidence_of((replace(direct, details={"supply_share_1": share}), *others))

    assert support_of(evidence, Hypothesis.SUPPLY_MODULATION) == [supply]
    assert support_of(evidence, Hypothesis.LOAD_OSCILLATION) == [load]


def test_no_line_leaves_nothing_to_explain() -> None:
    assert support_of(evidence_of(sound()), Hypothesis.LOAD_OSCILLATION) == [Support.AGAINST]


@pytest.mark.parametrize(
    ("active", "reactive", "support"),
    [(5.6, 1.0, Support.FOR), (1.0, 1.0, Support.AGAINST), (2.5, 1.0, Support.CANNOT_TELL)],
)
def test_power_lines_part_load_from_cage(active: float, reactive: float, support: Support) -> None:
    power = tuple(
        replace(
            reading(name),
            value=Estimate(value, 0.9 * value, 1.1 * value),
            details={"active_over_reactive_of_oscillation_low_1": 4.5},
        )
        for name, value in (("active_power_line", active), ("reactive_power_line", reactive))
    )
    evidence = evidence_of((damaged()[0], *power))

    assert support_of(evidence, Hypothesis.LOAD_OSCILLATION) == [Support.AGAINST, support]


def test_recordings_that_contradict_each_other_are_in_conflict_not_averaged() -> None:
    together = combine([evidence_of(damaged()), evidence_of(sound())])

    assert {c.ground for c in together.classes} == {Ground.RECORDS_CONFLICT}
    assert together.pooled.ground is PoolGround.RECORDS_CONFLICT
    assert together.pooled.bars is None
    assert together.methods_for == ()


def test_a_recording_that_cannot_tell_does_not_dilute_one_that_can() -> None:
    alone, together = (
        evidence_of(damaged()),
        combine([evidence_of(unreadable()), evidence_of(damaged())]),
    )

    assert together.classes == alone.classes
    assert together.methods_for == alone.methods_for


def test_the_sharper_of_two_agreeing_recordings_leads() -> None:
    wide = (reading("direct_component", (0.5, 1.0, 2.0)),)
    sharp = (reading("direct_component", (0.9, 1.0, 1.1)),)
    together = combine([evidence_of(wide), evidence_of(sharp)])

    assert together.classes[0].bars == Estimate(1.0, 0.9, 1.1)


def test_one_recording_combined_is_itself() -> None:
    evidence = evidence_of(sound())

    assert combine([evidence]) is evidence


@pytest.mark.parametrize("readings", [damaged(), sound(), oscillating()])
def test_the_order_of_the_readings_changes_nothing(readings: tuple[Reading, ...]) -> None:
    forwards, backwards = evidence_of(readings), evidence_of(readings[::-1])

    assert forwards.classes == backwards.classes
    assert forwards.methods_for == backwards.methods_for
    assert forwards.pooled == backwards.pooled
    assert forwards.blind_spots == backwards.blind_spots
    assert {f.reading: f.support for f in forwards.about(Hypothesis.CAGE_DEFECT)} == {
        f.reading: f.support for f in backwards.about(Hypothesis.CAGE_DEFECT)
    }
