"""Where the lines of each family stand, and what slip they read."""

from __future__ import annotations

import numpy as np
import pytest

from cagewise.indicators.running.slip_families import (
    Channel,
    Family,
    harmonic_channels,
    read_families,
    read_harmonic_cage,
    slot_channels,
)
from support.slip_motor import Cast, SlipMotor, Stray

R3K_SLOT = {(1, 1, -1): -45.0}
"""-(16 (1-s) + 1): negative sequence, the one slot line a 36/32 machine shows."""


def expected(channels: list[Channel]) -> list[float]:
    """Return the orders at zero slip that are held more likely than the others."""
    top = max(c.log_prior for c in channels)
    return sorted(c.a for c in channels if c.log_prior == top and top > 0.0)


@pytest.mark.parametrize(
    ("bars", "pole_pairs", "orders"),
    [
        # 36/32 slots, p = 2: the line of order 15 is suppressed, 17 visible; simulated current has
        # a line at 815.0 Hz, predicted 815.05, none at 715 Hz (coupled-circuit model of R3K).
        (32, 2, [-17.0]),
        # n/p = 22: 23 = 5 mod 6 in negative sequence; 1 - 22 = -21 = 3 mod 6, a triplen field.
        (44, 2, [-23.0]),
        # n/p = 14: 15 is triplen; 1 - 14 = -13 = 5 mod 6, phase reversed +13.
        (28, 2, [13.0]),
        # n/p = 18: 19 = 1 and -17 = 1 mod 6, both in positive sequence.
        (36, 2, [-17.0, 19.0]),
        # n/p odd: the fields have even numbers of poles pairs, no winding sees them.
        (30, 2, []),
        # n/p not whole: no field of the winding's period.
        (58, 4, []),
    ],
)
def test_the_winding_decides_which_slot_lines_show(
    bars: int, pole_pairs: int, orders: list[float]
) -> None:
    assert expected(slot_channels(bars, pole_pairs)) == orders


def test_channel_priors_are_a_distribution() -> None:
    for bars, pole_pairs in ((32, 2), (36, 2), (30, 2)):
        channels = slot_channels(bars, pole_pairs)
        total = sum(np.exp(c.log_prior) for c in channels)
        assert total == pytest.approx(len(channels))


def test_harmonic_cage_lines_stand_beside_the_fifth_and_seventh() -> None:
    slip = 0.04
    orders = sorted(c.a + c.b * slip for c in harmonic_channels())
    # (5-4s) and (5-6s) in negative, (7-6s) and (7-8s) in positive sequence.
    assert orders == pytest.approx([-4.84, -4.76, 6.68, 6.76])


FULL_CAST = Cast(
    slip=0.031,
    rotor_bars=32,
    slot=R3K_SLOT,
    eccentric=(-70.0, -72.0),
    pole_pass=(-55.0, -60.0),
    extra={(-5.0, 4.0): -60.0, (7.0, -6.0): -62.0},
)


@pytest.mark.parametrize("pole_pairs", [1, 2, 3])
def test_every_family_reads_the_slip_of_a_clean_record(pole_pairs: int) -> None:
    bars = {1: 28, 2: 32, 3: 48}[pole_pairs]
    cast = Cast(
        slip=0.021,
        rotor_bars=bars,
        slot={(1, 1, -1): -60.0},
        eccentric=(-70.0, -72.0),
        pole_pass=(-55.0, -60.0),
        extra={(-5.0, 4.0): -60.0},
    )
    motor = SlipMotor(cast=cast, pole_pairs=pole_pairs, noise_db=-60.0)
    frame = motor.frame()
    families = [*read_families(frame, pole_pairs, bars, 0.035), read_harmonic_cage(frame, 0.035)]
    assert [r.family for r in families] == list(Family)
    for readings in families:
        near = np.abs(readings.slip - 0.021) < 4.0 * readings.deviation
        assert near[np.argmax(readings.nats * near)]
        # A twentieth of a cell of one over 20 s, in slip, for the least sensitive family.
        assert readings.deviation[near].min() < 0.05 / (20.0 * 50.0 / pole_pairs)


def test_wander_of_the_supply_does_not_smear_the_slot_line() -> None:
    widths = {}
    for wander_hz in (0.0, 0.02):
        motor = SlipMotor(cast=FULL_CAST, frequency_wander_hz=wander_hz, duration_s=30.0)
        slots = read_families(motor.frame(), 2, 32, 0.05)[0]
        widths[wander_hz] = slots.width[np.argmax(slots.nats)]
    # 0.02 Hz times order 16.5 is 0.33 Hz, 10 cells, a slip of 4e-4, were the frame not turned.
    assert widths[0.02] < widths[0.0] + 2e-5


def test_wander_of_the_slip_smears_every_line_alike() -> None:
    cast = Cast(slip=0.03, rotor_bars=32, slot=R3K_SLOT, pole_pass=(-50.0, -52.0))
    motor = SlipMotor(cast=cast, slip_wander=0.03, duration_s=60.0)
    slot, _, pole_pass = read_families(motor.frame(), 2, 32, 0.05)
    widths = [float(r.width[np.argmax(r.nats)]) for r in (slot, pole_pass)]
    assert widths[0] == pytest.approx(0.03 * 0.03, rel=0.4)
    assert widths[1] == pytest.approx(widths[0], rel=0.4)
    centres = [float(r.slip[np.argmax(r.nats)]) for r in (slot, pole_pass)]
    assert centres[0] == pytest.approx(centres[1], abs=0.15 * widths[0])


def test_harmonics_of_the_supply_are_not_lines_of_the_motor() -> None:
    harmonics = tuple(
        Stray(frequency_hz=50.0 * order, level_dbc=-25.0) for order in (-17, -11, -5, 7, 13, 19)
    )
    motor = SlipMotor(cast=Cast(slip=0.03, rotor_bars=32), strays=harmonics)
    for readings in read_families(motor.frame(), 2, 32, 0.05):
        assert not np.any(readings.nats > 30.0)


def test_a_single_current_reads_the_same_lines() -> None:
    motor = SlipMotor(cast=FULL_CAST)
    three = read_families(motor.frame(), 2, 32, 0.05)
    one = read_families(motor.frame(currents_measured=1), 2, 32, 0.05)
    for wide, narrow in zip(three, one, strict=True):
        best = [
            float(r.slip[np.argmax(r.nats * (np.abs(r.slip - 0.031) < 1e-3))])
            for r in (wide, narrow)
        ]
        assert best[1] == pytest.approx(best[0], abs=5e-6)


def test_slot_lines_beyond_the_sampling_rate_are_not_read() -> None:
    motor = SlipMotor(cast=FULL_CAST, sampling_rate_hz=1000.0)
    assert read_families(motor.frame(), 2, 32, 0.05)[0].slip.size == 0
