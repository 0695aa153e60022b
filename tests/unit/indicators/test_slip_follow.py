"""Lines that follow the torque of the motor, and lines that do not."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from cagewise.indicators.running.slip import SlipFinding, find_slip
from cagewise.indicators.running.slip_families import Family
from cagewise.indicators.running.slip_follow import (
    LARGEST_FOLLOW,
    LARGEST_STRAYING,
    follow_nats,
    torque_course,
)
from cagewise.indicators.running.slip_search import Support
from cagewise.indicators.running.supply import measure_supply
from cagewise.quantities import Estimate, NotKnown
from support.slip_motor import Cast, SlipMotor, Stray
from support.slip_scenes import at_its_slip, circuit_for, motor_for

SLIP = 0.0262
MOVING = SlipMotor(
    cast=Cast(slip=SLIP, rotor_bars=32, eccentric=(-60.0, -62.0)),
    slip_wander=0.02,
    slip_wander_time_s=2.0,
    torque_follows=True,
    duration_s=60.0,
)
LINE_NATS = 3000.0


def support(a: float, b: float, slip: float = SLIP) -> Support:
    """Return a line read in one place, no pair."""
    return Support(
        family=Family.SLOT,
        slip=slip,
        deviation=1e-5,
        evidence_nats=8.0,
        line_nats=LINE_NATS,
        width=0.0,
        origin=a,
        slope=b,
        rotor_bars=0,
    )


def followed(record: SlipMotor, line: Support) -> float:
    """Return how well a line of a record follows."""
    frame = record.frame()
    return follow_nats(frame, torque_course(frame, SLIP), line)


def test_the_course_is_the_phase_of_the_slip() -> None:
    frame = MOVING.frame()
    course = torque_course(frame, SLIP)
    rate = MOVING.sampling_rate_hz
    slip = MOVING.slip_course()
    true = 2.0 * np.pi * MOVING.frequency_hz / rate * np.cumsum(slip / slip.mean() - 1.0)
    true = np.interp(course.time_s, np.arange(slip.size) / rate, true)
    fit = np.polynomial.Polynomial.fit(course.time_s, true, 1)
    residual = true - fit(course.time_s)
    # What is taken out about twice the frequency of the slip is a small part of the phase.
    assert np.std(course.phase_rad - residual) < 0.05 * np.std(residual)


def test_a_line_of_this_rotor_follows() -> None:
    assert followed(MOVING, support(0.5, 0.5)) == LARGEST_FOLLOW


def test_a_line_that_stands_does_not() -> None:
    place_hz = 50.0 * (0.5 + 0.5 * SLIP)
    bare = replace(MOVING, cast=replace(MOVING.cast, eccentric=(None, None)))
    stands = replace(bare, strays=(Stray(frequency_hz=place_hz, level_dbc=-45.0),))
    assert followed(stands, support(0.5, 0.5)) == -LARGEST_STRAYING


def test_a_line_with_another_slope_does_not() -> None:
    """A gear on the shaft follows the torque too, but not as what it is read as."""
    place = 0.5 + 0.5 * SLIP
    gear = Cast(slip=SLIP, rotor_bars=32, extra={(place - 1.0 * SLIP, 1.0): -45.0})
    assert followed(replace(MOVING, cast=gear), support(0.5, 0.5)) <= 0.0


def test_nothing_is_said_when_the_torque_stands_still() -> None:
    assert followed(replace(MOVING, torque_follows=False), support(0.5, 0.5)) == 0.0


@pytest.mark.parametrize("slope", [0.5, 6.0])
def test_a_line_with_a_wander_of_its_own_seldom_follows(slope: float) -> None:
    """The odds credited are one in 55; three deviations of the count are allowed."""
    n, follows = 60, 0
    bare = replace(MOVING, cast=replace(MOVING.cast, eccentric=(None, None)), duration_s=30.0)
    other = Cast(slip=SLIP, rotor_bars=32, extra={(0.5, slope): -45.0})
    for seed in range(n):
        record = replace(bare, others=(other,), seed=seed, sampling_rate_hz=2000.0)
        follows += followed(record, support(0.5, slope)) >= LARGEST_FOLLOW - 0.5
    assert follows <= 4


def finding(record: SlipMotor, rated_slip: float = 0.03) -> SlipFinding:
    """Return what is said of a record whose fundamental is that of its circuit."""
    circuit = circuit_for(50.0, rated_slip)
    record = at_its_slip(record, circuit)
    frame = record.frame()
    return find_slip(frame, motor_for(50.0, 2, rated_slip, 32), circuit, measure_supply(frame))


def test_one_family_that_follows_is_enough_where_the_window_is_narrow() -> None:
    """A motor of small slip: a stray within so narrow a window would be a rare accident."""
    large = replace(MOVING, cast=replace(MOVING.cast, slip=0.008, eccentric=(-50.0, -50.0)))
    found = finding(large, rated_slip=0.009).slip
    assert isinstance(found, Estimate), found
    assert found.low <= large.true_slip <= found.high
    alone = finding(replace(large, torque_follows=False), rated_slip=0.009).slip
    assert isinstance(alone, NotKnown)
    assert "only one family" in alone.reason


def test_a_load_that_swings_near_twice_the_slip_does_not_pull_it() -> None:
    swing_hz = 2.0 * SLIP * 50.0 * 1.0008
    strays = tuple(
        Stray(frequency_hz=50.0 + side * swing_hz, level_dbc=-40.0) for side in (-1.0, 1.0)
    )
    cast = replace(MOVING.cast, slot={(1, 1, -1): -60.0})
    record = replace(MOVING, cast=cast, strays=strays)
    found = finding(record).slip
    assert isinstance(found, Estimate)
    assert found.low <= record.true_slip <= found.high


def test_lines_beside_the_harmonics_confirm_eccentricity() -> None:
    """With both lines beside the 5th harmonic, and with none."""
    still = replace(MOVING, torque_follows=False, slip_wander=0.0)
    cage = replace(still.cast, extra={(-5.0, 4.0): -80.0, (-5.0, 6.0): -82.0})
    found = finding(replace(still, cast=cage)).slip
    assert isinstance(found, Estimate)
    assert found.value == pytest.approx(still.true_slip, rel=2e-4)
    assert isinstance(finding(still).slip, NotKnown)


def test_lines_beside_the_harmonics_do_not_confirm_each_other() -> None:
    """A comb of a damaged cage without a line that says where the shaft is."""
    still = replace(MOVING, torque_follows=False, slip_wander=0.0)
    comb = Cast(slip=SLIP, rotor_bars=32, extra={(-5.0, 4.0): -60.0, (7.0, -6.0): -60.0})
    assert isinstance(finding(replace(still, cast=comb)).slip, NotKnown)
