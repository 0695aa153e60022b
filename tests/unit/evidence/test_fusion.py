"""Fusion of classes: what raises, what lowers, what changes nothing, and how sure it may get."""

from __future__ import annotations

import time
from dataclasses import replace
from itertools import permutations

import numpy as np
import pytest

from cagewise.evidence.fusion.fuse import Fused, credible_bars, fuse, guarded, shape_share
from cagewise.evidence.fusion.heard import Heard, heard
from cagewise.evidence.fusion.parameters import FusionParameters, shipped
from cagewise.evidence.fusion.patterns import (
    DEFAULT_SHARES,
    MIXED_SHOWS,
    DamagePattern,
    Family,
    Prior,
    states_of,
)
from cagewise.indicators.reading import IndependenceClass
from cagewise.quantities import Estimate

PRIOR = Prior()
JUDGED = FusionParameters()
BOTH = pytest.mark.parametrize("parameters", [JUDGED, shipped().parameters], ids=["judged", "file"])
NAMES = {
    IndependenceClass.RUNNING_FUNDAMENTAL: "direct_component",
    IndependenceClass.RUNNING_HARMONIC: "harmonic_lines",
    IndependenceClass.START: "start_side_line_track",
    IndependenceClass.STANDSTILL_PATTERN: "position_pattern",
    IndependenceClass.STANDSTILL_MEAN: "mean_inductance",
}
FUNDAMENTAL, HARMONIC, START, POSITION, MEAN = NAMES


def reading(
    bars: float, of: IndependenceClass = FUNDAMENTAL, *, name: str = "", relative: float = 0.12
) -> Heard:
    """Return a reading with an interval as indicators give them: additive, then relative."""
    half = 1.96 * np.hypot(0.05, relative * bars)
    found = heard(name or NAMES[of], of, Estimate(bars, max(0.0, bars - half), bars + half), 0.12)
    assert found is not None
    return found


def not_found(limit: float, of: IndependenceClass = HARMONIC) -> Heard:
    found = heard(NAMES[of], of, None, limit)
    assert found is not None
    return found


def defect(*readings: Heard, prior: Prior = PRIOR, parameters: FusionParameters = JUDGED) -> float:
    return fuse(readings, prior, parameters).defect


def likeliest(fused: Fused) -> DamagePattern:
    return max(DamagePattern, key=lambda p: fused.by_pattern()[p])


@BOTH
def test_the_order_of_readings_does_not_matter(parameters: FusionParameters) -> None:
    readings = [reading(1.1), reading(0.4, HARMONIC), reading(0.2, START), reading(0.9, POSITION)]
    found = [defect(*order, parameters=parameters) for order in permutations(readings)]

    assert found == pytest.approx([found[0]] * len(found), abs=1e-12)


def test_without_readings_the_prior_stands() -> None:
    found = fuse([], PRIOR, JUDGED).by_pattern()

    assert found == pytest.approx(PRIOR.probabilities(), abs=1e-12)


@BOTH
@pytest.mark.parametrize("of", list(NAMES))
def test_a_class_that_cannot_tell_changes_nothing(
    of: IndependenceClass, parameters: FusionParameters
) -> None:
    """A limit of a thousand bars excludes nothing."""
    for lead in (reading(0.6, other) for other in NAMES if other is not of):
        alone = defect(lead, parameters=parameters)
        beside = defect(lead, not_found(1000.0, of), parameters=parameters)
        assert beside == pytest.approx(alone, rel=0.01)


@BOTH
def test_classes_that_agree_raise(parameters: FusionParameters) -> None:
    one = defect(reading(1.0), parameters=parameters)
    for of in (HARMONIC, START, POSITION):
        assert defect(reading(1.0), reading(1.0, of), parameters=parameters) > one
    assert defect(reading(1.0), reading(1.0, HARMONIC), reading(1.0, START)) > 0.98


@BOTH
def test_silent_classes_lower(parameters: FusionParameters) -> None:
    sound = defect(reading(0.03), parameters=parameters)
    assert sound < PRIOR.prevalence
    assert defect(reading(0.03), reading(0.03, START), parameters=parameters) < sound


@BOTH
@pytest.mark.parametrize("other", [HARMONIC, START, POSITION])
@pytest.mark.parametrize("high_is_lead", [True, False])
def test_contradiction_never_gives_a_confident_extreme(
    other: IndependenceClass, parameters: FusionParameters, *, high_is_lead: bool
) -> None:
    """At even odds before, neither side may win by more than 100 to 1.

    A reading of the fundamental that the 5th and 7th do not share is the picture of a shaped rotor
    and comes nearest to it.
    """
    even = Prior(prevalence=0.5)
    high, low = (1.0, 0.02) if high_is_lead else (0.02, 1.0)
    found = defect(reading(high), reading(low, other), prior=even, parameters=parameters)

    assert 0.01 < found < 0.99
    assert found < defect(reading(1.0), prior=even, parameters=parameters)


@BOTH
@pytest.mark.parametrize("of", [FUNDAMENTAL, START, POSITION])
@pytest.mark.parametrize("relative", [0.05, 0.12, 0.3])
def test_more_damage_read_never_speaks_less_for_a_defect(
    of: IndependenceClass, relative: float, parameters: FusionParameters
) -> None:
    axis = np.concatenate([np.linspace(0.0, 1.0, 41), np.linspace(1.05, 8.0, 60)])
    odds = [
        found / (1.0 - found)
        for bars in axis
        if (found := defect(reading(bars, of, relative=relative), parameters=parameters))
    ]
    # where one pattern ends and the next begins the odds may dip by less than anybody reads
    peaks = np.maximum.accumulate(odds)
    assert all(now + 1e-3 > 0.6 * peak for now, peak in zip(odds, peaks, strict=True))


@BOTH
@pytest.mark.parametrize("of", [FUNDAMENTAL, HARMONIC, START, POSITION])
def test_no_single_reading_is_overwhelming(
    of: IndependenceClass, parameters: FusionParameters
) -> None:
    """However sharp, a reading may be an outlier: at a prevalence of 2 % it leaves 2 % room."""
    sharp = reading(1.0, of, relative=0.001)
    assert defect(sharp, parameters=parameters) < 0.98


def test_a_better_reading_of_the_class_leads_whatever_it_says() -> None:
    side_lines = reading(3.0, name="side_line_sum")

    assert defect(reading(0.05), side_lines) == defect(reading(0.05))


def test_side_lines_alone_prove_less_than_the_direct_component() -> None:
    assert defect(reading(1.0, name="side_line_sum")) < defect(reading(1.0))


def test_recordings_that_contradict_each_other_leave_the_prior_about_where_it_was() -> None:
    found = defect(reading(1.0), reading(0.02), prior=Prior(prevalence=0.5))

    assert 0.2 < found < 0.8
    assert found == pytest.approx(
        defect(reading(0.02), reading(1.0), prior=Prior(prevalence=0.5)), abs=1e-12
    )


def test_of_recordings_that_agree_the_sharpest_speaks() -> None:
    sharp, wide = reading(1.0, relative=0.05), reading(1.0, relative=0.4)

    assert defect(wide, sharp) == defect(sharp)


def test_harmonic_lines_without_side_lines_are_bars_apart() -> None:
    fused = fuse([reading(0.12), reading(2.0, HARMONIC)], Prior(prevalence=0.5), JUDGED)

    assert likeliest(fused) is DamagePattern.APART


def test_the_fundamental_class_alone_does_not_exclude_bars_apart() -> None:
    """Kernel K2: silence leaves what bars apart were before, and takes the rest."""
    prior = Prior(prevalence=0.5)
    after, before = fuse([reading(0.12)], prior, JUDGED).by_pattern(), prior.probabilities()

    assert after[DamagePattern.APART] > 0.5 * before[DamagePattern.APART]
    assert after[DamagePattern.ONE] < 0.1 * before[DamagePattern.ONE]


def test_fundamental_and_position_pattern_agree_less_than_with_a_start() -> None:
    """The shape of a sound rotor moves both; a start it does not reach."""
    fundamental = reading(1.0)

    assert defect(fundamental, reading(1.0, POSITION)) < defect(fundamental, reading(1.0, START))


def test_the_mean_inductance_is_weak() -> None:
    before = PRIOR.prevalence / (1.0 - PRIOR.prevalence)
    after = defect(reading(2.0, MEAN))

    assert before < after / (1.0 - after) < 10.0 * before


@pytest.mark.parametrize(
    ("bars", "pattern"),
    [
        (0.03, DamagePattern.SOUND),
        (0.5, DamagePattern.PARTIAL),
        (1.0, DamagePattern.ONE),
        (2.0, DamagePattern.TWO),
        (4.0, DamagePattern.THREE_OR_MORE),
    ],
)
def test_two_classes_name_the_pattern(bars: float, pattern: DamagePattern) -> None:
    fused = fuse([reading(bars), reading(bars, START)], PRIOR, JUDGED)

    assert likeliest(fused) is pattern
    if pattern is not DamagePattern.SOUND:
        found = credible_bars(fused.by_state, fused.states)
        assert found.low < bars < found.high


def test_the_prior_is_changeable_and_enters_as_odds() -> None:
    for prevalence in (0.01, 0.2, 0.5):
        found = defect(reading(0.8), prior=Prior(prevalence=prevalence))
        odds = found / (1.0 - found) * (1.0 - prevalence) / prevalence
        at_default = defect(reading(0.8))
        expected = at_default / (1.0 - at_default) * (1.0 - 0.02) / 0.02
        assert odds == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("prevalence", [0.0, 1.0, -0.1])
def test_a_prior_that_is_certain_is_refused(prevalence: float) -> None:
    with pytest.raises(ValueError, match="prevalence"):
        Prior(prevalence=prevalence)


def test_the_guard_keeps_away_from_certainty_and_leaves_a_small_prior_alone() -> None:
    fused = fuse([reading(1.0), reading(1.0, HARMONIC), reading(1.0, START)], PRIOR, JUDGED)
    sound = fused.states.sound
    kept = guarded(fused.by_state, sound, PRIOR, 0.05)
    assert kept.sum() == pytest.approx(1.0)
    assert kept[~sound].sum() == pytest.approx(0.95)

    clean = fuse([reading(0.01), reading(0.01, START), not_found(0.1)], PRIOR, JUDGED)
    lowest = guarded(clean.by_state, sound, PRIOR, 0.1)[~sound].sum()
    # odds of 0.02 / 0.98 times 0.1 / 0.9
    assert lowest == pytest.approx(0.002262, abs=1e-6)
    assert lowest > clean.defect

    rare = Prior(prevalence=1e-4)
    none = fuse([], rare, JUDGED)
    assert guarded(none.by_state, sound, rare, 0.05)[~sound].sum() == pytest.approx(1e-4)


def test_every_pattern_is_a_distribution_over_its_states() -> None:
    states = states_of(0.04, 0.5)
    for index, _ in enumerate(DamagePattern):
        assert states.weight[states.pattern == index].sum() == pytest.approx(1.0)
    assert set(DEFAULT_SHARES) == set(DamagePattern) - {DamagePattern.SOUND}
    assert set(states.expected) == set(Family)


def test_adjacent_damage_counts_alike_beside_all_harmonics_and_bars_apart_do_not() -> None:
    states = states_of(0.04, 0.5)
    apart = states.pattern == tuple(DamagePattern).index(DamagePattern.APART)
    shown = states.expected[Family.HARMONIC]
    part = shown[~apart] / states.bars[~apart]

    assert set(np.round(part, 9)) == {1.0, *MIXED_SHOWS}
    whole = states.weight[~apart][part > 0.99]
    assert whole.sum() == pytest.approx(1.0 + 4 * 0.5)  # sound, and half of four patterns
    assert min(shown[apart]) > 3.0 * max(states.bars[apart])


def test_a_reading_with_wider_errors_tells_less() -> None:
    wide = replace(JUDGED.families[Family.DIRECT], inflation=4.0)
    parameters = replace(JUDGED, families={**JUDGED.families, Family.DIRECT: wide})

    assert abs(defect(reading(0.5), parameters=parameters) - 0.02) < abs(
        defect(reading(0.5)) - 0.02
    )


def test_an_examination_of_four_classes_takes_less_than_five_milliseconds() -> None:
    readings = [reading(1.0, of) for of in (FUNDAMENTAL, HARMONIC, START, POSITION)]
    best = np.inf
    for _ in range(20):
        begin = time.perf_counter()
        fused = fuse(readings, PRIOR, JUDGED)
        credible_bars(fused.by_state, fused.states)
        best = min(best, time.perf_counter() - begin)

    assert best < 5e-3


GROWING_CRACK = (
    # direct component; 5th and 7th: a bar x 1.45, 2.2, 3.5, 8, open, open beside x 2, two open
    ((0.29, 0.26, 0.35), (0.24, 0.0, 0.42)),
    ((0.53, 0.47, 0.64), (0.44, 0.09, 0.74)),
    ((0.71, 0.64, 0.87), (0.58, 0.13, 0.84)),
    ((0.90, 0.80, 1.08), (0.64, 0.15, 0.90)),
    ((1.04, 0.94, 1.21), (1.05, 0.82, 1.43)),
    ((1.49, 1.35, 1.73), (1.07, 0.82, 1.55)),
    ((2.08, 1.87, 2.37), (1.97, 1.47, 2.60)),
)
"""Readings of a simulated 315 kW motor of four poles whose cage gets worse, 16 s at 2 kHz."""


def running(
    direct: tuple[float, float, float],
    harmonic: tuple[float, float, float],
    *,
    voltages: bool = True,
) -> tuple[Heard, ...]:
    """Return what a running record reads."""
    told = (
        heard(NAMES[FUNDAMENTAL], FUNDAMENTAL, Estimate(*direct), 0.2, with_voltages=voltages),
        heard(NAMES[HARMONIC], HARMONIC, Estimate(*harmonic), 0.08, with_voltages=voltages),
    )
    return tuple(one for one in told if one is not None)


@pytest.mark.parametrize("voltages", [True, False])
def test_a_cage_that_gets_worse_is_never_less_probably_defective(*, voltages: bool) -> None:
    """Within 1 %: neighbours of an open bar leave the 5th and 7th where they were, and both classes
    together never say less than the direct component alone."""
    parameters = shipped().parameters
    both = [running(*pair, voltages=voltages) for pair in GROWING_CRACK]
    said = [defect(*readings, parameters=parameters) for readings in both]

    assert np.diff(said).min() > -0.01
    assert said[-1] > 0.98 > said[0]
    for readings, together in zip(both, said, strict=True):
        assert together > defect(readings[0], parameters=parameters)


@BOTH
@pytest.mark.parametrize("share", [1.0, 0.75, 0.5])
def test_more_evidence_of_both_classes_never_lowers(
    parameters: FusionParameters, share: float
) -> None:
    sizes = np.geomspace(0.3, 6.0, 40)
    said = [
        defect(
            *running((x, 0.9 * x, 1.15 * x), (share * x, 0.75 * share * x, 1.35 * share * x)),
            parameters=parameters,
        )
        for x in sizes
    ]

    assert np.diff(said).min() > -0.01


@BOTH
def test_a_lone_pair_is_the_shape_as_soon_as_damage_whatever_its_size(
    parameters: FusionParameters,
) -> None:
    """Shape and prevalence are 2 % each: no more than even odds."""
    for bars in (0.5, 1.0, 2.0, 4.0, 15.0):
        found = fuse([reading(bars)], PRIOR, parameters)
        assert found.defect < 0.5
        assert shape_share(found) > 0.3


def test_without_voltages_the_direct_component_proves_less() -> None:
    parameters = shipped().parameters
    with_voltages, without = (
        defect(running((1.0, 0.9, 1.15), (1.0, 0.7, 1.4), voltages=v)[0], parameters=parameters)
        for v in (True, False)
    )

    assert without < 0.6 * with_voltages


def test_of_several_recordings_one_with_voltages_speaks() -> None:
    blunt = running((1.0, 0.5, 1.8), (0.9, 0.7, 1.4))[0]
    sharp = running((1.1, 1.0, 1.2), (0.9, 0.7, 1.4), voltages=False)[0]

    assert fuse([sharp, blunt], PRIOR, JUDGED).heard == ((blunt,),)


@BOTH
def test_a_sharp_reading_of_bars_apart_falls_between_no_cells(
    parameters: FusionParameters,
) -> None:
    """Two open bars 90 degrees apart read 2.0, 1.89 to 2.23, whatever the motor; at even odds."""
    silent = (0.05, 0.04, 0.08)
    told = running(silent, (2.0, 1.89, 2.23))

    assert defect(*told, prior=Prior(prevalence=0.5), parameters=parameters) > 0.8
