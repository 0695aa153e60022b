"""What one reading says about a cage defect: every ground is reached, and only by its own cause."""

from __future__ import annotations

from dataclasses import replace

import pytest

from cagewise.evidence.cage import bound_bars, weigh_for_cage
from cagewise.evidence.findings import Finding, Ground, Support
from cagewise.indicators.reading import Reading
from support.examinations import LIMITS, damaged, oscillating, reading, sound, unreadable

EVIDENCE = LIMITS.evidence


def weigh_one(item: Reading) -> Finding:
    (finding,) = weigh_for_cage([item], EVIDENCE)
    return finding


@pytest.mark.parametrize(
    ("item", "support", "ground"),
    [
        (reading("lower_side_line", (0.6, 0.9, 1.6)), Support.FOR, Ground.DAMAGE_ESTABLISHED),
        (
            reading("lower_side_line", (0.0, 0.1, 0.3), false_alarm=0.5),
            Support.AGAINST,
            Ground.NO_MORE_THAN,
        ),
        (
            reading("lower_side_line", (0.0, 0.1, 0.3), limit=1.4, false_alarm=0.5),
            Support.CANNOT_TELL,
            Ground.BLIND_BELOW,
        ),
        (reading("lower_side_line", (0.1, 0.9, 2.6)), Support.CANNOT_TELL, Ground.STRADDLES),
        (reading("lower_side_line", None), Support.CANNOT_TELL, Ground.NOT_IN_BARS),
        (reading("harmonic_lines", None), Support.FOR, Ground.LINE_FOUND),
        (
            reading("harmonic_lines", (0.02, 0.02, 0.09)),
            Support.CANNOT_TELL,
            Ground.PATTERN_MAY_HIDE,
        ),
        (
            reading("lower_side_line", valid=False, reason="too short"),
            Support.CANNOT_TELL,
            Ground.NOT_READ,
        ),
    ],
)
def test_each_ground_has_its_cause(item: Reading, support: Support, ground: Ground) -> None:
    finding = weigh_one(item)

    assert (finding.support, finding.ground) == (support, ground)


def test_a_small_damage_that_is_surely_there_speaks_for_a_defect() -> None:
    """A bar of doubled resistance reads like half an open bar: a crack is not sound."""
    finding = weigh_one(reading("direct_component", (0.42, 0.5, 0.61)))

    assert finding.support is Support.FOR


def test_harmonic_lines_that_stand_are_never_against() -> None:
    """They vanish for some patterns of bars: a weak line is no proof of little damage."""
    standing = reading("harmonic_lines", (0.1, 0.3, 0.8))
    silent = reading("harmonic_lines", (0.0, 0.1, 0.3), limit=0.5, false_alarm=0.4)

    assert weigh_one(standing).support is Support.CANNOT_TELL
    assert weigh_one(silent).support is Support.AGAINST


def test_nothing_found_bounds_the_damage_only_down_to_the_detection_limit() -> None:
    quiet = reading("direct_component", (0.0, 0.02, 0.05), limit=0.4, false_alarm=0.6)

    assert bound_bars(quiet, detected=False) == pytest.approx(0.4)
    assert bound_bars(quiet, detected=True) == pytest.approx(0.05)


def test_nothing_found_without_a_detection_limit_bounds_nothing() -> None:
    quiet = reading("lower_side_line", (0.0, 0.02, 0.05), limit=None, false_alarm=0.6)

    assert weigh_one(quiet).bound_bars is None
    assert weigh_one(quiet).support is Support.CANNOT_TELL


def test_a_detection_limit_above_one_bar_is_never_against() -> None:
    for limit in (1.0, 1.01, 5.0):
        quiet = reading("direct_component", (0.0, 0.02, 0.05), limit=limit, false_alarm=0.6)
        assert weigh_one(quiet).support is Support.CANNOT_TELL


def test_direct_component_overrules_side_lines_that_a_swinging_load_makes() -> None:
    findings = {f.reading: f for f in weigh_for_cage(oscillating(), EVIDENCE)}

    assert findings["direct_component"].support is Support.AGAINST
    assert findings["lower_side_line"].ground is Ground.EXPLAINED_BY_SPEED
    assert findings["envelope_amplitude"].ground is Ground.EXPLAINED_BY_SPEED
    assert findings["harmonic_lines"].support is Support.AGAINST


def test_envelope_that_vanishes_does_not_speak_against_a_damaged_cage() -> None:
    """The amplitude line cancels where the side lines are pure phase modulation."""
    direct, _, _, harmonic = damaged()
    cancelled = reading("envelope_amplitude", (0.0, 0.05, 0.2), false_alarm=0.4)
    findings = {f.reading: f for f in weigh_for_cage([direct, cancelled, harmonic], EVIDENCE)}

    assert findings["envelope_amplitude"].support is Support.CANNOT_TELL
    assert findings["envelope_amplitude"].ground is Ground.CAN_BE_CANCELLED


@pytest.mark.parametrize(
    "separating",
    [
        reading("direct_component", (0.0, 0.0, 1.5), limit=1.8, false_alarm=0.4),
        reading("direct_component", (0.1, 0.4, 1.5)),
    ],
)
def test_lines_are_no_warning_while_speed_ripple_may_make_them(separating: Reading) -> None:
    """A load that swings at 2sf, currents only: the ripple ratio is too uncertain to part them."""
    _, lower, envelope, harmonic = oscillating()
    findings = {
        f.reading: f for f in weigh_for_cage([separating, lower, envelope, harmonic], EVIDENCE)
    }

    assert findings["direct_component"].support is Support.CANNOT_TELL
    assert findings["lower_side_line"].ground is Ground.SPEED_NOT_EXCLUDED
    assert findings["envelope_amplitude"].ground is Ground.SPEED_NOT_EXCLUDED


def test_a_lesser_reading_cannot_clear_what_a_better_one_leaves_open() -> None:
    """The smallest of several 95 % limits from the same lines does not hold with 95 %."""
    better = reading("direct_component", (0.21, 0.55, 1.06))
    lesser = reading("envelope_amplitude", (0.18, 0.46, 0.96))
    findings = {f.reading: f for f in weigh_for_cage([better, lesser], EVIDENCE)}

    assert findings["direct_component"].ground is Ground.STRADDLES
    assert findings["envelope_amplitude"].support is Support.CANNOT_TELL
    assert findings["envelope_amplitude"].ground is Ground.OUTRANKED


def test_a_better_reading_that_is_blind_leaves_open_too() -> None:
    blind = reading("side_line_sum", (0.0, 0.1, 0.3), limit=1.2, false_alarm=0.5)
    lesser = reading("lower_side_line", (0.0, 0.1, 0.3), limit=0.9, false_alarm=0.5)
    _, finding = weigh_for_cage([blind, lesser], EVIDENCE)

    assert finding.ground is Ground.OUTRANKED


def test_a_better_reading_clears_although_a_lesser_one_leaves_open() -> None:
    better = reading("side_line_sum", (0.0, 0.1, 0.3), limit=0.4, false_alarm=0.5)
    lesser = reading("lower_side_line", (0.0, 0.1, 1.3), limit=1.5, false_alarm=0.5)
    finding, _ = weigh_for_cage([better, lesser], EVIDENCE)

    assert finding.support is Support.AGAINST


def test_without_direct_component_the_side_lines_are_heard_as_they_are() -> None:
    findings = {f.reading: f for f in weigh_for_cage(oscillating()[1:], EVIDENCE)}

    assert findings["lower_side_line"].support is Support.FOR


def test_an_unreadable_direct_component_overrules_nobody() -> None:
    readings = (unreadable()[0], *oscillating()[1:])
    findings = {f.reading: f for f in weigh_for_cage(readings, EVIDENCE)}

    assert findings["lower_side_line"].support is Support.FOR


def test_findings_keep_the_reason_and_the_caveats_of_the_reading() -> None:
    item = replace(sound()[0], caveats=("single cage assumed",))

    assert weigh_one(item).caveats == ("single cage assumed",)
    assert weigh_one(unreadable("no slip")[0]).note == "no slip"
