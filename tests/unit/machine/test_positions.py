"""The number of positions of a standstill test: slot ripple must not look like damage."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from cagewise.machine.cage.plausible import bar_candidates
from cagewise.machine.motor import Cage, Motor
from cagewise.machine.positions import (
    DAMAGE_ORDERS,
    FEWEST,
    LARGE_ODD,
    MOST,
    aliased_orders,
    false_orders,
    position_counts,
    possible_slot_orders,
    slot_orders,
)
from support.examinations import motor

FALSE_ORDERS = {
    # positions per pole pair: amplitude of the false orders 2 and 4, % of L, of a sound rotor with
    # 16 bars per pole pair (bar-by-bar model of the 3 kW reference motor, computed elsewhere)
    12: (0.0, 0.23),
    14: (0.30, 0.08),
    18: (0.30, 0.08),
    20: (0.0, 0.30),
    36: (0.0, 0.08),
    16: (0.0, 0.0),
    24: (0.0, 0.0),
    37: (0.0, 0.0),
}


def with_poles(poles: int, bars: int | None) -> Motor:
    base = motor(cage=Cage(rotor_bars=bars))
    speed = 6000.0 / poles * 0.99
    return replace(base, nameplate=replace(base.nameplate, poles=poles, rated_speed_rpm=speed))


@pytest.mark.parametrize(("count", "printed"), FALSE_ORDERS.items())
def test_reference_table_by_arithmetic(count: int, printed: tuple[float, float]) -> None:
    invented = {alias.appears_as for alias in false_orders(count, 32, 2)}
    assert invented == {o for o, size in zip(DAMAGE_ORDERS, printed, strict=True) if size > 0.0}


@pytest.mark.parametrize("slot_order", [6, 9, 16, 22, 32])
@pytest.mark.parametrize("positions", [12, 13, 18, 25, 36])
def test_rule_is_what_sampling_does(slot_order: int, positions: int) -> None:
    """A wave at equally spaced positions, by its plain Fourier sum."""
    x = 2.0 * math.pi * np.arange(positions) / positions
    wave = np.cos(slot_order * x - 0.4)
    seen = tuple(o for o in (0, 2, 4) if abs(np.sum(wave * np.exp(-1j * o * x))) > 1e-9)
    assert aliased_orders(positions, slot_order) == seen


@pytest.mark.parametrize("covered", [2, 3])
def test_more_pole_pairs_at_the_same_spacing_change_nothing(covered: int) -> None:
    for positions in range(FEWEST, MOST + 1):
        assert aliased_orders(positions * covered, 16, pole_pairs=covered) == aliased_orders(
            positions, 16
        )


def test_positions_that_are_no_whole_number_per_pole_pair() -> None:
    """36 positions over two pole pairs (18 each) and 37 over two: 37 tells order 16 apart."""
    assert aliased_orders(36, 16, pole_pairs=2) == (2,)
    assert aliased_orders(37, 16, pole_pairs=2) == ()


def test_broken_number_of_waves_folds_nowhere() -> None:
    assert aliased_orders(24, 28 / 3) == ()
    assert aliased_orders(26, 28 / 3, pole_pairs=3) == ()


@pytest.mark.parametrize(
    ("bars", "pole_pairs", "expected"),
    [
        (32, 2, (16, 32)),
        (58, 2, (58, 116)),
        (28, 3, (28, 56)),
        (33, 2, (66, 132)),
        (44, 4, (22, 44)),
    ],
)
def test_ripple_of_a_sound_rotor_repeats_by_bars_and_by_poles(
    bars: int, pole_pairs: int, expected: tuple[int, int]
) -> None:
    """58 bars on four poles: n/p = 29 is odd, so the poles cancel it."""
    found = slot_orders(bars, pole_pairs)
    assert found == expected
    assert all((order * pole_pairs) % bars == 0 and order % 2 == 0 for order in found)
    assert bars / pole_pairs in possible_slot_orders(bars, pole_pairs)


def test_odd_count_acts_like_twice_itself() -> None:
    """All orders are even, so the second half of an odd count lies between the first."""
    assert aliased_orders(25, 48) == aliased_orders(50, 48) == (2,)
    assert all(aliased_orders(37, order) == aliased_orders(74, order) for order in range(2, 200, 2))


def test_advice_for_the_reference_rotor() -> None:
    advice = position_counts(with_poles(4, 32))
    assert advice.positions_per_pole_pair == 24
    assert advice.pole_pairs == 2
    assert advice.step_deg == pytest.approx(7.5)
    assert len(advice.shaft_angles_deg) == 48
    assert advice.return_angle_deg == 360.0
    assert advice.angle_tolerance_deg == 0.5
    assert advice.tolerable_angle_deg == 1.5
    assert {16, 24, 37} <= set(advice.safe)
    assert {12, 14, 18, 20, 36} <= {alias.positions for alias in advice.avoid}
    eighteen = next(alias for alias in advice.avoid if alias.positions == 18)
    assert eighteen.sentence == (
        "18 positions per pole pair: slot ripple of order 16 (32 bars) appears as order 2"
    )


@pytest.mark.parametrize("poles", [2, 4, 6, 8, 12])
@pytest.mark.parametrize("bars", [28, 33, 44, 58, 94])
def test_advice_never_invents(poles: int, bars: int) -> None:
    advice = position_counts(with_poles(poles, bars))
    p, count = poles // 2, advice.positions_per_pole_pair
    assert count >= FEWEST
    assert not list(false_orders(count, bars, p))
    assert advice.pole_pairs >= min(p, 2)
    assert sorted((*advice.safe, *(a.positions for a in advice.avoid))) == list(
        range(FEWEST, MOST + 1)
    )
    turned = advice.step_deg * len(advice.shaft_angles_deg)
    assert turned == pytest.approx(360.0 * advice.pole_pairs / p)


def test_broken_bars_per_pole_pair_need_a_whole_revolution() -> None:
    advice = position_counts(with_poles(6, 28))
    assert advice.pole_pairs == 3
    assert any("not a whole number" in note for note in advice.notes)


@pytest.mark.parametrize("poles", [2, 4, 6, 8, 12])
def test_unknown_bars_get_a_count_that_suits_all_candidates(poles: int) -> None:
    unknown = with_poles(poles, None)
    advice = position_counts(unknown)
    assert advice.rotor_bars == bar_candidates(unknown)
    assert any("ask the repair shop" in note for note in advice.notes)
    count = advice.positions_per_pole_pair
    if advice.safe:
        assert all(not list(false_orders(count, n, poles // 2)) for n in advice.rotor_bars)
    else:
        assert count == LARGE_ODD


def test_large_odd_count_where_nothing_suits(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(
        "cagewise.machine.positions.bar_candidates", lambda _motor: tuple(range(20, 120))
    )
    advice = position_counts(with_poles(4, None))
    assert advice.positions_per_pole_pair == LARGE_ODD
    assert not advice.safe
    assert any("odd and large" in note for note in advice.notes)


def test_two_poles_cannot_tell_an_oval_rotor() -> None:
    assert any("oval" in note for note in position_counts(with_poles(2, 28)).notes)
