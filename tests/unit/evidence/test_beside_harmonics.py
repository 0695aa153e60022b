"""The fundamental beside the 5th and 7th harmonic: ducts, supply, bars apart."""

from __future__ import annotations

import pytest

from cagewise.evidence.beside_harmonics import least_in_harmonics
from cagewise.evidence.cage import weigh_for_cage
from cagewise.evidence.findings import BlindSpot, Finding, Ground, Hypothesis, Support
from cagewise.evidence.weigh import combine, weigh
from cagewise.indicators.reading import Reading
from support.examinations import LIMITS, damaged, reading, sound, start_line

EVIDENCE = LIMITS.evidence
DUCTS = (
    reading("direct_component", (1.8, 2.2, 2.8)),
    reading("lower_side_line", (1.2, 2.0, 4.1)),
    reading("harmonic_lines", (0.026, 0.039, 2.2)),
)
"""A simulated sound rotor with axial ducts, as many as poles."""


def heard(*readings: Reading, voltages: bool = True) -> dict[str, Finding]:
    findings = weigh_for_cage(readings, EVIDENCE, voltages_measured=voltages)
    return {finding.reading: finding for finding in findings}


def test_damage_that_does_not_show_at_the_harmonics_is_the_shape_of_the_rotor() -> None:
    findings = heard(*DUCTS)

    for name in ("direct_component", "lower_side_line"):
        assert findings[name].support is Support.CANNOT_TELL
        assert findings[name].ground is Ground.SHAPE_OF_ROTOR


def test_harmonic_lines_that_were_not_found_must_have_been_able_to_show_the_damage() -> None:
    direct = DUCTS[0]
    for limit, support in ((0.02, Support.CANNOT_TELL), (0.5, Support.FOR)):
        silent = reading("harmonic_lines", (0.0, 0.0, 0.01), limit=limit, false_alarm=1.0)
        assert heard(direct, silent)["direct_component"].support is support


@pytest.mark.parametrize(
    ("direct", "harmonic"),
    [
        ((1.23, 3.19, 8.4), (0.113, 0.237, 6.3)),
        ((0.415, 0.505, 0.687), (0.13, 0.13, 0.505)),
        ((0.263, 0.766, 1.97), (0.079, 0.192, 8.0)),
        ((1.69, 4.41, 11.3), (0.15, 0.578, 8.0)),
    ],
)
def test_real_damage_is_not_taken_for_shape(
    direct: tuple[float, float, float], harmonic: tuple[float, float, float]
) -> None:
    """The faintest harmonic lines of simulated motors: four bars, two cracks, four bars."""
    findings = heard(reading("direct_component", direct), reading("harmonic_lines", harmonic))

    assert findings["direct_component"].support is Support.FOR


def test_without_harmonic_lines_nothing_is_put_down_to_the_shape() -> None:
    deaf = reading("harmonic_lines", valid=False, reason="sampled too slowly")

    assert heard(DUCTS[0])["direct_component"].support is Support.FOR
    assert heard(DUCTS[0], deaf)["direct_component"].support is Support.FOR


def test_a_crack_shows_there_as_it_is_and_many_bars_not_surely_more() -> None:
    assert least_in_harmonics(0.5) == pytest.approx(0.5)
    assert least_in_harmonics(3.0) == least_in_harmonics(1.0)


def test_a_shaped_rotor_stays_possible_and_load_and_supply_do_not_explain_it() -> None:
    evidence = weigh(DUCTS, EVIDENCE, voltages_measured=True)

    assert BlindSpot.ANISOTROPIC_ROTOR in evidence.blind_spots
    assert evidence.classes_for == ()
    for cause in (Hypothesis.LOAD_OSCILLATION, Hypothesis.SUPPLY_MODULATION):
        (finding,) = evidence.about(cause)
        assert (finding.support, finding.ground) == (Support.AGAINST, Ground.REST_REMAINS)


def test_a_lesser_reading_does_not_clear_what_is_put_down_to_the_shape() -> None:
    silent = reading("envelope_amplitude", (0.0, 0.05, 0.2), false_alarm=0.4)
    findings = heard(DUCTS[1], silent, DUCTS[2])

    assert findings["envelope_amplitude"].ground is Ground.OUTRANKED


def test_without_voltages_a_warning_needs_the_harmonic_lines() -> None:
    direct = damaged()[0]
    weak = reading("harmonic_lines", (0.2, 0.5, 8.0))
    silent = reading("harmonic_lines", (0.0, 0.0, 0.2), limit=1.2, false_alarm=0.6)

    assert heard(direct, weak, voltages=False)["direct_component"].support is Support.FOR
    for others in ((), (silent,)):
        finding = heard(direct, *others, voltages=False)["direct_component"]
        assert finding.ground is Ground.SUPPLY_NOT_EXCLUDED
        assert heard(direct, *others)["direct_component"].support is Support.FOR


def test_a_start_that_speaks_for_damage_lifts_the_doubt() -> None:
    record = weigh(DUCTS, EVIDENCE, voltages_measured=True)
    start = weigh((start_line((1.7, 2.1, 2.6)),), EVIDENCE, voltages_measured=True)
    quiet = weigh((start_line((0.0, 0.0, 0.1), false_alarm=1.0),), EVIDENCE, voltages_measured=True)

    assert len(combine([record, start]).classes_for) == 2
    assert combine([record, quiet]).classes_for == ()


def test_more_at_the_harmonics_than_the_side_lines_allow_is_noted() -> None:
    direct = reading("direct_component", (0.02, 0.05, 0.1))
    pair = reading("harmonic_lines", (0.22, 1.15, 8.0))

    assert heard(direct, pair)["harmonic_lines"].ground is Ground.MORE_THAN_SIDE_LINES


@pytest.mark.parametrize(
    ("direct", "harmonic"),
    [
        ((0.0, 0.01, 0.04), (0.052, 0.058, 0.24)),  # an uneven sound cage
        ((0.24, 0.36, 0.93), (0.14, 0.29, 8.0)),  # one cracked bar
    ],
)
def test_what_unevenness_or_a_crack_would_make_is_no_pair(
    direct: tuple[float, float, float], harmonic: tuple[float, float, float]
) -> None:
    findings = heard(reading("direct_component", direct), reading("harmonic_lines", harmonic))

    assert findings["harmonic_lines"].ground is not Ground.MORE_THAN_SIDE_LINES


def test_a_sound_record_is_heard_as_before() -> None:
    assert {f.support for f in heard(*sound()).values()} == {Support.AGAINST}
