"""Cages from a nameplate: what is known is kept, what is open is drawn from stated ranges."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from cagewise.machine.cage.asking import Worth, value_of_asking
from cagewise.machine.cage.patterns import PATTERNS, bars_apart, spaced
from cagewise.machine.cage.plausible import (
    LARGEST_GROUP,
    bar_candidates,
    plausible_cages,
    plausible_inertia,
)
from cagewise.machine.circuit import EquivalentCircuit
from cagewise.machine.estimate import circuit_ensemble
from cagewise.machine.motor import Cage, DriveTrain, Motor
from cagewise.machine.nameplate import Nameplate
from cagewise.quantities import RealArray

PLATE = Nameplate(
    rated_power_w=3000.0,
    rated_voltage_v=380.0,
    rated_frequency_hz=50.0,
    rated_speed_rpm=1420.0,
    rated_current_a=6.7,
    poles=4,
)
DRAWS = 300


def motor(**cage: object) -> Motor:
    return Motor(tag="M-1", nameplate=PLATE, cage=Cage(**cage))  # type: ignore[arg-type]


def circuit(draws: int = DRAWS) -> EquivalentCircuit:
    return circuit_ensemble(motor(), draws)


def ring_shares(of: Motor) -> RealArray:
    """Return the ring's part of the referred rotor resistance of every draw."""
    parts = []
    for group in plausible_cages(of, circuit()):
        m = group.model
        chord = 2.0 * (1.0 - np.cos(m.pole_pairs * m.bar_angle_rad))
        ring = 2.0 * m.ring_resistance_ohm
        parts.append(ring / (ring + chord * m.bar_resistance_ohm))
    return np.concatenate(parts)


def test_every_draw_keeps_its_circuit() -> None:
    given = circuit()
    for group in plausible_cages(motor(), given):
        found = group.model.circuit()
        for name in ("rotor_resistance_ohm", "rotor_leakage_h", "magnetizing_inductance_h"):
            assert getattr(found, name) == pytest.approx(
                getattr(given, name)[group.members], rel=1e-9
            )


def test_groups_cover_every_draw_once() -> None:
    for known in (motor(), motor(rotor_bars=32)):
        groups = plausible_cages(known, circuit(700))
        places = np.concatenate([np.arange(700)[group.members] for group in groups])
        assert places.tolist() == list(range(700))
        assert all(g.members.stop - g.members.start <= LARGEST_GROUP for g in groups)


def test_known_bars_are_kept_and_slots_narrow_unknown_ones() -> None:
    assert bar_candidates(motor(rotor_bars=32)) == (32,)
    free, slots = bar_candidates(motor()), bar_candidates(motor(stator_slots=36))
    assert min(free) < min(slots) < 36 < max(slots) < max(free)


@pytest.mark.parametrize(
    ("poles", "slots", "bars"),
    [(2, 24, 18), (2, 48, 40), (2, 60, 46), (4, 36, 28), (4, 72, 58), (4, 72, 86), (6, 72, 86)],
)
def test_no_usual_cage_falls_between_the_ranges(poles: int, slots: int, bars: int) -> None:
    """Usual pairs of slots and bars (from memory): inside, whether the slots are known or not."""
    speed_rpm = 2960.0 * 2 / poles
    for known in (None, slots):
        cage = Cage(stator_slots=known)
        nameplate = replace(PLATE, poles=poles, rated_speed_rpm=speed_rpm)
        candidates = bar_candidates(replace(motor(), nameplate=nameplate, cage=cage))
        assert min(candidates) <= bars <= max(candidates)


def test_known_slots_and_coils_are_kept() -> None:
    known = motor(rotor_bars=32, stator_slots=36, coil_span_slots=8, construction="fabricated")
    groups = plausible_cages(known, circuit())
    coupling = np.concatenate([np.atleast_2d(g.model.mutual_h) for g in groups])
    fifth = coupling[:, 0] / coupling[:, 1]
    # the skew alone is left: it takes at most 2 % of the fifth order of a fabricated cage
    assert np.ptp(fifth) < 0.02 * np.abs(fifth).mean()


def test_construction_moves_the_ring_share() -> None:
    cast, fabricated = (ring_shares(motor(construction=kind)) for kind in ("cast", "fabricated"))
    assert np.median(cast) < np.median(fabricated)
    # reference motor: 0.048, ring sections seven times those of equal current density
    assert np.quantile(cast, 0.01) < 0.048 < np.quantile(cast, 0.2)


def test_inertia_of_the_reference_rotor_is_in_range() -> None:
    """5.63e-3 kg m^2 without load."""
    rotor = replace(motor(), drive_train=DriveTrain(load_inertia_kg_m2=0.0))
    draws = plausible_inertia(rotor, 2000)
    assert np.quantile(draws, 0.025) < 5.63e-3 < np.quantile(draws, 0.975)
    assert np.median(plausible_inertia(motor(), 2000)) > 2.0 * np.median(draws)


def test_given_inertia_is_kept() -> None:
    train = DriveTrain(rotor_inertia_kg_m2=0.4, load_inertia_kg_m2=1.6)
    draws = plausible_inertia(replace(motor(), drive_train=train), 2000)
    assert np.median(draws) == pytest.approx(2.0, rel=0.02)
    assert draws.std() < 0.25


@pytest.mark.parametrize(
    ("degrees", "bars", "pole_pairs", "expected"),
    [(90.0, 32, 2, 4), (180.0, 32, 2, 8), (45.0, 32, 2, 2), (90.0, 44, 3, 11), (90.0, 28, 2, 10)],
)
def test_spacing_takes_the_nearest_bar_of_any_pole(
    degrees: float, bars: int, pole_pairs: int, expected: int
) -> None:
    """44 bars, 3 pole pairs: bar 11 is 270 electrical degrees on; bar 33 would be 90.

    28 bars: 3.5 bars make 90 degrees; none is nearer than 12.9 degrees.
    """
    found = bars_apart(degrees, bars, pole_pairs)
    angle = 360.0 * pole_pairs * found / bars
    wanted = 360.0 * pole_pairs * expected / bars
    assert abs((angle - degrees + 180.0) % 360.0 - 180.0) <= abs(
        (wanted - degrees + 180.0) % 360.0 - 180.0
    )


def test_spaced_groups_do_not_overlap() -> None:
    damage = spaced(90.0, 2, 2)(20, 3)
    assert len(set(damage.bars)) == 4


def test_every_pattern_fits_small_and_large_cages() -> None:
    for bars, pole_pairs in ((10, 1), (16, 2), (120, 6)):
        for pattern in PATTERNS:
            damage = pattern.damage_of(bars, pole_pairs)
            damage.check(bars)
            assert len(damage.bars) == pattern.bars


def test_bars_are_worth_most_for_the_direct_component_on_a_bare_nameplate() -> None:
    worths = value_of_asking(motor())
    best = min(worths, key=lambda worth: worth.direct_spread_answered)
    assert best.question == "number of rotor bars"
    assert best.direct_spread_answered < 0.5 * best.direct_spread
    assert {worth.question for worth in worths} == {
        "number of rotor bars",
        "number of stator slots",
        "open or closed rotor slots",
        "fabricated or cast cage",
        "equivalent circuit",
    }


def test_with_bars_and_slots_the_coil_span_is_worth_most_for_the_harmonic_lines() -> None:
    worths = value_of_asking(motor(rotor_bars=32, stator_slots=36))
    best: Worth = min(worths, key=lambda worth: worth.harmonic_spread_answered)
    assert best.question.startswith("coil span")
    assert best.harmonic_spread_answered < 0.6 * best.harmonic_spread


def test_nothing_left_to_ask() -> None:
    known = motor(
        rotor_bars=32, stator_slots=36, coil_span_slots=9, rotor_slots="open", construction="cast"
    )
    assert value_of_asking(replace(known, circuit=circuit().median())) == ()
