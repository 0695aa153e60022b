"""From readings to open bars and back, on the reference motor and on an unknown cage."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from cagewise.machine.cage.expectation import (
    COUNTS,
    CRACK_BARS,
    CageExpectation,
    expect_readings,
    smallest_count,
)
from cagewise.machine.cage.plausible import bar_weights, slot_weights
from cagewise.machine.cage.solution import FIFTH_FOUR, LOWER, UPPER
from cagewise.machine.circuit import EquivalentCircuit
from cagewise.machine.motor import Cage, Motor
from cagewise.machine.nameplate import Nameplate
from cagewise.quantities import decibel

DRAWS = 60


def motor(bars: int | None, slots: int | None) -> Motor:
    plate = Nameplate(
        rated_power_w=3000.0,
        rated_voltage_v=380.0,
        rated_frequency_hz=50.0,
        rated_speed_rpm=1420.0,
        rated_current_a=6.7,
        poles=4,
    )
    return Motor(tag="R-1", nameplate=plate, cage=Cage(rotor_bars=bars, stator_slots=slots))


def expectation(bars: int | None = 32, slots: int | None = 36) -> CageExpectation:
    circuit = EquivalentCircuit(
        stator_resistance_ohm=np.full(DRAWS, 2.2),
        rotor_resistance_ohm=np.full(DRAWS, 1.6555),
        stator_leakage_h=np.full(DRAWS, 0.00692),
        rotor_leakage_h=np.full(DRAWS, 0.00818),
        magnetizing_inductance_h=np.full(DRAWS, 0.17140),
    )
    return expect_readings(
        motor(bars, slots),
        circuit,
        slip=0.04416,
        frequency_hz=50.0,
        voltage_v=380.0 * math.sqrt(2.0 / 3.0),
    )


def test_direct_component_of_one_to_three_bars_brackets_the_reference_table() -> None:
    """Reference table of the 3 kW motor at full load: n |d| / |I_r| = 1.11, 2.39, 3.69, 4.78."""
    per_bar = expectation().direct_component * 32.0
    for row, reference in zip(per_bar, (1.11, 2.39, 3.69, 4.78), strict=True):
        assert np.quantile(row, 0.025) < reference < np.quantile(row, 0.975)


def test_fifth_harmonic_line_of_one_bar_is_bracketed() -> None:
    """Reference table: (5 - 4s)f at -44.5 dBc for one open bar."""
    levels = [decibel(float(x)) for x in expectation().harmonic_lines[FIFTH_FOUR][0]]
    assert np.quantile(levels, 0.025) < -44.5 < max(levels)


@pytest.mark.parametrize("count", COUNTS)
def test_inverse_returns_the_count(count: int) -> None:
    expected = expectation()
    bars = expected.direct_component_bars(expected.direct_component[count - 1])
    assert bars == pytest.approx(np.full(DRAWS, float(count)), rel=1e-12)


def test_half_a_reading_is_half_a_bar() -> None:
    expected = expectation()
    bars = expected.direct_component_bars(0.5 * expected.direct_component[0])
    assert bars == pytest.approx(np.full(DRAWS, 0.5), rel=1e-12)


@pytest.mark.parametrize("line", [LOWER, UPPER])
def test_side_lines_of_one_bar_are_bracketed(line: tuple[int, int]) -> None:
    """Reference table: -38.2 and -37.8 dBc on the bare rotor, -32.8 and -41.3 at 20 times that."""
    levels = np.array([decibel(float(x)) for x in expectation().side_lines[line][0]])
    for level in {LOWER: (-38.2, -32.8), UPPER: (-37.8, -41.3)}[line]:
        assert levels.min() - 1.0 < level < levels.max() + 1.0


def test_inverse_of_a_side_line_returns_the_count() -> None:
    expected = expectation()
    bars = expected.side_line_bars(UPPER, expected.side_lines[UPPER][1])
    assert bars == pytest.approx(np.full(DRAWS, 2.0), rel=1e-12)


def test_harmonic_line_above_all_counts_is_scaled_from_the_largest() -> None:
    """K4: two adjacent bars give more than three; twice that line reads as four bars."""
    expected = expectation()
    response = expected.harmonic_lines[FIFTH_FOUR]
    count = 1 + response.argmax(axis=0)
    largest = response.max(axis=0)
    assert expected.harmonic_line_bars(FIFTH_FOUR, 2.0 * largest) == pytest.approx(2.0 * count)
    smallest = expected.harmonic_line_bars(FIFTH_FOUR, response[0])
    assert smallest == pytest.approx(np.ones(DRAWS), rel=1e-12)


def test_a_vanishing_response_counts_without_a_warning() -> None:
    """A coil of 0.8 of a pole pitch makes no 5th order: no number of bars gives its lines."""
    response = np.zeros((len(COUNTS), 3))
    response[:, 1] = (0.1, 0.2, 0.3, 0.4)
    with np.errstate(all="raise"):
        bars = smallest_count(response, np.array([0.0, 0.2, 0.05]))
    assert bars[0] == 0.0
    assert bars[1] == pytest.approx(2.0)
    assert bars[2] >= 100.0
    assert np.isfinite(bars).all()


def test_a_crack_shows_less_beside_the_fifth_than_its_lost_current() -> None:
    """Reference motor: a resistance factor of 5 reads 9.8 dB below an open bar in (5 - 4s) f."""
    expected = expectation()
    ratio = expected.cracked_lines[FIFTH_FOUR] / expected.harmonic_lines[FIFTH_FOUR][0]
    levels = [decibel(float(x)) for x in ratio]
    assert np.quantile(levels, 0.025) < -9.8 < np.quantile(levels, 0.975)
    bars = expected.harmonic_line_bars(FIFTH_FOUR, 0.5 * expected.cracked_lines[FIFTH_FOUR])
    assert bars == pytest.approx(np.full(DRAWS, 0.5 * CRACK_BARS), rel=1e-9)


def test_slot_lines_of_a_record_narrow_the_number_of_bars() -> None:
    of = motor(None, None)
    free = bar_weights(of)
    seen = bar_weights(of, (32, 110))
    assert free.get(32, 0.0) <= 0.3
    # a number that does not go with the size of the motor gains nothing by being seen
    assert seen[32] / sum(seen.values()) > 0.5
    assert seen[110] < 0.1 * seen[32]
    assert bar_weights(motor(28, None), (32,)) == {28: 1.0}


@pytest.mark.parametrize(
    ("power_w", "poles", "speed_rpm", "slots"),
    [(3e3, 4, 1420.0, 36), (75e3, 4, 1480.0, 48), (400e3, 6, 990.0, 72), (2e6, 4, 1491.0, 84)],
)
def test_the_size_of_a_motor_tells_its_slots(
    power_w: float, poles: int, speed_rpm: float, slots: int
) -> None:
    """Usual designs (from memory): within two standard deviations of the rule."""
    plate = replace(
        motor(None, None).nameplate, rated_power_w=power_w, poles=poles, rated_speed_rpm=speed_rpm
    )
    weights = slot_weights(Motor(tag="R-2", nameplate=plate, cage=Cage()))
    assert weights[slots] > math.exp(-2.0) * max(weights.values())
    likeliest = max(weights, key=lambda n: weights[n])
    assert likeliest == pytest.approx(slots, rel=0.5)


def test_knowing_bars_and_slots_narrows_the_answer() -> None:
    known, unknown = expectation(), expectation(None, None)

    def spread(expected: CageExpectation) -> float:
        low, high = np.quantile(expected.direct_component[0], [0.025, 0.975])
        return float(high / low)

    assert spread(known) < 1.6
    assert spread(unknown) > 2.0 * spread(known)
